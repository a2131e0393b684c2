"""Numbers, money and days as people write them, taken one way or refused."""

from datetime import UTC, date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcledger import figures
from qcledger.errors import BadInput
from qcledger.vocab import CURRENCY_DIGITS, Censored


@pytest.mark.parametrize(
    ("text", "order", "day"),
    [
        ("2026/3/9", "day first", date(2026, 3, 9)),
        ("9. 3. 2026", "day first", date(2026, 3, 9)),
        ("9-3-2026", "day first", date(2026, 3, 9)),
        ("3.9.2026", "month first", date(2026, 3, 9)),
        ("2026-03-09", "iso", date(2026, 3, 9)),
        ("2026-03-09", "day first", date(2026, 3, 9)),
        ("9.3.2026", "day first", date(2026, 3, 9)),
        ("3/9/2026", "month first", date(2026, 3, 9)),
        ("9.3.2026", "iso", date(2026, 3, 9)),
        ("31.3.2026", "iso", date(2026, 3, 31)),
    ],
)
def test_days_in_iso_or_the_tester_s_own_order(text, order, day):
    """A date of ISO 8601 is read under every setting, and the order set beside it, whatever parts its figures."""
    assert figures.day(text, "bought_on", order) == day


@pytest.mark.parametrize("text", ["9/3/2026", "31.2.2026", "2026-02-30", "today", "2026-3", "٢٠٢٦-٠٣-٠٩"])
def test_other_days_are_refused_at_their_field(text):
    """The field is the place, so that the words can stand beside it."""
    with pytest.raises(BadInput) as refused:
        figures.day(text, "bought_on")
    assert refused.value.problems[0].where == "bought_on"


@pytest.mark.parametrize("text", ["0001-01-01", "0206-03-09", "1899-12-31"])
def test_a_day_before_anything_can_have_happened_is_refused(text):
    """A year that lost or gained a digit is told in one line; 1900 is the first that is read."""
    with pytest.raises(BadInput, match=f"bought_on: found '{text}'; allowed: a day from 1900-01-01 on"):
        figures.past_day(text, "bought_on", date(2026, 3, 9))
    assert figures.past_day("1900-01-01", "bought_on", date(2026, 3, 9)) == date(1900, 1, 1)


@pytest.mark.parametrize(
    ("text", "code", "mark", "minor"),
    [("12.40", "EUR", ".", 1240), ("12,4", "EUR", ",", 1240), ("7", "GBP", ".", 700), ("1240", "JPY", ".", 1240),
     ("0", "EUR", ".", 0), ("12,40", "EUR", ".", 1240), ("12.4", "EUR", ",", 1240)],
)  # fmt: skip
def test_money_in_the_smallest_coin(text, code, mark, minor):
    """Digits after the mark as ISO 4217 gives them: two for EUR and GBP, none for JPY."""
    assert figures.money(text, "price", code, mark) == minor


@pytest.mark.parametrize(
    ("text", "code", "mark"),
    [("12,405", "EUR", "."), ("1.234", "EUR", ","), ("1,234.50", "EUR", "."), ("12.405", "EUR", "."),
     ("12.4", "JPY", "."), ("-1", "EUR", "."), ("1e3", "EUR", "."), ("12 EUR", "EUR", "."), ("١٢", "EUR", ".")],
)  # fmt: skip
def test_money_that_could_be_misread_is_refused(text, code, mark):
    """The other mark, thousands marks, too many decimals and signs are never guessed at."""
    with pytest.raises(BadInput, match="price"):
        figures.money(text, "price", code, mark)


@given(st.integers(0, 10**11), st.sampled_from(sorted(CURRENCY_DIGITS)), st.sampled_from(".,"))
def test_money_text_is_read_back(minor, code, mark):
    """An amount that is shown is read as what it was."""
    text = figures.money_text(minor, code, mark)
    if len(text) <= 9:
        assert figures.money(text, "price", code, mark) == minor


def test_readings_and_amounts():
    """A reading may lie beyond a limit; a volume is above zero."""
    assert figures.reading(">60", "reading") == (60.0, Censored.ABOVE)
    assert figures.reading(" 3,5 ", "reading") == (3.5, Censored.EXACT)
    assert figures.amount("7,5", "ml", ",") == Decimal("7.5")
    for read in (lambda: figures.amount("0", "ml"), lambda: figures.reading("x", "reading")):
        with pytest.raises(BadInput):
            read()


