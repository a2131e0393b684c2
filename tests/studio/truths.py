"""What was planted where, and what a fair reading of the demo may say about it.

`PLANTED` gives pieces their true grades, `PLANTED_READINGS` their true values; `EXPECTED` is the table for the test
of findings. Numbers are those of the list in `tests.studio`.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from qcledger.vocab import Extent, Format, Standing
from tests.studio.makers import FULL, HALF, STICK, TUBE
from tests.studio.nature import binder
from tests.studio.purchases import CONTROL, MIDDLE, PIECES, Piece

DRIFTED = "S07"
DRIFT = MappingProxyType({"granulation": 1.5, "staining": 1.5})
"""By how many grades the drifted session reads too high: pieces with an even sticker number, and the control."""
DRIFT_OF_SOME = 1.0
"""The same for the other pieces."""

_FROTH_FREE = "Drumlaw"
_FAINT = "Corvannet"


def _of(maker: str, name: str | None = None, form: Format | None = None, lot: str | None = None) -> list[Piece]:
    """Return the pieces of a maker, paint, format and lot, in the order of their stickers."""
    return [
        piece
        for piece in PIECES
        if piece.colour.maker == maker
        and name in (None, piece.colour.name)
        and form in (None, piece.format)
        and lot in (None, piece.lot)
        and piece.parcel not in {"OLD", "G7", "GIFT"}
    ]


_MIDDLING = {"wash_faintness": 1.5, "evenness": 2.0, "froth_amount": 1.0, "granulation": 2.5, "staining": 2.0}
"""The second control: in the middle of the scales, so that a tester grown milder is seen, too."""
_WRAPPERS = {"Ochre": (3, 0, 5), "Rust": (1, 5), "Brick": (3,), "Quay Blue": (5, 5, 3)}


def _planted_grades() -> Iterator[tuple[str, Piece, float]]:
    """Yield criterion, piece and true grade of everything planted that is graded by eye."""
    for piece, grade in zip(_of("Quernlow", "Kiln Red", TUBE, "Q4471"), (5, 3, 5, 5), strict=True):  # 1
        yield "parted_binder", piece, grade
    for piece in PIECES:  # 3
        if piece.format is HALF and piece.colour.maker != _FROTH_FREE:
            yield "froth_amount", piece, 3
    for piece in _of(_FAINT):  # 4
        yield "wash_faintness", piece, 3.5 if piece.number % 2 else 3
    for piece in _of("Fennacre", "Viridian", TUBE):  # 5
        yield "name_mismatch", piece, 5
        yield "declared_behaviour", piece, 3
    yield "stiff_tube", _of("Aldervane", "Lagoon Green", TUBE)[2], 5  # 6
    for piece, grade in zip(_of("Vardelune", "Fjell Blue-Green", FULL), (5, 0, 3), strict=True):  # 8
        yield "cracked", piece, grade
    for piece, grade in zip(_of("Drumlaw", "Quay Rose", HALF), (5, 0), strict=True):  # 9
        yield "soft_face", piece, grade
    for name, grades in _WRAPPERS.items():  # 13
        for piece, grade in zip(_of("Trellmere", name, HALF), grades, strict=True):
            yield "wrapper_adhesion", piece, grade
    for key, grade in _MIDDLING.items():  # 12
        yield key, MIDDLE, grade
    for piece in PIECES:  # sets apart: a gift and older notes, which findings must not count
        if piece.parcel == "GIFT":
            yield "parted_binder", piece, 5
        if piece.parcel == "OLD":
            yield "froth_amount", piece, 5


def _planted_readings() -> Iterator[tuple[str, Piece, float]]:
    """Yield criterion, piece and true value of everything planted that is measured."""
    for piece in PIECES:  # 2
        if piece.colour.pigment == "PG18" and piece.colour.behaves is None:
            yield "rewetting_in_fives", piece, 68.0 * binder(piece) if piece.number % 3 else 48.0
    for piece in _of("Quernlow", "Kiln Red", TUBE, "Q4471"):  # 1
        yield "laydown_count", piece, 36.0
    for piece in PIECES:  # 3
        if piece.format is HALF and piece.colour.maker != _FROTH_FREE:
            yield "froth_time", piece, 90.0
    yield "rewetting_in_fives", MIDDLE, 18.0  # 12
    yield "laydown_count", MIDDLE, 6.0
    for place, piece in enumerate(_of(_FAINT)):  # 4
        yield "tinting_ratio", piece, 0.52 + 0.11 * (place * 7 % 12) / 11


def _by_key(planted: Iterator[tuple[str, Piece, float]]) -> Mapping[tuple[str, int], float]:
    return MappingProxyType({(key, piece.number): float(value) for key, piece, value in planted})


PLANTED = _by_key(_planted_grades())
PLANTED_READINGS = _by_key(_planted_readings())


def drift(session: str, key: str, number: int) -> float:
    """Return by how many grades a session reads a piece too high on a criterion."""
    if session != DRIFTED or key not in DRIFT:
        return 0.0
    return DRIFT_OF_SOME if number % 2 and number != CONTROL.number else DRIFT[key]


@dataclass(frozen=True, slots=True)
class Expected:
    """What may be said about one planted thing.

    Parameters
    ----------
    number
        Of the truth, as in `tests.studio`.
    criterion
        Key of the criterion.
    maker, paint, lot
        Whose it is; None where the truth is about no one maker.
    pigment
        Colour Index name, for a pigment's trait.
    format
        The format it is about, None for every one.
    extents
        Extents that are right; anything else said to hold, or to be confirmed, would be wrong.
    least, most
        Lowest and highest standing that is right, in the order none found, not settled, to confirm, holds.
    n, faulty
        Specimens and faulty ones of the paint in the format (of all the maker's paints where none is named), where
        the truth fixes them.
    why
        What makes it so.
    """

    number: int
    criterion: str
    extents: frozenset[Extent]
    least: Standing
    most: Standing
    maker: str | None = None
    paint: str | None = None
    lot: str | None = None
    pigment: str | None = None
    format: Format | None = None
    n: int | None = None
    faulty: int | None = None
    why: str = ""


_HOLDS = (Standing.SETTLED, Standing.SETTLED)
_NOBODY = (Standing.NONE_FOUND, Standing.OPEN)


def _only(*extents: Extent) -> frozenset[Extent]:
    return frozenset(extents)


_UNITS = _only(Extent.SPECIMEN, Extent.PARCEL)
_DRIFT = "only session S07 reads higher, its control as well"
_TWO_REDS = "one index name, a clear and a covering grade"

EXPECTED = (
    Expected(
        1,
        "parted_binder",
        _only(Extent.LOT),
        *_HOLDS,
        maker="Quernlow",
        paint="Kiln Red",
        lot="Q4471",
        format=TUBE,
        n=11,
        faulty=4,
        why="4 of 4 in the lot, the last bought to confirm at a third shop; 0 of 7 in three others",
    ),
    Expected(
        1,
        "laydown_count",
        _only(Extent.LOT),
        Standing.TO_CONFIRM,
        Standing.TO_CONFIRM,
        maker="Quernlow",
        paint="Kiln Red",
        lot="Q4471",
        format=TUBE,
        n=10,
        faulty=3,
        why="the same lot, seen again on the sheet in three sessions",
    ),
    Expected(
        2,
        "rewetting_in_fives",
        _only(Extent.PIGMENT),
        *_HOLDS,
        pigment="PG18",
        why="8 of 9 makers, in pans and dried tubes; the ninth contradicts its own label",
    ),
    Expected(
        3,
        "froth_amount",
        _only(Extent.FORMAT),
        *_HOLDS,
        format=HALF,
        why="8 of 9 makers in half pans, nobody in dried tubes; Drumlaw is free of it",
    ),
    Expected(
        4,
        "wash_faintness",
        _only(Extent.MAKER),
        *_HOLDS,
        maker="Corvannet",
        why="six colours, three formats, three sellers, one parcel bought to confirm",
    ),
    Expected(
        4,
        "tinting_ratio",
        _only(Extent.MAKER),
        *_HOLDS,
        maker="Corvannet",
        why="0.52 to 0.63 of the other makers' median",
    ),
    Expected(
        5,
        "declared_behaviour",
        _only(Extent.PAINT, Extent.LOT, Extent.SPECIMEN),
        Standing.OPEN,
        Standing.TO_CONFIRM,
        maker="Fennacre",
        paint="Viridian",
        format=TUBE,
        why="what is in it may not be said before a laboratory has looked",
    ),
    Expected(
        6,
        "stiff_tube",
        _only(Extent.SPECIMEN),
        *_HOLDS,
        maker="Aldervane",
        paint="Lagoon Green",
        lot="AV31",
        format=TUBE,
        n=4,
        faulty=1,
        why="one of four of its lot",
    ),
    Expected(7, "granulation", _only(Extent.SESSION), *_NOBODY, why=_DRIFT),
    Expected(7, "staining", _only(Extent.SESSION), *_NOBODY, why=_DRIFT),
    Expected(
        8,
        "cracked",
        _UNITS,
        Standing.OPEN,
        Standing.OPEN,
        maker="Vardelune",
        paint="Fjell Blue-Green",
        format=FULL,
        n=3,
        faulty=2,
        why="no batch code, one parcel: these pieces only",
    ),
    Expected(
        9,
        "soft_face",
        _UNITS,
        *_NOBODY,
        maker="Drumlaw",
        paint="Quay Rose",
        format=HALF,
        n=2,
        faulty=1,
        why="one of two, on a day at 72 % humidity",
    ),
    Expected(
        10,
        "declared_behaviour",
        _only(),
        *_NOBODY,
        maker="Trellmere",
        format=TUBE,
        faulty=0,
        why=_TWO_REDS,
    ),
    Expected(
        11,
        "cracked",
        _only(),
        *_NOBODY,
        maker="Maslenne",
        format=STICK,
        n=6,
        faulty=0,
        why="0 of 6 still allows 39 %",
    ),
    Expected(
        13,
        "wrapper_adhesion",
        _only(Extent.MAKER_FORMAT),
        *_HOLDS,
        maker="Trellmere",
        format=HALF,
        n=9,
        faulty=7,
        why="7 of 9 over 4 paints and 6 lots, 3 parcels, one bought to confirm",
    ),
)


@dataclass(frozen=True, slots=True)
class ExpectedLabel:
    """What is planted in the print of one label, which is quoted and no sample.

    Parameters
    ----------
    number
        Of the truth, as in `tests.studio`.
    maker, paint, format
        Whose label it is, and on what.
    specimens
        How many carry it.
    chemistry
        What it prints beside its Colour Index name.
    why
        What makes it so.
    """

    number: int
    maker: str
    paint: str
    format: Format
    specimens: int
    chemistry: str
    why: str


EXPECTED_LABELS = (
    ExpectedLabel(
        5,
        "Fennacre",
        "Viridian",
        TUBE,
        4,
        "chlorinated copper phthalocyanine",
        "the label contradicts itself on both lots: a fact of print",
    ),
)
"""Labels that something is held against; nothing is held against any other, Trellmere's two reds included."""
