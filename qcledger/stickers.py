"""Stickers: a tester's letters and a count, on one specimen each, and how people write them."""

import re
from collections.abc import Iterable
from typing import Final

from qcledger.errors import bad

FORM: Final = "one to four letters, a blank and a count, as in OV 0147"
_DIGITS: Final = 4
"""A count is padded to so many digits."""

_LETTERS: Final = r"[^\W\d_]{1,4}"
_STICKER: Final = re.compile(rf"({_LETTERS}) ([0-9]{{1,9}})")
_RANGE: Final = re.compile(rf"(?:(?P<letters>{_LETTERS}) ?)?(?P<first>[0-9]{{1,9}})(?: ?- ?(?P<last>[0-9]{{1,9}}))?")

Number = tuple[str, int]
"""What two stickers share that read alike: the letters, whatever their case, and the count without its zeros."""


def are_letters(text: str) -> bool:
    """Say whether a text may begin stickers: one to four letters."""
    return re.fullmatch(_LETTERS, text) is not None


def letters_and_count(sticker: str) -> Number | None:
    """Return what a sticker says, or None for a text that is no sticker."""
    found = _STICKER.fullmatch(sticker)
    return (found[1].casefold(), int(found[2])) if found else None


def count_at_end(text: str) -> int | None:
    """Return the count that a text ends with, or None."""
    found = re.search("[0-9]{1,9}$", text)
    return int(found[0]) if found else None


def sticker(letters: str, count: int) -> str:
    """Return the sticker of a count, in the usual form."""
    return f"{letters} {count:0{_DIGITS}}"


def highest(stickers: Iterable[str], letters: str) -> int:
    """Return the highest count on stickers with these letters, whatever their case; 0 when there is none."""
    wanted = letters.casefold()
    return max((read[1] for one in stickers if (read := letters_and_count(one)) and read[0] == wanted), default=0)


def alike(stickers: Iterable[str]) -> list[str]:
    """Return each sticker that another one before it reads like."""
    seen: set[Number] = set()
    twice = []
    for one in stickers:
        read = letters_and_count(one)
        if read in seen:
            twice.append(one)
        elif read is not None:
            seen.add(read)
    return twice


def named_in(text: str, where: str, most: int) -> tuple[str, ...]:
    """Return the stickers named in a text such as ``OV 0147-0150, ov 162``, in their order and usual form.

    A count alone stays one: whose letters it has is for whoever knows the stickers to say.

    Parameters
    ----------
    text
        Stickers and ranges of them, between commas.
    where
        The field.
    most
        How many a range may be.

    Raises
    ------
    BadInput
        For a part that is no sticker, or a range that runs backwards or is too long.
    """
    parts = (part.strip() for part in text.split(","))
    return tuple(one for part in parts if part for one in _ranged(part, where, most))


def _ranged(part: str, where: str, most: int) -> list[str]:
    found = _RANGE.fullmatch(part)
    if found is None:
        raise bad(where, part, "stickers such as OV 0147, OV 0150-0155")
    first, last = int(found["first"]), int(found["last"] or found["first"])
    if not first <= last < first + most:
        raise bad(where, part, f"a range that rises, of at most {most} specimens")
    letters = (found["letters"] or "").upper()
    return [sticker(letters, count).strip() for count in range(first, last + 1)]


def meant(text: str, known: Iterable[str], own: str = "") -> list[str]:
    """Return the known stickers that a text may mean, in order, whatever the case of its letters and its zeros.

    A count alone means `own` letters, unless only other letters have it.
    """
    found = _RANGE.fullmatch(text.strip())
    if found is None or found["last"]:
        return []
    count, letters = int(found["first"]), (found["letters"] or "").casefold()
    near = {one: read[0] for one in known if (read := letters_and_count(one)) and read[1] == count}
    wanted = letters or own.casefold()
    exact = [one for one, begins in near.items() if begins == wanted]
    return sorted(exact or ([] if letters else near))
