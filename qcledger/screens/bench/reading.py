"""A line to type a reading into, out of the way until it is asked for."""

import re
from typing import Final

from textual import events, on
from textual.message import Message
from textual.widgets import Input

from qcledger.errors import bad
from qcledger.screens.widgets.fields import Line
from qcledger.vocab import Censored

_READING: Final = re.compile(r"\s*(?P<sign>[<>]?)\s*(?P<value>\d{1,9}(?:[.,]\d{1,6})?)\s*")
_SIGNS: Final = {"": Censored.EXACT, ">": Censored.ABOVE, "<": Censored.BELOW}


def read(text: str, where: str) -> tuple[float, Censored]:
    """Return the reading a text says: ``23``, ``3.5`` or ``3,5``, and ``>60`` for above 60.

    Raises
    ------
    BadInput
        When it says none.
    """
    found = _READING.fullmatch(text)
    if found is None:
        raise bad(where, text, "a number such as 23 or 3.5, or >60")
    return float(found["value"].replace(",", ".")), _SIGNS[found["sign"]]


class ReadingLine(Line):
    """Shown while a reading is typed; Enter gives it, Esc leaves."""

    DEFAULT_CSS = """
    ReadingLine { display: none; height: 1; border: none; padding: 0; background: $panel; dock: bottom; }
    ReadingLine:focus { border: none; }
    ReadingLine.-asked { display: block; }
    """

    class Given(Message):
        """A reading was typed; an empty text means none."""

        def __init__(self, text: str) -> None:
            super().__init__()
            self.text = text

    def ask(self, unit: str) -> None:
        """Come forward and ask for a reading in `unit`."""
        self.value = ""
        self.placeholder = f"{unit}: a number, Enter takes it, Esc leaves"
        self.add_class("-asked")
        self.focus()

    def _give(self, text: str) -> None:
        self.remove_class("-asked")
        self.screen.set_focus(None)
        self.post_message(self.Given(text))

    @on(Input.Submitted)
    def _entered(self, event: Input.Submitted) -> None:
        event.stop()
        self._give(event.value)

    def on_key(self, event: events.Key) -> None:
        """Leave on Esc."""
        if event.key == "escape":
            event.stop()
            self._give("")
