"""What the program calls the things that are tested: paints as a rule, pencils or inks where a rubric says so.

The code, its records and their columns say *paint* throughout. What people read says what the rubric says: each text
of our own passes `worded` on its way out, and a text of a tester's never does. Which word it is, is told once, where
a ledger is opened (`speak`).
"""

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Final


@dataclass(frozen=True, slots=True)
class Thing:
    """The word for one of the things that are tested, and for many of them, in small letters."""

    one: str
    many: str


PAINT: Final = Thing("paint", "paints")
"""What the texts of the program say as they stand in the code."""
UNLIKE: Final = Thing("product", "products")
"""What several kinds of things are called together."""

_PLACE: Final = re.compile(r"\b(?:(?P<article>an?) )?(?P<word>paints?)\b", re.IGNORECASE)


class _Speech:
    """What is spoken: one process shows one ledger at a time, as it speaks one language."""

    of = PAINT


def speak(of: Thing) -> None:
    """Let every text from now on say this word."""
    _Speech.of = of


def spoken() -> Thing:
    """Return the word that is spoken now."""
    return _Speech.of


def worded(text: str) -> str:
    """Return a text of the program, which says *paint*, in the word that is spoken now; never give it a user's."""
    return str(text) if _Speech.of == PAINT else _in_words_of(_Speech.of, str(text))


@lru_cache(maxsize=2048)
def _in_words_of(thing: Thing, text: str) -> str:
    return _PLACE.sub(lambda found: _word(thing, found), text)


def _word(thing: Thing, found: "re.Match[str]") -> str:
    here = found["word"]
    word = thing.many if here[-1] in "sS" else thing.one
    word = word.capitalize() if here[0].isupper() else word
    if not (article := found["article"]):
        return word
    begun = article[0] + ("n" if word[0].lower() in "aeiou" else "")
    return f"{begun} {word}"
