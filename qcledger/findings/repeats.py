"""Hidden repeats: the same specimen graded twice, and what that says about a tester's grades.

A repeat is held against the specimen's first trial that counts. Repeats never add specimens to a finding.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from hashlib import sha256
from math import sqrt
from typing import NamedTuple

from qcledger.records import TestedRow, TestedRows
from qcledger.vocab import Occasion, Role

ENOUGH = 10
"""Pairs from which a tester's error is said to be measured."""

TESTERS_ERROR = "tester's error"
"""The kind of the stress checks in which grades are moved."""

DRAWS = 5
"""How often a claim is looked at again with its grades moved."""

USUAL_SCATTER = 0.4
"""Scatter of a grade in grades where too few repeats measured it: that of 75 % equal, 23 % one off, 2 % two off."""

_LEAST, _WORST = 0.0, 5.0


class Pair(NamedTuple):
    """Two looks at one specimen on one criterion, in their order."""

    first: TestedRow
    second: TestedRow

    @property
    def shift(self) -> float:
        """Second grade less first, in grades."""
        assert self.first.grade is not None
        assert self.second.grade is not None
        return self.second.grade - self.first.grade

    @property
    def across(self) -> bool:
        """Whether the two looks were on two sheets: only then does a drift of the second show."""
        return self.first.session != self.second.session

    @property
    def same_tester(self) -> bool:
        """Whether one tester gave both grades."""
        return self.first.tester == self.second.tester


def usable(row: TestedRow) -> bool:
    """Say whether a row is a grade from a sheet that nothing speaks against; whether it is void is not asked."""
    return row.occasion is Occasion.BENCH and row.grade is not None and not row.mixed and row.doubt is None


def pairs(rows: Iterable[TestedRow]) -> list[Pair]:
    """Return each hidden repeat with the first look at its specimen, in the order of the repeats.

    The first look is not in a void session, unless that is the repeat's own; both are on the reference paper, or
    neither is.
    """
    rows = TestedRows.of(rows)
    again = set(rows.where(lambda role: role is Role.REPEAT, "role").column("specimen"))
    looked_at = rows.where(again.__contains__, "specimen")
    in_time = sorted(filter(usable, looked_at), key=lambda row: (row.trial_at, row.at, row.observation))
    looks: dict[tuple[str, str, bool], list[TestedRow]] = {}
    found = []
    for row in in_time:
        if row.role is Role.SPECIMEN:
            looks.setdefault(_what(row), []).append(row)
    for row in in_time:
        if row.role is Role.REPEAT:
            before = (one for one in looks.get(_what(row), ()) if not one.void or one.session == row.session)
            if (first := next(before, None)) is not None:
                found.append(Pair(first, row) if first.trial_at <= row.trial_at else Pair(row, first))
    return found


def _what(row: TestedRow) -> tuple[str, str, bool]:
    return row.specimen, row.criterion, row.on_reference


def own_pairs(rows: Iterable[TestedRow]) -> list[Pair]:
    """Return the pairs that measure one tester: both looks theirs, neither in a void session."""
    return [pair for pair in pairs(rows) if pair.same_tester and not (pair.first.void or pair.second.void)]


@dataclass(frozen=True, slots=True)
class GradeError:
    """How far a second grade lies from the first, as measured.

    Parameters
    ----------
    shares
        Share of each shift in grades, from 0 to 1, summing to 1, the same up as down: repeats say how far grades
        scatter, not which of two looks was right.
    pairs
        Pairs it rests on.
    """

    shares: Mapping[float, float]
    pairs: int


def grade_error(rows: Iterable[TestedRow]) -> GradeError | None:
    """Return how far grades scatter, measured by hidden repeats of one tester each; None under `ENOUGH` pairs.

    Notes
    -----
    The shift of a pair holds the scatter of two looks. Used for one grade it is too wide by the root of 2, so that
    a claim is rather asked too much than too little.
    """
    shifts = Counter(pair.shift for pair in own_pairs(rows))
    total = shifts.total()
    if total < ENOUGH:
        return None
    sizes = sorted({abs(shift) for shift in shifts})
    both = sorted({sign * size for size in sizes for sign in (-1, 1)})
    return GradeError({shift: (shifts[shift] + shifts[-shift]) / 2 / total for shift in both}, total)


def scatter_of(rows: Iterable[TestedRow]) -> float:
    """Return by how much one grade scatters (standard deviation, in grades): measured, else `USUAL_SCATTER`."""
    error = grade_error(rows)
    if error is None:
        return USUAL_SCATTER
    return sqrt(sum(shift**2 * share for shift, share in error.shares.items()) / 2)


def moved(
    rows: Sequence[TestedRow], error: GradeError, draws: int = DRAWS
) -> Iterator[tuple[str, str, Sequence[TestedRow]]]:
    """Yield `rows` with each grade moved by the measured error, `draws` times; the hook of `stress.stress`.

    The shift of a grade hangs on its observation alone, so that the same ledger gives the same answer.
    """
    for draw in range(1, draws + 1):
        yield (
            TESTERS_ERROR,
            f"grades moved by the tester's error, draw {draw}",
            [_moved(row, error, draw) for row in rows],
        )


def _moved(row: TestedRow, error: GradeError, draw: int) -> TestedRow:
    if row.grade is None or row.occasion is not Occasion.BENCH:
        return row
    grade = row.grade + _shift(f"{row.observation} {draw}", error)
    return replace(row, grade=min(max(grade, _LEAST), _WORST))


def _shift(seed: str, error: GradeError) -> float:
    level = int.from_bytes(sha256(seed.encode()).digest()[:8]) / 2**64
    for shift, share in error.shares.items():
        level -= share
        if level < 0:
            return shift
    return 0.0
