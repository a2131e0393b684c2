"""Every action of the pages, as one table a page: what it is called, its keys, what it calls, and what it does."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

EVERY_PAGE: Final = "every page"
"""The `Action.page` of actions that work wherever nothing is being typed."""


@dataclass(frozen=True, slots=True)
class Action:
    """One thing a key does.

    Parameters
    ----------
    id
        Name in the settings, ``page.verb``; never changes once published.
    keys
        Keys out of the box, separated by commas; a character stands for itself.
    call
        What Textual calls: a method ``action_...`` of the page, with literal arguments.
    label
        One or two words for the foot line.
    rank
        Place in the foot line, the smallest first; None keeps it out of there.
    help
        One sentence for the help.
    """

    id: str
    keys: str
    call: str
    label: str
    rank: int | None
    help: str

    @property
    def page(self) -> str:
        """Return the key of the page the action belongs to, or `EVERY_PAGE`."""
        page = self.id.partition(".")[0]
        return EVERY_PAGE if page in ("go", "any") else page


Line = tuple[str, str, str, str, int | None, str]


def _of(page: str, lines: Iterable[Line]) -> tuple[Action, ...]:
    return tuple(Action(f"{page}.{verb}", *rest) for verb, *rest in lines)  # type: ignore[arg-type]


_GO: Final[tuple[Line, ...]] = (
    ("loose_ends", "1", "app.go('loose_ends')", "Loose ends", None, "Open the page Loose ends."),
    ("stock", "2", "app.go('stock')", "Stock", None, "Open the page Stock."),
    ("bench", "3", "app.go('bench')", "Bench", None, "Open the page Bench."),
    ("record", "4", "app.go('record')", "Record", None, "Open the page Record."),
)
_ANY: Final[tuple[Line, ...]] = (
    ("help", "?,f1", "app.keys_help", "all keys", None, "Show what every key does."),
    ("palette", "ctrl+p", "app.command_palette", "palette", None, "Find a page."),
    ("theme", "f2", "app.next_theme", "theme", None, "Daylight or lamplight."),
    ("suspend", "ctrl+z", "app.suspend_process", "shell", None, "Back to the shell; fg returns."),
    ("quit", "ctrl+q,f10", "app.quit", "quit", None, "Finish the saves and leave."),
)
_BENCH: Final[tuple[Line, ...]] = (
    *((f"digit_{n}", str(n), f"digit({n})", str(n), None, f"Grade {n}, or choice {n}.") for n in range(10)),
    ("enter", "enter", "enter", "next specimen", 1, "Take the proposed grade; else the next specimen, or test."),
    ("undo", "z,.", "undo", "undo", 2, "Take back the last thing done."),
    ("not_testable", "-", "not_testable", "not testable", 3, "Record that it could not be tested."),
    ("photo", "f,*", "photo", "photo", 4, "File the newest picture of the photo folder."),
    ("note", "n", "note", "note", 5, "Write a note to this grade."),
    ("back", "<,pageup,left,backspace", "move(-1)", "back", 6, "Go back one place; a digit there amends."),
    ("on", ">,pagedown,right", "move(1)", "on", None, "Leave this place open and go on."),
    ("half", "+", "half", "half step", 8, "Half a step worse, or whole again."),
    ("beat", "space", "beat", "beat", 7, "Start the beat of one a second; stop it: the reading."),
    ("reading", "r,/", "reading", "reading", None, "Type a reading, as in 23 or >60."),
    ("timer", "t", "timer", "timer", 9, "Start a timer for this specimen and test, or stop it."),
    ("walk", "w", "walk", "walk", None, "Walk by specimen, or by test."),
    ("stage", "s", "stage", "stage", None, "Go to the next stage: wet, dry, after 24 h."),
    ("paper", "p", "paper", "from paper", None, "Type a filled sheet, one line a specimen."),
    ("cautions", "!", "cautions", "cautions", None, "Read every caution of this sheet."),
    ("sheets", "o,escape", "sheets", "sheets", None, "Show the sheets at work."),
    ("begin", "b", "begin", "begin a sheet", None, "Begin a new run sheet."),
    ("close", "c", "close_session", "close", None, "Close the session of this sheet."),
)
_RECORD: Final[tuple[Line, ...]] = (
    ("open", "enter", "open", "look closer", 1, "Look closer at the marked observation and its photos."),
    ("filter", "/", "filter", "filter", 2, "Go to the filters; Enter or Esc there goes back to the list."),
    ("only", "o", "only", "which", 3, "Everything, standing, amended, not testable, with photos, or older notes."),
    ("clear", "x", "clear", "clear", 4, "Take every filter away."),
    ("apply", "escape", "apply", "to the list", None, "Go back to the list."),
)
_LOOK: Final[tuple[Line, ...]] = (
    ("leave", "escape,enter", "leave", "back", 1, "Go back to the list."),
    ("closer", "+", "zoom(1)", "closer", 2, "Show a smaller part of the photo larger."),
    ("farther", "-", "zoom(-1)", "farther", 3, "Show more of the photo."),
    ("next", "n,pagedown", "photo(1)", "next photo", 4, "Show the next photo."),
    ("before", "p,pageup", "photo(-1)", "photo before", None, "Show the photo before."),
    ("left", "left", "pan(-1, 0)", "left", None, "Move over the photo."),
    ("right", "right", "pan(1, 0)", "right", None, "Move over the photo."),
    ("up", "up", "pan(0, -1)", "up", None, "Move over the photo."),
    ("down", "down", "pan(0, 1)", "down", None, "Move over the photo."),
)

ACTIONS: Final = (
    *_of("go", _GO),
    *_of("bench", _BENCH),
    *_of("record", _RECORD),
    *_of("look", _LOOK),
    *_of("any", _ANY),
)
"""Every action, page by page; within a page in the order of the help."""
