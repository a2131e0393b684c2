"""The invented makers, what each sells, and the invented shops that sell it.

Chemical names, constitution numbers and CAS numbers are those of the Colour Index pigments declared (an open
standard); traits follow common practice, no source.
"""

from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType

from qcledger.vocab import Format

TUBE, HALF, FULL, STICK = Format.TUBE, Format.HALF_PAN, Format.FULL_PAN, Format.STICK


@dataclass(frozen=True, slots=True)
class Pigment:
    """What a pigment is and how it usually behaves, on the scales of the watercolour rubric.

    Parameters
    ----------
    number, chemical, cas
        Constitution number, chemical name and CAS number as labels print them.
    granulation, opacity, staining
        Usual trait grades, 0 to 5.
    turns
        Usual brush turns until a dry pan gives full strength.
    masstone
        How uneven a full-strength field usually is, 0 to 5.
    hazard
        Whether labels usually carry hazard words for it.
    density
        Of the dry powder, g/ml (from memory): what a pan of it weighs hangs on it.
    dear
        What a paint of it costs beside a maker's usual price: cobalt and hydrated chromium dear, earths cheap.
    """

    number: str
    chemical: str
    cas: str
    granulation: float
    opacity: float
    staining: float
    turns: float
    masstone: float = 0.5
    hazard: bool = False
    density: float = 2.0
    dear: Decimal = Decimal(1)


PIGMENTS = MappingProxyType(
    {
        "PB29": Pigment(
            "77007",
            "sodium aluminosilicate with sulfur",
            "57455-37-5",
            2.5,
            0.5,
            1.5,
            4,
            0.5,
            density=2.4,
            dear=Decimal("0.9"),
        ),
        "PB36": Pigment(
            "77343",
            "cobalt chromium aluminate",
            "68187-11-1",
            2.5,
            2.5,
            1.5,
            8,
            1.0,
            True,
            density=4.8,
            dear=Decimal("1.55"),
        ),
        "PG7": Pigment(
            "74260",
            "chlorinated copper phthalocyanine",
            "1328-53-6",
            0.0,
            0.5,
            5.0,
            3,
            0.0,
            density=2.1,
            dear=Decimal("1"),
        ),
        "PG17": Pigment(
            "77288",
            "chromium(III) oxide",
            "1308-38-9",
            1.0,
            4.5,
            1.5,
            8,
            0.5,
            True,
            density=5.2,
            dear=Decimal("0.95"),
        ),
        "PG18": Pigment(
            "77289",
            "hydrated chromium(III) oxide",
            "12001-99-9",
            3.5,
            0.5,
            0.5,
            60,
            1.5,
            True,
            density=3.4,
            dear=Decimal("1.25"),
        ),
        "PG26": Pigment(
            "77344", "cobalt chromite", "68187-49-5", 2.5, 3.0, 1.5, 8, 1.0, True, density=5.2, dear=Decimal("1.5")
        ),
        "PG50": Pigment(
            "77377", "cobalt titanate", "68186-85-6", 2.5, 3.5, 1.5, 8, 1.0, True, density=4.9, dear=Decimal("1.45")
        ),
        "PR101": Pigment(
            "77491",
            "synthetic iron(III) oxide",
            "1309-37-1",
            1.5,
            4.5,
            3.0,
            4,
            0.5,
            density=5.1,
            dear=Decimal("0.85"),
        ),
        "PV19": Pigment(
            "73900", "quinacridone", "1047-16-1", 0.0, 0.5, 4.0, 8, 0.0, density=1.5, dear=Decimal("1.1")
        ),
        "PY42": Pigment(
            "77492",
            "hydrated iron(III) oxide",
            "51274-00-1",
            1.0,
            2.5,
            1.5,
            4,
            0.5,
            density=4.1,
            dear=Decimal("0.85"),
        ),
    }
)


@dataclass(frozen=True, slots=True)
class Colour:
    """One paint of a maker.

    Parameters
    ----------
    maker, name, pigment
        As the label gives them.
    shade
        Its look at full strength, sRGB ``rrggbb``.
    chemical
        What the small print says instead of the pigment's own chemical name, if anything.
    claims
        Words of the label beside its name.
    behaves
        The pigment whose traits it shows; another than the declared one only where that is planted.
    opacity
        Its own opacity where the pigment has clear and covering grades.
    """

    maker: str
    name: str
    pigment: str
    shade: str
    chemical: str | None = None
    claims: tuple[str, ...] = ()
    behaves: str | None = None
    opacity: float | None = None

    @property
    def traits(self) -> Pigment:
        """Return the behaviour it shows."""
        return PIGMENTS[self.behaves or self.pigment]


