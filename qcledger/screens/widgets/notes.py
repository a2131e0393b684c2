"""A place for a note of several lines."""

from textual import events
from textual.widgets import TextArea

from qcledger.text import clean


class NoteArea(TextArea):
    """A text area without code colours; what is pasted is cleaned, all of its lines are kept."""

    DEFAULT_CSS = """
    NoteArea { height: auto; min-height: 3; max-height: 12; border: none; padding: 0; background: $panel; }
    NoteArea:focus { border: none; }
    """

    async def _on_paste(self, event: events.Paste) -> None:
        event.text = clean(event.text)  # the text area's own handler, which comes next, pastes it
