"""Stories of the page that Findings opens on: a line a thing to say, found by words, opened by a key."""

from dataclasses import replace

import pytest

from qcledger.door import Door
from qcledger.ledger import Ledger
from qcledger.records import Observation
from qcledger.report import opening as lines_of
from qcledger.screens.app import PAGES, Pages
from qcledger.screens.desk import Desk
from qcledger.screens.findings.opening import FindingsOpening
from qcledger.screens.findings.page import FindingsPage
from qcledger.screens.findings.why import Why
from qcledger.screens.loose_ends import LooseEnds
from qcledger.screens.widgets.fields import Field
from qcledger.screens.widgets.rows import Rows
from qcledger.settings import Settings
from tests.hostile import HOSTILE
from tests.screens.findings.support import Shelf, shelf_ledger
from tests.screens.support import frame, in_front, picture, until


@pytest.fixture
def place(home, tmp_path):
    return shelf_ledger(tmp_path)


class Story:
    """The whole program on a ledger, its first page in front."""

    def __init__(self, app, pilot):
        self.app, self.pilot = app, pilot

    async def until(self, true):
        """Wait until something is so."""
        await until(self.pilot, true)

    async def sees(self, *texts):
        """Wait until all these texts are on the screen."""
        await self.until(lambda: all(text in picture(self.app) for text in texts))

    async def press(self, *keys):
        """Press keys, one after the other."""
        for key in keys:
            await self.pilot.press(key)

    @property
    def page(self):
        """The screen in front."""
        return self.app.screen


async def told(place, story, size=(80, 24)):
    """Tell a story from the program's first page."""
    desk = Desk(Door(place), Door(place, write=True), Settings())
    app = Pages(desk, PAGES)
    async with app.run_test(size=size) as pilot:
        await until(pilot, lambda: in_front(app, LooseEnds))
        await story(Story(app, pilot))
    desk.close()


async def test_three_keys_from_the_first_page_to_why_something_is_said(place):
    """Two keys open Findings, the key of a line opens its Why; Esc comes back to the line."""

    async def story(at):
        await at.press("comma", "f")
        await at.sees("To confirm (private)", "1    //-  Corvannet, half pan: evenness, 8 of 8 specimens faulty")
        await at.press("1")
        await at.until(lambda: in_front(at.app, Why))
        await at.sees("Why   Corvannet, half pan, Evenness")
        await at.press("escape")
        await at.until(lambda: in_front(at.app, FindingsOpening))

    await told(place, story)


async def test_all_cells_are_one_key_away_and_esc_comes_back(place):
    """All cells show every criterion; what was shown there before is gone through by Esc, then the lines are back."""

    async def story(at):
        await at.press("comma", "f")
        await at.sees("Corvannet, half pan")
        await at.press("a")
        await at.until(lambda: in_front(at.app, FindingsPage))
        await at.sees("Evenness: 8 of 80, 10 %", "Edge: none of 80")
        await at.press(">")
        await at.sees("at the mark   5 makers")
        await at.press("escape")
        await at.until(lambda: in_front(at.app, FindingsOpening))

    await told(place, story)


async def test_words_filter_and_keys_are_reached_without_a_conflict(place):
    """A slash goes to the filter, where letters are words; Enter goes to the list, Esc shows every line again."""

    async def story(at):
        await at.press("comma", "f")
        await at.sees("Corvannet, half pan")
        await at.press("slash", *"maker")
        await at.sees("no line has all these words")
        await at.press(*["backspace"] * 5, *"even", "enter")
        await at.sees("Corvannet, half pan: evenness")
        assert at.page.query_one(Rows).has_focus
        await at.press("m")
        await at.until(lambda: in_front(at.app, FindingsPage))
        await at.sees("Findings   Corvannet")
        await at.press("escape")
        await at.until(lambda: in_front(at.app, FindingsOpening))
        assert at.page.query_one(Field).value == "even"
        await at.press("escape")
        await at.until(lambda: at.page.query_one(Field).value == "")

    await told(place, story)


async def test_a_heading_opens_nothing_and_says_so(place):
    """Enter, m and p on a heading say what to mark."""

    async def story(at):
        await at.press("comma", "f")
        await at.sees("Corvannet, half pan")
        for key in ("enter", "m", "p", "q"):
            await at.press("home", key)
            await at.sees("this line is a heading")

    await told(place, story)


