"""The guide to strips shows what the program draws, and says the numbers that it uses."""

import re

import pytest

from qcledger.report import strips
from qcledger.report.strips import PLAIN, SHADED, axis, singly
from qcledger.screens.actions import ACTIONS
from qcledger.settings import shipped
from qcledger.stats.clustered import ASSUMED_CONCENTRATION
from qcledger.vocab import MARKS, Standing

TEXT = (shipped("guide") / "strips.md").read_text(encoding="utf-8")
GUIDE = " ".join(TEXT.split())


@pytest.mark.parametrize(
    ("name", "pairs"),
    [
        ("0 of 3", singly(0, 3)),
        ("1 of 2", singly(1, 2)),
        ("4 of 11", singly(4, 11)),
        ("12 of 40", singly(12, 40)),
        ("6 of 12, twelve lots", singly(6, 12)),
        ("6 of 12, two lots", [(6, 6), (0, 6)]),
    ],
)
def test_strips_in_the_guide_are_the_drawn_ones(name, pairs):
    """Each example is what its counts give."""
    (drawn,) = strips.strips([pairs], 25)
    line = next(line for line in TEXT.splitlines() if line.startswith(name.ljust(22)))
    assert line[22:47].rstrip() == drawn.rstrip()


def test_scale_marks_and_signs_are_told():
    """The scale, each mark beside its standing, and the characters of a terminal without shades."""
    assert axis(25, 0.14) in TEXT
    for standing in Standing:
        assert f"`{MARKS[standing]}` {standing}" in GUIDE
    assert f"`{SHADED.mark}` is the rate of all makers" in GUIDE
    assert " ".join(f"`{sign}`" for sign in PLAIN.shades) + f" and `{PLAIN.mark}`" in GUIDE


def test_numbers_are_those_of_the_code():
    """How much ink is full, and what is assumed where lots show no spread."""
    assert f"full from {strips.FULL:g} times that of a flat strip" in GUIDE
    assert f"1 + {ASSUMED_CONCENTRATION:g} (sum(n_l^2) / n - 1)" in GUIDE


def test_every_key_in_the_guide_exists():
    """The keys of the table are keys of the page."""
    pages = ("opening", "findings")
    keys = {key for action in ACTIONS if action.page in pages for key in action.keys.split(",")}
    told = re.findall(r"^\| ([^|]+) \|", TEXT.partition("## How")[0], re.MULTILINE)
    told = [line for line in told if line not in ("key", "---")]
    named = {name.strip().lower() for line in told for name in re.split(r",| or ", line)}
    assert {name.replace("esc", "escape") for name in named} <= keys
