"""The short tables of the guide, for whoever is accused: ``python -m tests.bench.calibration.short`` prints them.

The first counts over scenarios of one kind together, the second over worlds looked at twice. Each share has its exact
95 % limits (Clopper & Pearson 1934, Biometrika 26:404-413), so that nobody takes few ledgers for many.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from tests.bench.calibration import kept
from tests.bench.calibration.table import cells, hit, of

Row = dict[str, Any]
RHOS = ("0.15", "0.5")


def _named(*kinds: str) -> tuple[str, ...]:
    return tuple(f"{kind}_{rho}" for kind in kinds for rho in RHOS)


@dataclass(frozen=True, slots=True)
class ShortLine:
    """One line: the truth of some scenarios' ledgers, and what is counted in them, in words and in a row."""

    truth: str
    names: tuple[str, ...]
    said: str
    counts: Callable[[Row], bool]


def _innocent(row: Row) -> bool:
    return bool(row["innocent_accused"])


def _innocent_among_peers(row: Row) -> bool:
    return bool(row["innocent"])


def _right(row: Row) -> bool:
    return row["guilty"] in row["accused"]


def _cleared(row: Row) -> bool:
    return any(list(cell) in row["none_found"] for cell in cells(row["guilty"]))


def _praised(row: Row) -> bool:
    return any(one[-1] <= 0 for one in row["praised"])


def _praised_rightly(row: Row) -> bool:
    return any(one[:2] == ["c0", row["spared"]] for one in row["praised"])


def _settled(row: Row) -> bool:
    return any(row["held"])


INNOCENT, RIGHTLY, CLEARED = "accused an innocent maker", "named it rightly", "called it *none found*"
MAKER = "one maker faulty in half of its specimens, small fields"
FORMAT, LARGE = (f"one maker's format faulty in half, {size} fields" for size in ("small", "large"))
COMMON = "a format common to most makers on each of twelve criteria, nobody free of it"
ONE_FREE = "the same on one criterion, one maker wholly free of it"
WORST = "six rounds of buying to confirm whoever looks worst"
LISTED = "six rounds of buying what the list of what to buy names"
HARDNESS = "pencils compared by their hardness, no maker worse than another"
SILENT = "pencils whose labels say no hardness, makers selling different ones, none worse"
LINES = tuple(
    ShortLine(truth, _named(*kinds.split()), said, counts)
    for truth, kinds, said, counts in (
        ("no maker is worse than another", "fair_small fair_large", "accused somebody", _innocent),
        ("one wholly bad lot of six", "bad_lot_small bad_lot_large", INNOCENT, _innocent),
        ("one pigment hard for everybody", "hard_pigment_small hard_pigment_large", INNOCENT, _innocent),
        ("one maker tested only in a session that drifted", "drifted_small drifted_large", INNOCENT, _innocent),
        ("one maker sells what nobody else sells", "specialist_small specialist_large", INNOCENT, _innocent),
        ("one parcel of a maker wholly bad, small fields", "bad_parcel_small", INNOCENT, _innocent),
        (MAKER, "maker_half_small", RIGHTLY, _right),
        (MAKER, "maker_half_small", CLEARED, _cleared),
        (FORMAT, "cell_half_small", RIGHTLY, _right),
        (FORMAT, "cell_half_small", CLEARED, _cleared),
        (LARGE, "cell_half_large", RIGHTLY, _right),
        (LARGE, "cell_half_large", CLEARED, _cleared),
        (WORST, "buying_small", "*settled* an accusation of an innocent", _settled),
        (LISTED, "listed_small", "*settled* an accusation of an innocent", _settled),
        (COMMON, "praise_alike_small praise_ordinary_small", "praised a maker that is no better", _praised),
        (ONE_FREE, "praise_free_small", "praised it", _praised_rightly),
        (HARDNESS, "peers_hardness_fair", INNOCENT, _innocent_among_peers),
        (SILENT, "peers_silent_fair", INNOCENT, _innocent_among_peers),
    )
)


def short() -> Iterator[str]:
    """Yield what a sceptical maker may want to know first, a line each."""
    yield "| the truth of the made-up ledgers | the program | in so many ledgers (95 % limits) |"
    yield "|---|---|---|"
    for line in LINES:
        rows = _rows(line.names)
        yield f"| {line.truth} | {line.said} | {of(sum(map(line.counts, rows)), len(rows))} |"


def _rows(names: Iterable[str]) -> list[Row]:
    return [row for name in names for row in kept.rows(name)]


def worlds() -> Iterator[str]:
    """Yield what was counted in worlds looked at twice, those of a kind and of every rho together."""
    kinds = dict.fromkeys(name.rpartition("_")[0] for name in kept.names() if name.startswith("after"))
    yield (
        "| world | ledgers | innocent accused (95 %) | guilty called none found (95 %) | guilty named, settled "
        "| bad lot, paint, pigment named, settled |"
    )
    yield "|---|---|---|---|---|---|"
    for kind in kinds:
        rows = _rows(_named(kind))
        told = (_wronged(rows), _let_go(rows), *_both(rows))
        yield f"| {kind.removeprefix('after_').replace('_', ' ')} | {len(rows):,} | {' | '.join(told)} |"


def still() -> str:
    """Return how many right claims are settled, of those that stood before one thing at a time was left out."""
    names = (name for name in kept.names() if name.startswith("after"))
    stood = [(row, name) for row in _rows(names) for name in row["confirmed"] if name == row["guilty"]]
    return f"{of(sum(name in row['settled'] for row, name in stood), len(stood))}"


def _wronged(rows: Sequence[Row]) -> str:
    return of(sum(bool(row["innocent"]) for row in rows), len(rows))


def _let_go(rows: Sequence[Row]) -> str:
    """Return in how many ledgers a guilty maker, or one of its formats, is called none found."""
    guilty = [row for row in rows if row["guilty"] and row["guilty"][0] in ("cell", "maker")]
    return of(sum(map(_cleared, guilty)), len(guilty)) if guilty else ""


def _both(rows: Sequence[Row]) -> Iterator[str]:
    """Yield how many makers or formats, then how many lots, paints or pigments, are named and settled rightly."""
    narrow = (("lot", "lot_settled"), ("paint", "paint_settled"), ("pigment", "pigment"))
    wide = ((("cell", "maker"), "to_confirm", "settled"),)
    for wanted in (wide, tuple(((kind,), kind, firm) for kind, firm in narrow)):
        mine = [(row, *one) for row in rows for one in wanted if _has(row, one[0])]
        hits, firm = (sum(hit(row, kinds, what[place]) for row, kinds, *what in mine) for place in (0, 1))
        yield f"{hits}, {firm} of {len(mine)}" if mine else ""


def _has(row: Row, kinds: Sequence[str]) -> bool:
    return any(one and one[0] in kinds for one in (row["guilty"], row["also"]))


if __name__ == "__main__":
    print("\n".join((*short(), "", *worlds(), "", still())))
