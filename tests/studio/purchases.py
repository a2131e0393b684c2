"""What the studio bought, from whom, when, and which session each piece went to.

A line of ``BOUGHT`` is one paint in one format; its pieces are written ``lot@parcel/session``. A lot ``-`` means
that no batch code was found on item, box or leaflet. A session ``-`` means that the piece was looked at when it was
unpacked and then kept or could not be used; ``=`` that it stays sealed, in reserve.
"""

from dataclasses import dataclass
from datetime import date
from types import MappingProxyType

from qcledger.vocab import Format, Source, SpecimenState, WhyBought
from tests.studio.makers import COLOURS, FULL, HALF, STICK, TUBE, Colour

TESSENVAY, OSKERLIN, OMBRETH = "Tessenvay Post", "Oskerlin Colour Hall", "Ombreth Papers"
LANTERN, QUAYSIDE, ORLEMERE = "Lantern Row", "Quayside Counter", "Orlemere Counter"


@dataclass(frozen=True, slots=True)
class Order:
    """One parcel as ordered: from whom, when bought and received, currency, postage and why."""

    seller: str
    bought: date
    received: date
    currency: str
    shipping: int
    why: WhyBought = WhyBought.PLANNED
    source: Source = Source.RETAIL
    note: str = ""


def _on(month: int, day: int, year: int = 2026) -> date:
    return date(year, month, day)


ORDERS = MappingProxyType(
    {
        "OLD": Order(QUAYSIDE, _on(5, 6, 2024), _on(5, 10, 2024), "GBP", 350, note="from before the ledger"),
        "E1": Order(TESSENVAY, _on(2, 17), _on(2, 23), "EUR", 890),
        "G1": Order(LANTERN, _on(2, 19), _on(2, 24), "GBP", 425),
        "E2": Order(OSKERLIN, _on(3, 4), _on(3, 11), "EUR", 950),
        "G2": Order(QUAYSIDE, _on(3, 11), _on(3, 16), "GBP", 390),
        "GIFT": Order(
            "sent by the maker", _on(3, 30), _on(4, 2), "GBP", 0, source=Source.GIFT, note="unasked, disclosed"
        ),
        "E3": Order(TESSENVAY, _on(4, 14), _on(4, 20), "EUR", 890),
        "G3": Order(LANTERN, _on(4, 16), _on(4, 21), "GBP", 425),
        "E4": Order(OSKERLIN, _on(5, 12), _on(5, 18), "EUR", 950),
        "G4": Order(QUAYSIDE, _on(5, 14), _on(5, 19), "GBP", 390),
        "G5": Order(
            QUAYSIDE, _on(6, 24), _on(6, 30), "GBP", 290, note="unpacked beside the sheet of S05, humidity 72 %"
        ),
        "E5": Order(OMBRETH, _on(8, 20), _on(8, 28), "EUR", 720, WhyBought.TO_CONFIRM),
        "G6": Order(ORLEMERE, _on(8, 24), _on(8, 31), "GBP", 360, WhyBought.TO_CONFIRM),
        "E6": Order(OMBRETH, _on(9, 3), _on(9, 8), "EUR", 560, WhyBought.TO_CONFIRM, note="after the maker's answer"),
        "G7": Order(LANTERN, _on(11, 17), _on(11, 23), "GBP", 425, note="not yet unpacked in full"),
        "E7": Order(
            OMBRETH, _on(11, 18), _on(11, 24), "EUR", 560, WhyBought.TO_CONFIRM, note="a leftover tube of Q4471"
        ),
    }
)

