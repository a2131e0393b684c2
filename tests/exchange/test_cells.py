"""Numbers, days and prices as people write them, taken one way or refused."""

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcledger.errors import BadInput
from qcledger.exchange import cells, days
from qcledger.vocab import CURRENCY_DIGITS, Censored


@pytest.mark.parametrize(
    ("cell", "mark", "value"),
    [
        ("1.23", ".", "1.23"),
        ("1,23", ",", "1.23"),
        ("-4", ".", "-4"),
        ("007", ".", "7"),
        (Decimal("1.5"), ",", "1.5"),
    ],
)
def test_numbers_have_the_mark_of_the_settings(cell, mark, value):
    """A number is read with the mark that the settings say; one that a spreadsheet made of it needs none."""
    assert cells.number_in(cell, mark, "f.csv line 2") == Decimal(value)


@pytest.mark.parametrize(
    ("cell", "mark"),
    [("1,23", "."), ("1.23", ","), ("1.234,5", ","), ("1,234.5", "."), ("1 234", "."), ("1e3", "."), ("٣", "."),
     ("", "."), ("1.", "."), (".5", "."), ("NaN", "."), ("1_0", ".")],
)  # fmt: skip
def test_no_number_is_guessed(cell, mark):
    """A decimal comma where the setting says point is refused, never read as 123; so is anything else unclear."""
    with pytest.raises(
        BadInput, match=f"f.csv line 2: found .*; allowed: a number such as 12{mark}5, with '{mark}' before decimals"
    ):
        cells.number_in(cell, mark, "f.csv line 2")


@given(st.dates(date(1900, 1, 1)), st.sampled_from(sorted(days.ORDERS)), st.sampled_from(["-", ".", "/", " ", ". "]))
def test_every_day_is_read_in_every_order(day, order, between):
    """A day written in an order of the map is that day, with or without leading zeros."""
    parts = {"year": f"{day.year}", "month": f"{day.month}", "day": f"{day.day:02d}"}
    assert days.day_told_by(between.join(parts[part] for part in order.split()), order, "").day == day
    assert days.day_told_by(day.isoformat(), order, "").day == day


@pytest.mark.parametrize(
    ("cell", "day", "rough"),
    [
        ("10/2/25", date(2025, 2, 10), False),
        ("1. Feb 2024", date(2024, 2, 1), False),
        ("Mar 2025", date(2025, 3, 1), True),
        ("Jan 25", date(2025, 1, 1), True),
        ("Dezember 2024", date(2024, 12, 1), True),
        ("2025", date(2025, 1, 1), True),
        ("45520", date(2024, 8, 16), False),  # [mem] what spreadsheet programs show for the number
        ("17.1.", date(2024, 1, 17), False),
        ("28 October", date(2024, 10, 28), False),
        ("mid August", date(2024, 8, 1), True),
    ],
)
def test_days_as_people_write_them(cell, day, rough):
    """Months, years, serial numbers and days without a year are read, and told where they are no day of their own."""
    told = days.day_told_by(cell, "day month year", "f.csv line 2", 2024)
    assert (told.day, told.is_rough) == (day, rough)
    assert bool(told.assumed) == (cell != "1. Feb 2024")


@pytest.mark.parametrize("cell", ["31.2.2024", "29.2.2023", "1.13.2024", "12.2024", "", "0.1.2024", "31.2.24"])
def test_days_that_no_calendar_has_are_refused(cell):
    """31 February is refused, with a year of two digits as well."""
    with pytest.raises(BadInput, match=r"a day such as 2026-03-09 or 9\.3\.2026"):
        days.day_told_by(cell, "day month year", "f.csv line 2")


