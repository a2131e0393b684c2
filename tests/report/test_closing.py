"""Sessions of the demo before and after the tester decides: what is proposed, why, and what a decision changes."""

import shutil
from dataclasses import replace
from functools import partial
from threading import Event

import pytest

from qcledger.bench import closing
from qcledger.bench.named import session_of
from qcledger.errors import BadInput
from qcledger.findings.drift import DriftProposal, drifts
from qcledger.ledger import Ledger, new_id
from qcledger.records import Session, Specimen, Stage
from qcledger.report import kept
from qcledger.report.closing import _rounded, check_lines, check_session, control_lines, summary, titles_of, undecided
from qcledger.report.kept import Stopped, go_on
from qcledger.vocab import DecisionKind, Format, Standing
from tests.small import START, small_ledger
from tests.studio.sessions import SITTINGS
from tests.studio.truths import DRIFT, DRIFTED


@pytest.fixture(scope="module")
def demo(demo_file):
    """Return a ledger with the committed demo in it, to be read."""
    with Ledger.open(demo_file) as ledger:
        yield ledger


@pytest.fixture
def decided(demo_file, tmp_path):
    """Return a copy of the demo that takes decisions of its own tester."""
    shutil.copy(demo_file, tmp_path / "demo.ledger")
    with Ledger.open(tmp_path / "demo.ledger", write=True, letters="OV", tester="OV, Brinefold Studio") as ledger:
        yield ledger


def test_looking_for_undecided_sessions_stops(demo):
    """Nobody waits for the check of sessions once the page that asked was left."""
    stop = Event()
    assert len(undecided(demo, partial(go_on, stop))) == 1
    stop.set()
    with pytest.raises(Stopped):
        undecided(demo, partial(go_on, stop))


def test_the_drifted_session_and_no_other_is_proposed_for_voiding(demo):
    """Planted row 7: of the demo's sessions S07 alone, and nobody has decided on it yet."""
    proposed = {one.code: one.proposal for one in drifts(demo.tested_rows())}
    assert set(SITTINGS) <= set(proposed)
    assert [code for code, proposal in proposed.items() if proposal is DriftProposal.VOID] == [DRIFTED]
    assert [session.code for session, _ in undecided(demo)] == [DRIFTED]


def test_the_reason_names_what_was_planted(demo):
    """The criteria that drifted by 1 to 1.5 grades, and only those; controls and hidden repeat both say so."""
    check = check_session(demo, session_of(demo, "s07"))
    assert {one.key for one in check.drift.beyond} == set(DRIFT)
    for one in check.drift.beyond:
        assert 1 <= one.shift <= 2
        assert one.control is not None
        assert 1.5 <= one.control.by <= 2
        assert one.repeats == (1,)
    assert "Granulation 4, in eight other sessions 2.5: moved +1.5; hidden repeats +1" in check.reason
    assert "desk lamp, 2700 K; usually daylight tubes" in " ".join(line.words for line in check.lines)


@pytest.mark.parametrize("code", [code for code in SITTINGS if code != DRIFTED])
def test_calm_sessions_have_a_steady_control(demo, code):
    """No other session is said to have moved; S05 is looked into for its humidity, S03 for its control."""
    check = check_session(demo, session_of(demo, code))
    assert check.proposal is not DriftProposal.VOID
    assert not check.drift.beyond
    told = {line.about for line in check.lines if line.proposal is DriftProposal.LOOK}
    assert told == {"S05": {"unusual"}, "S03": {"control"}}.get(code, set())


def test_lines_fit_their_width(demo):
    """Nothing is wider than asked for, from 20 columns on."""
    check = check_session(demo, session_of(demo, "S07"))
    for width in (20, 38, 60, 80):
        assert max(map(len, check_lines(check, width))) <= width
    assert max(map(len, summary(demo.tested_rows(), titles_of(demo)))) <= 80


def _spread(found):
    return {
        (one.criterion.key, one.maker, one.format): one.grades for one in found.traits if one.criterion.key in DRIFT
    }


def test_voiding_the_drifted_session_changes_what_was_planted(decided, tmp_path, monkeypatch):
    """Voided, S07 counts nowhere: the traits it raised fall or go, and what holds elsewhere still holds."""
    monkeypatch.setenv("QCLEDGER_HOME", str(tmp_path))
    before = kept.of_ledger(decided)
    check = check_session(decided, session_of(decided, DRIFTED))
    records = closing.void(check.session, check.reason, by="Me", at=START, new_id=new_id)
    decided.append(records)
    after, drifted = kept.of_ledger(decided), _rows(decided)
    assert drifted
    assert all(row.void for row in drifted)
    higher = [key for key, grades in _spread(after).items() if grades.median > _spread(before)[key].median]
    lower = [key for key, grades in _spread(before).items() if _lower(_spread(after).get(key), grades)]
    assert len(lower) > 4 * len(higher)
    assert _holding(before) <= _holding(after)
    assert undecided(decided) == []
    again = check_session(decided, session_of(decided, DRIFTED))
    assert again.is_void
    assert again.proposal is DriftProposal.VOID
    assert check_lines(again)[-1].strip()
    back = closing.decide(check.session, DecisionKind.REINSTATE, "to compare", by="Me", at=START, new_id=new_id)
    decided.append([back])
    assert _spread(kept.of_ledger(decided)) == _spread(before)


def _rows(ledger):
    return [row for row in ledger.tested_rows() if row.session_code == DRIFTED]


def _lower(after, before):
    return after is None or (after.median, after.highest) < (before.median, before.highest)