BOUGHT: tuple[tuple[str, str, Format, str], ...] = (
    # Truth 13: 9 half pans, 6 lots, 3 parcels, the last to confirm. Truth 10: tubes of Rust beside Brick.
    ("Trellmere", "Ochre", HALF, "T205@E1/S01 T205@E1/S06 T215@E5/S08"),
    ("Trellmere", "Rust", HALF, "T201@E1/S02 T201@E1/S05"),
    ("Trellmere", "Brick", HALF, "T203@E2/S05"),
    ("Trellmere", "Quay Blue", HALF, "T207@E2/S04 T217@E5/S08 T217@E5/S09"),
    ("Trellmere", "Rust", TUBE, "T118@E1/S03 -@E1/S08"),
    ("Trellmere", "Brick", TUBE, "-@E2/S03 T121@E2/S08"),
    ("Trellmere", "Viridian", TUBE, "T130@E1/S03 T141@E4/S08"),
    ("Trellmere", "Ochre", TUBE, "T119@E2/S04"),
    ("Trellmere", "Lagoon", TUBE, "T125@E1/S04 T138@E4/S07"),
    # Truth 1: three lots of three tubes over three sessions; Q4492 is the re-buy, the last Q4471 of a third shop.
    (
        "Quernlow",
        "Kiln Red",
        TUBE,
        "Q4468@E2/S02 Q4468@E2/S03 Q4468@E3/S05 Q4471@E2/S02 Q4471@E3/S03 Q4471@E3/S05 "
        "Q4480@E3/S02 Q4480@E3/S03 Q4480@E4/S05 Q4492@E6/S09 Q4471@E7/-",
    ),
    ("Quernlow", "Kiln Red", HALF, "Q3310@E1/S02 Q3342@E4/S05"),
    ("Quernlow", "Ochre", HALF, "Q3312@E1/S01 Q3345@E4/S06"),
    ("Quernlow", "Ochre", TUBE, "Q4401@E2/S04 -@E4/S09"),
    ("Quernlow", "Lagoon", HALF, "-@E1/S02 Q3351@E4/S07"),
    ("Quernlow", "Lagoon", TUBE, "-@E2/- Q4437@E4/S07"),
    ("Quernlow", "Viridian", HALF, "Q3318@E1/S01 -@E4/S06"),
    ("Quernlow", "Viridian", TUBE, "Q4408@E2/S03 -@E4/S08"),
    ("Quernlow", "Weir Blue", HALF, "Q3320@E1/S04 Q3360@E4/S06"),
    # Truth 6: one of four tubes of lot AV31 is solid and cannot be poured.
    ("Aldervane", "Lagoon Green", TUBE, "AV31@E2/S04 AV31@E2/S04 AV31@E2/- AV31@E2/S09"),
    ("Aldervane", "Lagoon Green", HALF, "-@E1/S02 AV26@E4/S07"),
    ("Aldervane", "Ochre", HALF, "AV13@E1/S01 -@E4/S06"),
    ("Aldervane", "Ochre", TUBE, "AV33@E2/S01 -@E4/-"),
    ("Aldervane", "Red Oxide", HALF, "AV14@E1/S02 AV28@E4/S05"),
    ("Aldervane", "Red Oxide", TUBE, "AV34@E2/S03 -@E4/S09"),
    ("Aldervane", "Viridian", HALF, "-@E1/S01 AV29@E4/S06"),
    ("Aldervane", "Viridian", TUBE, "AV35@E2/S03 -@E4/S08"),
    ("Aldervane", "Mere Blue", HALF, "AV16@E1/S04 AV30@E4/S08"),
    # Truth 5: lot F-09A is tested beside the other makers' tubes, F-11C beside half pans, so without a peer baseline.
    ("Fennacre", "Viridian", TUBE, "F-09A@G1/S03 F-09A@G1/S08 F-11C@G2/S01 F-11C@G2/S06"),
    ("Fennacre", "Ochre", HALF, "-@G1/S01 -@G4/S06"),
    ("Fennacre", "Ochre", TUBE, "F-06C@G2/S04 F-13B@G4/S09"),
    ("Fennacre", "Red Oxide", HALF, "F-21A@G1/S02 -@G4/S05"),
    ("Fennacre", "Red Oxide", TUBE, "F-07C@G2/S03 -@G4/S09"),
    ("Fennacre", "Lagoon", HALF, "-@G1/- -@G4/S07"),
    ("Fennacre", "Lagoon", TUBE, "F-08C@G2/S04 F-15B@G4/S07"),
    ("Fennacre", "Hedge Rose", HALF, "F-23A@G1/S05"),
    # Truth 4: six colours, three formats, three sellers; parcel G6 bought to confirm from the third.
    ("Corvannet", "Viridian", HALF, "C110@G1/S01 C141@G4/S06"),
    ("Corvannet", "Ochre", HALF, "C111@G1/S01 -@G4/S06 -@G4/= C171@G6/S09"),
    ("Corvannet", "Red Oxide", HALF, "-@G1/S02 C143@G4/S05 C172@G6/S08"),
    ("Corvannet", "Lagoon", HALF, "C113@G2/S02 -@G4/S07"),
    ("Corvannet", "Harbour Blue", HALF, "C114@G2/S04"),
    ("Corvannet", "Lamp Rose", HALF, "-@G2/S05 C173@G6/S09"),
    ("Corvannet", "Viridian", TUBE, "C210@G1/S03 C240@G4/S08"),
    ("Corvannet", "Ochre", TUBE, "C211@G1/S04"),
    ("Corvannet", "Red Oxide", TUBE, "C212@G2/S03 C270@G6/S09"),
    ("Corvannet", "Lagoon", TUBE, "C213@G2/S04 -@G4/S07 C271@G6/S09"),
    ("Corvannet", "Ochre", FULL, "C311@G1/S01 C371@G6/S08"),
    ("Corvannet", "Harbour Blue", FULL, "C314@G2/S04 C372@G6/S08"),
    ("Corvannet", "Lamp Rose", FULL, "C315@G2/S05"),
    # Truth 11: sticks and tubes without a fault.
    ("Maslenne", "Meadow", STICK, "-@E2/S04 -@E2/S06 M2@E4/S09"),
    ("Maslenne", "Lagoon", STICK, "-@E2/S02 M3@E2/S06 M3@E4/S09"),
    ("Maslenne", "Lagoon", TUBE, "M3@E2/S04 M3@E2/S07 M3@E4/S09"),
    ("Maslenne", "Ochre", HALF, "M11@E1/S01 M21@E4/-"),
    ("Maslenne", "Ochre", TUBE, "-@E2/S04 -@E4/S09"),
    ("Maslenne", "Red Oxide", HALF, "-@E1/S02 -@E4/-"),
    ("Maslenne", "Red Oxide", TUBE, "M6@E2/-"),
    ("Maslenne", "Lagoon", HALF, "-@E1/S02 -@E4/S07"),
    ("Maslenne", "Viridian", HALF, "M14@E1/S01 -@E4/S06"),
    ("Maslenne", "Viridian", TUBE, "M7@E2/S03 -@E4/S08"),
    # Truth 9: unpacked and tested in S05 at 72 % humidity.
    ("Drumlaw", "Quay Rose", HALF, "D7@G5/S05 -@G5/S05"),
    ("Drumlaw", "Ochre", HALF, "D1@G1/S01 D11@G4/S06"),
    ("Drumlaw", "Ochre", TUBE, "D31@G2/S04 D41@G4/S09"),
    ("Drumlaw", "Red Oxide", HALF, "-@G1/S02 D12@G4/S05"),
    ("Drumlaw", "Red Oxide", TUBE, "D32@G2/-"),
    ("Drumlaw", "Lagoon", HALF, "D3@G1/S02 -@G4/S07"),
    ("Drumlaw", "Lagoon", TUBE, "D33@G2/S04 D43@G4/S07"),
    ("Drumlaw", "Viridian", HALF, "D4@G1/S01 -@G4/S06"),
    ("Drumlaw", "Viridian", TUBE, "D34@G2/S03 -@G4/S08"),
    # Truth 12: the control is the first tube of H-220, the second control the first of H-231.
    ("Halcyre", "Ultramarine", TUBE, "H-220@G1/- H-220@G1/S07"),
    ("Halcyre", "Fir", TUBE, "H-231@G1/- H-231@G3/S09"),
    ("Halcyre", "Ochre", HALF, "H-101@G1/S01 H-121@G4/S06"),
    ("Halcyre", "Ochre", TUBE, "-@G2/- H-221@G4/S07"),
    ("Halcyre", "Red Oxide", HALF, "H-102@G1/S02 -@G4/S05"),
    ("Halcyre", "Red Oxide", TUBE, "H-202@G2/S03"),
    ("Halcyre", "Lagoon", HALF, "H-103@G1/S02 H-123@G4/S07"),
    ("Halcyre", "Lagoon", TUBE, "H-203@G2/S07"),
    ("Halcyre", "Viridian", HALF, "-@G1/S01 H-124@G4/S06"),
    ("Halcyre", "Viridian", TUBE, "H-204@G2/S03 H-224@G4/S08"),
    ("Halcyre", "Tide Blue", HALF, "H-105@G1/S06"),
    ("Halcyre", "Garden Rose", HALF, "-@G1/S05"),
    ("Halcyre", "Fir", TUBE, "H-231@GIFT/S07"),
    # Truth 8: three full pans without a batch code.
    ("Vardelune", "Fjell Blue-Green", FULL, "-@E4/S08 -@E4/S08 -@E4/-"),
    ("Vardelune", "Ochre", HALF, "V51@E1/S01 -@E4/-"),
    ("Vardelune", "Ochre", TUBE, "V71@E2/- V81@E4/S09"),
    ("Vardelune", "Red Oxide", HALF, "-@E1/S02 -@E4/S05"),
    ("Vardelune", "Red Oxide", TUBE, "V72@E2/S03"),
    ("Vardelune", "Lagoon", HALF, "-@E1/- -@E4/S07"),
    ("Vardelune", "Lagoon", TUBE, "V73@E2/S09 -@E4/S07"),
    ("Vardelune", "Viridian", HALF, "-@E1/S01 V64@E4/S06"),
    ("Vardelune", "Viridian", TUBE, "V74@E2/S03 -@E4/S08"),
    ("Vardelune", "Hill Rose", HALF, "V55@E1/S05"),
    # Waiting to be unpacked in full, and kept from before the ledger (older notes).
    ("Halcyre", "Viridian", TUBE, "H-244@G7/- H-244@G7/-"),
    ("Drumlaw", "Ochre", HALF, "-@G7/- D51@G7/-"),
    ("Fennacre", "Lagoon", TUBE, "-@G7/-"),
    ("Drumlaw", "Ochre", HALF, "D80@OLD/- -@OLD/-"),
    ("Halcyre", "Ochre", HALF, "-@OLD/- -@OLD/-"),
)


