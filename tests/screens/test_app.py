"""The shell of the pages: modes, palette, key help, themes, sizes, and a clean way out."""

import pytest

from qcledger.screens import keys
from qcledger.screens.actions import ACTIONS
from qcledger.screens.app import Pages
from qcledger.screens.dialogs import KeysHelp
from qcledger.screens.widgets.fields import Field
from qcledger.screens.widgets.lines import SaidLine
from qcledger.screens.widgets.rows import Rows
from qcledger.settings import Settings
from tests.hostile import HOSTILE
from tests.screens.support import SAMPLES, Sample, desk_of, frame, in_front, picture, settle, until

SIZES = [(120, 40), (80, 24), (60, 20), (20, 5), (10, 3), (3, 2), (1, 1)]


def pages(settings: Settings | None = None) -> Pages:
    return Pages(desk_of(settings=settings), SAMPLES)


async def test_a_comma_and_a_letter_open_pages_and_digits_open_none():
    """Each page has a letter, the line of pages marks the one in front, and the page that was left is as it was."""
    app = pages()
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        assert frame(app)[0].strip().startswith("Sample")
        assert frame(app)[1] == " , then [l Loose ends] s Stock b Bench r Record f Findings p Publish u Rubrics"
        await pilot.press("2")
        await settle(pilot)
        assert frame(app)[0].strip().startswith("Sample")
        assert "2 does nothing here" in app.screen.query_one(SaidLine).said
        await pilot.press("comma", "s")
        await settle(pilot)
        assert frame(app)[0].strip().startswith("Other")
        assert "[s Stock]" in frame(app)[1]
        await pilot.press("comma", "l")
        await settle(pilot)
        assert frame(app)[0].strip().startswith("Sample")


async def test_no_digit_opens_a_page_and_no_letter_of_a_page_is_a_capital():
    """Digits grade, capitals begin stickers: the keys of pages are neither, out of the box."""
    for _, key, title in keys.pages({}):
        assert key.isalpha(), title
        assert key.islower(), title
    assert len({key for _, key, _ in keys.pages({})}) == len(keys.pages({}))


async def test_another_key_behind_the_comma_does_nothing_and_says_so():
    """The line of pages asks; a digit opens none and is told which letters do; Esc stays without a word."""
    app = pages()
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await pilot.press("comma")
        await settle(pilot)
        assert frame(app)[1].startswith(" open which page?")
        await pilot.press("4")
        await settle(pilot)
        assert app.screen.query_one(SaidLine).said == "no page has the key 4, and nothing was done; pages: l, s"
        await pilot.press("comma", "escape", "question_mark")
        await settle(pilot)
        assert isinstance(app.screen, KeysHelp)


async def test_pages_are_opened_while_something_is_typed_too():
    """In a field a comma is typed; Ctrl+G and the letter go."""
    app = pages()
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        app.screen.query_one(Field).focus_input()
        await pilot.press("comma", "s")
        await settle(pilot)
        assert app.screen.query_one(Field).value.endswith(",s")
        await pilot.press("ctrl+g", "s")
        await settle(pilot)
        assert frame(app)[0].strip().startswith("Other")


async def test_help_lists_every_key_of_the_page():
    """The help shows each action that works here with its keys and a sentence; n adds the names for the settings."""
    app = pages()
    async with app.run_test(size=(120, 40)) as pilot:
        await settle(pilot)
        await pilot.press("?")
        await settle(pilot)
        shown = picture(app)
        for action in ACTIONS:
            if action.page == "every page":
                assert action.help in shown
                assert action.id not in shown
        await pilot.press("n")
        await settle(pilot)
        assert "any.help" in picture(app) or "go.loose_ends" in picture(app)
        await pilot.press("escape")
        assert isinstance(app.screen, Sample)


async def test_what_was_said_stays_on_no_page_that_was_left():
    """Something taken back is old news when one comes back to the page; a dialog in front leaves it."""
    app = pages()
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        first = app.screen
        first.say("taken back")
        await pilot.press("?")
        await settle(pilot)
        assert first.query_one(SaidLine).said == "taken back"
        await pilot.press("escape", "comma", "s")
        await settle(pilot)
        assert app.screen is not first
        assert first.query_one(SaidLine).said == ""


async def test_the_foot_names_a_key_for_help_that_types_nothing():
    """In a field ? is typed, so the foot says F1 there, and ? again in the list."""
    app = pages()
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        app.screen.query_one(Field).focus_input()
        await settle(pilot)
        assert frame(app)[-1].endswith("F1 all keys")
        await pilot.press("f1")
        await settle(pilot)
        assert isinstance(app.screen, KeysHelp)
        await pilot.press("escape")
        app.screen.query_one(Rows).focus()
        await settle(pilot)
        assert frame(app)[-1].endswith("? all keys")


