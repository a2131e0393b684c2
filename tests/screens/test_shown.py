"""How values are shown."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcledger.screens.shown import shown, shown_date, shown_line, shown_number
from qcledger.settings import Settings


@given(st.text())
def test_shown_text_is_plain(text):
    """Whatever comes in, no style and no control character comes out."""
    content = shown(text)
    assert content.spans == []
    assert not [char for char in content.plain if ord(char) < 32 and char != "\n"]
    assert "\n" not in shown_line(text).plain


@pytest.mark.parametrize(
    ("order", "text"), [("iso", "2026-03-09"), ("day first", "9.3.2026"), ("month first", "3/9/2026")]
)
def test_dates_in_the_tester_s_order(order, text):
    """The settings say how a date is written."""
    assert shown_date(date(2026, 3, 9), Settings(dates=order)) == text


@pytest.mark.parametrize(
    ("value", "mark", "text"), [(3, ".", "3"), (3.5, ".", "3.5"), (12.25, ",", "12,25"), (1e6, ".", "1000000")]
)
def test_numbers_are_short_and_exact(value, mark, text):
    """Whole numbers have no decimals; the decimal mark is the tester's."""
    assert shown_number(value, Settings(decimal_mark=mark)) == text
