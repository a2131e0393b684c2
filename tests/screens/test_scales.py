"""The pages of rubrics: the files at hand, and one that is edited beside the program."""

import os

import pytest

from qcledger.screens.app import Pages
from qcledger.screens.scales import RubricPage, RubricsPage
from qcledger.screens.widgets.lines import SaidLine
from qcledger.screens.widgets.rows import Rows
from qcledger.settings import own_rubrics, shipped
from tests.screens.support import desk_of, frame, in_front, picture, settle, until

TABLE = {"rubrics": ("Rubrics", "qcledger.screens.scales:RubricsPage")}
PENCIL = (shipped("rubrics") / "pencil.yaml").read_text(encoding="utf-8")


@pytest.fixture
def mine():
    """Return what writes a rubric in one's own folder anew."""
    path = own_rubrics() / "lead.yaml"
    path.parent.mkdir(parents=True, exist_ok=True)

    def write(text: str = PENCIL) -> None:
        before = path.stat().st_mtime_ns if path.exists() else 0
        path.write_text(text, encoding="utf-8")
        os.utime(path, ns=(0, before + 1_000_000_000))

    write()
    return write


async def opened(app, pilot, name):
    """Open the ladders of a rubric from the list."""
    await until(pilot, lambda: in_front(app, RubricsPage) and app.screen.query_one(Rows).count > 0)
    await settle(pilot)
    rows = app.screen.query_one(Rows)
    rows.mark(next(n for n in range(rows.count) if rows.at(n).id == name))
    await pilot.press("enter")
    await until(pilot, lambda: in_front(app, RubricPage) and "version" in frame(app)[0])


@pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=str)
async def test_shipped_and_own_files_are_listed(mine, size):
    """Each with its title, what it holds and whose it is; one that cannot be read is listed with the reason."""
    mine(PENCIL.replace("kind: count", "kind: counts"))
    app = Pages(desk_of(), TABLE)
    async with app.run_test(size=size) as pilot:
        await until(pilot, lambda: in_front(app, RubricsPage) and app.screen.query_one(Rows).count > 0)
        await settle(pilot)
        lines = frame(app)
        own = next(line for line in lines if line.strip().startswith("lead "))
        assert "lead.yaml line" in own
        assert "your own" in own
        assert any("watercolour" in line and "came along" in line for line in lines)


async def test_a_ladder_is_shown_anew_when_its_file_is_written(mine):
    """The page goes to the criterion that was changed; no key is needed."""
    app = Pages(desk_of(), TABLE)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, "lead")
        await until(pilot, lambda: "Coloured pencils" in picture(app))
        await pilot.press("right")
        await settle(pilot)
        shown = picture(app)
        assert "1 of " in frame(app)[0]
        assert "a fault from here on, major" in shown
        assert "5 minutes a specimen" in " ".join(shown.split())
        once = PENCIL.replace("Two breaks.", "Two breaks or a crack.")
        mine(once)
        await until(pilot, lambda: "Two breaks or a crack." in picture(app))
        mine(once.replace("title: Bloom of wax", "title: Haze of wax"))
        await until(pilot, lambda: "Haze of wax" in picture(app))
        assert "2 of " in frame(app)[0]


async def test_a_refusal_stands_beside_the_last_good_version(mine):
    """What the reader refuses is told in its line while the ladder stays; mended, the line goes."""
    app = Pages(desk_of(), TABLE)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, "lead")
        await pilot.press("right")
        mine(PENCIL.replace("grade: 2", "grade: 7", 1))
        line = app.screen.query_one(SaidLine)
        await until(pilot, lambda: "lead.yaml line" in line.said)
        assert "last version that could be used" in line.said
        assert line.is_problem
        await until(pilot, lambda: "Core breaks on sharpening" in picture(app))
        mine()
        await until(pilot, lambda: not line.said)


async def test_a_rubric_is_chosen_for_a_new_comparison(mine):
    """C proposes the rubric that is marked or shown; the forms of a new sheet say it."""
    app = Pages(desk_of(), TABLE)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, "lead")
        await pilot.press("c")
        await settle(pilot)
        assert app.desk.rubric == "lead"
        assert "lead is proposed" in app.screen.query_one(SaidLine).said
        await pilot.press("escape")
        await until(pilot, lambda: in_front(app, RubricsPage))
