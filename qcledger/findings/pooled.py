"""What the pooled model says on one criterion, as plain values that can be kept, and the hash of what enters it.

The posterior is of everything that counts. The fair-field check uses only what was bought as planned: a likelihood is
not bent by buying more of what looked bad, but a promise about how often fair fields accuse somebody would be.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from hashlib import sha256
from math import ceil
from typing import NamedTuple

import numpy as np

from qcledger.findings.field import CriterionField
from qcledger.stats.pooled.levels import AGAIN, is_clear
from qcledger.stats.pooled.levels import FLOOR as FLOOR
from qcledger.stats.pooled.levels import LINE as LINE

MODEL = 7
"""Raised when the same data would give other numbers: what was kept before is then worked out again."""

SURE = 0.95
"""Least P(excess > `checks.DELTA`) for saying "by more than ten points"."""
FEWEST_FIELDS = 2000
"""Fair fields at most for a suspect where the line allows that many; a finer line takes more."""

QUANTILES = tuple(n / 40 for n in range(41))
"""Probabilities of the quantiles that a strip is drawn from: a fortieth of the draws lies between two of them."""

Key = tuple[str, ...]
Accused = tuple[str, str | None]
"""A maker's id with a format, or with None for the maker over its formats."""


class Estimate(NamedTuple):
    """Mean, standard deviation and ends of the 95 % credible interval."""

    mean: float
    sd: float
    low: float
    high: float


class Reach(NamedTuple):
    """The posterior of one maker or one of its formats.

    Parameters
    ----------
    rate
        Rate of faulty specimens, standardised to the field's own mix of pigments.
    excess
        That rate less the field's.
    above, far_above
        P(excess > 0) and P(excess > `checks.DELTA`).
    curve
        Quantiles of the rate at `QUANTILES`.
    """

    rate: Estimate
    excess: Estimate
    above: float
    far_above: float
    curve: tuple[float, ...]


class Level(NamedTuple):
    """The posterior of what is no maker's alone, or narrower than a maker's format.

    Parameters
    ----------
    rate
        Its rate of faulty specimens.
    above
        Of a format or a pigment, the chance that its rate exceeds the mean of the others'; of a paint, that it is
        worse than its maker's format and its pigments make it; of a lot, that its own rate exceeds its paint's.
    """

    rate: Estimate
    above: float


class FairFields(NamedTuple):
    """Fair fields drawn once for a criterion: an accusation and whatever is asked of it again share them.

    Parameters
    ----------
    held
        Scales that the statistic holds: s_a, s_g, s_c, s_d and rho.
    fields
        N, how many were drawn.
    strongest
        The strongest unit of each of the strongest of them, the strongest first.
    """

    held: tuple[float, ...]
    fields: int
    strongest: tuple[float, ...]

    def as_strong(self, strength: float) -> int:
        """Return how many of the fields, as far as they are kept, showed somebody at least so strong."""
        return sum(one >= strength for one in self.strongest)


class Fair(NamedTuple):
    """Of `fields` fair fields with the same purchases, `as_strong` showed somebody as strongly."""

    as_strong: int
    fields: int

    @property
    def p_value(self) -> float:
        """(k + 1) / (N + 1)."""
        return (self.as_strong + 1) / (self.fields + 1)

    def tells(self, line: float) -> bool:
        """Return whether enough were drawn to say on which side of `line` the p-value lies."""
        passes = self.p_value <= line
        enough = self.fields >= least_fields(line) or not passes
        return self.fields >= fields_for(line) or (enough and is_clear(self.as_strong, self.fields, line))


@dataclass(frozen=True)
class Pooled:
    """The model's answer on one criterion.

    Parameters
    ----------
    cells
        By maker's id and format.
    makers
        By maker's id, over the formats it was tested in.
    formats, pigments
        The field's own rate in a format, and with a pigment at an ordinary maker.
    paints
        By paint's id and format.
    lots
        Each lot's own rate, by its key.
    fair
        Outcome of the fair-field check of each suspect that was put to it.
    drawn
        The fair fields of each suspect that passed.
    line
        Largest p-value that the check was drawn to tell apart.
    warnings, remarks
        What the run says against its own numbers, one sentence each: so much that nobody is accused by them, and what
        is worth knowing beside them.
    """

    cells: Mapping[Key, Reach]
    makers: Mapping[Key, Reach]
    formats: Mapping[Key, Level]
    pigments: Mapping[Key, Level]
    paints: Mapping[Key, Level]
    lots: Mapping[Key, Level]
    fair: Mapping[Accused, Fair]
    line: float
    warnings: tuple[str, ...]
    remarks: tuple[str, ...] = ()
    drawn: Mapping[Accused, FairFields] = field(default_factory=dict)

    def reach(self, accused: Accused) -> Reach | None:
        """Return the posterior of a maker or of one of its formats."""
        maker, format_ = accused
        return self.makers.get((maker,)) if format_ is None else self.cells.get((maker, format_))

    def serves(self, line: float) -> bool:
        """Return whether the check would have come out the same, and as surely, had it been drawn for `line`."""
        return all(
            one.tells(line) and (one.p_value <= line) == (one.p_value <= self.line) for one in self.fair.values()
        )


def line_for(criteria: int) -> float:
    """Return the p-value at which one of so many criteria may accuse, so that `LINE` holds for them together.

    Notes
    -----
    Bonferroni's division. Holm's would hand on the level of a criterion once somebody is accused on it; but the other
    makers are still under test there, so nothing is left over to hand on.
    """
    return LINE / max(criteria, 1)


def stands_again(as_strong: int, fields: int, line: float) -> bool:
    """Say whether an accusation still stands with its worst lot, or its worst session, left out.

    Parameters
    ----------
    as_strong, fields
        Of the fair fields that the claim passed in, as many are as strong as what is left of it.
    line
        The line it passed.
    """
    return (as_strong + 1) / (fields + 1) <= AGAIN * line


def least_fields(line: float) -> int:
    """Return how many fair fields an accusation at `line` rests on at least: seven in so many may be as strong."""
    return ceil(8 / line)


def fields_for(line: float) -> int:
    """Return how many fair fields are drawn at most to tell a p-value at `line`."""
    return max(FEWEST_FIELDS, 8 * least_fields(line))


def fingerprint(everyone: CriterionField, suspects: Sequence[Accused]) -> str:
    """Return the hash of exactly what enters the answer: the lots tested, their counts, and who is a suspect."""
    tested = np.flatnonzero(everyone.tested > 0)
    digests = everyone.shelf.digests[tested]
    order = tested[np.lexsort((digests[:, 1], digests[:, 0]))]
    faulty, planned = everyone.as_planned.faulty, everyone.as_planned.tested
    counts = np.stack([everyone.tested, everyone.faulty, planned, faulty])[:, order].astype(np.int64)
    named = repr((MODEL, FLOOR, sorted(suspects, key=repr))).encode()
    return sha256(named + everyone.shelf.digests[order].tobytes() + counts.tobytes()).hexdigest()
