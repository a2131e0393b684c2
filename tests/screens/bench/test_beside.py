"""What lies beside a sheet at work: what is put down, what is looked at, the map of the paper."""

import pytest

from qcledger.screens.bench.beside import BesideSheet
from qcledger.screens.bench.putdown import PutDown
from qcledger.screens.bench.sheetmap import MapOfSheet, SheetMap, window
from qcledger.screens.widgets.rows import Rows
from tests.screens.support import in_front
from tests.small import TEN

LAID = TEN.read_text(encoding="utf-8").replace(
    "    how: Look at the spread from reading distance.\n",
    """    put_down:
      - Draw a line the day before; it must be dry.
      - Lay a wash of 30 by 30 mm with 0.30 ml, and wait 60 s.
      - When it is dry, lay a second coat.
    look: Judge how far it spread.
""",
    1,
)
SIZES = [(80, 24), (120, 40)]


async def opened(at, key, kind):
    """Press a key and return the page it opens, once that is filled."""
    await at.press(key)
    await at.until(lambda: in_front(at.app, kind))
    page = at.app.screen
    if kind is PutDown:
        await at.until(lambda: page.query_one(Rows).row is not None)
    return page


@pytest.mark.parametrize("size", SIZES)
async def test_what_is_put_down_is_one_key_away(bench, size):
    """The steps stand in the order of the hand, the marked one in full; space ticks it, and it stays ticked."""
    async with bench(text=LAID).run(size) as at:
        await opened(at, "y", PutDown)
        await at.until(lambda: "3 Spread: When it is dry, lay a second coat." in at.picture)
        shown = at.picture
        order = [
            "Put down the day before",
            "1 Spread: Draw a line",
            "Put down when the sheet begins",
            "2 Spread: Lay a wash of 30 by 30 mm with 0.30 ml, and wait 60 s.",
            "Put down once that is dry",
            "3 Spread: When it is dry",
        ]
        assert sorted(order, key=shown.index) == order
        await at.press("down", "space")
        await at.until(lambda: "laid  1 Spread" in at.picture)
        assert "1 of 3 laid" in at.picture
        await at.press("escape")
        await at.until(lambda: in_front(at.app, BesideSheet))
        await opened(at, "y", PutDown)
        await at.until(lambda: "laid  1 Spread" in at.picture)


async def test_a_step_has_a_timer_that_says_when_its_time_is_over(bench):
    """The timer runs on when the page is left, on the bench too; at the time that the step asks for it is said."""
    async with bench(text=LAID).run() as at:
        await opened(at, "y", PutDown)
        await at.press("t")
        assert "mark a step" in at.app.screen.query_one("SaidLine").said
        await at.press("down", "down", "down", "t")
        assert "60 s asked" in at.app.screen.query_one("SaidLine").said
        at.seconds += 42
        await at.press("escape")
        await at.until(lambda: "Spread: Lay a wash of 0:42" in at.picture)
        await opened(at, "y", PutDown)
        at.seconds += 20
        await at.until(lambda: "time is over: Spread" in at.app.screen.query_one("SaidLine").said)
        await at.until(lambda: "Spread: Lay a wash of 1:02 over" in at.picture)


async def test_what_is_looked_at_is_one_key_away(bench):
    """It opens on the stage at work: each test with its look, and the steps a key away on the same page."""
    async with bench(text=LAID).run() as at:
        page = await opened(at, "v", PutDown)
        rows = page.query_one(Rows)
        assert rows.row.cells[1] == "Look, wet"
        assert "Spread: Judge how far it spread." in at.picture
        await at.press("y")
        assert rows.row.cells[1] == "Put down the day before"
        await at.press("v")
        assert rows.row.cells[1] == "Look, wet"


async def test_a_rubric_without_steps_says_so(bench):
    """Nothing is made up where a file does not part what is laid from what is judged."""
    async with bench().run() as at:
        page = await opened(at, "y", PutDown)
        assert "does not say what is put down" in page.query_one("SaidLine").said
        assert "Turns: Look at the turns" in at.picture


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("blind", [False, True])
async def test_the_map_shows_what_lies_where_and_leads_there(bench, size, blind):
    """Places down, tests across, what stands; the marked one is told with its cell; Enter goes on there."""
    async with bench(blind=blind).run(size) as at:
        await at.press("3")
        await at.saved()
        await opened(at, "x", SheetMap)
        label = "4 7 1" if blind else "OV 0001"
        await at.until(lambda: f"{label}, row 1, cell 1; 1 Turns: 3" in at.picture)
        assert "1 of 30 judged" in at.picture
        assert ("OV 0001" in at.picture) is not blind
        await at.press("space")
        await at.until(lambda: "row 1, cell 1; 2 Spread: ." in at.picture)
        await at.press("down", "right", "enter")
        await at.until(lambda: in_front(at.app, BesideSheet))
        assert at.place == (1, "bubbles")


@pytest.mark.parametrize(("size", "beside"), [((80, 24), False), ((109, 30), False), ((120, 40), True)])
async def test_the_map_stands_beside_the_criterion_where_there_is_room(bench, size, beside):
    """On a wide screen each grade shows there at once."""
    async with bench().run(size) as at:
        shown = at.page.query_one(MapOfSheet)
        assert shown.display is beside
        await at.press("3")
        await at.saved()
        assert ("OV 0001  >3  ." in at.picture) is beside


@pytest.mark.parametrize(
    ("at", "count", "room", "first", "last"),
    [(0, 5, 9, 0, 4), (0, 30, 9, 0, 8), (15, 30, 9, 11, 19), (29, 30, 9, 21, 29)],
)
def test_what_is_at_work_is_among_what_is_shown(at, count, room, first, last):
    """Where not all has room, what lies around the place at work is drawn."""
    assert (min(window(at, count, room)), max(window(at, count, room))) == (first, last)
