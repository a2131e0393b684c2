"""``qcledger sheet``: plan, look, print, prepare, open early, pour."""

import shutil
from dataclasses import replace

import pytest

from qcledger.ledger import Ledger
from qcledger.records import Comparison, Preparation, RunRow, Session, Sheet
from tests.bench_table.given import PANS, new_ledger, search_shortly
from tests.small import START
from tests.studio.sessions import PAPER, PAPER_LOT

PLAN = (
    "--plan", "--comparison", "four paints", "--rubric", "watercolour", "--on-paper", "cotton 300 g",
    "--specimens", PANS,
)  # fmt: skip


@pytest.fixture
def ask(tmp_path, cli, monkeypatch):
    """Return a function that runs ``qcledger sheet`` on a ledger with a stock; the search is short."""
    search_shortly(monkeypatch)
    new_ledger(tmp_path).close()
    return lambda *args: cli("sheet", *args, "--ledger", tmp_path / "planned.sqlite")


@pytest.fixture
def ledger(tmp_path):
    """Return a function that opens the ledger."""
    return lambda: Ledger.open(tmp_path / "planned.sqlite")


def test_a_sheet_is_planned_listed_and_shown(ask, ledger):
    """Without a word about blinding it is shuffled by the tester; the list and the sheet name codes only."""
    assert ask().out == "No sheet is at work. qcledger sheet --plan lays one out.\n"
    told = ask(*PLAN, "--control", "OV 0023")
    assert (told.code, told.err) == (0, "")
    assert told.out.startswith("Session S01, four paints; tester Oda Vane; blind, shuffled by myself\n15 places: ")
    assert "to prepare it: qcledger sheet S01 --strips FILE\n" in told.out
    assert ask().out == "S01 four paints: wet, 0 of 75; blind, shuffled by myself; tester Oda Vane\n"
    shown = ask("s01").out
    with ledger() as opened:
        codes = [row.code for row in opened.rows(RunRow)]
    assert all(" ".join(code) in shown for code in codes)
    assert "OV 0" not in shown
    assert max(map(len, shown.splitlines())) <= 80
    assert ask("S01", "--rebuild").out == "session S01: its seed makes the same sheet, place by place\n"


def test_a_dry_run_keeps_nothing(ask, ledger):
    told = ask(*PLAN, "--dry-run")
    assert told.out.endswith("dry run, nothing kept\n")
    with ledger() as opened:
        assert opened.rows(Session) == []


@pytest.mark.parametrize(
    ("args", "told"),
    [
        ((*PLAN, "--rubric", "oil"), "rubric: found 'oil'"),
        ((*PLAN[:5], "--specimens", PANS), "--on-paper: found nothing; allowed: the paper of the sheet"),
        ((*PLAN, "--blinding", "double"), "blinding: found 'double'"),
        ((*PLAN[:7], "--specimens", "OV 0001, OV 0002"), "although: found OV 0002 not poured"),
        (("S09",), "session: found 'S09'; allowed: nothing: the ledger has no session yet"),
        (("--poured", "OV 0001"), "poured: found 'OV 0001, a half pan'"),
        (("--poured", "OV 0002", "--day", "soon"), "--day: found 'soon'"),
    ],
)
def test_what_is_wrong_is_one_line(ask, args, told):
    outcome = ask(*args)
    assert outcome.code == 2
    (line,) = outcome.error_lines
    assert told in line


def test_it_is_printed_once(ask, tmp_path):
    """A file that stands there is not replaced."""
    ask(*PLAN)
    page = tmp_path / "sheet.html"
    assert ask("S01", "--print", page, "--paper", "letter").out == f"{page}: print it from a browser\n"
    assert "size: letter portrait" in page.read_text(encoding="utf-8")
    before = page.read_bytes()
    assert ask("S01", "--print", page).code == 2
    assert page.read_bytes() == before


def test_the_key_is_recorded_and_for_another_person_only(ask, ledger, tmp_path):
    """Printed for a name, noted with it; nothing is noted when the file is taken."""
    ask(*PLAN, "--blinding", "by another person")
    key, taken = tmp_path / "key.html", tmp_path / "taken.html"
    taken.write_text("mine")
    assert ask("S01", "--key", taken, "--for", "Ann").code == 2
    assert ask("S01", "--key", key).code == 2
    assert ask("S01", "--key", key, "--for", "Oda Vane").code == 2
    assert ask("S01", "--strips", tmp_path / "strips.html").code == 2
    assert ask("S01", "--key", key, "--for", "Ann Prep").code == 0
    assert "Corvannet Viridian half pan" in key.read_text(encoding="utf-8")
    with ledger() as opened:
        (session,) = opened.rows(Session)
        entries = opened.history("session", session.id)
    assert [line.partition(": ")[2] for line in session.note.splitlines()] == ["key sheet printed for Ann Prep"]
    assert len(entries) == 2
    assert "key sheet printed for Ann Prep" in entries[-1].body


def test_strips_are_recorded_and_for_a_tester_alone(ask, ledger, tmp_path):
    ask(*PLAN)
    strips = tmp_path / "strips.html"
    assert ask("S01", "--key", strips, "--for", "Ann").code == 2
    assert ask("S01", "--strips", strips).code == 0
    assert "OV 0001" in strips.read_text(encoding="utf-8")
    with ledger() as opened:
        assert "folded strips printed" in opened.rows(Session)[0].note


