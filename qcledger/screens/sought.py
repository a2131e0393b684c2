"""Words that are to go, and whether they stand in a draft, in a save, or in a file that cannot be read."""

import json
import os
import re
from collections.abc import Collection, Iterator, Mapping
from pathlib import Path
from typing import Any, Final

from qcledger.text import one_line

_BEFORE_VALUE: Final = {"parcel": 2, "label": 1}
"""Words before what was typed, in each line of a draft that is no JSON, by the first word of its name."""
_ESCAPED: Final = re.compile(r"\\+(?:u([0-9a-fA-F]{4})|([nrt])|[bf])")
"""A character as JSON writes it, in a text inside of a text too."""


class Sought:
    """What is looked for beside the ledger.

    Parameters
    ----------
    texts
        Words, letter case and line breaks aside.
    rows
        Ids of the rows whose notes go as a whole. With them a draft named after one is meant, and a text counts only
        where it is all that was typed in a field; without them a text counts wherever it stands.
    """

    def __init__(self, texts: Collection[str], rows: Collection[str] = ()) -> None:
        self._texts = [_plain(text) for text in texts]
        self._rows = frozenset(rows)

    def in_draft(self, name: str, text: str) -> bool:
        """Say whether a draft of this name is to go; the names of its fields are nobody's words."""
        return not self._rows.isdisjoint(name.split()) or self._among(_typed(name, text))

    def in_save(self, save: Mapping[str, Any]) -> bool:
        """Say whether a save holds a text: in a row of it, or as the name of a picture."""
        said = list(_texts_in(save))
        values = [value for text in said for value in _texts_in(decoded(text) or text)]
        return self._among([*values, *(Path(value).name for value in values if os.sep in value)])

    def in_raw(self, raw: bytes) -> bool:
        """Say whether a text, or the id of a row, may stand in what cannot be read."""
        said = raw.decode("utf-8", "replace")
        read = _ESCAPED.sub(lambda found: chr(int(found[1], 16)) if found[1] else " " * bool(found[2]), said)
        whole = read.encode("utf-16", "surrogatepass").decode("utf-16", "replace").replace("\\", "")
        looked_at = [_plain(said), _plain(whole), _plain(said.replace("\\", ""))]
        texts = {*self._texts, *(text.replace("\\", "") for text in self._texts), *self._rows}
        return any(text in one for text in texts for one in looked_at)

    def _among(self, values: Collection[str]) -> bool:
        plain = [_plain(value) for value in values]
        if self._rows:
            return any(text in plain for text in self._texts)
        return any(text in one for text in self._texts for one in plain)


def decoded(text: str) -> dict[str, Any] | None:
    """Return the fields that a text holds as JSON; None for any other text, however it is damaged."""
    try:
        value = json.loads(text)
    except (ValueError, RecursionError):
        return None
    return value if isinstance(value, dict) else None


def _typed(name: str, text: str) -> list[str]:
    """Return what was typed in the fields of a draft."""
    fields = decoded(text)
    if fields is not None and all(isinstance(value, str) for value in fields.values()):
        return list(fields.values())
    words = _BEFORE_VALUE.get(name.partition(" ")[0])
    if fields is None and words is not None:
        return [line.split(" ", words)[-1] for line in text.split("\n")]
    return [*_texts_in(fields), text]


def _texts_in(value: object) -> Iterator[str]:
    """Yield every text in a value as JSON holds it, however deep; names of fields are none."""
    waiting = [value]
    while waiting:
        one = waiting.pop()
        if isinstance(one, str):
            yield one
        elif isinstance(one, dict | list):
            waiting += one.values() if isinstance(one, dict) else one


def _plain(text: str) -> str:
    return one_line(text).casefold()
