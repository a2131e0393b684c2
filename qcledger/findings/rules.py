"""The rules of findings over time: what changed from one edition to the next, so that a tester may be told.

A change of a level, a check or the model may move a standing although nobody graded anything. Whoever makes one adds
a line here, the newest last, with the checks it bears on; a test holds the last line against the numbers in use.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from qcledger.findings.finding import CheckName, Finding


@dataclass(frozen=True, slots=True)
class RuleChange:
    """One change of the rules.

    Parameters
    ----------
    edition
        The number of the rules from then on; each change has the next one.
    since
        The day it was made.
    words
        What is asked since, as a tester is told it: no full stop, for what is said goes on.
    checks
        The checks it bears on.
    """

    edition: int
    since: date
    words: str
    checks: frozenset[CheckName]


CHANGES: tuple[RuleChange, ...] = (
    RuleChange(
        2,
        date(2026, 12, 1),
        "near its line the fair-field check draws four times as many fields, so that less hangs on chance",
        frozenset({CheckName.FAIR_FIELD, CheckName.LEFT_OUT}),
    ),
)
"""Every change since standings are remembered, which began with edition 1."""


def edition(changes: Sequence[RuleChange] = CHANGES) -> int:
    """Return the number of the rules in use."""
    return changes[-1].edition if changes else 1


def rules_behind(finding: Finding, told_by: int, changes: Sequence[RuleChange] = CHANGES) -> tuple[RuleChange, ...]:
    """Return the changes that may have moved a finding since edition `told_by`.

    Those that bear on a check that it does not meet come alone; else those that bear on a check it was put to; where
    none does, as for a claim that is gone, every change since.
    """
    since = [one for one in changes if one.edition > told_by]
    every = [
        check for claim in (finding.claim, *finding.exceptions) if claim for check in (*claim.checks, *finding.checks)
    ] or [*finding.checks]
    unmet, asked = {one.name for one in every if not one.met}, {one.name for one in every}
    for names in (unmet, asked):
        if near := tuple(one for one in since if one.checks & names):
            return near
    return tuple(since)
