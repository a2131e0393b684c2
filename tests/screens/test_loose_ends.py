"""Stories of the loose ends: what is many stands as one line, and each of it is a key away."""

from dataclasses import replace
from datetime import date, timedelta
from threading import Event

import pytest

from qcledger.bench.due import LooseEndKind
from qcledger.door import Door
from qcledger.findings.chances import ways
from qcledger.records import Observation, Question, Specimen, Trial
from qcledger.report.changed import ToldStandings
from qcledger.report.kept import KeptFindings, Stopped, go_on
from qcledger.report.shopping_text import next_buy
from qcledger.screens.app import Pages
from qcledger.screens.desk import Desk
from qcledger.screens.duelist import DueList
from qcledger.screens.findings.why import Why
from qcledger.screens.forms.form import FormPage
from qcledger.screens.loose_ends import LooseEnds
from qcledger.screens.shopping import ShoppingPage
from qcledger.screens.widgets.rows import Rows
from qcledger.settings import Settings
from qcledger.vocab import Occasion
from tests.screens.support import in_front, picture, until
from tests.small import START, graded, small_ledger, ten


@pytest.fixture
def small(home, tmp_path):
    """Give a small ledger."""
    return small_ledger(tmp_path)


ASKED = date(2026, 3, 9)


def questions(number):
    """Return as many questions to one maker, each a day after the other."""
    return [
        Question(
            id=f"q{n:02}", maker="mk", asked_on=ASKED, by="OV", answer_by=ASKED + timedelta(days=20 + n),
            findings=("evenness | mk | half pan",), sentences=(f"Sentence {n}.",),
        )
        for n in range(number)
    ]  # fmt: skip


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_a_line_that_stands_for_several_lists_them(small, size):
    """Fourteen answers are at most eleven lines and the rest; its key lists those, Enter does one, Esc comes back."""
    with small.open(write=True) as ledger:
        ledger.append(questions(14))
    desk = Desk(Door(small.place), Door(small.place, write=True), Settings(), now=lambda: START)
    app = Pages(desk)
    async with app.run_test(size=size) as pilot:
        await until(pilot, lambda: in_front(app, LooseEnds) and "more answers awaited" in picture(app))
        page = app.screen
        number, line = next((n, one) for n, one in enumerate(page._lines) if one.more)
        await pilot.press("abcdefghijkl"[number])
        await until(pilot, lambda: in_front(app, DueList) and app.screen.query_one(Rows).row is not None)
        assert app.screen.query_one(Rows).count == len(line.more) >= 3
        await pilot.press("escape")
        await until(pilot, lambda: in_front(app, LooseEnds))
        await pilot.press("abcdefghijkl"[number])
        await until(pilot, lambda: in_front(app, DueList) and app.screen.query_one(Rows).row is not None)
        await pilot.press("down", "enter")
        await until(pilot, lambda: in_front(app, FormPage))
        assert f"Sentence {int(line.more[1].subject[1:])}." in picture(app)
    desk.close()


def remember(small, standing):
    """Remember every row of the ledger as told by no rules in use, with a standing; return how many there are."""
    with small.open() as ledger:
        found, told = KeptFindings().findings(ledger), ToldStandings(ledger)
        told.changed(found)
        rows = {key: replace(row, told=((standing,),), edition=0) for key, row in told._rows.items()}
        told._keep(rows)
    return len(rows)


async def test_what_an_update_changed_is_told_until_it_was_seen(small):
    """A line for each standing that reads otherwise: Enter opens why, n says the others were seen; then they go."""
    graded(small)
    assert remember(small, "none_found") > 1
    desk = Desk(Door(small.place), Door(small.place, write=True), Settings(), now=lambda: START)
    app = Pages(desk)

    def left():
        return [line for one in app.screen._lines for line in one.more or (one,) if one.kind is LooseEndKind.CHANGED]

    async with app.run_test(size=(80, 24)) as pilot:
        await until(pilot, lambda: in_front(app, LooseEnds) and left())
        number, first = next((n, one) for n, one in enumerate(app.screen._lines) if one in left())
        assert "--- none found before the update, now -?- open" in first.words
        before = len(left())
        await pilot.press("abcdefghijkl"[number])
        await until(pilot, lambda: in_front(app, Why) and "Trellmere" in picture(app))
        await pilot.press("escape")
        await until(pilot, lambda: in_front(app, LooseEnds) and len(left()) == before - 1)
        rows = app.screen.query_one(Rows)
        rows.mark(next(n for n, row in enumerate(app.screen._rows) if row.id == "abcdefghijkl"[number]))
        await pilot.press("n")
        await until(pilot, lambda: len(left()) == before - 2)
    desk.close()
    with small.open() as ledger:
        assert len(ToldStandings(ledger).changed(KeptFindings().findings(ledger))) == before - 2


