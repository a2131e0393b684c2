"""Every action of the pages, as one table a page: what it is called, its keys, what it calls, and what it does."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from qcledger.screens import benchkeys, verbs
from qcledger.screens.verbs import Line

EVERY_PAGE: Final = "every page"
"""The `Action.page` of actions that work wherever nothing is being typed."""
GO: Final = "go"
"""The `Action.page` of actions that open a page, each by its letter behind the key `any.go`."""
BECAUSE: Final = "mkwlt"
"""Keys of the reasons of an amendment, those of `bench.amending.REASONS`."""
WHY_NOT: Final = "uesid"
"""Keys of the reasons why something could not be tested, those of `bench.amending.WHY_NOT`."""
LINE_KEYS: Final = "123456789"
"""Keys of the first lines that Findings opens on."""
DUE_KEYS: Final = "abcdefghijkl"
"""Keys of the lines of Loose ends, at most a dozen."""


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
        return EVERY_PAGE if page == "any" else page


def _of(page: str, lines: Iterable[Line]) -> tuple[Action, ...]:
    return tuple(Action(f"{page}.{verb}", *rest) for verb, *rest in lines)  # type: ignore[arg-type]


_GO: Final[tuple[Line, ...]] = (
    ("loose_ends", "l", "app.go('loose_ends')", "Loose ends", None, "Open the page Loose ends."),
    ("stock", "s", "app.go('stock')", "Stock", None, "Open the page Stock."),
    ("bench", "b", "app.go('bench')", "Bench", None, "Open the page Bench."),
    ("record", "r", "app.go('record')", "Record", None, "Open the page Record."),
    ("findings", "f", "app.go('findings')", "Findings", None, "Open the page Findings."),
    ("publish", "p", "app.go('publish')", "Publish", None, "Open the page Publish."),
    ("rubrics", "u", "app.go('rubrics')", "Rubrics", None, "Open the page Rubrics."),
)
_ANY: Final[tuple[Line, ...]] = (
    (
        "go",
        "comma,ctrl+g",
        "app.begin_go",
        "pages",
        None,
        "Then a letter of the line of pages opens that page; Esc stays here.",
    ),
    ("help", "?,f1", "app.keys_help", "all keys", None, "Show what every key does."),
    ("guide", "f9", "app.guide", "guide", None, "Read the guide, from what it says about this page."),
    ("palette", "ctrl+p", "app.command_palette", "find", None, "Find a page."),
    (
        "in_and_out",
        "ctrl+o",
        "app.in_and_out",
        "in and out",
        None,
        "Print, back up, export, merge; other folder or file.",
    ),
    ("theme", "f2", "app.next_theme", "theme", None, "Daylight or lamplight."),
    (
        "sticker",
        "#",
        "app.sticker",
        "sticker",
        None,
        "Open a specimen by its sticker; a capital letter begins one too.",
    ),
    (
        "undo",
        "z,ctrl+z",
        "app.undo",
        "undo",
        None,
        "Take back the last thing done in this window, on whichever page.",
    ),
    ("suspend", "ctrl+backslash", "app.suspend_process", "shell", None, "Back to the shell; fg returns."),
    ("quit", "ctrl+q,f10", "app.quit", "quit", None, "Save and quit."),
)
_AMEND: Final[tuple[Line, ...]] = (
    *((f"digit_{n}", str(n), f"digit({n})", str(n), None, f"Grade {n}, or choice {n}.") for n in range(10)),
    ("leave", "escape", "leave", "back", 1, "Go back; what was changed and not saved is left out first."),
    ("half", "+", "half", "half step", None, "Half a step worse, or whole again."),
    ("not_testable", "-", "not_testable", "not testable", 2, "It could not be tested; a letter then says why."),
    *((f"why_{key}", key, f"why_not('{key}')", key, None, "Behind -: why it was not tested.") for key in WHY_NOT),
    ("reading", "r,/", "reading", "reading", 3, "Type another reading, as in 23 or >60."),
    ("note", "n", "note", "note", 4, "Write another note."),
    ("photo", "f,*", "photo", "photo", 5, "File the newest picture of the photo folder with it, at once."),
    ("nothing", "x", "nothing", "not there", 6, "It should not be there at all: nothing stands then."),
    *((f"because_{key}", key, f"because('{key}')", key, None, "Save it for this reason.") for key in BECAUSE),
    ("own", "o", "own", "own words", None, "Type the reason, or why it could not be tested, in your own words."),
    ("undo", "z", "undo", "undo", 7, "Take back the last thing done in this window."),
)
_BEHIND: Final[tuple[Line, ...]] = (
    ("open", "enter", "open", "look closer", 1, "Look closer at the marked observation and its photos."),
    ("amend", "a", "amend", "amend", 2, "Amend the marked observation, with a reason."),
    ("take_out", "d", "take_out", "take out", None, "Take its notes and reasons out for good; grades stay."),
    ("leave", "escape,backspace", "leave", "back", 3, "Go back."),
)
_STOCK: Final[tuple[Line, ...]] = (
    ("open", "enter", "open", "history", 1, "Open the whole history of the marked specimen."),
    ("parcel", "n", "parcel", "new parcel", 2, "Enter a parcel: what is common once, then a line a specimen."),
    ("find", "/", "find", "find", 3, "Find by words of sticker, maker, paint, format, lot, state or seller."),
    ("unpack", "g", "unpack", "faults", 4, "Grade pack, contents and label of the marked specimen."),
    ("label", "l", "label", "label", 5, "Read or transcribe the label of its paint."),
    ("change", "e", "change", "change", 6, "Change its line; the older entry stays."),
    ("used_up", "u", "state('used up')", "used up", 7, "The marked specimen is used up."),
    ("reserve", "s", "state('sealed reserve')", "sealed", 8, "Keep it sealed as a reserve."),
    ("opened", "o", "state('opened')", "opened", None, "It was opened today."),
    ("undo", "z", "undo", "undo", 9, "Take back the last thing done in this window."),
    ("names", "m", "names", "same as...", 10, "Its maker, paint or seller is the same as another one, or is not."),
    ("called", "c", "called", "now called...", 11, "Its maker is called something else now; t there: its paint."),
    *verbs.IN_STOCK,
    ("all", "escape", "all", "every specimen", None, "Show every specimen again."),
)
_PARCEL: Final[tuple[Line, ...]] = (
    ("lines", "f3", "lines", "to the lines", 1, "The common fields are right: go on to the lines."),
    ("unpack", "f4,g", "unpack", "faults", 2, "Grade pack, contents and label of the marked or last specimen."),
    ("paint", "f5", "paint", "new paint", 3, "A paint not seen before: transcribe its label."),
    ("common", "f6", "common", "common", 4, "Go back to the fields common to the whole parcel."),
    ("undo", "f8,z", "undo", "undo", 5, "Take back the last thing done in this window."),
    ("leave", "escape", "leave", "lines, then leave", 6, "Go to the list of lines; from there, leave the parcel."),
    ("new", "n", "new", "new line", None, "From the list of lines: back to the form."),
    ("open", "enter", "open", "history", None, "Open the whole history of the marked specimen."),
    ("change", "e", "change", "change", None, "Change the marked line; the older entry stays."),
    *verbs.IN_PARCEL,
    ("label", "l", "label", "label", None, "Read or transcribe the label of its paint."),
    verbs.LABEL_RIGHT,
    ("used_up", "u", "state('used up')", "used up", None, "The marked specimen is used up."),
    ("reserve", "s", "state('sealed reserve')", "sealed", None, "Keep it sealed as a reserve."),
    ("opened", "o", "state('opened')", "opened", None, "It was opened today."),
    ("down", "down", "step(1)", "next", None, "The next field, or the next paint that fits."),
    ("up", "up", "step(-1)", "before", None, "The field before, or the paint before."),
)
_LABEL: Final[tuple[Line, ...]] = (
    ("keep", "f3", "keep", "keep", 1, "Keep the label as it is typed."),
    *verbs.ON_LABEL,
    ("leave", "escape", "leave", "leave", 2, "Leave; what is typed stands there again next time."),
    verbs.ANEW,
    ("down", "down", "step(1)", "next field", None, "The next field, as Enter does."),
    ("up", "up", "step(-1)", "field before", None, "The field before."),
)
_NAMES: Final[tuple[Line, ...]] = (
    ("same", "enter", "same", "the same", 1, "It is the same as the marked one, whose name is shown from now on."),
    ("apart", "-,d", "apart", "not the same", 2, "It is not the same as the marked one; nobody is asked again."),
    ("called", "c", "called", "now called", 3, "Type what it is called now; the older names still find it."),
    (
        "other",
        "t",
        "other",
        "maker, paint...",
        4,
        "The names of its maker, its paint, its range, its seller in turn.",
    ),
    ("undo", "z", "undo", "undo", 5, "Take back the last thing done in this window."),
    ("leave", "escape", "leave", "back", 6, "Go back."),
)
_SPECIMEN: Final[tuple[Line, ...]] = (
    ("leave", "escape", "leave", "back", 1, "Go back."),
    ("which", "h", "which", "then and now / all", 2, "Then and now, or every observation in order."),
    ("unpack", "g", "unpack", "faults", 3, "Grade pack, contents and label."),
    ("label", "l", "label", "label", 4, "Read or transcribe the label of its paint."),
    ("change", "e", "change", "change", 5, "Change its line; the older entry stays."),
    ("used_up", "u", "state('used up')", "used up", 6, "It is used up."),
    ("reserve", "s", "state('sealed reserve')", "sealed", 7, "Keep it sealed as a reserve."),
    ("opened", "o", "state('opened')", "opened", 8, "It was opened today."),
    ("amend", "a", "amend", "amend", None, "Amend the marked observation, with a reason."),
    ("undo", "z", "undo", "undo", 9, "Take back the last thing done in this window."),
    ("open", "enter", "open", "in the record", None, "Open the marked observation in the record."),
    ("photos", "p", "photos", "other photos", None, "Show the next pair of photos."),
    *verbs.ON_SPECIMEN,
)
_LOOSE_ENDS: Final[tuple[Line, ...]] = (
    *((f"do_{key}", key, f"do({n})", key, None, f"Do what the line {key} says.") for n, key in enumerate(DUE_KEYS)),
    ("open", "enter", "open", "do it", 1, "Do what the marked line says."),
    ("again", "r", "again", "look again", 2, "Look again what is due."),
    *verbs.ON_LOOSE_ENDS,
)
_PHOTOS: Final[tuple[Line, ...]] = (
    ("file", "enter", "file", "file with a sticker", 1, "Type the sticker of the specimen that the photo shows."),
    ("undo", "z", "undo", "another sticker", 2, "The photo filed last shows another specimen."),
    ("leave", "escape", "leave", "back", 3, "Go back."),
)
_FINDINGS: Final[tuple[Line, ...]] = (
    ("why", "enter", "why", "why", 1, "Open everything behind the marked cell; a heading opens its criterion."),
    ("right", "right", "format(1)", "format", 2, "Go to the next format."),
    ("left", "left", "format(-1)", "format", None, "Go to the format before."),
    ("criterion", "c", "criterion", "criterion", 3, "Choose a criterion, or all of them."),
    (
        "maker",
        "m",
        "maker",
        "maker's card",
        4,
        "The marked maker on each criterion; there: the criterion at each maker.",
    ),
    ("comparison", "k", "comparison", "comparison", 5, "Choose a comparison, or everything tested."),
    ("photos", "p", "photos", "photos", 6, "Show the photos behind the marked cell."),
    ("next", ">", "turn(1)", "next criterion", 7, "Show the next criterion."),
    ("before", "<", "turn(-1)", "criterion before", None, "Show the criterion before."),
    ("back", "escape,backspace", "back", "back", None, "Stop what is being worked on, or go back to what was shown."),
    ("again", "r", "again", "again", None, "Look whether the ledger has changed, and work on the findings again."),
    *verbs.ON_FINDINGS,
    verbs.PRICES,
    verbs.BUY,
)
_OPENING: Final[tuple[Line, ...]] = (
    ("why", "enter", "why", "why", 1, "Open everything behind the marked line."),
    ("cells", "a", "cells", "all cells", 2, "Show all cells: every criterion with its makers and formats."),
    ("filter", "/", "filter", "filter", 3, "Type words: lines that have each of them stay."),
    ("maker", "m", "maker", "maker's card", 4, "The marked maker on each criterion."),
    ("criterion", "c", "criterion", "criterion", 5, "Choose a criterion, and show it at every maker."),
    ("comparison", "k", "comparison", "comparison", 6, "Choose a comparison, or everything tested."),
    ("photos", "p", "photos", "photos", 7, "Show the photos behind the marked line."),
    ("back", "escape,backspace", "back", "back", None, "Stop what is being worked on, or show every line again."),
    ("again", "r", "again", "again", None, "Look whether the ledger has changed, and work on the findings again."),
    *((f"line_{key}", key, f"line({n})", key, None, f"Open the line {key}.") for n, key in enumerate(LINE_KEYS)),
    *verbs.ON_OPENING,
    verbs.PRICES,
    verbs.BUY,
)
_WHY: Final[tuple[Line, ...]] = (
    ("leave", "escape,backspace", "leave", "back", 1, "Go back to the findings."),
    ("photos", "p", "photos", "photos", 2, "Show the photos of these specimens."),
    ("statistics", "s", "statistics", "statistics", 3, "The statistics behind it, or the plain words again."),
    ("observations", "o", "observations", "observations", 3, "List the observations behind it; a there amends one."),
    ("on", "space,pagedown", "turn(1)", "on", 3, "Read on, a screen at a time; the arrow keys go by lines."),
    ("up", "pageup", "turn(-1)", "up", None, "Go up a screen."),
    *verbs.ON_WHY,
    verbs.PRICES,
)

_PUBLISH: Final[tuple[Line, ...]] = (
    *((f"do_{key}", key, f"do({n})", key, None, f"Mend or open the line {key}.") for n, key in enumerate(DUE_KEYS)),
    ("open", "enter", "open", "mend it", 1, "Mend what the marked line says is missing, change it, or read it."),
    *verbs.PUBLISH,
)
_GUIDE: Final[tuple[Line, ...]] = (
    ("leave", "escape", "leave", "back", 1, "Go back to the page."),
    ("on", "space,pagedown", "turn(1)", "on", 2, "Read on, a screen at a time; the arrow keys go by lines."),
    ("contents", "c", "contents", "contents", 3, "Show every chapter; Enter opens the marked one."),
    ("next", "right", "chapter(1)", "next chapter", 4, "Open the next chapter."),
    ("before", "left", "chapter(-1)", "chapter before", None, "Open the chapter before."),
    ("up", "pageup", "turn(-1)", "up", None, "Go up a screen."),
)

ACTIONS: Final = (
    *_of("go", _GO),
    *_of("loose_ends", _LOOSE_ENDS),
    *_of("due_list", verbs.DUE_LIST),
    *_of("photos", _PHOTOS),
    *_of("stock", _STOCK),
    *_of("parcel", _PARCEL),
    *_of("label", _LABEL),
    *_of("names", _NAMES),
    *_of("form", verbs.FORM),
    *_of("said", verbs.SAID),
    *_of("unpacking", benchkeys.UNPACKING),
    *_of("specimen", _SPECIMEN),
    *_of("bench", benchkeys.BENCH),
    *_of("put_down", benchkeys.PUT_DOWN),
    *_of("map", benchkeys.SHEET_MAP),
    *_of("closing", benchkeys.CLOSING),
    *_of("tester", benchkeys.TESTER),
    *_of("record", verbs.RECORD),
    *_of("look", verbs.LOOK),
    *_of("amend", _AMEND),
    *_of("behind", _BEHIND),
    *_of("imports", verbs.IMPORTS),
    *_of("import", verbs.IMPORT),
    *_of("before", verbs.BEFORE),
    *_of("sheet_row", verbs.SHEET_ROW),
    *_of("opening", _OPENING),
    *_of("findings", _FINDINGS),
    *_of("why", _WHY),
    *_of("price", verbs.PRICE),
    *_of("shopping", verbs.SHOPPING),
    *_of("publish", _PUBLISH),
    *_of("rubrics", verbs.RUBRICS),
    *_of("rubric", verbs.RUBRIC),
    *_of("guide", _GUIDE),
    *_of("any", _ANY),
)
"""Every action, page by page; within a page in the order of the help."""
