"""Facts as columns of numbers: counted as one would by looking at each thing."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from qcledger.findings.columns import FactPairs, LotFact, both, codes, distinct, in_order, is_first, places_of

numbers = st.lists(st.integers(0, 300), max_size=40).map(lambda found: np.array(found, np.intp))
facts = st.lists(st.tuples(st.sampled_from("abc"), st.sampled_from("xyz"), st.booleans()), max_size=20)


def _columns(rows):
    return [LotFact(*codes(row[place] for row in rows)) for place in (0, 1)]


@given(st.lists(st.text(max_size=2)))
def test_codes_count_up_in_order_of_appearance_and_name_what_they_stand_for(values):
    """A value's number is how many others appeared before it, and its name leads back."""
    number, names = codes(values)
    assert [names[one] for one in number] == values
    assert names == list(dict.fromkeys(values))


@given(numbers)
def test_each_number_is_first_once(number):
    """The first places are those where a number was not seen before; counted anew they run from 0 without gaps."""
    found = number.tolist()
    wanted = [one not in found[:place] for place, one in enumerate(found)]
    assert is_first(number).tolist() == wanted
    first, anew = in_order(number)
    assert first.tolist() == [place for place, new in enumerate(wanted) if new]
    assert anew.tolist() == codes(found)[0].tolist()
    assert distinct(number) == sorted(set(found))


@given(numbers)
def test_every_place_is_with_its_number_in_order(number):
    """Numbers that stand nowhere have no places; those past one byte are told apart too."""
    found = number.tolist()
    wanted = [[place for place, one in enumerate(found) if one == wanted] for wanted in range(301)]
    assert [places.tolist() for places in places_of(number, 301)] == wanted


@given(facts)
def test_pairs_tell_what_goes_together_among_some_lots(rows):
    """Two columns as one are named by both, and the pairs of some lots are those that these lots have."""
    one, other = _columns(rows)
    column = both(one, other)
    assert [column.names[number] for number in column.of_lot] == [row[:2] for row in rows]
    pairs = FactPairs.of(one, other)
    some = pairs.among(np.array([row[2] for row in rows], np.bool_))
    told = {(one.names[pairs.first[pair]], other.names[pairs.second[pair]]) for pair in some}
    assert told == {row[:2] for row in rows if row[2]}
