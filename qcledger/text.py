"""The one cleaning function for texts that come in, the one for all that goes out, short forms, and equal names."""

import difflib
import re
import unicodedata
from collections.abc import Iterable, Mapping
from typing import Any

# Everything that can steer a terminal, hide text or reorder it: C0 and C1 controls, DEL, line and paragraph
# separators, bidirectional controls, zero-width and tag characters, lone surrogates, interlinear marks, BOM.
_STEERING = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200b\u200e\u200f\u2028-\u202e\u2060-\u2069\ufeff\ufff9-\ufffb"
    "\ud800-\udfff\U000e0000-\U000e007f]"
)
_SPACES = re.compile(r"[^\S\n]+")
_NEWLINES = re.compile("\r\n?|\u0085")
_COUNT = re.compile("(?:^|(?<=[^0-9 ]) ?)0*([0-9]+)$")


def clean(text: str) -> str:
    """Return `text` in NFC without characters that steer a terminal, with line feeds kept.

    Carriage returns become line feeds, runs of blanks one space; ends are trimmed. Cleaning twice changes nothing.
    """
    if _is_plain(text):
        return text.strip()
    plain = _STEERING.sub("", _NEWLINES.sub("\n", text))
    lines = (_SPACES.sub(" ", line).strip() for line in unicodedata.normalize("NFC", plain).split("\n"))
    return "\n".join(lines).strip()


def _is_plain(text: str) -> bool:
    """Say whether only the ends of a text may need cleaning, as of nearly all; imports ask it a million times."""
    return text.isascii() and text.isprintable() and "  " not in text


def harmless(text: str) -> str:
    """Return `text` without characters that steer a terminal; its blanks and lines stay as they were laid out.

    What comes in is cleaned; a ledger may hold what came in another way. So all that goes out passes here.
    """
    return _STEERING.sub("", _NEWLINES.sub("\n", text))


def harmless_in(value: Any) -> Any:
    """Return a value as JSON holds it with every text, the names of its fields too, made `harmless`."""
    if isinstance(value, str):
        return harmless(value)
    if isinstance(value, Mapping):
        return {harmless_in(name): harmless_in(one) for name, one in value.items()}
    if isinstance(value, list | tuple):
        return [harmless_in(one) for one in value]
    return value


def one_line(text: str) -> str:
    """Return cleaned `text` with its lines joined by single spaces."""
    plain = clean(text)
    return " ".join(line for line in plain.split("\n") if line) if "\n" in plain else plain


def same_name(text: str) -> str:
    """Return the form in which two spellings of one name are equal: case and blanks do not count."""
    return one_line(text).casefold()


def same_code(text: str) -> str:
    """Return the form in which two spellings of a code are equal, whatever its case, its blank and its zeros.

    ``OV 0147``, ``ov147`` and ``OV 147`` are one, and so are ``S09`` and ``s9``.
    """
    return _COUNT.sub(r"\1", same_name(text))


def near(name: str, names: Iterable[str]) -> list[str]:
    """Return at most three of `names` that look like `name`."""
    by_form = {same_name(other): other for other in names}
    return [by_form[form] for form in difflib.get_close_matches(same_name(name), by_form, n=3, cutoff=0.6)]


def shorten(text: str, width: int) -> str:
    """Return `text` cut to `width` characters, the last one an ellipsis when something was cut."""
    return text if len(text) <= width else text[: max(width - 1, 0)] + "…"


def steering(text: str) -> list[str]:
    """Return the characters that `clean` would leave out for good; line ends of other systems are none of them."""
    return [char for char in _STEERING.findall(text) if char not in "\r\x85"]


def steers(text: str) -> int | None:
    """Return where in `text` the first character stands that `clean` would remove, or None."""
    found = _STEERING.search(text)
    return found.start() if found else None