def _holding(found):
    return {
        (one.criterion.key, one.maker, one.format, claim.extent)
        for one in found.findings
        for claim in (one.claim, *one.exceptions)
        if claim and claim.standing is Standing.SETTLED
    }


def test_an_open_session_tells_its_gaps(tmp_path):
    """What is open and what was not noted is said, and goes into the decision when it is closed all the same."""
    small = small_ledger(tmp_path, lines=3, blind=True)
    with small.open(write=True) as ledger:
        check = check_session(ledger, session_of(ledger, "S04"))
        assert "not noted: water, brush, lamp, temperature, humidity" in check.gaps
        assert "without a result or a reason: wet:" in check.gaps
        assert check.proposal is DriftProposal.LOOK
        ledger.append(closing.close(check.session, check.gaps, by="OV", at=START, new_id=new_id))
        closed = check_session(ledger, session_of(ledger, "S04"))
        assert closed.session.closed_at == START
        assert closed.decision is not None
        assert closed.decision.kind is DecisionKind.KEEP
        assert closed.decision.reason == check.gaps
        with pytest.raises(BadInput, match="closed already"):
            closing.close(closed.session, "", by="OV", at=START, new_id=new_id)


def test_a_blind_session_is_checked_without_naming_anything(tmp_path):
    """While a session is blind no line holds a sticker, a maker or a paint."""
    small = small_ledger(tmp_path, lines=4, blind=True)
    with small.open() as ledger:
        told = "\n".join(check_lines(check_session(ledger, session_of(ledger, "S04"))))
    assert not [name for name in ("OV 0", "Trellmere", "Viridian", "Kiln Red", "471") if name in told]


def test_shifts_of_repeats_are_not_told_while_blind(demo):
    """The same drift is told of a blind session with the number of repeats alone."""
    drift, titles = check_session(demo, session_of(demo, DRIFTED)).drift, titles_of(demo)
    told = [" ".join(line.words for line in control_lines(drift, titles, blind)) for blind in (False, True)]
    assert "hidden repeats +1;" in told[0]
    assert "hidden repeats 1;" in told[1]


def test_two_sessions_of_one_code_are_two_lines(demo):
    """Each is told with the day and tester of its first trial; those whose code is their own are told by it."""
    rows = [
        replace(row, session_code="S05", void=True) if row.session_code == "S07" else row
        for row in demo.tested_rows()
    ]
    heads = [line[2:].partition(":")[0] for line in summary(rows, titles_of(demo)) if line[2] != " "]
    assert heads[4] == "S05 (2026-06-30, OV, Brinefold Studio)"
    assert "S05 (2026-08-18, TL, guest)" in heads
    assert heads[:4] == ["S01", "S02", "S03", "S04"]


def test_conditions_unlike_the_others_are_said(tmp_path):
    """Another lamp than in the other sessions, and air outside 23 +-2 C and 50 +-5 % (ISO 3270, from memory)."""
    small = small_ledger(tmp_path)
    with small.open(write=True) as ledger:
        session = ledger.get(Session, "se")
        for number in range(3):
            other = Session(
                id=f"s{number}", code=f"S1{number}", comparison="cp", tester="OV", blinding=session.blinding,
                started_at=START,
            )  # fmt: skip
            stage = Stage(
                id=f"st{number}", session=other.id, name="wet", lamp="tubes", temperature_c=22, humidity_pct=50
            )
            ledger.append([other, stage])
        ledger.append(
            [Stage(id="wet", session="se", name="wet", lamp="bulb", temperature_c=26.5, humidity_pct=50)], reason="x"
        )
        assert closing.unusual(ledger, session) == [
            "lamp: bulb; usually tubes",
            "temperature: 26.5 C; usually 21 to 25",
        ]


def test_a_decision_needs_a_reason(tmp_path):
    """Never voided silently."""
    small = small_ledger(tmp_path)
    with small.open() as ledger, pytest.raises(BadInput, match="reason"):
        closing.void(ledger.get(Session, "se"), "  ", by="OV", at=START, new_id=new_id)


def test_an_unknown_session_is_refused_with_those_there_are(tmp_path):
    """One line names the sessions of the ledger."""
    with small_ledger(tmp_path).open() as ledger, pytest.raises(BadInput, match="S04"):
        session_of(ledger, "S99")


@pytest.mark.parametrize("blind", [True, False])
def test_tubes_that_met_pans_undried_are_told_before_closing(tmp_path, blind):
    """They are to be looked into, by sticker; while the sheet is blind only how many there are."""
    with small_ledger(tmp_path, blind=blind).open(write=True) as ledger:
        assert "dried" not in {line.about for line in check_session(ledger, session_of(ledger, "S04")).lines}
        ledger.append([replace(ledger.get(Specimen, "sp01"), format=Format.TUBE, lot=None)])
        (line,) = (line for line in check_session(ledger, session_of(ledger, "S04")).lines if line.about == "dried")
    assert line.proposal is DriftProposal.LOOK
    named = "" if blind else ": OV 0002"
    assert line.words == f"one specimen beside dry ones without drying first{named}"


@pytest.mark.parametrize(
    ("grade", "sign", "told"), [(1.83333, "", "1.8"), (2.0, "", "2"), (-0.66667, "+", "-0.7"), (1.0, "+", "+1")]
)
def test_a_grade_is_told_to_a_tenth(grade, sign, told):
    """No scale has finer steps, and a mean over places has digits that nobody measured."""
    assert _rounded(grade, sign) == told
