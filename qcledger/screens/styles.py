"""The style sheet of the pages: what was parsed once is not parsed again."""

from typing import Any

from textual.css.stylesheet import Stylesheet
from textual.events import ScreenResume


class ParsedOnce(Stylesheet):
    """A style sheet that keeps what it has parsed until a colour changes.

    Textual parses every source anew whenever a page brings one of its own or the theme is applied, three times at
    each start; most of them are those of its own widgets, and the same as before.
    """

    def set_variables(self, variables: dict[str, str]) -> None:
        """Set the variables; what was parsed with the same ones still holds."""
        if variables != self._variables:
            super().set_variables(variables)

    def reparse(self) -> None:
        """Take in every source; only what is new is parsed. Rules that cannot be read leave the old ones in force."""
        self.parse()


class StyledOnce:
    """What a screen does to be styled once when it comes, and not three times; stands before Textual's class.

    Textual lays a screen out, then learns its size and styles all of it anew for its breakpoints, then once more
    because it came to the front. Here the breakpoints are known before anything is on the screen.
    """

    _came = False

    def on_compose(self: Any) -> None:
        """Take the classes of the window's size before there is anything to style."""
        app, size = self.app, self.app.size
        named = {name: False for _, name in (*app.HORIZONTAL_BREAKPOINTS, *app.VERTICAL_BREAKPOINTS)}
        for cells, breakpoints in ((size.width, app.HORIZONTAL_BREAKPOINTS), (size.height, app.VERTICAL_BREAKPOINTS)):
            named |= dict.fromkeys(self._get_breakpoint_classes(cells, breakpoints), True)
        self.update_classes(named, update=False)

    def _on_screen_resume(self, event: ScreenResume) -> None:
        """Style nothing anew the first time; later a theme may have changed meanwhile."""
        event.refresh_styles = event.refresh_styles and self._came
        self._came = True
