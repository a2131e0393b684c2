"""Actions about what is recorded, asked, told and decided: lines of the tables in `actions`, beside those there."""

from typing import Final

Line = tuple[str, str, str, str, int | None, str]
"""Verb, keys, call, label, rank and help of an action, as `actions.Action` says them."""

LABEL_RIGHT: Final[Line] = (
    "put_right", "b", "put_right", "label right", None,
    "Put its label right: for all specimens that carry it, for some, or as a new print.",
)  # fmt: skip

ANEW: Final[Line] = (
    "anew", "f7", "anew", "throw away", 3,
    "Throw away what is typed here and not kept, its draft too; once more brings it back while the form is open.",
)  # fmt: skip

WHY_OUT: Final = "mwdc"
"""Keys of the reasons for taking an import back or putting it back, those of `bench.imported`."""

RECORD: Final[tuple[Line, ...]] = (
    ("open", "enter", "open", "look closer", 1, "Look closer at the marked observation and its photos."),
    ("filter", "/", "filter", "filter", 2, "Go to the filters; Enter or Esc there goes back to the list."),
    ("only", "o", "only", "which", 3, "Everything, standing, amended, not testable, with photos, or older notes."),
    ("clear", "c", "clear", "clear", 4, "Take every filter away."),
    ("amend", "a", "amend", "amend", 5, "Amend the marked observation, with a reason."),
    ("take_out", "d", "take_out", "take out", None, "Take its notes and reasons out for good; grades stay."),
    ("imports", "i", "imports", "imports", 6, "What was brought in; the mark is on what the marked one came with."),
    ("apply", "escape", "apply", "to the list", None, "Go back to the list."),
)
LOOK: Final[tuple[Line, ...]] = (
    ("leave", "escape,enter", "leave", "back", 1, "Go back to the list."),
    ("amend", "a", "amend", "amend", None, "Amend this observation, with a reason."),
    ("take_out", "d", "take_out", "take out", None, "Take its notes and reasons out for good; grades stay."),
    ("import", "i", "import", "its import", None, "Open the import that this observation came with."),
    ("move", "m", "move", "move photo", None, "Move the photo in front to another specimen or observation."),
    (
        "no_photo",
        "delete",
        "no_photo",
        "photo out",
        None,
        "Take the photo in front out for good; m moves it instead.",
    ),
    ("closer", "+", "zoom(1)", "closer", 2, "Show a smaller part of the photo larger."),
    ("farther", "-", "zoom(-1)", "farther", 3, "Show more of the photo."),
    ("next", "p,pagedown", "photo(1)", "next photo", 4, "Show the next photo."),
    ("before", "pageup", "photo(-1)", "photo before", None, "Show the photo before."),
    ("left", "left", "pan(-1, 0)", "left", None, "Move over the photo."),
    ("right", "right", "pan(1, 0)", "right", None, "Move over the photo."),
    ("up", "up", "pan(0, -1)", "up", None, "Move over the photo."),
    ("down", "down", "pan(0, 1)", "down", None, "Move over the photo."),
)
IMPORTS: Final[tuple[Line, ...]] = (
    ("open", "enter", "open", "open", 1, "Open the marked import: what it brought, and taking it back."),
    ("bring_in", "n", "bring_in", "bring in", 2, "Look at what a spreadsheet would bring in, then bring it in."),
    ("leave", "escape,backspace", "leave", "back", 3, "Go back."),
)
BEFORE: Final[tuple[Line, ...]] = (
    ("open", "enter", "open", "the row", 1, "Open the marked row: its cells, and what each becomes."),
    ("bring_in", "i", "bring_in", "bring in", 2, "Bring it in as it is shown here; you are asked once more."),
    ("which", "o", "which", "which", 3, "New, already here, changed, refused, left out, taken for granted, or all."),
    ("again", "r", "again", "look again", 4, "Look again, once the file or its map was changed."),
    (
        "propose",
        "w",
        "propose",
        "write a map",
        5,
        "Write the proposed map to the file that was named, if none is there.",
    ),
    ("called", "c", "called", "called", 6, "Say what the sheet is called, where its file's name is not its name."),
    ("leave", "escape", "leave", "stop, back", 7, "Stop what is at work, so that nothing is stored; else go back."),
)
SHEET_ROW: Final[tuple[Line, ...]] = (
    ("leave", "escape,backspace", "leave", "back", 1, "Go back to the rows."),
    ("next", "n,enter", "turn(1)", "next row", 2, "Show the next row of those that were listed."),
    ("before", "p", "turn(-1)", "row before", 3, "Show the row before."),
)
IMPORT: Final[tuple[Line, ...]] = (
    ("leave", "escape", "leave", "back", 1, "Go back; a question that stands is left first."),
    (
        "take_back",
        "t",
        "take_back_all",
        "take back",
        2,
        "Take back all that it brought in, as one act, with a reason.",
    ),
    (
        "put_back",
        "p",
        "put_back_all",
        "put back",
        3,
        "Put back what was taken back of it, as one act, with a reason.",
    ),
    ("open", "enter,v", "observations", "observations", 4, "List the observations that came with it."),
    *((f"because_{key}", key, f"because('{key}')", key, None, "Do it for this reason.") for key in WHY_OUT),
    ("own", "o", "own", "own words", None, "Type the reason in your own words."),
    ("undo", "z", "undo", "undo", 5, "Take back the last thing done in this window."),
)
FORM: Final[tuple[Line, ...]] = (
    ("keep", "f3", "keep", "keep", 1, "Keep what is typed."),
    ("leave", "escape", "leave", "leave", 2, "Leave; what is typed stands there again next time."),
    ANEW,
    ("down", "down", "step(1)", "next field", None, "The next field, as Enter does; Tab leaves a tall one."),
    ("up", "up", "step(-1)", "field before", None, "The field before."),
)
SAID: Final[tuple[Line, ...]] = (
    ("change", "enter,e", "change", "amend", 1, "Amend the marked line, with a reason; the older entry stays."),
    ("versions", "v", "versions", "then and now", 2, "How the marked line was written: then, and now, with reasons."),
    ("note", "n", "note", "reader's note", 3, "Write down what a reader says of a paint; never counted."),
    ("rate", "x", "rate", "exchange rate", 4, "Type an exchange rate with its day and source."),
    ("question", "q", "question", "amend question", None, "Amend whom, when and until when the marked one asked."),
    ("correct", "c", "correct", "correction", 5, "Correct what the marked line said, with a reason."),
    ("leave", "escape,backspace", "leave", "back", 6, "Go back."),
)
PUBLISH: Final[tuple[Line, ...]] = (
    ("draft", "o", "draft", "draft", 2, "Write a draft of the page to a file; nothing is recorded."),
    ("publish", "p", "publish", "publish", 3, "Write the next edition to a file, and record what it says."),
    (
        "all_the_same",
        "t",
        "all_the_same",
        "all the same",
        4,
        "Publish although something is missing; why is printed.",
    ),
    ("again", "r", "again", "look again", 5, "Look again what is missing."),
    ("stop", "escape", "stop", "stop", None, "Stop what is being worked on."),
)
ON_FINDINGS: Final[tuple[Line, ...]] = (
    ("ask", "q", "ask", "ask the maker", None, "On a maker's card: ask about what is to confirm or settled."),
    ("answer", "w", "answer", "its answer", None, "On a maker's card: type what the maker answered, or amend it."),
    ("private", "h", "private", "keep private", None, "Keep the marked finding private, or no longer."),
    ("retest", "t", "retest", "test again", None, "The marked finding is to be tested again: why, and how."),
)
ON_OPENING: Final[tuple[Line, ...]] = (
    ("ask", "q", "ask", "ask the maker", None, "Ask the maker about the marked finding."),
    ("answer", "w", "answer", "its answer", None, "Type what the marked maker answered, or amend it."),
    *ON_FINDINGS[2:],
)
ON_WHY: Final[tuple[Line, ...]] = (
    ("ask", "q", "ask", "ask", 4, "Ask the maker about this finding, in the sentence as it stands."),
    ("answer", "w", "answer", "answer", 5, "Type what the maker answered, or amend it."),
    ("private", "h", "private", "private", 6, "Keep this finding private, or no longer, with a reason."),
    ("retest", "t", "retest", "retest", 7, "It is to be tested again: why, and how."),
    ("note", "n", "note", "note", 8, "Write down what a reader says of this paint; never counted."),
    ("correct", "c", "correct", "correct", None, "Correct what was said or printed of this finding, with a reason."),
    ("put_right", "b", "put_right", "label right", None, "Put the label of one of these paints right."),
)
DUE_LIST: Final[tuple[Line, ...]] = (
    ("open", "enter", "open", "do it", 1, "Do what the marked line says."),
    ("leave", "escape,backspace", "leave", "back", 2, "Go back."),
)
ON_LOOSE_ENDS: Final[tuple[Line, ...]] = (
    ("said", "w", "said", "asked and said", 3, "Every question, answer, note, rate and small decision."),
    (
        "silence",
        "n",
        "silence",
        "no answer",
        None,
        "Keep that the marked maker did not answer, or that you saw what an update changed.",
    ),
)
PRICES: Final[Line] = (
    "prices",
    "$",
    "prices",
    "prices",
    None,
    "What was paid for this maker's paints, like beside like.",
)
BUY: Final[Line] = ("shopping", "b", "shopping", "what to buy", None, "What to look at and what to buy next.")
SHOPPING: Final[tuple[Line, ...]] = (
    ("budget", "e", "budget", "sum", 1, "Type the sum to spend: what it buys stands first then."),
    ("leave", "escape,backspace", "leave", "back", 2, "Go back."),
    ("on", "space,pagedown", "turn(1)", "on", 3, "Read on, a screen at a time; the arrow keys go by lines."),
    ("up", "pageup", "turn(-1)", "up", None, "Go up a screen."),
)
PRICE: Final[tuple[Line, ...]] = (
    ("by", "b", "by", "by...", 1, "Side by side by maker, paint, pigment, seller, country, set or month in turn."),
    ("trend", "t", "trend", "over time", 2, "How prices went over purchases; or side by side again."),
    (
        "into",
        "i",
        "into",
        "one currency",
        3,
        "Convert into the currency of the settings by the ledger's rates, or not.",
    ),
    (
        "found",
        "f",
        "found",
        "beside faults",
        4,
        "Draw prices beside what was found on the criterion spoken of; for you only.",
    ),
    ("every", "e", "every", "every maker", 5, "Every maker, or the one again that was asked about."),
    ("leave", "escape,backspace", "leave", "back", 6, "Go back."),
    ("on", "space,pagedown", "turn(1)", "on", 7, "Read on, a screen at a time; the arrow keys go by lines."),
    ("up", "pageup", "turn(-1)", "up", None, "Go up a screen."),
)
_CHOOSE: Final[Line] = ("choose", "c", "choose", "choose", 2, "Propose it for the next new comparison.")
RUBRICS: Final[tuple[Line, ...]] = (
    ("open", "enter", "open", "ladders", 1, "Show the marked rubric, a criterion at a time."),
    _CHOOSE,
)
RUBRIC: Final[tuple[Line, ...]] = (
    ("next", "right,n", "criterion(1)", "next criterion", 1, "Show the next criterion."),
    _CHOOSE,
    ("before", "left,p", "criterion(-1)", "before", 3, "Show the criterion before."),
    ("leave", "escape,backspace", "leave", "back", 4, "Go back."),
    ("on", "space,pagedown", "turn(1)", "on", 5, "Read on, a screen at a time; the arrow keys go by lines."),
    ("up", "pageup", "turn(-1)", "up", None, "Go up a screen."),
)
_MEND: Final[Line] = (
    "mend",
    "p",
    "mend",
    "price, lot",
    None,
    "Mend price and lot of the specimens of its parcel, those of its paint and format or all.",
)
_TO_PARCEL: Final[Line] = (
    "to_parcel",
    "v",
    "to_parcel",
    "other parcel",
    None,
    "Move it, or others of its parcel, to another parcel.",
)
IN_PARCEL: Final = (_MEND, _TO_PARCEL, ANEW)
IN_STOCK: Final[tuple[Line, ...]] = (
    _MEND,
    _TO_PARCEL,
    ("reader", "r", "reader", "reader's note", None, "Write down what a reader says of this paint; never counted."),
    ("said", "w", "said", "asked and said", None, "Every question, answer, note, rate and small decision."),
    LABEL_RIGHT,
    PRICES,
)
ON_LABEL: Final[tuple[Line, ...]] = (
    ("put_right", "f4", "put_right", "mistyped", 3, "What is typed is a correction, or a new print from a day on."),
)
ON_SESSION: Final[tuple[Line, ...]] = (
    ("retest", "t", "retest", "test again", None, "The session is to be done again: why, and how."),
)
ON_SPECIMEN: Final[tuple[Line, ...]] = (
    ("retest", "t", "retest", "test again", None, "It is to be tested again: why, and how."),
    ("beside", "w", "beside", "beside peers", None, "How its paint behaves beside other makers' of its pigments."),
    PRICES,
    LABEL_RIGHT,
    _TO_PARCEL,
    ("move", "m", "move", "move photo", None, "Move one of its photos to another specimen or observation."),
)
