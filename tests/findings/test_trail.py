"""Where specimens came from, and in how many comparisons a fault was seen."""

from dataclasses import replace
from datetime import date

import pytest

from qcledger.findings import gather, read
from qcledger.findings.evidence import CellKey
from qcledger.findings.trail import Over, PaintKey, grades_of, recurrence, trail_of
from qcledger.vocab import Blinding, Occasion
from tests.findings.made import FROTH, HALF, TUBE, only, row


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


def test_two_sessions_of_one_code_are_two():
    """Codes may come back in another comparison or with another tester: each session is counted."""
    rows = [row(session="S1"), row(session="S2"), replace(row(session="S3"), session_code="S1")]
    assert trail_of(gather(rows, only()).units).sessions == ("S1", "S1", "S2")


def test_a_specimen_counts_in_its_first_comparison():
    """A specimen tested again in another comparison does not make the fault recur."""
    first = row(comparison="c1", grade=4)
    other = row(session="S2")
    later = replace(first, trial=other.trial, observation=other.observation, trial_at=other.trial_at, comparison="c2")
    found = recurring([first, later])
    assert (found.seen, found.looked) == (1, 1)


def test_what_belongs_to_no_comparison_is_not_counted():
    """A session outside any comparison says nothing about how often the fault comes back over comparisons."""
    rows = [row(comparison="c1", grade=0), row(comparison=None, grade=5)]
    assert (recurring(rows).seen, recurring(rows).looked) == (0, 1)
    assert recurrence(gather(rows[1:], only())) == {}


def test_at_unpacking_parcels_are_counted():
    """A fault of the packing comes back in further parcels: seen in two of three, since the first was unpacked."""
    wrapper = replace(FROTH, key="wrapper", seen_at=Occasion.UNPACKING)
    parcels = (("P1", 0), ("P2", 4), ("P2", 5), ("P3", 0), ("P3", 3))
    rows = [row(criterion="wrapper", parcel=name, grade=grade, session=None) for name, grade in parcels]
    bench = row(specimen=rows[0].specimen, grade=5)
    found = recurrence(gather([*rows, bench], only(FROTH, wrapper)))
    told = found[CellKey("wrapper", "A", HALF)]
    assert (told.seen, told.looked, told.since, told.over) == (2, 3, date(2026, 3, 2), Over.PARCELS)
    assert found[CellKey("froth", "A", HALF)].over is Over.COMPARISONS


def test_a_paint_comes_back_only_where_it_was():
    """A parcel that never held the paint is none in which nobody saw its fault: two of two, not two of three."""
    wrapper = replace(FROTH, seen_at=Occasion.UNPACKING)
    bad = [row(lot=name, parcel=name, grade=5, session=None) for name in ("P1", "P2")]
    other = [row(paint="Blue", pigments=("PB29",), parcel=name, session=None) for name in ("P1", "P2", "P3")]
    found = recurrence(gather([*bad, *other], only(wrapper)))
    assert (found["froth", "A", HALF].seen, found["froth", "A", HALF].looked) == (2, 3)
    red = found[PaintKey("froth", "A", HALF, "A/Red")]
    assert (red.seen, red.looked) == (2, 2)
    assert found[PaintKey("froth", "A", HALF, "A/Blue")].seen == 0


def test_each_cell_is_counted_by_itself():
    """Another maker's or another format's parcels are not this one's."""
    wrapper = replace(FROTH, seen_at=Occasion.UNPACKING)
    rows = [row(maker=maker, format=format_, grade=5, session=None) for maker in "AB" for format_ in (HALF, TUBE)]
    found = recurrence(gather([*rows, row(parcel="P2", session=None)], only(wrapper)))
    cells = {key: one for key, one in found.items() if isinstance(key, CellKey)}
    assert {key: (one.seen, one.looked) for key, one in cells.items()} == {
        CellKey("froth", maker, format_): (1, 1 + (maker == "A" and format_ is HALF))
        for maker in "AB"
        for format_ in (HALF, TUBE)
    }


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
