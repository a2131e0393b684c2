"""Tested rows as columns: whatever is asked of columns, it is what the rows say."""

from dataclasses import fields

from hypothesis import given
from hypothesis import strategies as st

from qcledger.records import TestedRow, TestedRows, Told
from tests.findings.made import paints

ROWS = [*paints("A", bad=4, each=2), *paints("B"), *paints("C", session=None)]
NAMES = [field.name for field in fields(TestedRow)]
PLACES = st.lists(st.integers(0, len(ROWS) - 1))


def columns() -> TestedRows:
    """Return the rows made from columns alone, so that each must be built."""
    return TestedRows({name: [getattr(row, name) for row in ROWS] for name in NAMES})


@given(PLACES)
def test_a_column_that_others_tell_says_the_same_at_places_as_one_by_one(places):
    """Values asked for together are those that each place gives, through any number of columns."""
    told = Told(str.upper, Told(lambda row: row.maker_name, ROWS))
    assert list(told.at(places)) == [told[place] for place in places]


@given(PLACES)
def test_some_of_the_rows_are_those_at_the_places(places):
    """Rows picked by place, from rows or from columns, are the rows there, in that order, also field by field."""
    wanted = [ROWS[place] for place in places]
    for rows in (TestedRows.of(ROWS), columns()):
        found = rows.some(places)
        assert (list(found), len(found), found) == (wanted, len(places), wanted)
        assert [found.column(name) for name in NAMES] == [[getattr(row, name) for row in wanted] for name in NAMES]
        assert [found[place] for place in range(len(places))] == wanted


@given(PLACES, st.lists(st.integers(0, 99)))
def test_some_of_some_are_places_of_those(places, further):
    """Picking again counts from what was picked before."""
    further = [place % len(places) for place in further] if places else []
    assert columns().some(places).some(further) == [ROWS[places[place]] for place in further]


def test_rows_are_found_by_what_fields_say():
    """A condition sees the named fields in their order, and the rows it holds for stay in theirs."""
    found = columns().where(lambda maker, grade: maker == "A" and grade == 4, "maker", "grade")
    assert found == [row for row in ROWS if row.maker == "A" and row.grade == 4]
    assert len(found) == 16
    assert columns()[3:5] == ROWS[3:5]
    assert found.where(lambda _: False, "maker") == []


def test_a_row_that_was_looked_at_is_kept_and_one_that_was_passed_is_not():
    """The same row comes again where it is picked by its place; going through all of a ledger keeps none."""
    rows = columns()
    assert rows[2] is rows[2] is rows.some([5, 2])[1]
    assert next(iter(rows)) is not next(iter(rows))
    made = TestedRows.of(ROWS)
    assert TestedRows.of(made) is made
    assert made[2] is ROWS[2]
