"""Actions about what is asked, told and decided: lines of the tables in `actions`, beside those of each page."""

from typing import Final

Line = tuple[str, str, str, str, int | None, str]
"""Verb, keys, call, label, rank and help of an action, as `actions.Action` says them."""

FORM: Final[tuple[Line, ...]] = (
    ("keep", "f3", "keep", "keep", 1, "Keep what is typed."),
    ("leave", "escape", "leave", "leave", 2, "Leave; what is typed stands there again next time."),
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
ON_FINDINGS: Final[tuple[Line, ...]] = (
    ("ask", "q", "ask", "ask the maker", None, "On a maker's card: ask about what is to confirm or settled."),
    ("answer", "w", "answer", "its answer", None, "On a maker's card: type what the maker answered, or amend it."),
    ("private", "h", "private", "keep private", None, "Keep the marked finding private, or no longer."),
    ("retest", "t", "retest", "test again", None, "The marked finding is to be tested again: why, and how."),
)
ON_WHY: Final[tuple[Line, ...]] = (
    ("ask", "q", "ask", "ask", 4, "Ask the maker about this finding, in the sentence as it stands."),
    ("answer", "w", "answer", "answer", 5, "Type what the maker answered, or amend it."),
    ("private", "h", "private", "private", 6, "Keep this finding private, or no longer, with a reason."),
    ("retest", "t", "retest", "retest", 7, "It is to be tested again: why, and how."),
    ("note", "n", "note", "note", 8, "Write down what a reader says of this paint; never counted."),
    ("correct", "c", "correct", "correct", None, "Correct what was said or printed of this finding, with a reason."),
)
ON_LOOSE_ENDS: Final[tuple[Line, ...]] = (
    ("said", "s", "said", "asked and said", 3, "Every question, answer, note, rate and small decision."),
    ("silence", "n", "silence", "no answer", None, "The marked maker did not answer by its day: keep that."),
)
_MEND: Final[Line] = (
    "mend",
    "p",
    "mend",
    "price, lot",
    None,
    "Mend price and lot of the pieces of its parcel, those of its paint and format or all.",
)
IN_PARCEL: Final = (_MEND,)
IN_STOCK: Final[tuple[Line, ...]] = (
    _MEND,
    ("reader", "r", "reader", "reader's note", None, "Write down what a reader says of this paint; never counted."),
    ("said", "w", "said", "asked and said", None, "Every question, answer, note, rate and small decision."),
)
ON_SESSION: Final[tuple[Line, ...]] = (
    ("retest", "t", "retest", "test again", None, "The session is to be done again: why, and how."),
)
ON_SPECIMEN: Final[tuple[Line, ...]] = (
    ("retest", "t", "retest", "test again", None, "It is to be tested again: why, and how."),
)
