"""Colour Index names and numbers and CAS numbers as labels print them; pure functions on text."""

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass

_USES = {"pigment": "P", "natural": "N", "basic": "B", "solvent": "S", "direct": "D", "acid": "A"}
_HUES = {
    "white": "W", "yellow": "Y", "orange": "O", "red": "R", "violet": "V", "blue": "B", "green": "G",
    "brown": "Br", "black": "Bk", "metal": "M", "br": "Br", "bk": "Bk", "0": "O",
    "weiss": "W", "gelb": "Y", "rot": "R", "violett": "V", "blau": "B", "grün": "G", "braun": "Br", "schwarz": "Bk",
}  # fmt: skip
_GAP = r"[\s.\-_]*"
_NAME = re.compile(
    rf"(?:c\.?\s?i\.?[\s.]?)?(?P<use>{'|'.join(_USES)}|[pnbsda]){_GAP}"
    rf"(?P<hue>{'|'.join(sorted((hue for hue in _HUES if len(hue) > 1), key=len, reverse=True))}|[wyorvbgm0]){_GAP}"
    rf"(?P<serial>[0-9o]{{1,4}})(?:\s?[:./\-]\s?(?P<suffix>[1-9]))?(?![0-9a-z])",
    re.ASCII,
)
_BETWEEN = re.compile(r"(?:[\s,;+&/|*=·•\-.]|(?:and|und|et|e|ed|y|with|mit)\b)+")
_BEFORE = re.compile(r"(?:contains|pigments?|pigmente|pigmenti|pigmentos?)\s*:\s*")
_PRINTED_NUMBER = re.compile(
    r"(?:c\.?\s?i\.?[\s.]*)?(?:no\.?\s*)?(?P<number>[1-9]\d{4,5}(?::[1-9])?)(?![0-9a-z])", re.ASCII
)
_BRACKETS = re.compile(r"\(([^()]*)\)|\[([^\[\]]*)\]")
_CAS = re.compile(r"([1-9]\d{1,6})-(\d\d)-(\d)", re.ASCII)
_NUMBER = re.compile(r"\d{5,6}(:[1-9])?", re.ASCII)

_LONGEST = 400
"""Letters of an entry beyond which it is no list of names."""

BLOCKS = (
    (10, 10, "nitroso"),
    (11, 19, "monoazo"),
    (20, 29, "disazo"),
    (42, 44, "triarylmethane"),
    (45, 45, "xanthene"),
    (47, 47, "quinoline"),
    (48, 48, "methine"),
    (50, 50, "azine"),
    (51, 51, "oxazine"),
    (56, 56, "aminoketone"),
    (58, 72, "anthraquinone"),
    (73, 73, "indigoid"),
    (74, 74, "phthalocyanine"),
    (75, 75, "natural"),
    (77, 77, "inorganic"),
)
"""Chemical blocks of constitution numbers, by their first two digits.

As in table 3.1 of *Understanding Coatings Raw Materials*, chapter *Nomenclature: the Colour Index system*, read at
kraska.biz; the block of natural dyes is from memory. Blocks that no paint is made of are left out.
"""
BLOCKS_SOURCE = "seen in a public page: Understanding Coatings Raw Materials, table 3.1"
"""Where the blocks are from."""


@dataclass(frozen=True, slots=True)
class Printed:
    """What one entry of a label says: index names in normal form, constitution numbers, and words in brackets."""

    names: tuple[str, ...] = ()
    numbers: tuple[str, ...] = ()
    words: tuple[str, ...] = ()


def printed(text: str) -> Printed | None:
    """Return what stands in an entry of one or several index names, or None if a part of it is none of them.

    Several names are parted by commas, ``+``, ``/``, ``&`` or *and*; a constitution number or words in brackets may
    follow each: ``PB29 + PV19``, ``PB29/PV19``, ``PB29 (77007)``, ``PB15.3 (copper phthalocyanine)``.
    """
    plain = _folded(text)
    if len(plain) > _LONGEST:
        return None
    names: list[str] = []
    numbers: list[str] = []
    words: list[str] = []
    for found in _BRACKETS.finditer(plain):
        inner = found[1] if found[1] is not None else found[2]
        read = _row(inner)
        if read is None:
            words.append(inner.strip())
        else:
            names, numbers = [*names, *read.names], [*numbers, *read.numbers]
    outer = _row(_BRACKETS.sub(" ", _BEFORE.sub("", plain, count=1)))
    if outer is None:
        return None
    names, numbers = [*outer.names, *names], [*outer.numbers, *numbers]
    return Printed(*(tuple(dict.fromkeys(part)) for part in (names, numbers, filter(None, words))))


