"""The pages Session and Tester: what is checked is shown, decided, kept, and legible at any size."""

import shutil
import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime

from qcledger.bench.due import LooseEndKind
from qcledger.bench.retests import open_retests, retest_words
from qcledger.door import Door
from qcledger.exchange import merge_folder
from qcledger.ledger import Ledger
from qcledger.records import Comparison, Decision, Session
from qcledger.screens.app import Pages
from qcledger.screens.bench.closing import Closing
from qcledger.screens.bench.tester import Measured
from qcledger.screens.desk import Desk
from qcledger.screens.dialogs import Ask, NoteBox
from qcledger.screens.forms.form import FormPage
from qcledger.screens.loose_ends import LooseEnds
from qcledger.screens.widgets.typeline import TypeLine
from qcledger.settings import Settings
from qcledger.text import steers
from qcledger.vocab import DecisionKind
from tests.screens.support import in_front, picture, until
from tests.small import START
from tests.studio.make import DEMO


def _rows(bench, kind):
    with bench.small.open() as ledger:
        return ledger.rows(kind)


async def _on(bench, page):
    await bench.until(lambda: in_front(bench.app, page))
    await bench.until(lambda: bench.app.screen._width > 0)


async def test_a_sheet_with_gaps_is_closed_with_them_noted(bench):
    """Pressing c shows what is open; c again asks; Esc leaves it open, Enter closes it with a decision."""
    page = bench(blind=True)
    async with page.run():
        await page.press("c")
        await _on(page, Closing)
        await page.until(lambda: "not noted: water, brush, lamp" in page.picture)
        assert "OV 0" not in page.picture
        assert "Trellmere" not in page.picture
        await page.press("c")
        await page.until(lambda: in_front(page.app, Ask))
        await page.press("escape")
        assert _rows(page, Session)[0].closed_at is None
        await page.press("c")
        await page.until(lambda: in_front(page.app, Ask))
        await page.press("enter")
        await page.until(lambda: "closed 2026-03-09" in page.picture)
        assert _rows(page, Session)[0].closed_at is not None
        (decision,) = _rows(page, Decision)
        assert decision.kind is DecisionKind.KEEP
        assert "not noted" in decision.reason


async def test_a_session_is_to_be_done_again(bench):
    """Pressing t asks why and how, names no specimen, and keeps a decision that Loose ends and the command know."""
    page = bench(blind=True)
    async with page.run():
        await page.press("c")
        await _on(page, Closing)
        await page.until(lambda: "not noted" in page.picture)
        await page.press("t")
        await page.until(lambda: in_front(page.app, FormPage))
        assert "OV 0" not in page.picture
        await page.press(*"lamp changed", "enter", *"by day", "f3")
        await page.until(lambda: isinstance(page.app.screen, Closing) and "to be tested again" in page.picture)
        (decision,) = _rows(page, Decision)
        assert (decision.kind, decision.subject_table, decision.subject) == (DecisionKind.RETEST, "session", "se")
        assert (decision.reason, decision.how) == ("lamp changed", "by day")
        with page.small.open() as ledger:
            assert [retest_words(ledger, one) for one in open_retests(ledger)] == [
                "retest session S04: lamp changed; by day"
            ]


async def test_voiding_needs_a_reason_and_is_an_entry(bench):
    """Pressing v without a word decides nothing; with one the session is void; r lets it count again."""
    page = bench()
    async with page.run():
        await page.press("c")
        await _on(page, Closing)
        await page.press("v")
        await page.until(lambda: in_front(page.app, NoteBox))
        await page.press("escape")
        await page.until(lambda: "a decision needs a reason" in page.picture)
        assert _rows(page, Decision) == []
        await page.press("v")
        await page.until(lambda: in_front(page.app, NoteBox))
        await page.press(*"warm", "escape")
        await page.until(lambda: in_front(page.app, Ask))
        assert _rows(page, Decision) == []
        await page.press("enter")
        await page.until(lambda: "Void by OV" in page.picture)
        await page.press("r")
        await page.until(lambda: in_front(page.app, NoteBox))
        await page.press(*"no", "escape")
        await page.until(lambda: in_front(page.app, Ask))
        await page.press("enter")
        await page.until(lambda: "Reinstated by OV" in page.picture)
        kinds = [one.kind for one in sorted(_rows(page, Decision), key=lambda one: one.id)]
        assert kinds == [DecisionKind.VOID, DecisionKind.REINSTATE]


