"""A list of any length."""

import asyncio

import pytest
from hypothesis import given
from hypothesis import strategies as st
from textual.app import App, ComposeResult
from textual.screen import Screen

from qcledger.screens.themes import DAYLIGHT
from qcledger.screens.widgets.rows import PAGE_ROWS, PAGES_KEPT, Column, Row, Rows, cell, fit
from tests.screens.support import settle


class Listing(App[None]):
    """A million rows and a record of what was asked for."""

    def __init__(self, count: int) -> None:
        super().__init__()
        self.register_theme(DAYLIGHT)
        self.theme = "daylight"
        self.count = count
        self.asked: list[int] = []
        self.told: list[str | None] = []
        self.picked: list[str] = []
        self.held = asyncio.Event()
        self.held.set()

    def compose(self) -> ComposeResult:
        """Lay out the list."""
        yield Rows([Column("row", 10, grows=True), Column("n", 8, right=True, need=1)], self.load)

    async def load(self, first: int, most: int) -> list[Row]:
        """Return rows and remember from where they were asked for."""
        self.asked.append(first)
        await self.held.wait()
        return [Row(str(n), (f"row {n}", str(n))) for n in range(first, min(first + most, self.count))]

    def on_mount(self) -> None:
        """Show all rows."""
        self.query_one(Rows).show(self.count)
        self.query_one(Rows).focus()

    def on_rows_marked(self, message: Rows.Marked) -> None:
        """Remember which row was said to be marked."""
        self.told.append(message.row and message.row.id)

    def on_rows_picked(self, message: Rows.Picked) -> None:
        """Remember which rows were opened."""
        self.picked.append(message.row.id)


def shown(app: App) -> list[str]:
    return [strip.text.rstrip() for strip in app.screen._compositor.render_strips()]


async def test_a_million_rows_cost_one_page():
    """Only the pages on the screen are asked for, wherever one is; the last row is one key away."""
    app = Listing(1_000_000)
    async with app.run_test(size=(40, 12)) as pilot:
        await pilot.pause()
        assert shown(app)[1].startswith("row 0 ")
        await pilot.press("end")
        await pilot.pause()
        await pilot.pause()
        assert shown(app)[-1].startswith("row 999999")
        assert set(app.asked) == {0, 999_900}
        assert app.told[-1] == "999999"
        await pilot.press("home")
        await pilot.pause()
        assert shown(app)[1].startswith("row 0 ")


async def test_memory_is_bounded():
    """However far one walks, only so many pages are held."""
    app = Listing(PAGE_ROWS * (PAGES_KEPT + 20))
    async with app.run_test(size=(40, 12)) as pilot:
        rows = app.query_one(Rows)
        for page in range(PAGES_KEPT + 20):
            rows.mark(page * PAGE_ROWS)
            await pilot.pause()
        assert len(rows._pages) <= PAGES_KEPT


async def test_the_marked_row_stays_on_the_screen():
    """Walking down and up scrolls as little as keeps the marked row in view."""
    app = Listing(50)
    async with app.run_test(size=(40, 6)) as pilot:
        await pilot.press(*["down"] * 7)
        await pilot.pause()
        assert any(line.startswith("row 7 ") for line in shown(app)[1:])
        await pilot.press(*["up"] * 7)
        await pilot.pause()
        assert shown(app)[1].startswith("row 0 ")


async def test_enter_waits_for_rows_that_are_being_loaded():
    """It opens the row it was pressed on, once; what was asked of rows that gave way to others is forgotten."""
    app = Listing(50)
    async with app.run_test(size=(40, 6)) as pilot:
        rows = app.query_one(Rows)
        await settle(pilot)
        app.held.clear()
        rows.show(50, marked=3)
        await pilot.press("enter", "enter", "down")
        assert app.picked == []
        app.held.set()
        await settle(pilot)
        assert app.picked == ["3"]
        app.held.clear()
        rows.show(50)
        await pilot.press("enter")
        rows.show(20)
        app.held.set()
        await settle(pilot)
        assert app.picked == ["3"]


async def test_a_key_that_waits_is_forgotten_for_a_later_one_and_for_another_page():
    """One Enter opens one row, and nothing opens over a page that came to the front meanwhile."""
    app = Listing(500)
    async with app.run_test(size=(40, 6)) as pilot:
        rows = app.query_one(Rows)
        await settle(pilot)
        app.held.clear()
        await pilot.press("end", "enter", "home", "enter")
        app.held.set()
        await settle(pilot)
        assert app.picked == ["0"]
        app.held.clear()
        rows.show(500)
        await pilot.press("enter")
        await app.push_screen(Screen())
        app.held.set()
        await settle(pilot)
        assert app.picked == ["0"]


@pytest.mark.parametrize("count", [0, 1])
async def test_short_lists_take_every_key(count):
    """No key breaks an empty list or a list of one."""
    app = Listing(count)
    async with app.run_test(size=(20, 5)) as pilot:
        await pilot.press("down", "up", "pagedown", "pageup", "end", "home", "enter")
        await pilot.click(Rows, offset=(1, 1))
        assert app.query_one(Rows).marked == 0


@given(
    st.integers(0, 200),
    st.lists(st.tuples(st.integers(1, 40), st.booleans(), st.integers(0, 5)), min_size=1, max_size=8),
)
def test_columns_never_take_more_than_there_is(width, shapes):
    """Columns and gaps fit into the width; the most needed column is there whenever anything is."""
    columns = [Column("x", wide, grows=grows, need=need) for wide, grows, need in shapes]
    widths = fit(columns, width)
    used = [wide for wide in widths if wide]
    assert sum(used) + 2 * max(len(used) - 1, 0) <= width
    if width:
        most = min(range(len(columns)), key=lambda i: columns[i].need)
        assert widths[most] > 0


@pytest.mark.parametrize(
    ("text", "width", "shown"),
    [
        ("Trellmere", 6, "Trell…"),
        ("東雲彩色工房", 8, "東雲彩… "),
        (("Trellmere", "Viridian"), 20, "Trellmere Viridian  "),
        (("Trellmere and Daughters", "Viridian"), 20, "Trellmere … Viridian"),
        (("東雲彩色工房東雲彩色工房", "Viridian"), 20, "東雲彩色工… Viridian"),
        (("Trellmere", "Viridian of a name without end"), 15, "Trel… Viridian…"),
    ],
    ids=str,
)
def test_a_cut_is_seen_and_of_two_names_the_first_gives_way(text, width, shown):
    """What is cut ends in an ellipsis, wide letters too; a long maker leaves its paint to be seen."""
    from rich.cells import cell_len

    assert cell(text, width) == shown
    assert cell_len(cell(text, width)) == width
