"""Fields of a form, and the lines around them: drawn as they change, laid out only where something moves."""

from textual.app import App, ComposeResult
from textual.screen import Screen

from qcledger.screens.themes import THEMES
from qcledger.screens.widgets.fields import Field
from qcledger.screens.widgets.lines import SaidLine
from tests.screens.support import frame, settle, until

WARNING = "no such word"


class Form(App[None]):
    """Two fields and what was said; how often the screen was laid out is counted."""

    layouts = 0

    def __init__(self) -> None:
        super().__init__()
        self.register_theme(THEMES[0])
        self.theme = THEMES[0].name

    def compose(self) -> ComposeResult:
        """Lay out the fields."""
        yield Field("one", "one", lambda text: WARNING if "x" in text else "")
        yield Field("two", "two")
        yield SaidLine()

    def on_mount(self) -> None:
        """Count from here on."""
        self.screen.screen_layout_refresh_signal.subscribe(self, self._count)

    def _count(self, _: Screen[object]) -> None:
        self.layouts += 1


async def test_no_letter_lays_the_form_out_anew():
    """Letters are drawn in the line alone; the form is laid out where words beside it come, and where they go."""
    app = Form()
    async with app.run_test(size=(60, 8)) as pilot:
        app.query_one(Field).focus_input()
        await settle(pilot)
        before = app.layouts
        await pilot.press(*"cobalt blue")
        await settle(pilot)
        assert app.layouts == before
        assert frame(app)[0].split() == ["one", "cobalt", "blue"]
        await pilot.press("x")
        await until(pilot, lambda: app.layouts > before)
        await settle(pilot)
        assert frame(app)[0].split() == ["one", "cobalt", "bluex", *WARNING.split()]
        before = app.layouts
        await pilot.press("x", "x")
        await settle(pilot)
        assert app.layouts == before
        await pilot.press("ctrl+u")
        await until(pilot, lambda: frame(app)[0].split() == ["one"])


async def test_a_line_that_is_full_scrolls_with_the_cursor():
    """What is typed beyond the end shows its end, and its beginning again where the cursor goes there."""
    app = Form()
    async with app.run_test(size=(40, 8)) as pilot:
        app.query_one(Field).focus_input()
        await pilot.press(*"beginning", *"." * 40, *"end")
        assert frame(app)[0].endswith("...end")
        assert "beginning" not in frame(app)[0]
        await pilot.press("home")
        assert "beginning..." in frame(app)[0]


async def test_what_is_said_takes_the_lines_it_needs():
    """More words take more lines and fewer give them back; a window that grows wider needs fewer for the same."""
    app, words = Form(), "a word " * 12
    async with app.run_test(size=(60, 8)) as pilot:
        line = app.query_one(SaidLine)
        line.say(words)
        await settle(pilot)
        assert line.size.height == 2
        before = app.layouts
        line.say(words.replace("a", "o"))
        await settle(pilot)
        assert (line.size.height, app.layouts) == (2, before)
        await pilot.resize_terminal(120, 8)
        await settle(pilot)
        assert line.size.height == 1
        line.say("less")  # one line where there is room, one where there is little
        await pilot.resize_terminal(60, 8)
        await settle(pilot)
        assert line.size.height == 1
        assert any("less" in one for one in frame(app))
