"""z takes back the last thing done in the window, on whatever page it was done and on whatever page one is."""

from contextlib import asynccontextmanager
from dataclasses import replace

import pytest

from qcledger.records import Observation, Session, Specimen, Stage
from qcledger.screens.app import Pages
from qcledger.screens.bench.closing import Closing
from qcledger.screens.bench.conditions import ConditionsForm
from qcledger.screens.bench.page import Bench
from qcledger.screens.done import Doings
from qcledger.screens.record.behind import Behind
from qcledger.text import one_line
from qcledger.vocab import TAKEN_BACK, SpecimenState
from tests.screens.stock.support import Shop
from tests.screens.support import in_front
from tests.small import START, graded, small_ledger

TABLE = {
    "bench": ("Bench", "qcledger.screens.bench:Bench"),
    "loose_ends": ("Loose ends", "qcledger.screens.loose_ends:LooseEnds"),
    "stock": ("Stock", "qcledger.screens.stock:Stock"),
    "record": ("Record", "qcledger.screens.record:RecordPage"),
}


@asynccontextmanager
async def at_bench(small, size=(80, 24)):
    at = Shop(small.place)
    at.app = Pages(at.desk, TABLE)
    async with at.run(size):
        await at.until(lambda: in_front(at.app, Bench) and at.page.atwork is not None)
        yield at


def inside(at):
    """Return what a dialog shows, without its frame."""
    return one_line(at.picture.replace("|", " "))


async def to(at, page):
    await at.app.run_action(f"app.go('{page}')")
    await at.settle()


def rows(at, kind, **equal):
    with at.ledger() as ledger:
        return ledger.rows(kind, **equal)


@pytest.fixture
def small(home, tmp_path):
    return small_ledger(tmp_path)


async def test_a_change_of_stock_and_a_grade_are_taken_back_from_elsewhere(small):
    """Graded, then opened in Stock: on Record z takes back first the state, then the grade, each told in words."""
    async with at_bench(small) as at:
        await at.press("3")
        await at.until(lambda: at.page._saving == 0)
        await to(at, "stock")
        await at.press("o")
        await at.until(lambda: "is opened" in at.said)
        await to(at, "record")
        await at.press("z")
        await at.until(lambda: "is unopened again" in at.said)
        assert rows(at, Specimen, state=SpecimenState.OPENED) == []
        await at.press("z")
        await at.until(lambda: "Turns, OV 0001, 3 taken back" in at.said)
        await at.press("z")
        await at.until(lambda: "nothing is left to take back in this window" in at.said)
        (back,) = [seen for seen in rows(at, Observation) if seen.supersedes]
        assert back.not_testable == TAKEN_BACK
        await to(at, "bench")
        await at.until(lambda: at.page.atwork.sheet.seen[at.page.atwork.here].not_testable == TAKEN_BACK)


async def test_at_the_bench_the_newest_of_the_window_comes_first(small):
    """A state changed since is taken back before the grade; then z is that of the sheet again."""
    async with at_bench(small) as at:
        await at.press("3")
        await at.until(lambda: at.page._saving == 0)
        await to(at, "stock")
        await at.press("o")
        await at.until(lambda: "is opened" in at.said)
        await to(at, "bench")
        await at.press("z")
        await at.until(lambda: "is unopened again" in at.said)
        at.page._press = None
        await at.press("z")
        await at.until(lambda: "3 taken back; the right digit grades it anew" in at.said)


async def test_a_sheet_that_was_left_keeps_what_can_be_taken_back(small):
    """Back from the list of sheets, z takes back the grade of before."""
    async with at_bench(small) as at:
        await at.press("3")
        await at.until(lambda: at.page._saving == 0)
        await at.press("o")
        await at.until(lambda: at.page.atwork is None)
        await at.press("enter")
        await at.until(lambda: at.page.atwork is not None)
        await at.settle()
        await at.press("z")
        await at.until(lambda: "3 taken back" in at.said)


async def test_half_typed_conditions_stand_there_again(small):
    """Esc and F4 lose nothing: each stage has its own draft, and one that was saved is gone."""
    async with at_bench(small) as at:
        await at.press("h")
        await at.until(lambda: in_front(at.app, ConditionsForm))
        await at.press(*"rain", "escape")
        await at.until(lambda: in_front(at.app, Bench))
        await at.press("h")
        await at.until(lambda: in_front(at.app, ConditionsForm) and "taken up" in at.picture)
        assert at.field("water").value == "rain"
        await at.press("f4")
        await at.until(lambda: in_front(at.app, ConditionsForm) and "stage dry" in at.picture)
        assert at.field("water").value == ""
        await at.press("f4")
        await at.until(lambda: in_front(at.app, ConditionsForm) and "stage wet" in at.picture)
        assert at.field("water").value == "rain"
        await at.press("f3")
        await at.until(lambda: isinstance(at.page, Bench) and "wet: water rain" in at.said)
        await at.press("h")
        await at.until(lambda: in_front(at.app, ConditionsForm))
        assert "taken up" not in at.picture
        assert at.desk.drafts.get("conditions se wet") == ""


@pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=str)
async def test_what_was_noted_is_read_in_full_and_a_refusal_goes(small, size):
    """What stood beside another lamp is wrapped; the line that asks for a reason goes once one is typed."""
    async with at_bench(small, size=size) as at:
        await at.press("h")
        await at.until(lambda: in_front(at.app, ConditionsForm))
        at.field("lamp").value = "daylight tubes, 6500 K"
        await at.press("f3")
        await at.until(lambda: isinstance(at.page, Bench) and "lamp daylight tubes" in at.said)
        await at.press("h")
        await at.until(lambda: in_front(at.app, ConditionsForm))
        await at.settle()
        at.field("lamp").value = "window"
        await at.until(lambda: "was daylight tubes, 6500 K: a reason is needed" in inside(at))
        await at.press("f3")
        await at.until(lambda: "why lamp is amended" in inside(at))
        at.field("reason").focus_input()
        await at.press(*"misread")
        await at.until(lambda: "why lamp is amended" not in inside(at))
        await at.press("f7")
        await at.until(lambda: at.field("lamp").value == "daylight tubes, 6500 K" and not at.field("reason").value)
        assert at.desk.drafts.get("conditions se wet") == ""


async def test_conditions_are_noted_at_each_stage_and_after_closing(small):
    """H at the bench and at the session: what was noted last is offered; a change asks why; z takes it back."""
    async with at_bench(small) as at:
        await at.press("h")
        await at.until(lambda: in_front(at.app, ConditionsForm))
        await at.press(*"rain", "enter", *"round", "enter", *"north", "enter", *"22", "enter", *"48", "f3")
        await at.until(lambda: isinstance(at.page, Bench) and "humidity 48" in at.said)
        await at.press("s")
        await at.until(lambda: "not noted at the stage dry" in at.said)
        await at.press("h")
        await at.until(lambda: in_front(at.app, ConditionsForm))
        assert at.field("water").value == "rain"
        await at.until(lambda: at.field("water").has_focus_within)  # not in the reason: Enter there saves
        await at.press("f3")
        await at.until(lambda: isinstance(at.page, Bench) and "dry: water rain" in at.said)
        with at.ledger() as ledger:
            session = ledger.get(Session, "se")
        await at.desk.append([replace(session, closed_at=START.replace(hour=14))])
        await at.app.push_screen(Closing(at.desk, "se"))
        await at.until(lambda: "are noted" in str(at.page.query_one("#told").render()))
        await at.press("h")
        await at.until(lambda: in_front(at.app, ConditionsForm))
        at.field("humidity_pct").value = "52"
        await at.press("f3")
        await at.until(lambda: "why humidity is amended" in at.picture)
        at.field("reason").value = "misread"
        await at.press("f3")
        await at.until(lambda: isinstance(at.page, Closing) and "humidity 52, was 48" in at.said)
        assert "humidity 52, was 48; misread" in str(at.page.query_one("#told").render())
        await at.press("z")
        await at.until(lambda: "taken back at session S04, dry: humidity 48 again, no longer 52" in at.said)
        assert {row.humidity_pct for row in rows(at, Stage)} == {48.0}


async def test_at_a_closed_session_its_grades_are_listed_and_amended(small):
    """A on the page of the session lists what stands on its sheet; a there amends."""
    graded(small)
    async with at_bench(small) as at:
        await at.app.push_screen(Closing(at.desk, "se"))
        await at.settle()
        await at.press("a")
        await at.until(lambda: in_front(at.app, Behind))
        await at.until(lambda: at.rows.row is not None)
        await at.press("a", "1", "m")
        await at.until(lambda: "saved, because" in at.picture)


async def test_the_place_at_work_is_amended_in_full(small):
    """A at the bench opens what stands there; the sheet shows the amendment at once."""
    async with at_bench(small) as at:
        await at.press("a")
        await at.until(lambda: "nothing stands here yet" in at.said)
        await at.press("3")
        await at.until(lambda: at.page._saving == 0)
        await at.press("<", "a", "1", "k") if at.page.atwork.here.criterion != "turns" else await at.press(
            "a", "1", "k"
        )
        await at.until(lambda: "saved, because" in at.picture)
        await at.press("escape")
        await at.until(lambda: isinstance(at.page, Bench))
        await at.settle()
        assert [seen.grade for seen in at.page.atwork.sheet.seen.values()] == [1.0]


def test_steps_and_single_things_keep_one_order():
    """What was taken back in its own way is passed over; a new step forgets those taken back before it."""
    done, steps = Doings(), ["one"]

    async def back(_):
        return ""

    done.step("bench", steps, back)
    done.add("stock", back)
    steps += ["two", "three"]
    done.step("bench", steps, back, 2)
    assert (done.newest.by, done.newest.depth, done.is_last("bench")) == ("bench", 3, True)
    del steps[1:]
    assert done.newest.by == "stock"
    done.drop(done.newest)
    assert done.newest.depth == 1
    steps.clear()
    assert done.newest is None
    assert done.is_last("anybody")
    steps.append("new")
    done.step("bench", steps, back)
    done.drop(done.newest)
    assert done.newest is None


def test_what_is_forgotten_is_forgotten_by_whoever_keeps_steps_of_his_own():
    """A sheet or a piece that noted its steps has none left: they may hold words that were taken out for good."""
    done, sheet = Doings(), ["a grade"]
    piece = done.steps("unpacking of sp00")
    piece.append("a grade with a note")
    for by, steps in (("sheet", sheet), ("unpacking of sp00", piece)):
        done.step(by, steps, None)
    done.clear()
    assert done.newest is None
    assert (sheet, piece) == ([], [])
