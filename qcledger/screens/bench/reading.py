"""A line to type a reading into, out of the way until it is asked for."""

from textual import events, on
from textual.message import Message
from textual.widgets import Input

from qcledger.screens.widgets.fields import Line


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
