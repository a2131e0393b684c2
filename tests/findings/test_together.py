"""What is one thing is told as one: a bad lot with two faults, criteria that share a cause."""

import json
from dataclasses import replace

from qcledger.findings import read
from qcledger.findings.together import REACHED, statement_of, together
from qcledger.report import findings_csv, findings_json, ink_of
from qcledger.report.board import BoardScope, board_of
from qcledger.report.to_text import findings_text
from qcledger.vocab import Extent
from tests.findings.made import confirming, criterion, field, only, paints, row


def twice(rows):
    """Return rows with a second fault found on the same specimens."""
    return [*rows, *(replace(one, observation=f"{one.observation} bubbles", criterion="bubbles") for one in rows)]


def found(rows, cause=""):
    """Return the findings on froth and bubbles, which may share a cause."""
    froth = replace(criterion(), shares_cause=cause)
    return read(twice(rows), only(froth, replace(criterion("bubbles"), shares_cause=cause)))


LOT = [
    row(paint="Kiln Red", lot=lot, grade=5 * (lot == "Q2"), parcel=f"P{n}", session=f"S{n}")
    for lot in ("Q1", "Q2", "Q3")
    for n in (1, 2, 3)
]


def test_one_bad_lot_with_two_faults_is_one_statement():
    """The lot stands once above the tables, with both faults named and counted."""
    told = found([*LOT, *field()])
    (group,) = together(told.findings, REACHED)
    assert {one.finding.criterion.key for one in group} == {"froth", "bubbles"}
    assert {one.claim.extent for one in group} == {Extent.LOT}
    text = " ".join(findings_text(told).split())
    assert text.count("lot Q2 of Kiln Red") == 1
    assert "//- bubbles and froth: lot Q2 of Kiln Red, Maker A, half pan One lot, told once." in text


def test_criteria_that_share_a_cause_are_told_together_and_others_apart():
    """A maker is not counted twice for one cause; without a cause in common it is two things."""
    rows = paints("A", bad=4) + confirming("A") + field()
    apart = together(found(rows).findings, REACHED)
    assert [len(group) for group in apart] == [1, 1]
    one = found(rows, "little pigment")
    (group,) = together(one.findings, REACHED)
    assert len(group) == 2
    assert "One cause, told once: little pigment." in " ".join(findings_text(one).split())


def test_lots_of_two_makers_are_two_things():
    """The same paint name and batch code at two makers do not make one lot."""
    (mine,) = read([*LOT, *field()], only()).only(maker="A").findings
    assert mine.extent is Extent.LOT
    assert len(together([mine, replace(mine, maker="B")], REACHED)) == 2
    assert len(together([mine, mine], REACHED)) == 1


def statements(told):
    """Return the statement of each row of JSON that has one, by criterion and maker."""
    rows = json.loads(findings_json(told))["findings"]
    return {(one["criterion"], one["maker"]): one["statement"] for one in rows if one["statement"]}


def test_rows_of_one_lot_bear_one_name_and_cells_say_so():
    """In JSON and CSV the two faults of a lot are one statement; its cells on the board name the other fault."""
    told = found([*LOT, *field()])
    assert set(statements(told).values()) == {"to confirm: lot Q2 of Kiln Red, Maker A half pan"}
    assert set(statements(told)) == {("froth", "Maker A"), ("bubbles", "Maker A")}
    assert findings_csv(told).count("to confirm: lot Q2 of Kiln Red, Maker A half pan") == 2
    board = board_of(told, BoardScope(maker="A"), 20, ink_of("utf-8", {}))
    assert {line.name: line.cells[0].told for line in board.lines} == {
        "Froth": "to confirm: lot; one lot with bubbles",
        "Bubbles": "to confirm: lot; one lot with froth",
    }
    assert {line.cells[0].short for line in board.lines} == {"lot"}


def test_rows_of_one_cause_bear_its_name():
    """Criteria that share a cause are one statement of a maker's format; without a cause each is its own."""
    rows = paints("A", bad=4) + confirming("A") + field()
    of = "settled: this maker's half pans, Maker A; "
    assert statements(found(rows)) == {("froth", "Maker A"): f"{of}Froth", ("bubbles", "Maker A"): f"{of}Bubbles"}
    assert set(statements(found(rows, "little pigment")).values()) == {f"{of}little pigment"}


def test_one_name_is_one_thing():
    """Claims have one name exactly where they are told as one, over all that the demo's kinds of claim say."""
    told = [*found([*LOT, *field()]).findings, *found(paints("A", bad=4) + confirming("A") + field(), "c").findings]
    groups = together(told, REACHED)
    names = [{statement_of(*one) for one in group} for group in groups]
    assert all(len(own) == 1 for own in names)
    assert len(set.union(*names)) == len(groups) == 2
