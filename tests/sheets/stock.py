"""Invented paints as they might be bought, with the faults that their makers' pieces lean to."""

from dataclasses import dataclass
from datetime import date, timedelta
from random import Random

MAKERS = (
    "Trellmere", "Quernlow", "Aldervane", "Fennacre", "Corvannet", "Maslenne", "Drumlaw", "Halcyre", "Vardelune",
)  # fmt: skip
# English, German, French, Colour Index name, grain 0-5, stain 0-5, turns until the brush is charged
PAINTS = (
    ("Ultramarine Blue", "Ultramarinblau", "Bleu outremer", "PB29", 3.5, 1.5, 7),
    ("Cobalt Blue", "Kobaltblau", "Bleu de cobalt", "PB28", 3.0, 1.0, 12),
    ("Cerulean Blue", "Coelinblau", "Bleu céruléum", "PB35", 4.5, 0.5, 17),
    ("Phthalo Blue", "Phthaloblau", "Bleu phtalo", "PB15:3", 0.0, 4.5, 6),
    ("Prussian Blue", "Preußischblau", "Bleu de Prusse", "PB27", 0.5, 4.0, 9),
    ("Viridian", "Chromoxidgrün feurig", "Vert émeraude", "PG18", 3.0, 0.5, 26),
    ("Phthalo Green", "Phthalogrün", "Vert phtalo", "PG7", 0.0, 4.5, 6),
    ("Green Earth", "Grüne Erde", "Terre verte", "PG23", 3.5, 0.5, 24),
    ("Burnt Sienna", "Siena gebrannt", "Terre de Sienne brûlée", "PBr7", 2.5, 1.5, 8),
    ("Raw Umber", "Umbra natur", "Terre d'ombre naturelle", "PBr7", 3.0, 1.5, 10),
    ("Yellow Ochre", "Lichter Ocker", "Ocre jaune", "PY43", 2.0, 1.5, 8),
    ("Cadmium Yellow", "Kadmiumgelb", "Jaune de cadmium", "PY35", 0.5, 1.5, 7),
    ("Nickel Azo Yellow", "Nickelazogelb", "Jaune azo nickel", "PY150", 0.0, 4.0, 6),
    ("Pyrrole Red", "Pyrrolrot", "Rouge pyrrole", "PR254", 0.0, 4.0, 6),
    ("Quinacridone Rose", "Chinacridonrosa", "Rose quinacridone", "PV19", 0.5, 3.5, 9),
    ("Manganese Violet", "Manganviolett", "Violet de manganèse", "PV16", 3.0, 1.0, 22),
    ("Ivory Black", "Elfenbeinschwarz", "Noir d'ivoire", "PBk9", 1.5, 1.5, 9),
    ("Venetian Red", "Venezianischrot", "Rouge de Venise", "PR101", 2.5, 2.5, 7),
)
# Chance of a fault: cracked, wrapper stuck, dried tube, leak; then how much frothier and weaker than the middle.
LEANS = {
    "Trellmere": (0.03, 0.05, 0.02, 0.03, 0.0, -0.6),
    "Quernlow": (0.35, 0.40, 0.05, 0.03, 0.3, 0.0),
    "Aldervane": (0.08, 0.10, 0.08, 0.08, 0.2, 0.2),
    "Fennacre": (0.10, 0.05, 0.05, 0.05, 0.0, 1.6),
    "Corvannet": (0.05, 0.10, 0.08, 0.40, 0.4, 0.3),
    "Maslenne": (0.05, 0.10, 0.05, 0.05, 2.2, 0.2),
    "Drumlaw": (0.15, 0.10, 0.40, 0.05, 0.4, 0.5),
    "Halcyre": (0.02, 0.02, 0.03, 0.02, -0.2, -0.8),
    "Vardelune": (0.20, 0.15, 0.12, 0.10, 0.8, 0.8),
}


