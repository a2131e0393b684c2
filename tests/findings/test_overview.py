"""Evidence in, findings out: order, notes, traits, and what is carried along."""

from dataclasses import replace
from datetime import date

import pytest

from qcledger.findings import find, gather, read
from qcledger.findings.evidence import SetAside
from qcledger.findings.finding import Chance, Check, CheckName
from qcledger.findings.strength import Family
from qcledger.records import ReaderNote
from qcledger.stats.clustered import lot_aware
from qcledger.stats.proportion import upper_limit, wilson
from qcledger.vocab import Blinding, Extent, Format, Severity, Source, Standing, WhyBought
from tests.findings.made import FROTH, HALF, TUBE, confirming, criterion, field, only, paints, row


def note(**changes):
    """Return a reader's note about maker A's froth in half pans."""
    base = ReaderNote(id="n1", maker="A", told_on=date(2026, 5, 1), fault="froth", format=HALF)
    return replace(base, **changes)


def test_numbers_are_those_of_the_statistics():
    """Intervals of each cell, computed for all at once, are those of one at a time."""
    rows = paints("A", bad=4, pigments=("PR101",), each=3) + paints("A", pigments=("PY42",), each=2) + field("B")
    for one in read(rows, only()).findings:
        counts = one.counts
        assert one.wilson == wilson(counts.faulty, counts.tested)
        assert one.lot_aware == lot_aware([lot.faulty for lot in one.lots], [lot.tested for lot in one.lots])
        assert one.still_allowed == pytest.approx(upper_limit(counts.faulty, counts.tested))


def test_none_of_six_still_allows_39_per_cent():
    """The demo's clean null: 1 - 0.05^(1/6), computed in the trade notes as 39 %."""
    assert read([row() for _ in range(6)], only()).findings[0].still_allowed == pytest.approx(0.393, abs=5e-4)


def test_counts_tell_lots_from_parcels_without_a_code():
    """Lots, paints and those with a fault; a parcel without a code is none."""
    rows = [row(lot="L1", grade=4), row(lot="L1"), row(lot="L2"), row(lot=None, grade=5, paint="Blue")]
    counts = read(rows, only()).findings[0].counts
    assert (counts.tested, counts.faulty, counts.lots, counts.faulty_lots) == (4, 2, 2, 1)
    assert (counts.paints, counts.faulty_paints, counts.uncoded) == (2, 2, 1)


def test_order_is_by_severity_title_maker_and_format():
    """The gravest criterion first, then by title; makers by name; formats as listed."""
    known = (
        criterion("b", severity=Severity.MINOR),
        criterion("z", severity=Severity.CRITICAL),
        criterion("a", severity=Severity.MINOR),
    )
    rows = [
        row(criterion=key, maker=maker, format=form)
        for key in ("b", "z", "a")
        for maker in ("B", "A")
        for form in (HALF, TUBE)
    ]
    found = read(rows, only(*known)).findings
    keys = [(one.criterion.key, one.maker, one.format) for one in found]
    assert keys == [(key, maker, form) for key in "zab" for maker in "AB" for form in (TUBE, HALF)]


def test_everything_is_carried():
    """Sessions, blinding, sellers, parcels, dates, why bought: the finding holds them all."""
    rows = paints("A", bad=4) + confirming("A") + field()
    found = next(one for one in read(rows, only()).findings if one.maker == "A")
    trail = found.trail
    assert trail.sessions == ("S1", "S2")
    assert trail.blinding == (Blinding.SHUFFLED,)
    assert (len(trail.sellers), trail.parcels) == (3, 3)
    assert trail.bought == (date(2026, 2, 1), date(2026, 2, 1))
    assert trail.why == {WhyBought.PLANNED: 8, WhyBought.TO_CONFIRM: 2}
    assert (found.peers.makers, found.peers.counts.tested) == (5, 40)
    assert found.grades.median == 4
    assert found.all_makers.tested == 50
    assert found.usual_rate == 0


