"""Colour Index names and numbers and CAS numbers as labels print them; pure functions on text."""

import re
import unicodedata
from collections.abc import Iterable

_USES = {"pigment": "P", "natural": "N", "basic": "B", "solvent": "S", "direct": "D", "acid": "A"}
_HUES = {
    "white": "W", "yellow": "Y", "orange": "O", "red": "R", "violet": "V", "blue": "B", "green": "G",
    "brown": "Br", "black": "Bk", "metal": "M", "br": "Br", "bk": "Bk", "0": "O",
}  # fmt: skip
_GAP = r"[\s.\-_]*"
_NAME = re.compile(
    rf"(?:c\.?\s?i\.?[\s.]?)?(?P<use>{'|'.join(_USES)}|[pnbsda]){_GAP}"
    rf"(?P<hue>white|yellow|orange|red|violet|blue|green|brown|black|metal|br|bk|[wyorvbgm0]){_GAP}"
    rf"(?P<serial>[0-9o]{{1,4}})(?:\s?:\s?(?P<suffix>[1-9]))?",
    re.ASCII,
)
_CAS = re.compile(r"([1-9]\d{1,6})-(\d\d)-(\d)", re.ASCII)
_NUMBER = re.compile(r"\d{5,6}(:[1-9])?", re.ASCII)

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


def index_name(text: str) -> str | None:
    """Return the normal form of a Colour Index generic name, or None if `text` is not one.

    Use, hue and serial without blanks, with a colon suffix where there is one: ``P.G. 18``, ``PG-18`` and
    ``Pigment Green 18`` are ``PG18``; ``PB 15 : 3`` is ``PB15:3``. A zero in the place of the letter O and the
    letter in the place of a zero are read as meant: ``P073`` is ``PO73``, ``PO2O`` is ``PO20``.
    """
    found = _NAME.fullmatch(unicodedata.normalize("NFKC", text).strip().casefold())
    if found is None:
        return None
    use, hue = found["use"], found["hue"]
    serial = int(found["serial"].replace("o", "0"))
    suffix = f":{found['suffix']}" if found["suffix"] else ""
    if not 0 < serial < 1000:
        return None
    return f"{_USES.get(use, use.upper())}{_HUES.get(hue, hue.upper())}{serial}{suffix}"


def compared_as(printed: Iterable[str]) -> tuple[str, ...]:
    """Return the names that pigments are compared by: each once, in normal form; what has none stays as printed."""
    return tuple(dict.fromkeys(index_name(name) or name for name in printed))


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
