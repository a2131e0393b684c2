"""Where specimens came from, and in how many comparisons a fault was seen."""

from dataclasses import replace
from datetime import date

import pytest

from qcledger.findings import gather, read
from qcledger.findings.evidence import CellKey
from qcledger.findings.trail import grades_of, recurrence, trail_of
from qcledger.vocab import Blinding
from tests.findings.made import HALF, only, row


def recurring(rows):
    """Return how often maker A's half pans were looked at and the fault was seen."""
    return recurrence(gather(rows, only()))[CellKey("froth", "A", HALF)]


def test_seen_in_two_of_three_comparisons():
    """Counted over comparisons, since the first trial of all."""
    rows = [
        row(comparison=name, grade=grade, session="S1")
        for name, grade in (("c1", 0), ("c2", 4), ("c2", 0), ("c3", 5))
    ]
    found = recurring(rows)
    assert (found.seen, found.looked, found.since) == (2, 3, date(2026, 3, 2))


def test_a_specimen_counts_in_its_first_comparison():
    """A specimen tested again in another comparison does not make the fault recur."""
    first = row(comparison="c1", grade=4)
    other = row(session="S2")
    later = replace(first, trial=other.trial, observation=other.observation, trial_at=other.trial_at, comparison="c2")
    found = recurring([first, later])
    assert (found.seen, found.looked) == (1, 1)


def test_unpacking_belongs_to_the_comparison_of_the_bench():
    """What was seen at unpacking counts where the specimen came to the bench; what never did is left out."""
    faint = row(criterion="faint", comparison="c1")
    unpacked = replace(faint, criterion="froth", trial="u", observation="u", comparison=None, session=None, grade=5)
    found = recurrence(gather([faint, unpacked, row(session=None, grade=5)], lambda _, key: only()(_, "froth")))
    assert (found[CellKey("froth", "A", HALF)].seen, found[CellKey("froth", "A", HALF)].looked) == (1, 1)


def test_recurrence_is_counted_over_the_whole_ledger():
    """Findings of one comparison still tell how often the fault was seen in the others."""
    rows = [row(comparison="c1", grade=5), row(comparison="c2", grade=4)]
    (one,) = read(rows[:1], only(), everything=rows).findings
    assert (one.counts.tested, one.recurrence.seen, one.recurrence.looked) == (1, 2, 2)


def test_blinding_is_told_most_frequent_first():
    """Sessions of two kinds are both named."""
    rows = [row(blinding=kind) for kind in (Blinding.OPEN, Blinding.SHUFFLED, Blinding.SHUFFLED)]
    assert trail_of(gather(rows, only()).units).blinding == (Blinding.SHUFFLED, Blinding.OPEN)


def test_nothing_has_no_dates():
    """Without specimens there is neither a purchase nor a date."""
    trail = trail_of(())
    assert (trail.bought, trail.tested, trail.parcels) == (None, None, 0)


@pytest.mark.parametrize(("grades", "median"), [((3,), 3), ((0, 5), 2.5), ((1, 0, 4), 1), ((1, 2, 3, 5), 2.5)])
def test_median(grades, median):
    """The middle grade, or half-way between the two in the middle."""
    assert grades_of(grades).median == median


def test_no_grades():
    """Nothing graded has no median."""
    assert grades_of((None,)) is None