def test_gifts_and_missing_have_a_finding_of_their_own():
    """A maker of whom only a gift was tested, or nothing could be, is told with no specimens."""
    rows = [
        row(maker="A", grade=5, source=Source.GIFT),
        row(maker="B", grade=None, not_testable=True, why_not="solid"),
        row(maker="C"),
    ]
    a, b, c = read(rows, only()).findings
    assert [(one.reason, one.number, one.faulty) for one in a.apart] == [(SetAside.GIFT, 1, 1)]
    assert (a.counts.tested, a.standing, a.claim) == (0, Standing.OPEN, None)
    assert b.missing_because == ("solid",)
    assert (b.counts.tested, b.missing, (b.wilson.low, b.wilson.high)) == (0, 1, (0, 1))
    assert c.counts.tested == 1


def test_reader_notes_are_counted_beside():
    """Notes are matched by maker, fault (key or title) and format, and change nothing else."""
    rows = [row(), row(format=TUBE), row(maker="B")]
    notes = [note(), note(fault="FROTH", format=None), note(fault="mould"), note(maker="Z")]
    found = {(one.maker, one.format): one for one in read(rows, only(), reader_notes=notes).findings}
    assert [found[key].reader_notes for key in (("A", HALF), ("A", TUBE), ("B", HALF))] == [2, 1, 0]
    assert found["A", HALF].counts == read(rows, only()).findings[0 if HALF is Format.TUBE else 1].counts


def test_traits_are_summed_up_and_accuse_nobody():
    """A criterion without a fault line has medians, no finding."""
    grain = criterion("grain", fault_line=None)
    rows = [row(criterion="grain", grade=grade) for grade in (2, 5, 3)] + [
        row(criterion="grain", grade=None, not_testable=True)
    ]
    found = read(rows, only(grain))
    assert found.findings == ()
    (one,) = found.traits
    assert (one.tested, one.missing) == (3, 1)
    assert (one.grades.median, one.grades.lowest, one.grades.highest) == (3, 2, 5)


def test_choices_are_counted():
    """A trait that is chosen, not graded, has counts of each choice."""
    one = criterion("look", fault_line=None, choices={"matt": "dull", "shiny": "bright"})
    rows = [row(criterion="look", grade=None, choice=choice) for choice in ("matt", "matt", "shiny")]
    (told,) = read(rows, only(one)).traits
    assert (told.choices, told.grades) == ({"matt": 2, "shiny": 1}, None)


def test_grades_from_before_a_fault_line_are_missing():
    """What was graded when the rubric drew no line is not judged by a later one."""
    versions = {"old": criterion(fault_line=None), "new": FROTH}
    rows = [row(rubric="old", grade=5), row(rubric="new", grade=0)]
    (one,) = read(rows, lambda rubric, _: versions[rubric]).findings
    assert (one.counts.tested, one.counts.faulty, one.missing) == (1, 0, 1)


def test_only_what_was_asked_for():
    """Criterion, maker and format narrow what is shown and change no number."""
    rows = paints("A", bad=4, formats=(HALF, TUBE)) + field(formats=(HALF, TUBE))
    found = read(rows, only())
    narrow = found.only(maker="A", format=TUBE)
    assert [(one.maker, one.format) for one in narrow.findings] == [("A", TUBE)]
    assert narrow.findings[0] in found.findings
    assert found.only(criterion="other").findings == ()


def test_strength_is_a_seam():
    """Another test of chance takes the place of the plain one; it is asked once a criterion, of suspects only."""
    calls = []

    def doubtful(field, suspects, family):
        calls.append(([(one.maker, one.format) for one in suspects], family))
        return [Chance((Check(CheckName.BEYOND_CHANCE, False, "doubt", "none"),), 1.0) for _ in suspects]

    rows = paints("A", bad=4) + confirming("A") + field()
    found = find(gather(rows, only()), strength=doubtful)
    one = next(one for one in found.findings if one.maker == "A")
    assert (one.standing, one.leaning) == (Standing.OPEN, Extent.MAKER_FORMAT)
    assert calls == [([("A", HALF)], Family(12, 1))]


def test_nothing_graded():
    """No rows, no findings."""
    assert read([], only()).findings == ()
