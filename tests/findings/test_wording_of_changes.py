"""Where a maker says that it changed something, what was tested is parted before and after, and nothing is lost."""

from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from qcledger.findings import read
from qcledger.findings.wording_of_changes import changed_line, parted
from qcledger.findings.words import banned_in
from tests.findings.made import only, row

FIRST = date(2026, 1, 10)


def lots_of(bought):
    """Return the lots of some specimens: each with its lot's number, days after `FIRST`, and grade."""
    rows = [
        row(lot=f"L{lot}", lot_code=f"L{lot}", parcel=f"P{days}", bought_on=FIRST + timedelta(days=days), grade=grade)
        for lot, days, grade in bought
    ]
    (finding,) = read(rows, only()).findings
    return finding.lots


SPECIMENS = st.lists(
    st.tuples(st.integers(1, 4), st.integers(0, 30), st.sampled_from((0.0, 4.0))), min_size=1, max_size=12
)


@given(SPECIMENS, st.integers(-5, 40))
def test_before_and_after_are_all_of_it(bought, days):
    """Whatever day it is, what was tested and what was faulty before and after add up to the whole."""
    lots = lots_of(bought)
    found = parted(lots, FIRST + timedelta(days=days), "")
    assert found.tested_before + found.tested_after == len(bought)
    assert found.faulty_before + found.faulty_after == sum(grade > 0 for _, _, grade in bought)
    assert found.tested_after == sum(day >= days for _, day, _ in bought)


@given(SPECIMENS, st.integers(1, 5))
def test_from_a_lot_on_the_lot_itself_stands_after(bought, number):
    """A change from a lot on puts that lot after it; a lot that was not tested parts nothing."""
    found = parted(lots_of(bought), None, f"L{number}")
    own = [day for lot, day, _ in bought if lot == number]
    assert (found is None) == (not own)
    if found is not None:
        assert found.since == FIRST + timedelta(days=min(own))
        assert found.tested_after >= len(own)


def test_the_line_counts_and_says_whose_word_it_is():
    """Three of three before, none of two after; the maker says that it changed, and old stock is told."""
    bought = [(1, 0, 4.0), (1, 0, 4.0), (2, 1, 4.0), (3, 20, 0.0), (3, 20, 0.0)]
    line = changed_line(lots_of(bought), None, "L3")
    assert "Changed from lot L3 on, the maker says." in line
    assert "bought before: 3 of 3; bought from then on: none of 2" in line
    assert banned_in(line) == ()
    assert changed_line(lots_of(bought), None, "L9") == ""