async def test_the_tester_is_a_key_away(bench):
    """Pressing m opens the measure of the tester, c turns it to charts and back, Esc goes back to the sheet."""
    page = bench()
    async with page.run():
        await page.press("m")
        await _on(page, Measured)
        await page.until(lambda: "No session at the bench counts yet" in page.picture)
        await page.press("c")
        await page.until(lambda: "No control stood on three sheets yet." in page.picture)
        await page.press("escape")
        await page.until(lambda: page.app.screen is page.page)


async def test_a_code_of_two_sessions_is_asked_back(bench):
    """On the page Tester a code that two sessions have opens neither: both are listed, and a word more names one."""
    page = bench()
    with page.small.open(write=True) as ledger:
        other = Comparison(id="other", title="half pans 2026", question="", started_on=START.date())
        voided = replace(ledger.get(Session, "se"), id="tl", comparison="other", tester="TL", closed_at=START)
        ledger.append([other, voided])
    async with page.run():
        await page.press("m")
        await _on(page, Measured)
        await page.press("enter")
        await page.until(lambda: in_front(page.app, TypeLine))
        await page.press(*"s04", "enter")
        await page.until(lambda: all(one in page.picture for one in ("2 sessions", "half pans 2026", "OV)", "TL)")))
        assert in_front(page.app, TypeLine)
        await page.press(*",tl", "enter")
        await _on(page, Closing)
        await page.until(lambda: "tester TL" in page.picture)
        await page.press("escape", "escape")


async def test_the_checks_stand_at_small_sizes(bench):
    """At 60x20 and 20x5 nothing breaks and the first check can be read."""
    for size in ((60, 20), (20, 5)):
        page = bench()
        async with page.run(size):
            await page.press("c")
            await _on(page, Closing)
            await page.until(lambda page=page: "Checks" in page.picture)
        page.small.place.unlink()


async def test_loose_ends_lead_to_the_drifted_session_and_voiding_it_ends_that(tmp_path, home):
    """In the demo S07 alone is named; its key opens the checks with the chart; voided, the loose end is gone."""
    place = tmp_path / "demo.ledger"
    with Ledger.create(place, letters="OV", tester="OV, Brinefold Studio") as ledger:
        merge_folder(ledger, DEMO)
    desk = Desk(Door(place), Door(place, write=True), Settings(), now=lambda: datetime(2026, 11, 25, 12, tzinfo=UTC))
    app = Pages(desk)

    def again():
        return (
            [one for one in app.screen._lines if one.kind is LooseEndKind.CHECK]
            if isinstance(app.screen, LooseEnds)
            else []
        )

    async with app.run_test(size=(80, 24)) as pilot:
        await until(pilot, again)
        (one,) = again()
        assert one.words.startswith("session S07 of TL, guest: control and repeats moved on ")
        app.screen.to_bench(one)
        await until(pilot, lambda: isinstance(app.screen, Closing) and "We propose to void" in picture(app))
        await until(pilot, lambda: "Control, Staining: moved +2 in S07" in picture(app))
        await pilot.press("v")
        await until(pilot, lambda: in_front(app, NoteBox))
        await pilot.press("escape")
        await until(pilot, lambda: in_front(app, Ask))
        await pilot.press("enter")
        await until(pilot, lambda: "Void by OV" in picture(app))
        app.action_go("loose_ends")
        await until(pilot, lambda: isinstance(app.screen, LooseEnds) and not again() and "to do" in picture(app))
    desk.close()
    with Ledger.open(place) as ledger:
        assert {row.session_code for row in ledger.tested_rows() if row.void} == {"S07"}


async def test_a_testers_name_written_past_the_door_steers_nothing(demo_file, tmp_path):
    """Names that were put into the tables with SQL are shown on the page as text, without control characters."""
    place = tmp_path / "ledger.sqlite"
    shutil.copyfile(demo_file, place)
    with closing(sqlite3.connect(place)) as database:
        for table in ("observation", "session"):
            database.execute(f"UPDATE {table} SET tester = tester || ?", ("\x1b]52;c;x\x07\x9b31m\u202ex",))
        database.commit()
    desk = Desk(Door(place), Door(place, write=True), Settings())
    app = Pages(desk)
    page = Measured(desk)

    def told():
        return str(page.query_one("#told").render())

    async with app.run_test(size=(100, 60)) as pilot:
        await until(pilot, lambda: in_front(app, LooseEnds))  # it comes by itself, and would come in front
        app.push_screen(page)
        await until(pilot, lambda: in_front(app, Measured) and "Repeats" in told())
        assert "]52;c;x31mx" in told()
        assert steers(told()) is None
        assert steers(picture(app)) is None
    desk.close()
