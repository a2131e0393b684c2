"""What is typed into forms."""

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcledger.bench import typed
from qcledger.errors import BadInput
from qcledger.vocab import CURRENCY_DIGITS, Censored, Format, Why


@pytest.mark.parametrize(
    ("text", "order", "day"),
    [
        ("2026-03-09", "iso", date(2026, 3, 9)),
        ("2026-03-09", "day first", date(2026, 3, 9)),
        ("9.3.2026", "day first", date(2026, 3, 9)),
        ("3/9/2026", "month first", date(2026, 3, 9)),
    ],
)
def test_days_in_iso_or_the_tester_s_own_order(text, order, day):
    """A date of ISO 8601 is read under every setting, and the order that was set beside it."""
    assert typed.day(text, "bought_on", order) == day


@pytest.mark.parametrize("text", ["9.3.2026", "2026-02-30", "today", "2026-3", "٢٠٢٦-٠٣-٠٩"])
def test_other_days_are_refused_at_their_field(text):
    """The field is the place, so that the words can stand beside it."""
    with pytest.raises(BadInput) as refused:
        typed.day(text, "bought_on")
    assert refused.value.problems[0].where == "bought_on"


@pytest.mark.parametrize("text", ["0001-01-01", "0206-03-09", "1899-12-31"])
def test_a_day_before_anything_can_have_happened_is_refused(text):
    """A year that lost or gained a digit is told in one line; 1900 is the first that is read."""
    with pytest.raises(BadInput, match=f"bought_on: found '{text}'; allowed: a day from 1900-01-01 on"):
        typed.past_day(text, "bought_on", date(2026, 3, 9))
    assert typed.past_day("1900-01-01", "bought_on", date(2026, 3, 9)) == date(1900, 1, 1)


@pytest.mark.parametrize(
    ("text", "code", "mark", "minor"),
    [("12.40", "EUR", ".", 1240), ("12,4", "EUR", ",", 1240), ("7", "GBP", ".", 700), ("1240", "JPY", ".", 1240),
     ("0", "EUR", ".", 0)],
)  # fmt: skip
def test_money_in_the_smallest_coin(text, code, mark, minor):
    """Digits after the mark as ISO 4217 gives them: two for EUR and GBP, none for JPY."""
    assert typed.money(text, "price", code, mark) == minor


@pytest.mark.parametrize(
    ("text", "code", "mark"),
    [("12,40", "EUR", "."), ("12.40", "EUR", ","), ("1,234.50", "EUR", "."), ("12.405", "EUR", "."),
     ("12.4", "JPY", "."), ("-1", "EUR", "."), ("1e3", "EUR", "."), ("12 EUR", "EUR", "."), ("١٢", "EUR", ".")],
)  # fmt: skip
def test_money_that_could_be_misread_is_refused(text, code, mark):
    """The other mark, thousands marks, too many decimals and signs are never guessed at."""
    with pytest.raises(BadInput, match="price"):
        typed.money(text, "price", code, mark)


@given(st.integers(0, 10**11), st.sampled_from(sorted(CURRENCY_DIGITS)), st.sampled_from(".,"))
def test_money_text_is_read_back(minor, code, mark):
    """An amount that is shown is read as what it was."""
    text = typed.money_text(minor, code, mark)
    if len(text) <= 9:
        assert typed.money(text, "price", code, mark) == minor


def test_words_by_their_beginning():
    """A letter is enough where only one word begins so; the whole word beats a beginning."""
    assert typed.word("h", "format", Format) is Format.HALF_PAN
    assert typed.word(" TUBE ", "format", Format) is Format.TUBE
    assert typed.word("to", "why", Why) is Why.TO_CONFIRM
    for text in ("", "x", "p q"):
        with pytest.raises(BadInput, match="half pan"):
            typed.word(text, "format", Format)


def test_readings_and_amounts():
    """A reading may lie beyond a limit; a volume is above zero."""
    assert typed.reading(">60", "reading") == (60.0, Censored.ABOVE)
    assert typed.reading(" 3,5 ", "reading") == (3.5, Censored.EXACT)
    assert typed.amount("7,5", "ml", ",") == Decimal("7.5")
    for read in (lambda: typed.amount("0", "ml"), lambda: typed.reading("x", "reading")):
        with pytest.raises(BadInput):
            read()


def test_a_form_is_refused_whole_with_a_problem_a_field():
    """Every wrong field is named; empty ones take their default."""
    form = typed.Reader({"day": "x", "price": "y", "name": ""})
    assert form.read("name", typed.name, default=None) is None
    form.must("day", typed.day, default=None)
    form.read("price", typed.amount, default=None)
    form.must("name", typed.name, default="")
    with pytest.raises(BadInput) as refused:
        form.done()
    assert [problem.where for problem in refused.value.problems] == ["day", "price", "name"]
