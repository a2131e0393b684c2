"""Batch codes as people type them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcledger.public.codes import digits_of, plain_code, plain_words


@pytest.mark.parametrize("typed", ["Q4471", "q4471", "Q 4471", "q-4471", " Q04471 ", "Q.4471", "q\u00a04471"])
def test_one_code_has_one_form(typed):
    """Case, blanks, marks and leading noughts make no other code."""
    assert plain_code(typed) == "q4471"


def test_digits_alone_find_a_code():
    """Whoever types the digits alone, with or without noughts, means the code that has them."""
    assert plain_code("04471") == digits_of("Q-04471") == "4471"


@given(st.text())
def test_the_form_of_a_form_is_the_form(text):
    """Bringing a code or a name into its form twice changes nothing."""
    assert plain_code(plain_code(text)) == plain_code(text)
    assert plain_words(plain_words(text)) == plain_words(text)