_SHADES = {
    "PG18": "0d5c46",
    "PY42": "b5781c",
    "PR101": "96351f",
    "PG50": "2c8a78",
    "PB36": "1d6a86",
    "PV19": "a3244e",
}
_COMMON = {"Viridian": "PG18", "Ochre": "PY42", "Red Oxide": "PR101", "Lagoon": "PG50"}


def _range(maker: str, **others: str) -> list[Colour]:
    """Return the four colours everybody sells, with a maker's own names for some (`others`, by pigment)."""
    named = {pigment: name for name, pigment in _COMMON.items()} | others
    return [Colour(maker, name.replace("_", " "), pigment, _SHADES[pigment]) for pigment, name in named.items()]


_ALL = [
    *(paint for paint in _range("Trellmere", PB36="Quay Blue") if paint.pigment != "PR101"),
    Colour("Trellmere", "Rust", "PR101", "a8431f", claims=("transparent",), opacity=0.5),
    Colour("Trellmere", "Brick", "PR101", "8e3526", claims=("opaque",)),
    *_range("Quernlow", PR101="Kiln Red", PB36="Weir Blue"),
    *_range("Aldervane", PG50="Lagoon Green", PB36="Mere Blue"),
    *(paint for paint in _range("Fennacre", PV19="Hedge Rose") if paint.pigment != "PG18"),
    Colour("Fennacre", "Viridian", "PG18", "0a5f4a", chemical="chlorinated copper phthalocyanine", behaves="PG7"),
    *_range("Corvannet", PB36="Harbour Blue", PV19="Lamp Rose"),
    *_range("Maslenne"),
    Colour("Maslenne", "Meadow", "PG17", "4f7a35"),
    *_range("Drumlaw", PV19="Quay Rose"),
    *_range("Halcyre", PB36="Tide Blue", PV19="Garden Rose"),
    Colour("Halcyre", "Ultramarine", "PB29", "27389a"),
    Colour("Halcyre", "Fir", "PG26", "2f6b55"),
    *_range("Vardelune", PB36="Fjell Blue-Green", PV19="Hill Rose"),
]
COLOURS = MappingProxyType({(paint.maker, paint.name): paint for paint in _ALL})
MAKERS = tuple(dict.fromkeys(paint.maker for paint in _ALL))


@dataclass(frozen=True, slots=True)
class Price:
    """Nominal content and shelf price of a maker's format, in the smallest coin."""

    ml: Decimal
    minor: int


def _prices(**lines: tuple[str, int]) -> dict[Format, Price]:
    formats = {"tube": TUBE, "half": HALF, "full": FULL, "stick": STICK}
    return {formats[name]: Price(Decimal(ml), minor) for name, (ml, minor) in lines.items()}


PRICES = MappingProxyType(
    {
        "Trellmere": _prices(tube=("8", 810), half=("1.8", 590)),
        "Quernlow": _prices(tube=("15", 980), half=("2", 640)),
        "Aldervane": _prices(tube=("14", 1240), half=("2", 720)),
        "Fennacre": _prices(tube=("10", 850), half=("1.5", 490)),
        "Corvannet": _prices(tube=("8", 690), half=("1.5", 320), full=("3", 540)),
        "Maslenne": _prices(tube=("8", 920), half=("1.8", 560), stick=("10", 1090)),
        "Drumlaw": _prices(tube=("8", 780), half=("1.8", 475)),
        "Halcyre": _prices(tube=("14", 730), half=("1.8", 440)),
        "Vardelune": _prices(tube=("10", 890), half=("1.8", 520), full=("3.5", 660)),
    }
)
EURO_MAKERS = frozenset({"Trellmere", "Quernlow", "Aldervane", "Maslenne", "Vardelune"})
"""Makers whose shelf price is in EUR; the others' is in GBP."""
PRICED_AS_SHOWN = frozenset({("Fennacre", "Viridian"), ("Vardelune", "Fjell Blue-Green"), ("Trellmere", "Quay Blue")})
"""Paints whose price hangs on no pigment: one price for a whole range is a maker's choice, too."""