async def test_a_criterion_and_a_comparison_are_chosen_from_here(place):
    """C opens the cells of a criterion; k shows the lines of one comparison, and what was chosen is shown."""

    async def story(at):
        await at.press("comma", "f")
        await at.sees("Corvannet, half pan")
        await at.press("c")
        await at.sees("Which criterion?")
        await at.press("end", "enter")
        await at.until(lambda: in_front(at.app, FindingsPage))
        await at.sees("at the mark   5 makers")
        await at.press("escape")
        await at.until(lambda: in_front(at.app, FindingsOpening))
        await at.press("k")
        await at.sees("Which comparison?")
        await at.press("end", "enter")
        await at.sees("Findings   spring", "4 of 4")

    await told(place, story)


async def test_an_empty_ledger_says_what_shows_the_rest(home, tmp_path):
    """Nothing graded: a sentence, and every key is harmless."""
    place = tmp_path / "empty.sqlite"
    Ledger.create(place, letters="OV", tester="OV").close()

    async def story(at):
        await at.press("comma", "f")
        await at.sees("no judgement yet: a shows every criterion")
        await at.press("enter", "1", "m", "p", "q", "w", "h", "t", "escape", "slash", "x", "escape", "c", "escape")
        assert at.app.is_running

    await told(place, story)


@pytest.mark.parametrize("size", [(120, 40), (60, 20), (20, 5), (10, 3), (3, 2), (1, 1)], ids=str)
async def test_no_size_breaks_it_and_no_line_is_cut(place, size):
    """The page opens at any size; where there is room each line is whole, in as many rows as it needs."""

    async def story(at):
        await at.press("comma", "f")
        await at.until(lambda: in_front(at.app, FindingsOpening) and at.page._opened is not None)
        await at.until(lambda: bool(at.page._rows))
        assert all(len(line) <= size[0] for line in frame(at.app))
        await at.press("down", "up", "pagedown", "end", "home")
        whole = " ".join(str(row.cells[2]) for row in at.page._rows)
        assert all(word in whole for line in at.page._lines for word in line.words.split() if len(word) < 10)
        await at.pilot.resize_terminal(80, 24)
        await at.sees("Corvannet, half pan: evenness")

    await told(place, story, size)


@pytest.mark.parametrize("group", range(4))
async def test_hostile_names_are_text(home, tmp_path, group):
    """A maker called anything at all: nothing is markup, runs, or steers the terminal."""
    names = [name for name in HOSTILE[group::4] if name.strip() and name.isprintable() and len(name) <= 200]
    makers = list(dict.fromkeys(names)) or ["plain"]
    place = shelf_ledger(tmp_path, Shelf(makers, bad=(makers[0], Shelf(makers).bad[1])))

    async def story(at):
        await at.press("comma", "f")
        await at.until(lambda: in_front(at.app, FindingsOpening) and bool(at.page._rows))
        shown = picture(at.app)
        assert not [char for char in shown if (ord(char) < 32 and char != "\n") or 0x7F <= ord(char) < 0xA0]
        await at.press("slash", *"a[b]", "enter", "escape")
        assert at.app.is_running

    await told(place, story, (120, 40))


async def test_it_follows_the_ledger(place):
    """What is written while another page is in front is there on coming back."""

    async def story(at):
        await at.press("comma", "f")
        await at.sees("8 of 8 specimens faulty")
        await at.press("comma", "s")
        with Ledger.open(place, write=True) as ledger:
            old = ledger.get(Observation, "ob1.0.0.0evenness")
            ledger.append([replace(old, id="new", grade=0.0, supersedes=old.id, reason="misread")])
        await at.press("comma", "f")
        await at.sees("7 of 8 specimens faulty")

    await told(place, story)


def test_there_are_keys_for_as_many_lines_as_stand_above_what_is_open():
    """Lines have the digits as keys, which open nothing else on this page."""
    from qcledger.screens import keys
    from qcledger.screens.actions import LINE_KEYS

    held = [action.keys for action in keys.actions_of("opening")]
    assert [key for key in held if key in LINE_KEYS] == list(LINE_KEYS)
    assert lines_of.SETTLED == "Settled"