def test_opened_early_it_counts_as_open(ask, ledger):
    """The reason is an entry; from then on the sheet is told by stickers and findings are no longer held back."""
    ask(*PLAN)
    assert ask("S01", "--open-early", " ").code == 2
    assert ask("S01", "--open-early", "a pan fell").code == 0
    assert "OV 0001" in ask("S01").out
    with ledger() as opened:
        (session,) = opened.rows(Session)
        assert (session.blinding, session.is_blind) == ("open", False)
        assert "opened early: a pan fell" in opened.history("session", session.id)[-1].body
    assert ask("S01", "--open-early", "again").code == 2


def test_another_paper_is_a_warned_choice(ask, ledger):
    """Nothing is made until it is wanted; what becomes of it is said before, and whenever the sheet is shown."""
    said = "findings stay on cotton 300 g; sheets on wood pulp 190 g are kept apart"
    other = (*PLAN[:3], "--on-paper", "wood pulp 190 g", "--specimens", "OV 0023, OV 0025")
    first = ask(*PLAN)
    assert "this sets the comparison's paper: findings stay on cotton 300 g;" in first.out
    refused = ask(*other)
    assert (refused.code, refused.out) == (2, "")
    (line,) = refused.error_lines
    assert line == f"--on-paper: found 'wood pulp 190 g'; allowed: cotton 300 g, or --other-paper: {said}"
    assert ask(*other, "--dry-run").error_lines == [line]
    assert said in " ".join(ask(*other, "--other-paper", "--dry-run").out.split())
    with ledger() as opened:
        assert [one.code for one in opened.rows(Session)] == ["S01"]
    made = ask(*other, "--other-paper")
    assert (made.code, made.err) == (0, "")
    assert said in " ".join(made.out.split())
    assert said in " ".join(ask("S02").out.split())
    with ledger() as opened:
        assert {one.reference_paper for one in opened.rows(Comparison)} == {"cotton 300 g"}


def test_a_plan_takes_the_paper_that_counts(ask, ledger):
    """Without a word about it: that of the comparison, not that of the last sheet, which was kept apart."""
    ask(*PLAN)
    other = ("--plan", "--comparison", "four paints", "--on-paper", "wood pulp 190 g", "--other-paper")
    assert ask(*other, "--specimens", "OV 0023").code == 0
    told = ask("--plan", "--comparison", "Four Paints", "--specimens", "OV 0025")
    assert (told.code, told.err) == (0, "")
    assert "kept apart" not in told.out
    with ledger() as opened:
        (last,) = opened.rows(Session, code="S03")
        assert [sheet.paper for sheet in opened.rows(Sheet, session=last.id)] == ["cotton 300 g"]


def test_in_the_demo_a_plan_takes_the_paper_that_counts(tmp_path, cli, demo_file, monkeypatch):
    """Its last sheet is on another paper; what is planned next is on that of the comparison, with its lot."""
    search_shortly(monkeypatch)
    place = tmp_path / "demo.ledger"
    shutil.copy(demo_file, place)
    told = cli("sheet", "--plan", "--although", "to see what is offered", "--ledger", place)
    assert (told.code, told.err) == (0, "")
    assert "kept apart" not in told.out
    with Ledger.open(place) as opened:
        last = max(opened.rows(Session), key=lambda one: one.started_at)
        assert [(one.paper, one.paper_lot) for one in opened.rows(Sheet, session=last.id)] == [(PAPER, PAPER_LOT)]


def test_a_code_of_two_sessions_is_asked_back(ask, ledger, tmp_path):
    """Neither is shown, opened or printed until it is said which; --comparison says it."""
    ask(*PLAN)
    with Ledger.open(tmp_path / "planned.sqlite", write=True) as opened:
        other = Comparison(id="other", title="half pans 2026", question="", started_on=START.date())
        opened.append([other, replace(opened.rows(Session)[0], id="tl", comparison="other", tester="TL")])
    key = tmp_path / "strips.html"
    for asked in ((), ("--open-early", "a pan fell"), ("--strips", key), ("--rebuild",)):
        refused = ask("S01", *asked)
        assert (refused.code, refused.out) == (2, "")
        (line,) = refused.error_lines
        assert "half pans 2026 (" in line
        assert "four paints (" in line
    assert not key.exists()
    with ledger() as opened:
        assert all(one.is_blind for one in opened.rows(Session))
    assert ask("S01", "--comparison", "half pans 2026", "--open-early", "a pan fell").code == 0
    with ledger() as opened:
        assert [one.is_blind for one in opened.rows(Session, comparison="other")] == [False]
        assert sum(one.is_blind for one in opened.rows(Session)) == 1


def test_tubes_poured_are_recorded_for_their_day(ask, ledger):
    assert ask("--poured", "OV 0002, OV 0004", "--day", "2026-03-02").out == (
        "poured into pans on 2026-03-02: OV 0002, OV 0004\n"
    )
    with ledger() as opened:
        assert {(row.specimen, str(row.on), row.kind) for row in opened.rows(Preparation)} == {
            ("sp02", "2026-03-02", "poured"),
            ("sp04", "2026-03-02", "poured"),
        }
    assert ask(*PLAN[:7], "--specimens", "OV 0001, OV 0002").code == 0
