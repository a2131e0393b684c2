"""``qcledger tester``: the tester measured, charts, checks, and decisions that are entries."""

import csv
import io
import json
import shutil
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest

from qcledger.ledger import Ledger
from qcledger.records import Comparison, Decision, Session
from qcledger.report import closing
from qcledger.vocab import DecisionKind
from tests.small import START, small_ledger


@pytest.fixture(scope="module")
def demo(demo_file):
    """Return the place of a ledger with the committed demo in it."""
    return demo_file


def test_the_demo_is_told_in_words(demo, cli):
    """Counts at any number, kappa with its interval from ten pairs on, two testers, and the one session to void."""
    told = cli("tester", "--ledger", demo)
    assert (told.code, told.err) == (0, "")
    assert "103 of 134 second grades equal the first (77 %); 134 lie within one grade." in told.out
    assert "7 of 8 second grades equal the first (88 %); 8 lie within one grade." in told.out
    rows = [line.split() for line in told.out.splitlines() if line.startswith(("  Granulation", "  Opacity"))]
    assert [(row[:4], len(row) > 5) for row in rows[:2]] == [
        (["Granulation", "16", "9", "16"], True),
        (["Opacity", "5", "3", "5"], False),
    ]
    assert "OV, Brinefold Studio and TL, guest side by side" in told.out
    assert [line[2:5] for line in told.out.splitlines() if line.startswith("! ")] == ["S07"]
    assert max(map(len, told.out.splitlines())) <= 80


def test_the_charts_are_drawn(demo, cli):
    """The drifted session is marked on the two traits that were planted, and on no other."""
    told = cli("tester", "--charts", "--ledger", demo).out
    moved = [line for line in told.splitlines() if line.startswith("Control, ") and "moved" in line]
    assert sorted(line.split(":")[0] for line in moved) == ["Control, Granulation", "Control, Staining"]
    assert max(map(len, told.splitlines())) <= 80


def test_csv_and_json_say_the_same(demo, cli):
    """One row a tester and criterion, with the same stable names in both; under ten pairs no kappa, never a share."""
    rows = list(csv.DictReader(io.StringIO(cli("tester", "--as", "csv", "--ledger", demo).out)))
    told = json.loads(cli("tester", "--as", "json", "--ledger", demo).out)
    assert [row["criterion"] for row in rows] == [row["criterion"] or "" for row in told["testers"]]
    assert list(rows[0]) == list(told["testers"][0])
    few = [row for row in told["testers"] if row["pairs"] < 10]
    assert few
    assert all(row["kappa"] is row["kappa_low"] is row["kappa_high"] is None for row in few)
    assert not {name for name in rows[0] if name.startswith(("equal_", "within_one_"))}
    mine = {row["criterion"]: row for row in told["testers"] if row["tester"] == "OV, Brinefold Studio"}
    many = mine["granulation"]
    assert many["kappa_low"] < many["kappa"] < many["kappa_high"]
    assert mine["rewetting_in_fives"]["reading_relative"] == 1
    beside = told["side_by_side"]
    assert {(row["other"], row["alpha"]) for row in beside} == {("TL, guest", None)}  # three pieces each
    assert beside[0]["pairs"] == sum(row["pairs"] for row in beside[1:])


def test_a_session_is_voided_as_proposed_only_when_told(tmp_path, demo, cli):
    """Looking decides nothing; --void "as proposed" writes the reasons of the check; then --reinstate."""
    place = tmp_path / "copy.ledger"
    shutil.copy(demo, place)
    checked = cli("tester", "--check", "S07", "--ledger", place).out
    assert "We propose to void this session" in checked
    assert checked.startswith("Session S07 of TL, guest, closed ")  # OV has sessions, too
    with Ledger.open(place) as ledger:
        assert [one for one in ledger.rows(Decision) if one.subject_table == "session"] == []
    told = cli("tester", "--check", "S07", "--void", "as proposed", "--ledger", place)
    assert (told.code, told.err) == (0, "")
    with Ledger.open(place) as ledger:
        (one,) = [one for one in ledger.rows(Decision) if one.subject_table == "session"]
        assert one.kind is DecisionKind.VOID
        assert "Granulation 4, in eight other sessions 2.5: moved +1.5" in one.reason
        assert {row.session_code for row in ledger.tested_rows() if row.void} == {"S07"}
    assert "  S07: void" in cli("tester", "--ledger", place).out
    assert "Reinstated by" in cli("tester", "--check", "S07", "--reinstate", "for a look", "--ledger", place).out
    with Ledger.open(place) as ledger:
        assert not any(row.void for row in ledger.tested_rows())