@pytest.mark.parametrize(
    "text", ["1,234.5", "1 234", "1e3", "٣", "", "1.", ".5", "NaN", "inf", "1_0", "+-1", "--1", "1" * 10]
)
def test_no_number_is_guessed(text):
    """Thousands, powers, other digits and halves of a number are no number, whichever mark is set."""
    assert [figures.as_number(text, mark) for mark in (None, *figures.MARKS)] == [None] * 3
    with pytest.raises(BadInput, match=r"price: found .* such as 8, with ',' before decimals \(set\)"):
        figures.number(text, "price", ",", hint="set")


@given(st.decimals(-(10**8), 10**8, places=3), st.sampled_from(figures.MARKS))
def test_a_number_is_read_with_its_mark_and_refused_with_the_other(value, mark):
    """The number that is written is the number that is read; the other mark is refused, or both are taken."""
    text = str(value).replace(".", mark)
    assert figures.as_number(text, mark) == figures.as_number(f" {text} ") == value
    assert figures.as_number(text, "," if mark == "." else ".") is None


def test_what_is_measured_in_a_room_has_limits_and_either_mark():
    """Nothing is nothing; a number beyond the limits and a word are refused in the same words."""
    assert figures.limited(" ", "humidity", 0, 100) is None
    assert figures.limited("20,5", "temperature", -40, 60) == figures.limited("20.5", "temperature", -40, 60) == 20.5
    assert figures.limited("-3", "temperature", -40, 60) == -3
    for text in ("101", "-1", "damp", "nan", "1e1"):
        with pytest.raises(BadInput, match=f"humidity: found '{text}'; allowed: a number from 0 to 100, or nothing"):
            figures.limited(text, "humidity", 0, 100)


@pytest.mark.parametrize("text", ["x", "", ">", "> > 60", "60+", "-3", ">-3", "1,5 "])
def test_unclear_readings_are_refused(text):
    """A reading is one number from 0 up after at most one sign, with the mark that was set."""
    assert figures.as_reading(text, ".") is None
    with pytest.raises(BadInput, match=r"allowed: a number such as 23 or 3\.5, or >60"):
        figures.reading(text, "reading", ".")


def test_a_currency_goes_by_its_code_or_by_a_sign_of_its_own():
    """The sign of several currencies is refused, with the codes there are."""
    assert [figures.currency(text, "currency") for text in ("eur", " GBP ", "€", "£")] == ["EUR", "GBP", "EUR", "GBP"]
    for text in ("$", "¥", "EURO", ""):
        with pytest.raises(BadInput, match=r"currency: found .*; allowed: one of AUD, BHD, .*, ZAR$"):
            figures.currency(text, "currency")


@given(
    st.dates(date(1900, 1, 1)),
    st.sampled_from(("iso", "day first", "month first")),
    st.sampled_from(("-", ".", "/", " ", ". ")),
)
def test_every_day_is_read_in_every_order(day, order, between):
    """A day written in an order of the settings is that day, with or without leading zeros."""
    places = {"iso": "ymd", "day first": "dmy", "month first": "mdy"}[order]
    parts = {"y": f"{day.year}", "m": f"{day.month}", "d": f"{day.day:02d}"}
    assert figures.day(between.join(parts[place] for place in places), "on", order) == day


@pytest.mark.parametrize(
    ("text", "order", "hour"),
    [
        ("2026-03-09 09:00", "iso", 8),
        ("2026-03-09T09:00", "iso", 8),
        (" 9. 3. 2026  09:00 ", "day first", 8),
        ("2026-03-09 09:00+03:00", "iso", 6),
        ("9.3.2026", "day first", None),
    ],
)
def test_a_day_and_hour_is_an_instant(text, order, hour):
    """The clock is that of the zone, unless the text names another; a day alone begins at midnight."""
    wanted = datetime(2026, 3, 8, 23, tzinfo=UTC) if hour is None else datetime(2026, 3, 9, hour, tzinfo=UTC)
    assert figures.moment(text, "start", ZoneInfo("Europe/Berlin"), order) == wanted


@pytest.mark.parametrize("text", ["soon", "09:00", "2026-03-09 25:00", "2026-02-30 09:00", "9/3/2026 09:00", ""])
def test_another_hour_is_refused(text):
    """One line says what a day and hour looks like."""
    with pytest.raises(BadInput, match=r"start: found .*; allowed: a day and hour such as 2026-03-09 09:00"):
        figures.moment(text, "start", UTC)


def test_a_number_of_a_list_picks_what_stands_there():
    """From 1 to the last; anything else picks nothing."""
    assert [figures.as_numbered(text, "abc") for text in ("1", " 3 ")] == ["a", "c"]
    assert [figures.as_numbered(text, "abc") for text in ("0", "4", "-1", "1.0", "", "²", "x")] == [None] * 7