def _row(plain: str) -> Printed | None:
    """Read index names and constitution numbers that stand in a row; None where something else is between them."""
    names: list[str] = []
    numbers: list[str] = []
    at = 0
    while at < len(plain):
        if name := _NAME.match(plain, at):
            if (normal := _normal(name)) is None:
                return None
            names.append(normal)
        elif name := _PRINTED_NUMBER.match(plain, at):
            numbers.append(name["number"])
        elif not (name := _BETWEEN.match(plain, at)):
            return None
        at = name.end()
    return Printed(tuple(names), tuple(numbers)) if names or numbers else None


def _folded(text: str) -> str:
    return unicodedata.normalize("NFKC", text).strip().casefold()


def index_name(text: str) -> str | None:
    """Return the normal form of a Colour Index generic name, or None if `text` is not one.

    Use, hue and serial without blanks, with a colon suffix where there is one: ``P.G. 18``, ``PG-18`` and
    ``Pigment Green 18`` are ``PG18``; ``PB 15 : 3``, ``PB15.3``, ``PB 15/3`` and ``PB15-3`` are ``PB15:3``. A zero
    in the place of the letter O and the letter in the place of a zero are read as meant: ``P073`` is ``PO73``,
    ``PO2O`` is ``PO20``.
    """
    found = _NAME.fullmatch(_folded(text))
    return _normal(found) if found else None


def _normal(found: re.Match[str]) -> str | None:
    use, hue = found["use"], found["hue"]
    serial = int(found["serial"].replace("o", "0"))
    suffix = f":{found['suffix']}" if found["suffix"] else ""
    if not 0 < serial < 1000:
        return None
    return f"{_USES.get(use, use.upper())}{_HUES.get(hue, hue.upper())}{serial}{suffix}"


def compared_as(entries: Iterable[str]) -> tuple[str, ...]:
    """Return the names that pigments are compared by: each once, in normal form; what has none stays as printed.

    An entry that holds several names, such as ``PB29 + PV19``, counts as those names.
    """
    return tuple(dict.fromkeys(name for entry in entries for name in names_in(entry) or (entry,)))


def names_in(entry: str) -> tuple[str, ...]:
    """Return the index names in normal form in an entry of a label; none where a part of it cannot be read."""
    found = printed(entry)
    return found.names if found else ()


def base_name(name: str) -> str:
    """Return a normal form without its colon suffix: ``PB15:3`` is a kind of ``PB15``."""
    return name.partition(":")[0]


def family(number: str) -> str | None:
    """Return the chemical block a constitution number lies in, or None where no block is known.

    Quinacridones (73900, 73915) lie in the indigoid block (from memory).
    """
    if not _NUMBER.fullmatch(number.strip()):
        return None
    start = int(number.strip()[:2])
    return next((block for first, last, block in BLOCKS if first <= start <= last), None)


def is_near(number: str, other: str) -> bool:
    """Say whether two numbers differ by one digit or by two neighbours that changed places, as misprints do."""
    if len(number) != len(other) or number == other:
        return False
    apart = [place for place, pair in enumerate(zip(number, other, strict=True)) if pair[0] != pair[1]]
    if len(apart) == 1:
        return True
    first, last = apart[0], apart[-1]
    return len(apart) == 2 and last == first + 1 and number[first : last + 1] == other[first : last + 1][::-1]


def cas_is_valid(text: str) -> bool:
    """Say whether `text` is a CAS number whose check digit is right.

    The last digit is the sum of the others, each times its position counted from the right, modulo 10.
    """
    found = _CAS.fullmatch(text.strip())
    if found is None:
        return False
    digits = (found[1] + found[2])[::-1]
    return sum(place * int(digit) for place, digit in enumerate(digits, 1)) % 10 == int(found[3])
