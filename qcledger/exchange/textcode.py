"""Which encoding a spreadsheet saved as text is in: told by its first bytes, by what can be read, or guessed."""

import codecs
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Final

from qcledger.errors import bad
from qcledger.exchange.csvfile import CAN_BE_READ, LONGEST_LINE, MAX_BYTES, read_bytes, read_lines
from qcledger.files import in_words, open_plain

ENCODINGS: Final[Mapping[str, str]] = {
    "utf-8": "utf-8-sig", "utf-16": "utf-16", "utf-16-le": "utf-16-le", "utf-16-be": "utf-16-be",
    "cp1252": "cp1252", "cp1250": "cp1250", "mac-roman": "mac-roman", "latin-1": "latin-1",
}  # fmt: skip
"""Encodings a map may name, by what Python calls each."""

_MARKS: Final[Mapping[bytes, str]] = {codecs.BOM_UTF16_LE: "utf-16", codecs.BOM_UTF16_BE: "utf-16"}
_UNUSED: Final = frozenset(b"\x81\x8d\x8f\x90\x9d")
"""Bytes that cp1252 gives no character."""
_PIECE: Final = 1 << 20


def text_of(path: Path, encoding: str | None = None) -> tuple[Iterator[str], str]:
    """Return the lines of a text file with their ends, and the encoding they are read in.

    Parameters
    ----------
    path
        A file of at most `MAX_BYTES`.
    encoding
        A key of `ENCODINGS`; guessed if None.

    Raises
    ------
    BadInput
        When the file cannot be read, holds a byte that the encoding does not have, or a line that is too long.
    """
    name = encoding or guessed(path)
    return (read_lines(path) if name == "utf-8" else _decoded(path, name)), name


def guessed(path: Path) -> str:
    """Return the encoding a file is in: UTF-16 and UTF-8 show themselves, what is neither is taken as cp1252.

    Latin-1 where a byte stands that cp1252 has no character for; the two differ in bytes 0x80 to 0x9F alone.
    """
    if _is_utf8(path):
        return "utf-8"
    content = read_bytes(path)
    if content[:2] in _MARKS:
        return _MARKS[content[:2]]
    if b"\0" in content[:200]:
        return "utf-16-le" if content[1:2] == b"\0" else "utf-16-be"
    return "latin-1" if _UNUSED & set(content) else "cp1252"


def _is_utf8(path: Path) -> bool:
    """Say whether all of a file is UTF-8, or its first line too long to be looked at."""
    decoder = codecs.getincrementaldecoder("utf-8")()
    with open_plain(path, f"{CAN_BE_READ}, of at most {in_words(MAX_BYTES)}", most=MAX_BYTES) as stream:
        try:
            while piece := stream.read(_PIECE):
                if b"\0" in piece:
                    return not piece.startswith(tuple(_MARKS)) and piece[:2].count(0) == 0
                decoder.decode(piece)
            decoder.decode(b"", final=True)
        except UnicodeDecodeError:
            return False
    return True


def _decoded(path: Path, name: str) -> Iterator[str]:
    try:
        text = read_bytes(path).decode(ENCODINGS[name])
    except UnicodeDecodeError as error:
        found = f"byte 0x{error.object[error.start]:02X} at place {error.start + 1}"
        raise bad(path.name, found, f"text in {name}, or another encoding in the map") from None
    for line in text.splitlines(keepends=True) if "\x0b" not in text else text.split("\n"):
        if len(line) > LONGEST_LINE:
            raise bad(path.name, "a longer line", f"lines of at most {in_words(LONGEST_LINE)}")
        yield line