async def test_a_backup_is_made_from_its_line(small, tmp_path):
    """A typed path of a new folder; what is there already is refused in the line, and the reminder goes."""
    desk = Desk(Door(small.place), Door(small.place, write=True), Settings(), now=lambda: START)
    app = Pages(desk)
    async with app.run_test(size=(80, 24)) as pilot:
        await until(pilot, lambda: in_front(app, LooseEnds) and "no backup of this ledger" in picture(app))
        number = next(n for n, one in enumerate(app.screen._lines) if "no backup" in one.words)
        await pilot.press("abcdefghijkl"[number])
        await until(pilot, lambda: "Backup: copy ledger" in picture(app))
        await pilot.press("enter")
        await until(pilot, lambda: "nothing stands there" in picture(app))
        app.screen.query_one("Input").value = str(tmp_path / "copy")
        await pilot.press("enter")
        await until(pilot, lambda: in_front(app, LooseEnds) and "backup made and verified" in picture(app))
        assert "no backup of this ledger" not in picture(app)
    assert list((tmp_path / "copy").iterdir())
    desk.close()


def stray(small, price=640):
    """Grade two pans of one lot, one of them faulty, put another of the paint on the shelf, and ask the model."""
    with small.open(write=True) as ledger:
        specimen = ledger.rows(Specimen)[0]
        trials = [
            Trial(id=f"tr{n}", specimen=f"sp{n:02}", occasion=Occasion.BENCH, at=START, session="se") for n in (0, 4)
        ]
        grades = [
            Observation(
                id=f"ob{n}", trial=f"tr{n}", criterion="edge", rubric=ten().hash, tester="OV", at=START, grade=grade
            )
            for n, grade in ((0, 5.0), (4, 0.0))
        ]  # fmt: skip
        ledger.append([*trials, *grades, replace(specimen, id="new", sticker="OV 0900", lot=None, price_minor=price)])
        KeptFindings().reading(ledger).work_out()
    return small


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_what_to_buy_next_is_a_loose_end(home, tmp_path, size):
    """At its price, with what it settles; its key opens what to buy, with the findings that were kept."""
    small = stray(small_ledger(tmp_path, lines=8))
    desk = Desk(Door(small.place), Door(small.place, write=True), Settings(), now=lambda: START)
    app = Pages(desk)
    async with app.run_test(size=size) as pilot:
        await until(pilot, lambda: in_front(app, LooseEnds) and "what to buy next" in picture(app))
        (number,) = [n for n, one in enumerate(app.screen._lines) if one.kind is LooseEndKind.BUY]
        line = app.screen._lines[number].words
        assert "two half pans of Trellmere Viridian, 12.80 EUR" in line
        assert "settled as one specimen" in line
        kept = app.screen._kept
        await pilot.press("abcdefghijkl"[number])
        await until(pilot, lambda: in_front(app, ShoppingPage) and "6.40 EUR each" in picture(app))
        assert app.screen._kept is kept
    desk.close()


def test_without_a_price_nothing_is_named_to_buy(home, tmp_path):
    """What costs nobody knows how much is no line of the list; and whoever stops the reading is heard."""
    with stray(small_ledger(tmp_path, lines=8), price=None).open() as ledger:
        found = KeptFindings().findings(ledger).findings
        assert any(ways(one) for one in found)
        assert next_buy(ledger, found, ".", lambda: None) == []
        stopped = Event()
        stopped.set()
        with pytest.raises(Stopped):
            next_buy(ledger, found, ".", lambda: go_on(stopped))
