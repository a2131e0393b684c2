"""The guide in the program: each page opens its own chapter, every chapter can be read at any size."""

import asyncio
import re

import pytest
from textual.widgets import Markdown

from qcledger.screens.actions import ACTIONS
from qcledger.screens.app import PAGES, Pages
from qcledger.screens.guide import OF_PAGE, Guide, chapters
from qcledger.screens.widgets.rows import Rows
from qcledger.screens.widgets.tables import Laid
from qcledger.settings import shipped
from tests.screens.support import SAMPLES, Sample, desk_of, frame, in_front, picture, settle, until


def pages() -> Pages:
    return Pages(desk_of(), SAMPLES)


async def opened(app, pilot, page: str) -> None:
    """Open the guide as the page with that key does."""
    await until(pilot, lambda: in_front(app, Sample))
    app.push_screen(Guide(app.desk, page))
    await settle(pilot)


def test_every_page_has_a_chapter_and_every_file_is_one():
    """Each page of the registry leads to a chapter that exists; every Markdown file of the guide is listed once."""
    known = chapters()
    assert sorted(known) == sorted(path.stem for path in shipped("guide").glob("*.md"))
    own = {action.page for action in ACTIONS} - {"every page", "go", "guide"}
    assert {OF_PAGE.get(page, page) for page in own | set(PAGES)} <= set(known)
    assert all(known.values())


async def test_the_key_opens_the_guide_and_escape_goes_back(monkeypatch):
    """F9 opens the chapter of the page in front, Esc goes back; a second F9 opens no second guide."""
    monkeypatch.setattr(Sample, "KEY", "parcel")
    app = pages()
    async with app.run_test(size=(80, 24)) as pilot:
        await until(pilot, lambda: in_front(app, Sample))
        await pilot.press("f9")
        await settle(pilot)
        assert frame(app)[0].startswith(" Guide   Stock: from the parcel to the shelf")
        assert "A parcel, in one form" in picture(app)
        await pilot.press("f9")
        await settle(pilot)
        assert len(app.screen_stack) == 2
        await pilot.press("escape")
        assert isinstance(app.screen, Sample)


async def test_chapters_are_a_key_away():
    """Space reads on, right and left change the chapter, c lists them, Enter opens one, a link leads to another."""
    app = pages()
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, "stock")
        before = picture(app)
        await pilot.press("space")
        await settle(pilot)
        assert picture(app) != before
        await pilot.press("right")
        await settle(pilot)
        assert frame(app)[0].startswith(" Guide   Bench and Record")
        await pilot.press("left", "c", "end")
        await settle(pilot)
        assert "Cautions" in picture(app)
        await pilot.press("enter")
        last = list(chapters().values())[-1]
        await until(pilot, lambda: frame(app)[0].startswith(f" Guide   {last}"[:60]))
        app.screen.query_one(Markdown).post_message(
            Markdown.LinkClicked(app.screen.query_one(Markdown), "loose_ends.md")
        )
        await settle(pilot)
        assert frame(app)[0].startswith(" Guide   Loose ends")
        app.screen.query_one(Markdown).post_message(
            Markdown.LinkClicked(app.screen.query_one(Markdown), "https://example.org")
        )
        await settle(pilot)
        assert frame(app)[0].startswith(" Guide   Loose ends")


@pytest.mark.parametrize("between", [0, 1, 3], ids="after {} turns of the loop".format)
async def test_the_list_keeps_the_keys_though_a_chapter_was_just_being_opened(between):
    """Left, then c before the chapter has come: the list is in front and has the keys, and stays so."""
    app = pages()
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, "stock")
        app.screen.action_chapter(1)
        for _ in range(between):
            await asyncio.sleep(0)
        app.screen.action_contents()
        await settle(pilot)
        assert frame(app)[0].startswith(" Guide   contents")
        assert isinstance(app.focused, Rows)
        assert "opening the chapter" not in picture(app)


async def test_no_example_of_the_guide_is_cut_at_80_columns():
    """Each line of an example stands whole in a window of 80 x 24, in which a scroll bar takes its room."""
    app = pages()
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, "strips")
        room = app.screen.query_one("MarkdownFence Label").size.width
        text = "\n".join((shipped("guide") / f"{name}.md").read_text(encoding="utf-8") for name in chapters())
        examples = re.findall(r"^```\w*\n(.*?)^```", text, re.MULTILINE | re.DOTALL)
        lines = [line for example in examples for line in example.splitlines()]
        assert lines
        assert [line for line in lines if len(line) > room] == []


@pytest.mark.parametrize("size", [(80, 24), (60, 20), (20, 5)], ids=str)
async def test_the_widest_chapters_can_be_read_at_any_size(size):
    """Tables and drawings open and scroll to their end; nothing is wider than the window, and the help key stays."""
    app = pages()
    async with app.run_test(size=size) as pilot:
        await opened(app, pilot, "stock")
        for name in ("bench", "strips"):
            title = chapters()[name]
            app.screen._open(name)
            await settle(pilot)
            assert f" Guide   {title}"[: size[0] - 1].split(":")[0][:14] in frame(app)[0]
            await pilot.press("end")
            await pilot.pause()
            assert all(len(line) <= size[0] for line in frame(app))
            assert "? all keys" in frame(app)[-1]
        await pilot.press("c", "escape")
        assert isinstance(app.screen, Sample)


async def test_the_widest_table_is_read_whole_at_80_columns_and_opens_at_once():
    """Calibration has more columns than fit: nothing of it is cut, and it is a widget a table, not one a cell."""
    app = pages()
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, "calibration")
        assert len(app.screen.query("*")) < 200
        tables = app.screen.query(Laid)
        told = "\n".join(line.plain for table in tables for line in table._lines(table.size.width))
        assert "scenario: bad_lot_large_0.15\n  counted: innocent accused\n  bar: 2 % (12 of 1,000)\n" in told
        assert "…" not in told


async def test_pages_asked_for_while_a_chapter_opens_are_not_lost():
    """PageDown pressed at once reads on as soon as there is something to read."""
    app = pages()
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, "stock")
        for key in ("left", "right"):  # the chapter before, the last of all, and back
            await pilot.press("end")
            app.screen.action_chapter(1 if key == "right" else -1)
            app.screen.action_turn(1)
            await settle(pilot)
            scroll = app.screen.query_one("#chapter")
            await until(pilot, lambda scroll=scroll: scroll.scroll_y == scroll.size.height - 1)
