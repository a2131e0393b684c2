"""The pooled model as the strength of an accusation, from answers that are kept, and what has still to be worked out.

An accusation needs P(excess > 0) of `FLOOR` or more, and the fair-field check at the line of its criterion. The exact
test by exchanging lots is no longer asked: see guide/findings.md for what it added and what it cost.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from qcledger.findings.checks import chance, known
from qcledger.findings.extent import Case
from qcledger.findings.field import CriterionField
from qcledger.findings.finding import Chance, Check, CheckName, Need
from qcledger.findings.pooled import FLOOR, Accused, Pooled, fingerprint, line_for
from qcledger.findings.strength import Family, Suspect, suspect_p
from qcledger.findings.stress import Worries

CHECKING = "checking"
UNSURE = "the model's numbers are too uncertain here"


@dataclass(frozen=True, slots=True, eq=False)
class PoolQuestion:
    """A criterion whose answer is wanted: its hash, and everything that the question is made of."""

    key: str
    field: CriterionField
    suspects: tuple[Accused, ...]
    line: float


@dataclass
class Pool:
    """A `Strength` from kept answers.

    Parameters
    ----------
    kept
        Returns the answer with a hash, or None.
    worries
        The stress checks of what is accused.
    missing
        What was asked for and is not there, by the criterion's key.
    """

    kept: Callable[[str], Pooled | None]
    worries: Worries
    missing: dict[str, PoolQuestion] = field(default_factory=dict)
    _found: dict[str, Pooled | None] = field(default_factory=dict)

    def __call__(self, rest: CriterionField, suspects: Sequence[Suspect], family: Family) -> Sequence[Chance]:
        """Return what the model says of each suspect; what has no answer yet reads *checking*."""
        accused = tuple((one.maker, None if one.format is None else str(one.format)) for one in suspects)
        found = self._look(rest, accused, family.criteria)
        line = line_for(family.criteria)
        return [
            _chance(found, one, (line, family.criteria), suspect_p(rest, suspect))
            for one, suspect in zip(accused, suspects, strict=True)
        ]

    def answer(self, case: Case) -> Pooled | None:
        """Return the model's answer on a criterion; None while it is missing."""
        key = case.field.criterion.key
        if key not in self._found:
            _ = case.accusations  # who is a suspect belongs to the question
        if key not in self._found and case.field.counts.tested:
            self._look(case.field, (), case.criteria)
        return self._found.get(key)

    def _look(self, part: CriterionField, suspects: tuple[Accused, ...], criteria: int) -> Pooled | None:
        # Whatever a pigment or a format explains is no evidence against a maker, but the model allows for it itself.
        whole = replace(part, shown=np.ones_like(part.shown))
        key, criterion = fingerprint(whole, suspects), part.criterion.key
        found = self.kept(key)
        line = line_for(criteria)
        if found is not None and not found.serves(line):
            found = None
        if found is None:
            self.missing[criterion] = PoolQuestion(key, whole, suspects, line)
        self._found[criterion] = found
        return found


def _chance(found: Pooled | None, accused: Accused, line: tuple[float, int], exact: float) -> Chance:
    if found is None:
        return Chance((_above(CHECKING, need=Need.CHECKING), _fair(CHECKING, line, need=Need.CHECKING)), exact)
    reach, fair = found.reach(accused), found.fair.get(accused)
    sure = reach is not None and reach.above >= FLOOR and not found.warnings
    told = UNSURE if found.warnings else known(reach.above) if reach else "nothing tested"
    above = _above(told, met=sure)
    if fair is None:
        passed = _fair("explained by a stronger one of the same maker" if sure else "not asked", line)
    else:
        told = f"as strong in {fair.as_strong} of {fair.fields}, {chance(fair.p_value)}"
        passed = _fair(told, line, met=fair.p_value <= line[0])
    return Chance((above, passed), exact, reach, fair, found.drawn.get(accused))


def _above(found: str, *, met: bool = False, need: Need = Need.EVIDENCE) -> Check:
    return Check(CheckName.ABOVE_FIELD, met, found, f"{FLOOR:g} or more", need)


def _fair(found: str, line: tuple[float, int], *, met: bool = False, need: Need = Need.EVIDENCE) -> Check:
    level, criteria = line
    return Check(CheckName.FAIR_FIELD, met, found, f"p {level:.2g} or less, shared among {criteria} criteria", need)
