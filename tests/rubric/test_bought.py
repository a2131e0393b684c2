"""A format of a rubric may say how it is bought: moist, or dry."""

import pytest

from qcledger.errors import BadInput
from qcledger.rubric import declared, parse
from qcledger.settings import shipped
from qcledger.vocab import BoughtAs

GOUACHE = (shipped("rubrics") / "gouache.yaml").read_text(encoding="utf-8")
LINE = next(line for line in GOUACHE.splitlines() if line.startswith("formats:"))


def saying(said: str) -> str:
    """Return the rubric with other formats, of which each criterion may use the first four."""
    return GOUACHE.replace(LINE, f"formats: [tube, half pan, full pan, bottle, {said}]")


def test_a_format_says_how_it_is_bought():
    """It stands among the names as every other, and what it says is told by name; a plain name says nothing."""
    text = saying("{name: jar, bought: moist}, {name: block, bought: dry}")
    rubric = parse(text, "mine.yaml")
    assert rubric.formats[-2:] == ("jar", "block")
    assert {name: rubric.bought[name] for name in ("jar", "block")} == {"jar": BoughtAs.MOIST, "block": BoughtAs.DRY}
    assert declared(text, "mine.yaml").bought == rubric.bought


@pytest.mark.parametrize(
    ("said", "refused"),
    [
        ("{name: jar, bought: damp}", "found 'damp'; allowed: moist, dry"),
        ("{name: jar}", "no key bought"),
        ("{name: jar, moist: true}", "key moist"),
        ("jar, {name: jar, bought: dry}", "each value once"),
        ("{name: Tubes, bought: moist}", "allowed: tube"),
    ],
)
def test_what_is_no_format_is_refused(said, refused):
    """With its line, and what is allowed."""
    with pytest.raises(BadInput, match=refused):
        parse(saying(said), "mine.yaml")
