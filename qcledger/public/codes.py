"""Batch codes and names in the form in which two that people type are equal; the page's script does the same."""

import re
import unicodedata


def plain_code(text: str) -> str:
    """Return a code in small letters and digits, without marks and leading noughts: ``Q-04471`` is ``q4471``."""
    letters = re.sub(r"[^a-z0-9]", "", plain_words(text))
    return re.sub(r"(?<![0-9])0+(?=[0-9])", "", letters)


def digits_of(text: str) -> str:
    """Return the digits of a code without leading noughts: of ``Q 4471``, ``4471``."""
    return re.sub(r"[^0-9]", "", text).lstrip("0")


def plain_words(text: str) -> str:
    """Return a text in small letters without accents."""
    parts = unicodedata.normalize("NFKD", text.casefold())
    return "".join(one for one in parts if not unicodedata.combining(one))
