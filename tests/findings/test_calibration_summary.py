"""The short table of the calibration page says what the full one below it counts."""

import re

import pytest

from qcledger.settings import shipped

GUIDE = (shipped("guide") / "calibration.md").read_text(encoding="utf-8")
SHORT, _, FULL = GUIDE.partition("## The table")
INNOCENT, RIGHT = "innocent accused", "right unit named"
COUNTED = re.compile(r"([\d,]+) of ([\d,]+)")


def whole(text):
    """Return a number written with commas."""
    return int(text.replace(",", ""))


def summed(pattern, counted):
    """Return the counts of the full table's rows of these scenarios, and their ledgers, added up."""
    rows = [line.split(" | ") for line in FULL.splitlines() if line.startswith("| ")]
    wanted = [row for row in rows if re.fullmatch(pattern, row[0][2:]) and row[1] == counted]
    found = [COUNTED.search(row[3]) for row in wanted]
    return sum(whole(one[1]) for one in found), sum(whole(one[2]) for one in found)


@pytest.mark.parametrize(
    ("told", "pattern", "counted"),
    [
        ("no maker is worse than another | {} | accused somebody in {}", "fair_.*", INNOCENT),
        ("one wholly bad lot of six | {} | accused an innocent maker in {}", "bad_lot_.*", INNOCENT),
        (
            "one pigment hard for everybody | {} | accused an innocent maker in {}",
            "hard_pigment_.*",
            "innocent accused",
        ),
        ("in a session that drifted | {} | accused an innocent maker in {}", "drifted_.*", INNOCENT),
        ("what nobody else sells | {} | accused it or another in {}", "specialist_.*", INNOCENT),
        (
            "half of its specimens, small fields | {} | named it rightly in {}",
            "maker_half_small_.*",
            "right unit named",
        ),
        ("faulty in half, small fields | {} | named it rightly in {}", "cell_half_small_.*", RIGHT),
        ("the same, large fields | {} | named it rightly in {}", "cell_half_large_.*", RIGHT),
        (
            "whoever looks worst | {} | *settled* an accusation of an innocent in {}",
            "buying_.*",
            "holds at any of 7 looks",
        ),
        (
            "what to buy names | {} | *settled* an accusation of an innocent in {}",
            "listed_.*",
            "holds at any of 7 looks",
        ),
    ],
)
def test_the_short_table_adds_up(told, pattern, counted):
    """Each line of the short table is a sum of the full one's rows."""
    some, ledgers = summed(pattern, counted)
    assert told.format(f"{ledgers:,}", f"{some:,}") in SHORT


def test_who_is_praised_is_counted():
    """Scorecards on which somebody no better was praised, and on which the one that is free of it was, add up."""
    wrong, cards = summed("praise_(alike|ordinary)_.*", "praised and no better, on any of 12 criteria")
    assert f"nobody free of it | {cards} scorecards | praised a maker that is no better in {wrong}" in SHORT
    right, cards = summed("praise_free_.*", "the one that is free of it praised")
    assert f"wholly free of it | {cards} scorecards | praised it in {right}, and no other in any" in SHORT
    assert summed("praise_free_.*", "praised and no better, on any of 12 criteria")[0] == 0


@pytest.mark.parametrize(
    ("pattern", "place"), [("maker_half_small_.*", 0), ("cell_half_small_.*", 1), ("cell_half_large_.*", 2)]
)
def test_who_is_guilty_and_called_none_found_is_counted(pattern, place):
    """How often a guilty maker was cleared stands in the same lines."""
    told = re.findall(r"called it \*none found\* in (\d+)", SHORT)
    assert int(told[place]) == summed(pattern, "called none found")[0]


def test_the_little_worse_are_counted():
    """Those named for less than ten points in an ordinary large field are told, as the full table counts them."""
    row = next(line for line in FULL.splitlines() if line.startswith("| ordinary_large_0.15 | innocent accused"))
    assert re.search(r"true excess under 10 points: (\d+)", row)[1] == "117"
    assert "117 of 1,000 ledgers name somebody" in SHORT