def test_hidden_repeats_that_cannot_be_compared_are_told(demo, cli):
    """Repeats that stand on a sheet without two grades to compare are not said to be missing."""
    nothing: Any = SimpleNamespace(pairs=())
    told = [next(closing._repeats(nothing, {}, blind=False, placed=placed)).words for placed in (2, 0)]
    assert told == [
        "two hidden repeats on this sheet, none with two grades on one paper to compare",
        "no hidden repeat on this sheet",
    ]
    said = " ".join(cli("tester", "--check", "S10", "--ledger", demo).out.split())
    assert "not compared: no control or repeat shared with other sessions" in said


def test_closing_notes_what_is_open(tmp_path, cli):
    """--close closes a session at work and keeps its gaps as a decision; a second time is refused in one line."""
    small = small_ledger(tmp_path, blind=True)
    told = cli("tester", "--check", "S04", "--close", "--ledger", small.place)
    assert told.code == 0
    assert "Kept by OV" in told.out
    with small.open() as ledger:
        assert ledger.rows(Session)[0].closed_at is not None
        assert "without a result" in ledger.rows(Decision)[0].reason
    again = cli("tester", "--check", "S04", "--close", "--ledger", small.place)
    assert again.code != 0
    assert len(again.error_lines) == 1
    assert "closed already" in again.err


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (("--void", "x"), "--check CODE"),
        (("--check", "S04", "--void", "x", "--keep", "y"), "one of --close"),
        (("--check", "S99"), "S04"),
        (("--check", "S04", "--void", " "), "reason"),
    ],
)
def test_refusals_are_one_line(tmp_path, cli, options, told):
    """What was found and what is allowed, in one line; nothing is decided."""
    small = small_ledger(tmp_path)
    outcome = cli("tester", *options, "--ledger", small.place)
    assert outcome.code != 0
    assert len(outcome.error_lines) == 1
    assert told in outcome.err
    with small.open() as ledger:
        assert ledger.rows(Decision) == []


def test_a_code_of_two_sessions_is_asked_back(tmp_path, cli):
    """Nothing is checked or decided until it is said which; --comparison says it, in the words of `sheet`."""
    small = small_ledger(tmp_path)
    with small.open(write=True) as ledger:
        other = Comparison(id="other", title="half pans 2026", question="", started_on=START.date())
        ledger.append([other, replace(ledger.get(Session, "se"), id="tl", comparison="other", tester="TL")])
    refused = cli("tester", "--check", "S04", "--void", "warm", "--ledger", small.place)
    assert (refused.code, refused.out) == (2, "")
    (line,) = refused.error_lines
    assert line.startswith("session: found 'S04', 2 sessions; allowed: one, by --comparison TITLE")
    assert line == cli("sheet", "S04", "--ledger", small.place).err.strip()
    assert line == cli("tester", "--check", "S04", "--ledger", small.place).err.strip()
    with small.open() as ledger:
        assert ledger.rows(Decision) == []
    named = ("--check", "S04", "--comparison", "half pans 2026")
    assert cli("tester", *named, "--void", "warm", "--ledger", small.place).code == 0
    with small.open() as ledger:
        (one,) = ledger.rows(Decision)
        assert (one.subject, one.kind) == ("tl", DecisionKind.VOID)
    assert "Void by OV" in cli("tester", *named, "--ledger", small.place).out


def test_an_empty_ledger_is_told_so(tmp_path, cli):
    """Without sessions there is nothing to measure, and it is said."""
    small = small_ledger(tmp_path)
    assert "No session at the bench counts yet" in cli("tester", "--ledger", small.place).out
    assert "No control stood on three sheets yet." in cli("tester", "--charts", "--ledger", small.place).out