@pytest.mark.parametrize(
    ("cell", "mark", "fallback", "coins", "code"),
    [
        ("9.80", ".", "EUR", 980, "EUR"),
        ("9,8", ",", "EUR", 980, "EUR"),
        ("EUR 9.80", ".", None, 980, "EUR"),
        ("9.80 gbp", ".", "EUR", 980, "GBP"),
        ("€9.80", ".", "GBP", 980, "EUR"),
        ("9.80 £", ".", "EUR", 980, "GBP"),
        ("$8.10", ".", "AUD", 810, "AUD"),
        ("1200", ".", "JPY", 1200, "JPY"),  # ISO 4217: the yen has no minor unit
        (Decimal("9.8"), ",", "EUR", 980, "EUR"),
        ("0", ".", "EUR", 0, "EUR"),
    ],
)
def test_prices_are_counted_in_coins(cell, mark, fallback, coins, code):
    """A price is its currency's smallest coins; its own code or sign wins over the map's."""
    assert cells.price_in(cell, mark, fallback, "") == (coins, code)


@pytest.mark.parametrize(
    ("cell", "fallback", "says"),
    [
        ("-9.80", "EUR", "0 or more with at most 2 decimals in EUR"),
        ("9,80", "EUR", "a number such as 12.5, with '.' before decimals"),
        ("1,234.50", "EUR", "with '.' before decimals (decimal_mark of map or settings)"),
        ("9.805", "EUR", "at most 2 decimals in EUR"),
        ("12.5", "JPY", "at most 0 decimals in JPY"),
        ("XYZ 9.80", "EUR", "one of AUD, BHD"),
        ("9.80 ¥", "EUR", "one of AUD, BHD"),
        ("$8.10", None, "dollars of one country"),
        ("$8.10", "EUR", "dollars of one country"),
        ("9.80", None, "a price with its currency, or a currency in the map"),
        ("EUR 9.80 EUR", "EUR", "a price such as 9.80 or EUR 9.80"),
        ("about 9", "EUR", "a price such as 9.80 or EUR 9.80"),
        ("9.80 each", "EUR", "a price such as 9.80 or EUR 9.80"),
        ("", "EUR", "a price such as 9.80 or EUR 9.80"),
    ],
)
def test_prices_that_are_unclear_are_refused(cell, fallback, says):
    """A negative price, an unknown currency, a sign of several currencies and a fraction of a coin are refused."""
    with pytest.raises(BadInput) as refused:
        cells.price_in(cell, ".", fallback, "f.csv line 2, Price")
    assert str(refused.value).startswith("f.csv line 2, Price: found ")
    assert says in str(refused.value)


@given(st.integers(0, 10**9), st.sampled_from(sorted(CURRENCY_DIGITS)), st.sampled_from([".", ","]))
def test_printed_prices_are_read_back(coins, code, mark):
    """Any price printed with its code is read back to the coin."""
    digits = CURRENCY_DIGITS[code]
    printed = f"{code} {coins / 10**digits:.{digits}f}".replace(".", mark)
    assert cells.price_in(printed, mark, None, "") == (coins, code)


@pytest.mark.parametrize(
    ("cell", "value", "censored"),
    [
        ("12", 12, Censored.EXACT),
        ("> 60", 60, Censored.ABOVE),
        (">60", 60, Censored.ABOVE),
        ("<1.5", 1.5, Censored.BELOW),
    ],
)
def test_readings_may_lie_beyond_a_limit(cell, value, censored):
    """A value beyond a limit stays what it is: "> 60" is not 60."""
    assert cells.reading_in(cell, ".", "") == (value, censored)


@pytest.mark.parametrize("cell", [">", "> > 60", "60+", "about 12"])
def test_unclear_readings_are_refused(cell):
    """Anything but a number after at most one sign is refused."""
    with pytest.raises(BadInput):
        cells.reading_in(cell, ".", "f.csv line 2")


def test_an_amount_is_above_nothing():
    """Volumes and masses are above 0."""
    assert cells.amount_in("1.5", ".", "") == Decimal("1.5")
    with pytest.raises(BadInput, match="more than 0"):
        cells.amount_in("0", ".", "f.csv line 2")
