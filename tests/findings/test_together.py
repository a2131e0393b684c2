"""What is one thing is told as one: a bad lot with two faults, criteria that share a cause."""

from dataclasses import replace

from qcledger.findings import read
from qcledger.findings.together import together
from qcledger.report.to_text import findings_text
from qcledger.vocab import Extent, Standing
from tests.findings.made import confirming, criterion, field, only, paints, row

FIRM = (Standing.TO_CONFIRM, Standing.SETTLED)


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
    (group,) = together(told.findings, FIRM)
    assert {one.finding.criterion.key for one in group} == {"froth", "bubbles"}
    assert {one.claim.extent for one in group} == {Extent.LOT}
    text = " ".join(findings_text(told).split())
    assert text.count("lot Q2 of Kiln Red") == 1
    assert "//- bubbles and froth: lot Q2 of Kiln Red, Maker A, half pan One lot, told once." in text


def test_criteria_that_share_a_cause_are_told_together_and_others_apart():
    """A maker is not counted twice for one cause; without a cause in common it is two things."""
    rows = paints("A", bad=4) + confirming("A") + field()
    apart = together(found(rows).findings, FIRM)
    assert [len(group) for group in apart] == [1, 1]
    one = found(rows, "little pigment")
    (group,) = together(one.findings, FIRM)
    assert len(group) == 2
    assert "One cause, told once: little pigment." in " ".join(findings_text(one).split())


def test_lots_of_two_makers_are_two_things():
    """The same paint name and batch code at two makers do not make one lot."""
    (mine,) = read([*LOT, *field()], only()).only(maker="A").findings
    assert mine.extent is Extent.LOT
    assert len(together([mine, replace(mine, maker="B")], FIRM)) == 2
    assert len(together([mine, mine], FIRM)) == 1
