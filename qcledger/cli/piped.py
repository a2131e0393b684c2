"""A spreadsheet that another program hands over on stdin, as a file for as long as a command needs it."""

import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from qcledger.errors import bad

STDIN: Final = "-"
"""Stands where a file is asked for, and means stdin."""
_NAME: Final = "stdin"
_ZIP: Final = b"PK\x03\x04"
"""Begins every XLSX and ODS file; no text of a spreadsheet does."""
_COMPOUND: Final = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
"""Begins every XLS file since 1997, a compound file ([MS-CFB] 2.2 [mem])."""
_ODS: Final = b"mimetypeapplication/vnd.oasis.opendocument.spreadsheet"
"""At byte 30 of an ODS file: its first part has that name and is not packed (OpenDocument, part 2, 3.3 [mem])."""


@contextmanager
def plain_file(source: Path) -> Iterator[Path]:
    """Yield `source`, or for ``-`` a file with what came on stdin, which is gone afterwards.

    Raises
    ------
    BadInput
        When more came than a spreadsheet may have.
    """
    if str(source) != STDIN:
        yield source
        return
    from qcledger.exchange.csvfile import MAX_BYTES
    from qcledger.files import in_words

    content = sys.stdin.buffer.read(MAX_BYTES + 1)
    if len(content) > MAX_BYTES:
        raise bad(STDIN, f"more than {in_words(MAX_BYTES)}", f"a spreadsheet of at most {in_words(MAX_BYTES)}")
    with tempfile.TemporaryDirectory(prefix="qcledger-") as folder:
        place = Path(folder) / f"{_NAME}{_ending(content)}"
        place.write_bytes(content)
        yield place


def _ending(content: bytes) -> str:
    """Return how the name of a file with this content ends."""
    if content.startswith(_COMPOUND):
        return ".xls"
    if not content.startswith(_ZIP):
        return ".csv"
    return ".ods" if content[30:].startswith(_ODS) else ".xlsx"


def is_piped(place: Path) -> bool:
    """Say whether a file that `plain_file` gave holds what came on stdin."""
    return place.stem == _NAME and place.parent.name.startswith("qcledger-")