@dataclass(frozen=True, slots=True)
class Piece:
    """One specimen as bought; `number` counts the stickers of the studio."""

    number: int
    colour: Colour
    format: Format
    lot: str | None
    parcel: str
    session: str | None
    reserve: bool = False

    @property
    def order(self) -> Order:
        """Return the parcel it came in."""
        return ORDERS[self.parcel]

    @property
    def lot_key(self) -> tuple[str, str, Format, str]:
        """Return maker, paint, format and batch code, which together name a lot."""
        return (self.colour.maker, self.colour.name, self.format, self.lot or "")


def _pieces() -> tuple[Piece, ...]:
    """Return every piece, numbered in the order in which the parcels came."""
    found = []
    for maker, name, form, units in BOUGHT:
        for unit in units.split():
            lot, _, rest = unit.partition("@")
            parcel, _, session = rest.partition("/")
            found.append((COLOURS[maker, name], form, None if lot == "-" else lot, parcel, session))
    found.sort(key=lambda unit: ORDERS[unit[3]].received)
    return tuple(
        Piece(number, colour, form, lot, parcel, None if session in "-=" else session, session == "=")
        for number, (colour, form, lot, parcel, session) in enumerate(found, 1)
    )


PIECES = _pieces()
CONTROL = next(piece for piece in PIECES if piece.lot == "H-220" and piece.session is None)
"""The control specimen: the same tube first and last on every sheet of the year."""
MIDDLE = next(piece for piece in PIECES if piece.lot == "H-231" and piece.session is None and piece.parcel != "GIFT")
"""The second control, in the middle of the scales and of every sheet."""


def state_of(piece: Piece) -> SpecimenState:
    """Return where a piece is in its life today."""
    if piece.parcel == "OLD":
        return SpecimenState.USED_UP
    if piece.reserve:
        return SpecimenState.RESERVE
    if piece.parcel == "G7":
        return SpecimenState.UNOPENED
    return SpecimenState.OPENED
