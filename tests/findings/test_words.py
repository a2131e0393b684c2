"""Numbers, dates and lists as words."""

from datetime import date

import pytest

from qcledger.findings.words import banned_in, between, how_many, listed, lower_first, out_of


@pytest.mark.parametrize(
    ("count", "told"), [(0, "no lots"), (1, "one lot"), (2, "two lots"), (12, "twelve lots"), (13, "13 lots")]
)
def test_how_many(count, told):
    """Small numbers are words, and one is singular."""
    assert how_many(count, "lot") == told


def test_out_of():
    """None is said, not a nought."""
    assert (out_of(3, 9), out_of(0, 6)) == ("3 of 9", "none of 6")


@pytest.mark.parametrize(
    ("names", "told"), [((), ""), (("a",), "a"), (("a", "b"), "a and b"), (("a", "b", "c"), "a, b and c")]
)
def test_listed(names, told):
    """Names in a row."""
    assert listed(names) == told


@pytest.mark.parametrize(
    ("first", "last", "told"),
    [
        (date(2026, 3, 4), date(2026, 3, 4), "on 4 March 2026"),
        (date(2026, 3, 4), date(2026, 5, 12), "from 4 March to 12 May 2026"),
        (date(2025, 12, 30), date(2026, 1, 2), "from 30 December 2025 to 2 January 2026"),
    ],
)
def test_between(first, last, told):
    """A day, or a span; the year once where it is the same."""
    assert between(first, last) == told


def test_lower_first():
    """Titles stand within a sentence; abbreviations stay."""
    assert (lower_first("Work-up froth"), lower_first("CI name"), lower_first("")) == ("work-up froth", "CI name", "")


def test_banned_words_are_found_whole():
    """A banned word is found in any case, and not within another word."""
    assert banned_in("Always DEFECTIVE; overall, small, believe, the cheapest") == ("always", "defective")