async def test_palette_offers_the_pages_and_our_two_themes():
    """The palette knows each page and both themes, and none of the themes that come with the library."""
    app = pages()
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        titles = [command.title for command in app.get_system_commands(app.screen)]
        mine = [title for title in titles if not title.startswith("guide: ")]
        assert mine == ["Sample", "Other", "daylight", "lamplight", "all keys", "in and out", "quit"]
        assert "guide: Stock: from the parcel to the shelf" in titles
        assert sorted(app.available_themes) == ["daylight", "lamplight"]


async def test_palette_asks_in_our_words():
    """Its line says what the help says of its key, and has no picture in front."""
    app = pages()
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await pilot.press("ctrl+p")
        await settle(pilot)
        shown = "\n".join(frame(app))
        assert "Find a page" in shown
        assert "Search" not in shown
        assert "\N{RIGHT-POINTING MAGNIFYING GLASS}" not in shown


async def test_theme_of_the_settings_and_the_key_that_changes_it():
    """The settings say which theme comes first; F2 changes it and back."""
    app = pages(Settings(theme="lamplight"))
    async with app.run_test(size=(80, 24)) as pilot:
        assert app.theme == "lamplight"
        await pilot.press("f2")
        assert app.theme == "daylight"
        await pilot.press("f2")
        assert app.theme == "lamplight"


async def test_a_key_of_ones_own_replaces_the_one_out_of_the_box():
    """A remapped action listens to its new key only."""
    app = pages(Settings(keys={"any.theme": "f12"}))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("f2")
        assert app.theme == "daylight"
        await pilot.press("f12")
        assert app.theme == "lamplight"


@pytest.mark.parametrize("size", SIZES, ids=str)
async def test_no_size_breaks_a_page(size):
    """Pages, help and palette open at any size, and a resize there and back leaves the page whole."""
    app = pages()
    async with app.run_test(size=size) as pilot:
        await settle(pilot)
        for key in ("2", "?", "escape", "ctrl+p", "escape", "1"):
            await pilot.press(key)
            await pilot.pause()
        assert all(len(line) <= size[0] for line in frame(app))
        await pilot.resize_terminal(80, 24)
        await settle(pilot)
        assert "? all keys" in frame(app)[-1]


@pytest.mark.parametrize("size", [(80, 24), (60, 20), (20, 5)], ids=str)
async def test_what_was_said_and_the_help_key_stay_in_small_windows(size):
    """Head, said line and the help key are there at 80x24, 60x20 and 20x5."""
    app = pages()
    async with app.run_test(size=size) as pilot:
        await settle(pilot)
        app.screen.say("noted")
        app.screen.save_state("saved 14:02:31")
        await pilot.pause()
        shown = frame(app)
        assert shown[0].startswith(" Sample")
        assert "saved 14:02:31" in picture(app)
        assert "? all keys" in shown[-1]


async def test_hostile_texts_are_shown_as_text(monkeypatch):
    """None of 78 hostile texts is read as markup, runs an action, or leaves a control character on the screen."""
    assert len(HOSTILE) == 78
    monkeypatch.setattr(Sample, "TEXTS", HOSTILE)
    app = pages()
    async with app.run_test(size=(120, 100)) as pilot:
        await settle(pilot)
        shown = picture(app)
        for text in ("[@click=app.quit]x", "x[/]", "100% [tube]", "[bold]x", "[link=https://example.org]x[/link]"):
            assert text in shown
        assert not [char for char in shown if ord(char) < 32 and char != "\n"]
        assert not [char for char in shown if 0x7F <= ord(char) < 0xA0]
        for y in range(0, 60, 5):
            await pilot.click(offset=(3, y))
        assert app.is_running


@pytest.mark.parametrize("text", HOSTILE, ids=range(78))
async def test_each_hostile_text_alone_in_every_place(text, monkeypatch):
    """Head, field, words, placeholder, list, ladder, said line and toast show the text or its harmless rest."""
    monkeypatch.setattr(Sample, "TEXTS", (text,))
    app = pages()
    async with app.run_test(size=(60, 20)) as pilot:
        await until(pilot, lambda: in_front(app, Sample))
        await settle(pilot)
        shown = picture(app)
        assert not [char for char in shown if (ord(char) < 32 and char != "\n") or 0x7F <= ord(char) < 0xA0]
        assert app.screen.query_one(SaidLine).said == app.screen.query_one(SaidLine).said.strip()


async def test_leaving_waits_for_the_saves_and_closes_both_ledgers():
    """Quit ends with code 0 after the queue of saves is empty."""
    app = pages()
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await pilot.press("ctrl+q")
        await pilot.pause()
    assert app.return_code == 0
    assert app.desk._reader._door.closed
    assert app.desk._writer._door.closed


async def test_a_page_asked_for_before_the_first_paint_is_the_first_one():
    """A key pressed at once is not lost."""
    app = pages()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("comma", "s")
        await settle(pilot)
        assert frame(app)[0].strip().startswith("Other")
