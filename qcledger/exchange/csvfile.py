"""CSV files as RFC 4180 says, in UTF-8: read with the line each row stands on, written the same everywhere."""

import csv
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from io import StringIO
from pathlib import Path

from qcledger.errors import BadInput, at, bad

MAX_BYTES = 256 * 1024 * 1024
"""Largest file that is read."""

# A cell may hold the body of an entry, and that a whole rubric. The limit is the csv module's, for the whole process.
csv.field_size_limit(16 * 1024 * 1024)

_UTF8_MARK = b"\xef\xbb\xbf"
_QUOTED = frozenset(',"\r\n')


@dataclass(frozen=True, slots=True)
class Line:
    """One row of a file and the line it begins on, counted from 1."""

    number: int
    cells: tuple[str, ...]


def read_bytes(path: Path) -> bytes:
    """Return the bytes of a file.

    Raises
    ------
    BadInput
        When it is missing, unreadable or larger than `MAX_BYTES`.
    """
    try:
        size = path.stat().st_size
        if size > MAX_BYTES:
            raise bad(path.name, f"{size} bytes", f"at most {MAX_BYTES} bytes")
        return path.read_bytes()
    except OSError as error:
        raise bad(str(path), (error.strerror or "nothing").lower(), "a file that can be read") from error


def decode(data: bytes, where: str) -> str:
    """Return UTF-8 `data` as text, with or without a mark at its start.

    Raises
    ------
    BadInput
        Naming the line of the first byte that is not UTF-8.
    """
    data = data.removeprefix(_UTF8_MARK)
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        allowed = "UTF-8 text (save the file again as CSV UTF-8)"
        raise bad(at(where, line), f"byte 0x{data[error.start]:02X}", allowed) from None


def lines(text: str, where: str, delimiter: str = ",") -> Iterator[Line]:
    """Yield the rows of CSV `text`, without empty lines.

    Raises
    ------
    BadInput
        Naming the line where quotes or line ends are not as RFC 4180 says.
    """
    reader = csv.reader(StringIO(text, newline=""), strict=True, delimiter=delimiter)
    begins = 1
    try:
        for cells in reader:
            if any(cells):
                yield Line(begins, tuple(cells))
            begins = reader.line_num + 1
    except csv.Error as error:
        raise bad(at(where, begins), str(error), "CSV, with quotes in pairs around texts") from None


def named_rows(text: str, where: str, known: Sequence[str]) -> list[tuple[int, dict[str, str]]]:
    """Return the rows of CSV `text` as cells by column name, each with its line.

    Parameters
    ----------
    text
        The whole file.
    where
        The file's name, for messages.
    known
        The columns that may stand in the header.

    Raises
    ------
    BadInput
        For a header that is missing or names another column, and for each row that is longer or shorter than it.
    """
    rows = list(lines(text, where))
    header = _header(rows, where, known)
    uneven = [row for row in rows[1:] if len(row.cells) != len(header)]
    if uneven:
        problems = (bad(at(where, row.number), f"{len(row.cells)} cells", f"{len(header)} cells") for row in uneven)
        raise BadInput(problem for error in problems for problem in error.problems)
    return [(row.number, dict(zip(header, row.cells, strict=True))) for row in rows[1:]]


def _header(rows: Sequence[Line], where: str, known: Sequence[str]) -> tuple[str, ...]:
    allowed = "a header with columns named " + ", ".join(known)
    if not rows:
        raise bad(at(where, 1), "", allowed)
    header = rows[0].cells
    for place, name in enumerate(header):
        if name not in known or name in header[:place]:
            raise bad(at(where, rows[0].number), f"column {name}", allowed)
    return header


def line(cells: Iterable[str]) -> str:
    """Return one row of a CSV file, ended by a line feed.

    The csv module would leave a lone carriage return without quotes and cut the row there when it reads it again.
    """
    return ",".join(map(_quoted, cells)) + "\n"


def _quoted(cell: str) -> str:
    return '"' + cell.replace('"', '""') + '"' if _QUOTED & set(cell) else cell
