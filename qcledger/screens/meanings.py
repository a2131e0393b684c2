"""What a key means, the same on every page; on which pages it cannot, which is told beside it there."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

CHOICES: Final[Mapping[str, str]] = {
    "digit": "Grade with this digit, or pick the choice of this number.",
    "pick": "Go to the criterion with this letter.",
    "do": "Do what the line with this letter says.",
    "line": "Open the line with this digit.",
    "because": "Save it for this reason.",
    "why": "Behind -: why it was not tested.",
}
"""Verbs that pick from a list in sight, each with a key behind its name, and what all of one verb do."""
OWN_WORDS: Final = "own"
"""The verb that goes with such a list of reasons."""
MOST_LISTED: Final = 9
"""Keys of one verb that are listed one by one; of more the first and the last are told."""


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a key means.

    Parameters
    ----------
    name
        In a few words.
    verbs
        The verbs of actions that mean this.
    but_on
        The pages on which the key means something else.
    """

    name: str
    verbs: tuple[str, ...]
    but_on: tuple[str, ...] = ()


_AT_WORK: Final = ("unpacking", "bench", "amend")
MEANINGS: Final[Mapping[str, Meaning]] = {
    "escape": Meaning("back, or stop", ("leave", "back", "all", "sheets", "apply", "stop")),
    "backspace": Meaning("back", ("leave", "back")),
    "enter": Meaning(
        "open or do what is marked",
        ("open", "enter", "why", "file", "same", "change", "laid", "go", "check"),
        ("look", "sheet_row"),
    ),
    "space": Meaning("on", ("on", "laid", "blank"), ("bench", "unpacking")),
    "pagedown": Meaning("on", ("on", "next", "down")),
    "pageup": Meaning("back", ("back", "before", "up")),
    "left": Meaning("to the left, or before", ("left", "before", "back")),
    "right": Meaning("to the right, or next", ("right", "next", "on")),
    "<": Meaning("before", ("before", "back", "left")),
    ">": Meaning("next", ("next", "on", "right")),
    "/": Meaning("find", ("find", "filter"), _AT_WORK),
    "+": Meaning("half a step", ("half",), ("look",)),
    "-": Meaning("not testable", ("not_testable",), ("names", "look")),
    "f3": Meaning("keep", ("keep", "lines")),
    "f4": Meaning("faults", ("unpack",), ("label",)),
    "a": Meaning("amend", ("amend", "observations"), ("opening",)),
    "b": Meaning("label right", ("put_right",), ("bench", "opening", "findings", "price")),
    "c": Meaning(
        "criterion",
        ("criterion",),
        (
            "stock",
            "names",
            "said",
            "why",
            "bench",
            "closing",
            "tester",
            "record",
            "guide",
            "before",
            "rubrics",
            "rubric",
        ),
    ),
    "d": Meaning("take out", ("take_out",), ("names", "bench")),
    "e": Meaning("change", ("change",), ("bench", "price", "shopping")),
    "f": Meaning("photo", ("photo",), ("price",)),
    "h": Meaning("keep private", ("private",), ("specimen", "bench", "closing")),
    "i": Meaning("imports", ("imports", "import"), ("price", "before")),
    "k": Meaning("comparison", ("comparison",), ("closing",)),
    "l": Meaning("label", ("label",), ("bench",)),
    "m": Meaning("maker", ("maker", "names"), ("specimen", "look", "bench")),
    "n": Meaning("note", ("note",), ("loose_ends", "stock", "parcel", "imports", "sheet_row", "rubric")),
    "o": Meaning("opened", ("opened",), ("bench", "record", "why", "publish", "before")),
    "p": Meaning(
        "photos", ("photos", "next"), ("stock", "parcel", "bench", "import", "publish", "sheet_row", "rubric")
    ),
    "q": Meaning("ask the maker", ("ask", "question")),
    "r": Meaning("look again", ("again",), ("stock", "closing", *_AT_WORK)),
    "s": Meaning("sealed", ("reserve",), ("bench", "tester", "why")),
    "t": Meaning("test again", ("retest",), ("names", "bench", "put_down", "import", "price", "publish")),
    "v": Meaning("other parcel", ("to_parcel",), ("said", "bench", "put_down", "closing", "import")),
    "w": Meaning("what was said", ("said", "answer"), ("specimen", "bench", "before")),
    "x": Meaning("sheet map", ("map",), ("said", "amend")),
}
"""Every key that several verbs have, and what it means but for the pages that are named."""


def choice_of(verb: str) -> str:
    """Return the verb of `CHOICES` that an action's verb belongs to; empty for any other."""
    word, is_one, _ = verb.partition("_")
    return word if is_one and word in CHOICES else ""


def is_told_there(verb: str) -> bool:
    """Say whether a list in sight tells what the keys of a verb mean."""
    return bool(choice_of(verb)) or verb == OWN_WORDS


def in_a_row(keys: Sequence[str]) -> str:
    """Return keys as one reads them out: ``a to j`` where they follow each other or are many, else one by one."""
    follow = len(keys) > 2 and all(ord(after[0]) - ord(before[0]) == 1 for before, after in pairwise(keys))
    return f"{keys[0]} to {keys[-1]}" if follow or len(keys) > MOST_LISTED else " ".join(keys)


def elsewhere(page: str, keys: Sequence[str]) -> str:
    """Return what a page's keys mean elsewhere, in words; empty where they mean the same there."""
    told = [f"{key} {MEANINGS[key].name}" for key in keys if key in MEANINGS and page in MEANINGS[key].but_on]
    return f"(Elsewhere: {', '.join(told)}.)" if told else ""
