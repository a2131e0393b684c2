"""What is typed into a form, read field by field: names, lists, words of a closed list; `figures` reads the others.

Each function raises BadInput with the field's name as the place, so that a form can say it beside the field.
"""

import re
from collections.abc import Callable, Iterable, Mapping
from typing import TypeVar

from qcledger.errors import BadInput, bad
from qcledger.text import one_line

T = TypeVar("T")
D = TypeVar("D")
Word = TypeVar("Word", bound=str)


def word(text: str, where: str, words: Iterable[Word]) -> Word:
    """Return the word of a list that a text begins, letter case aside; the whole word beats a beginning."""
    words, wanted = tuple(words), one_line(text).casefold()
    found = [one for one in words if one.casefold() == wanted] or [
        one for one in words if wanted and one.casefold().startswith(wanted)
    ]
    if len(found) != 1:
        raise bad(where, text, ", ".join(found or words))
    return found[0]


def parts(text: str) -> tuple[str, ...]:
    """Return the parts of a list, parted by commas or semicolons."""
    return tuple(part for part in (one_line(part) for part in re.split(r"[,;]", text)) if part)


def names(text: str, where: str) -> tuple[str, ...]:
    """Return the parts of a list, each of which must be a name of one line."""
    return tuple(name(part, where) for part in parts(text))


def name(text: str, where: str) -> str:
    """Return a name of one line that is not empty."""
    found = one_line(text)
    if not 1 <= len(found) <= 200:
        raise bad(where, found, "1 to 200 characters")
    return found


class FormReader:
    """Reads a whole form and keeps every problem, so that each can stand beside its field.

    Parameters
    ----------
    values
        What was typed, by field, in the order of the form.
    """

    def __init__(self, values: Mapping[str, str]) -> None:
        self._values = values
        self._refused: list[BadInput] = []

    def text(self, field: str) -> str:
        """Return what was typed into a field."""
        return self._values.get(field, "")

    def read(self, field: str, read: Callable[[str, str], T], *, default: D) -> T | D:
        """Return what `read` makes of a field's text and name; `default` when it is empty or refused."""
        if not self.text(field).strip():
            return default
        return self.must(field, read, default=default)

    def must(self, field: str, read: Callable[[str, str], T], *, default: D) -> T | D:
        """Return what `read` makes of a field that may not be empty; `default` when it is refused."""
        try:
            return read(self.text(field), field)
        except BadInput as refused:
            self._refused.append(refused)
            return default

    def done(self) -> None:
        """Raise what was refused, with a problem for each field, in the order of the form."""
        if self._refused:
            found = [problem for refused in self._refused for problem in refused.problems]
            places = {field: place for place, field in enumerate(self._values)}
            raise BadInput(sorted(found, key=lambda problem: places.get(problem.where, len(places))))