@dataclass(frozen=True)
class Thing:
    """One piece of paint, and what is true of it whether or not a keeper wrote it down."""

    maker: str
    names: tuple[str, str, str]
    pigment: str
    format: str
    ml: float
    lot: str
    cost: float
    day: date
    cracked: bool
    wrapper: bool
    dried: bool
    leak: bool
    froth: float  # 0 none to 5
    weak: float  # 0 full strength to 5
    grain: float
    stain: float
    turns: int

    @property
    def paint(self) -> str:
        """Return the English name."""
        return self.names[0]

    @property
    def tube(self) -> bool:
        """Return whether it is a tube."""
        return self.format == "tube"


def held(value: float, low: float = 0.0, high: float = 5.0, step: float = 0.5) -> float:
    """Return a value on a scale, in its steps."""
    return min(high, max(low, round(value / step) * step))


def lot_of(rng: Random, maker: str, day: date) -> str:
    """Return a lot as this maker prints it; one prints none."""
    made = day - timedelta(days=rng.randrange(90, 700))
    return {
        "Trellmere": f"{made:%y}-{rng.randrange(40, 200)}",
        "Quernlow": f"Q{rng.randrange(3900, 4400)}",
        "Aldervane": f"L {made:%y%m} {rng.choice('ABC')}",
        "Fennacre": f"F.0{rng.randrange(380, 490)}",
        "Corvannet": f"CV{made:%y%m%d}",
        "Maslenne": f"M/{rng.randrange(80, 99)}/{rng.randrange(1, 5)}",
        "Drumlaw": f"0{rng.randrange(380, 470)}",
        "Halcyre": f"H{made:%y}W{max(1, made.isocalendar().week):02}",
    }.get(maker, "")


def bought(rng: Random, maker: str, paint: int, form: str, day: date) -> Thing:
    """Return a piece of this paint as it would come out of its parcel."""
    english, german, french, pigment, grain, stain, turns = PAINTS[paint]
    cracks, sticks, dries, leaks, froth, weak = LEANS[maker]
    ml = {"tube": rng.choice([5.0, 7.5, 10.0, 14.0, 15.0]), "half pan": 1.8, "full pan": 3.5}[form]
    tube = form == "tube"
    rate = 1.1 if maker == "Halcyre" else 0.75 if maker in ("Drumlaw", "Vardelune") else 0.9
    return Thing(
        maker=maker,
        names=(english, german, french),
        pigment=pigment,
        format=form,
        ml=ml,
        lot=lot_of(rng, maker, day),
        cost=round((2.9 + ml * rng.uniform(0.35, 0.75)) * rate / 0.05) * 0.05,
        day=day,
        cracked=not tube and rng.random() < cracks,
        wrapper=not tube and rng.random() < sticks,
        dried=tube and rng.random() < dries,
        leak=tube and rng.random() < leaks,
        froth=held(rng.gauss(1.0 + froth, 0.6)),
        weak=held(rng.gauss(1.3 + weak, 0.6)),
        grain=held(rng.gauss(grain, 0.4)),
        stain=held(rng.gauss(stain, 0.4)),
        turns=max(2, round(turns * rng.uniform(0.7, 1.5) * (0.6 if tube else 1.0))),
    )


def stock(rng: Random, count: int, start: date, days: int, makers: tuple[str, ...] = MAKERS) -> list[Thing]:
    """Return pieces in the order in which they were bought, several on one day."""
    parcels = sorted(start + timedelta(days=rng.randrange(days)) for _ in range(max(1, count // 5)))
    seen: set[tuple[str, int, str]] = set()
    things: list[Thing] = []
    while len(things) < count:
        key = (
            rng.choice(makers),
            rng.randrange(len(PAINTS)),
            rng.choice(["tube", "half pan", "half pan", "full pan"]),
        )
        if key in seen and rng.random() < 0.8:
            continue
        seen.add(key)
        things.append(bought(rng, *key, parcels[len(things) * len(parcels) // count]))
    return things
