"""Each check of this folder names its source: who, in which year, and how the value came here."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

YEAR = re.compile(r"\b(1[6-9]|20)\d\d\b|\bn\.d\.")
"""A year; *n.d.* where the source bears none."""
MARK = re.compile(r"\[(mem|pkg|repo|read|calc)\b[^\]]*\]")
"""From memory, printed in an installed package, printed in a public repository, read in a page, computed."""


def checks() -> Iterator[tuple[str, str]]:
    """Yield each check with what it says of itself."""
    for place in sorted({*Path(__file__).parent.glob("test_*.py")} - {Path(__file__)}):
        for node in ast.parse(place.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"):
                yield f"{place.stem}::{node.name}", ast.get_docstring(node) or ""


@pytest.mark.parametrize(("check", "told"), [*checks()])
def test_each_check_names_author_year_and_mark(check, told):
    """Behind what is checked stands one *Source:* with a name, a year and a mark."""
    _, _, source = told.partition("\nSource: ")
    assert re.match(r"(the |data of |help of |the test of )*[A-Za-z]", source), check
    assert YEAR.search(source), check
    assert MARK.search(source), check


def test_what_no_source_stands_behind_is_found():
    """A check without a year, without a mark or without a source is none of these."""
    assert not YEAR.search("Newcombe, Stat Med 17:857-872 [mem]")
    assert not MARK.search("Newcombe 1998, Stat Med")
    assert not MARK.search("Newcombe 1998 [guess]")
    assert len(list(checks())) > 60
