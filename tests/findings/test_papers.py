"""What was graded on other paper than its comparison's: never counted, always told with both papers and how much."""

from dataclasses import replace

import pytest

from qcledger.findings import find, gather
from qcledger.findings.papers import LeftApart, Papers
from qcledger.findings.wording import on_other_paper
from qcledger.report import findings_text
from qcledger.report.board import BoardScope, board_of
from qcledger.report.parts import parts_of
from qcledger.report.strips import SHADED
from tests.findings.made import field, only, paints, row

RAG, PULP = "cotton 300 g", "wood pulp 190 g"
PAPERS = {"S8": Papers(RAG, PULP), "S9": Papers(RAG, PULP), "S7": Papers(RAG, "rice")}
SAID = f"two results of S10 and S8 on {PULP}: findings stay on {RAG}"


@pytest.fixture(scope="module")
def found():
    """Return findings of five makers, with two sheets on wood pulp and one result at another maker on rice paper."""
    rows = [
        *paints("A", bad=4), *field("BCDE"),
        replace(row(maker="A", grade=5, session="S8"), on_reference=False),
        replace(row(maker="A", grade=0, session="S9"), on_reference=False, session_code="S10"),
        replace(row(maker="B", grade=0, session="S7"), on_reference=False),
        replace(row(maker="B", grade=0, session="S9"), on_reference=False, void=True),
    ]  # fmt: skip
    return find(gather(rows, only()), papers=PAPERS)


def test_it_is_counted_by_its_paper_and_sessions(found):
    """Void ones are told as void; what stays counts nothing on other paper."""
    assert found.left_apart == (
        LeftApart(Papers(RAG, "rice"), ("S7",), 1),
        LeftApart(Papers(RAG, PULP), ("S10", "S8"), 2),
    )
    one = next(finding for finding in found.findings if finding.maker == "A")
    assert one.left_apart == found.left_apart[1:]
    assert all(unit.row.on_reference for lot in one.lots for unit in lot.units)
    assert on_other_paper(()) == ""
    assert on_other_paper(one.left_apart) == f"Left apart, on other paper: {SAID}."


def test_the_text_says_it_above_the_tables(found):
    """Also where a single maker is asked for: the whole of it, with how much, of which sessions, and why."""
    for text in (findings_text(found), findings_text(found.only(maker="C"))):
        told = " ".join(text.split())
        assert f"Left apart, on other paper: one result of S7 on rice: findings stay on {RAG}; {SAID}." in told


def test_why_says_it_among_what_was_set_apart(found):
    """Of the maker in question alone, and nothing at a maker that has none."""
    parts = {
        one.maker: {part.title: " ".join(part.lines) for part in parts_of(one, 78, SHADED)} for one in found.findings
    }
    assert parts["A"]["Set apart"] == f"Not counted: 2 on other paper, 1 faulty. Left apart, on other paper: {SAID}."
    assert "rice" in parts["B"]["Set apart"]
    assert "Set apart" not in parts["C"]


def test_the_board_counts_it(found):
    """Over everything, and for one maker only its own."""
    assert board_of(found, BoardScope(), 21, SHADED).about[-1] == "3 results left apart: other paper"
    assert board_of(found, BoardScope(maker="B"), 21, SHADED).about[-1] == "1 result left apart: other paper"
    assert board_of(found, BoardScope(maker="C"), 21, SHADED).about[-1] == ""
