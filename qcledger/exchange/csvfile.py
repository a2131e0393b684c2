"""CSV files as RFC 4180 says, in UTF-8: read with the line each row stands on, written the same everywhere.

A CSV file is read line by line: it may be somebody else's, and made to fill it.
"""

import csv
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from qcledger.errors import BadInput, at, bad
from qcledger.files import digest_of, in_words, open_plain, read_plain

MAX_BYTES = 64_000_000
"""Largest spreadsheet, map or manifest that is read."""
MAX_TABLE = 4_000_000_000
"""Largest table of an exchange folder, such as an export of millions of entries writes."""
LONGEST_LINE = 4_000_000
"""Most bytes of one line; a cell may hold the body of an entry, and that a whole rubric."""
MOST_EMPTY = 100_000
"""Most lines without a filled cell."""

# The limit is the csv module's, for the whole process.
csv.field_size_limit(LONGEST_LINE)

CAN_BE_READ = "a file that can be read"
_UTF8_MARK = b"\xef\xbb\xbf"
_QUOTED = frozenset(',"\r\n')
_ENDED_BY_RETURN = re.compile(r"[^\r]*(?:\r\n?|$)")


@dataclass(frozen=True, slots=True)
class CsvLine:
    """One row of a file, the line it begins on and which row it is, both counted from 1."""

    number: int
    cells: tuple[str, ...]
    row: int


def read_bytes(path: Path) -> bytes:
    """Return the bytes of a file; raises BadInput when it is missing, unreadable or larger than `MAX_BYTES`."""
    return read_plain(path, f"{CAN_BE_READ}, of at most {in_words(MAX_BYTES)}", most=MAX_BYTES)


def fingerprint(path: Path, most: int = MAX_BYTES) -> str:
    """Return the SHA-256 of a file's bytes; raises BadInput when it is missing, unreadable or larger than `most`."""
    return digest_of(path, f"{CAN_BE_READ}, of at most {in_words(most)}", most=most)


def read_lines(path: Path, most: int = MAX_BYTES) -> Iterator[str]:
    """Yield the lines of a UTF-8 file with their ends.

    Raises
    ------
    BadInput
        When the file is missing, unreadable or larger than `most` bytes, naming the line that is longer than
        `LONGEST_LINE` or is not UTF-8.
    """
    with open_plain(path, f"{CAN_BE_READ}, of at most {in_words(most)}", most=most) as stream:
        yield from text_lines(iter(lambda: stream.readline(LONGEST_LINE + 1), b""), path.name)


def text_lines(raw_lines: Iterable[bytes], where: str) -> Iterator[str]:
    """Yield lines of bytes as text; those that end in a lone carriage return, as old files do, one by one."""
    for number, raw in enumerate(raw_lines, 1):
        if len(raw) > LONGEST_LINE:
            raise bad(at(where, number), "a longer line", f"lines of at most {in_words(LONGEST_LINE)}")
        text = _decoded(raw.removeprefix(_UTF8_MARK) if number == 1 else raw, where, number)
        if "\r" in text.removesuffix("\n").removesuffix("\r"):
            yield from filter(None, _ENDED_BY_RETURN.findall(text))
        elif text:
            yield text


def _decoded(raw: bytes, where: str, number: int) -> str:
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError as error:
        allowed = "UTF-8 text (save the file again as CSV UTF-8)"
        raise bad(at(where, number), f"byte 0x{raw[error.start]:02X}", allowed) from None


def decode(data: bytes, where: str) -> str:
    """Return UTF-8 `data` as text, without the mark at its start; raises BadInput naming a line that is none."""
    parts = data.removeprefix(_UTF8_MARK).split(b"\n")
    return "\n".join(_decoded(part, where, number) for number, part in enumerate(parts, 1))


def lines(text: Iterable[str], where: str, delimiter: str = ",") -> Iterator[CsvLine]:
    """Yield the rows of the lines of a CSV file, without empty ones.

    Raises
    ------
    BadInput
        Naming the line where quotes or line ends are not as RFC 4180 says, or too many lines are empty.
    """
    reader = csv.reader(text, strict=True, delimiter=delimiter)
    begins, empty = 1, 0
    try:
        for row, cells in enumerate(reader, 1):
            if any(cells):
                yield CsvLine(begins, tuple(cells), row)
            else:
                empty += 1
                if empty > MOST_EMPTY:
                    raise bad(at(where, begins), "another empty line", f"at most {MOST_EMPTY} empty lines")
            begins = reader.line_num + 1
    except csv.Error as error:
        raise bad(at(where, begins), str(error), "CSV, with quotes in pairs around texts") from None


def named_rows(text: Iterable[str], where: str, known: Sequence[str]) -> Iterator[tuple[int, dict[str, str]]]:
    """Yield the rows of the lines of a CSV file as cells by column name, each with its line.

    Parameters
    ----------
    text
        The file's lines.
    where
        The file's name, for messages.
    known
        The columns that may stand in the header.

    Raises
    ------
    BadInput
        For a header that is missing or names another column, at once; after the last row for each that is longer or
        shorter than it.
    """
    rows = lines(text, where)
    header = _header(next(rows, None), where, known)
    uneven: list[BadInput] = []
    for row in rows:
        if len(row.cells) != len(header):
            uneven.append(bad(at(where, row.number), f"{len(row.cells)} cells", f"{len(header)} cells"))
        elif not uneven:
            yield row.number, dict(zip(header, row.cells, strict=True))
    if uneven:
        raise BadInput(problem for error in uneven for problem in error.problems)


def _header(first: CsvLine | None, where: str, known: Sequence[str]) -> tuple[str, ...]:
    allowed = "a header with columns named " + ", ".join(known)
    if first is None:
        raise bad(at(where, 1), "", allowed)
    header = first.cells
    for place, name in enumerate(header):
        if name not in known or name in header[:place]:
            raise bad(at(where, first.number), f"column {name}", allowed)
    return header


def line(cells: Iterable[str]) -> str:
    """Return one row of a CSV file, ended by a line feed.

    The csv module would leave a lone carriage return without quotes and cut the row there when it reads it again.
    """
    return ",".join(map(_quoted, cells)) + "\n"


def _quoted(cell: str) -> str:
    return '"' + cell.replace('"', '""') + '"' if _QUOTED & set(cell) else cell
