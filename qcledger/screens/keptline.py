"""A line of one's own words in front of a page, kept as a draft while it is typed."""

from collections.abc import Callable

from textual.binding import Binding
from textual.widgets import Input, Static

from qcledger.errors import bad
from qcledger.screens.dialogs import Anew, Typing
from qcledger.screens.widgets.typeline import TypeLine
from qcledger.text import one_line


class KeptLine(TypeLine[str]):
    """A line of one's own words, kept as a draft while it is typed."""

    BINDINGS = [Binding("f7", "anew", "throw away", show=False)]  # noqa: RUF012

    def __init__(self, title: str, start: str, keep: Callable[[str], None]) -> None:
        super().__init__(f"{title}; F7 throws away what is typed", _said, start)
        self._keep = keep
        self._anew = Anew()
        self._text = self._first = start
        self._drafting = Typing(self, self._keep_draft)

    def on_input_changed(self, event: Input.Changed) -> None:
        """Keep a draft in a moment."""
        event.stop()
        self._text = event.value
        self._drafting.typed()

    def _keep_draft(self) -> None:
        if self._text != self._first:
            self._keep(self._text)

    def action_anew(self) -> None:
        """Throw away what is typed and its draft; once more brings it back."""
        values, said = self._anew.turn({"": self._text}, {"": ""})
        self._text = values[""]
        if not self._text:
            self._drafting.stop()
            self._keep("")
            self._first = ""
        self.query_one(Input).value = self._text
        self.query_one(".wrong", Static).update(said)

    def taken(self) -> None:
        """Keep the draft for the last time: who asked drops it once that is saved, maybe before the line is gone."""
        self._drafting.stop()
        self._keep_draft()
        self._first = self._text

    def on_unmount(self) -> None:
        """Keep what was typed last when it is left."""
        self._keep_draft()


async def _said(text: str) -> str:
    if not one_line(text):
        raise bad("reason", text, "a few words")
    return one_line(text)
