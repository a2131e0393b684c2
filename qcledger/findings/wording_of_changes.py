"""Where a maker says that it changed something: what was counted of what was bought before, and from then on."""

from collections.abc import Iterable
from datetime import date
from typing import NamedTuple

from qcledger.findings.evidence import Unit
from qcledger.findings.lots import TestedLot
from qcledger.findings.words import day, out_of


class PartedCounts(NamedTuple):
    """Specimens before a change and from it on: how many were tested, and how many of these were faulty.

    `since` is the first day that counts as after it.
    """

    since: date
    tested_before: int
    faulty_before: int
    tested_after: int
    faulty_after: int


def parted(lots: Iterable[TestedLot], since: date | None, code: str) -> PartedCounts | None:
    """Return the counts of some lots before a change and from it on.

    A batch code tells no order. So a change from a lot on is from the day that lot was first bought: the lot itself,
    and what was bought from that day on, stands after it.

    Parameters
    ----------
    lots
        What was tested.
    since, code
        From which day or from which lot on the maker changed something; the day goes first where both are given.

    Returns
    -------
    The counts; None where neither says from when on, as for a lot that is not among `lots`.
    """
    units = [(unit, lot.row.lot_code or "") for lot in lots for unit in lot.units]
    own = [unit.row.bought_on for unit, named in units if code and named == code]
    first = since or min(own, default=None)
    if first is None:
        return None
    after = [unit for unit, named in units if unit.row.bought_on >= first or (code and named == code)]
    before = [unit for unit, named in units if unit.row.bought_on < first and not (code and named == code)]
    return PartedCounts(first, len(before), _faulty(before), len(after), _faulty(after))


def _faulty(units: Iterable[Unit]) -> int:
    return sum(bool(unit.faulty) for unit in units)


def changed_line(lots: Iterable[TestedLot], since: date | None, code: str) -> str:
    """Return what was counted before a change and from it on, in a sentence; empty where nothing tells the two apart.

    It says what was bought when, not what was made when: a seller may hold old stock.
    """
    found = parted(lots, since, code)
    if found is None:
        return ""
    what = f"lot {code}" if code and since is None else day(found.since)
    before = f"bought before: {_counted(found.faulty_before, found.tested_before)}"
    after = f"bought from then on: {_counted(found.faulty_after, found.tested_after)}"
    told = f"Changed from {what} on, the maker says. Faulty in what we tested, {before}; {after}."
    return f"{told} Old stock may be sold later."


def _counted(faulty: int, tested: int) -> str:
    return out_of(faulty, tested) if tested else "not tested"
