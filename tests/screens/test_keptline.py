"""A reason in one's own words, kept as a draft while it is typed."""

from functools import partial

from textual.app import App

from qcledger.screens.keptline import KeptLine


class Alone(App[None]):
    """Nothing but the line, and where it is kept."""

    def __init__(self) -> None:
        super().__init__()
        self.drafts: list[str] = []
        self.given: list[str | None] = []


async def test_what_was_given_is_not_kept_again_when_the_line_goes():
    """Whoever asked may have saved it, and dropped the draft, before the line is off the screen."""
    app = Alone()
    async with app.run_test() as pilot:
        line = KeptLine("Why", "", app.drafts.append)
        done = partial(_given, app)
        app.push_screen(line, done)
        await pilot.press(*"abc", "enter")
        await pilot.pause()
        assert app.given == ["abc"]
        assert app.drafts[-1] == ""
        assert not line.is_attached


def _given(app: Alone, text: str | None) -> None:
    app.given.append(text)
    app.drafts.append("")  # dropped at once


async def test_what_is_left_is_kept():
    """Esc leaves the line; what was typed of it is kept, however soon."""
    app = Alone()
    async with app.run_test() as pilot:
        app.push_screen(KeptLine("Why", "", app.drafts.append), app.given.append)
        await pilot.press(*"abc", "escape")
        await pilot.pause()
        assert (app.given, app.drafts[-1]) == ([None], "abc")
