"""Whether an XLSX file is small enough to be read: it is looked through piece by piece, before anything takes it in.

Such a file is a ZIP archive of XML, and a small one can unpack to what fills the memory: a sheet of blanks, one long
cell, millions of cells in a row, or markup that means nothing. What is counted here is what a reader would keep.
"""

import zipfile
from io import BytesIO
from typing import IO, Final
from xml.parsers import expat

from qcledger.errors import BadInput, bad
from qcledger.files import in_words

MAX_ROWS: Final = 200_000
MOST_ACROSS: Final = 16_384
"""Most cells in a row, filled or not; as many as spreadsheet programs have columns."""
MOST_CELLS: Final = 1_000_000
MAX_UNPACKED = 128_000_000
"""Most bytes an XLSX file may unpack to."""
LONGEST_TEXT: Final = 1_000_000
"""Most characters between two tags, and most bytes of a tag; spreadsheet programs stop at 32,767."""
MOST_TEXTS: Final = 500_000
"""Most different texts of a file."""
MOST_PARTS: Final = 5_000
"""Most files in the archive."""
MOST_KEPT: Final = 300_000
"""Most elements that a reader keeps at once: those of the row or text at work, and all that belong to none."""
MOST_TAGS: Final = 4_000_000
"""Most elements of a part: those of as many cells as may be, and as many again."""
MOST_LOOSE: Final = 8_000_000
"""Most characters outside rows and texts: blanks that lay the markup out."""
_PIECE: Final = 256 * 1024
_PART: Final = b"PK\x01\x02"
"""Begins what the archive says of each file in it."""
_COUNTED: Final = {"row": MAX_ROWS, "c": MOST_CELLS, "si": MOST_TEXTS}
_SAID: Final = {"row": "rows", "c": "cells", "si": "texts"}
_ENDS: Final = frozenset("wci")
"""How names that count end, whatever their prefix."""
_LET_GO: Final = frozenset({"row", "si"})
"""What a reader lets go of at its end."""


def refuse_oversized(name: str, content: bytes) -> None:
    """Refuse a file that is no ZIP archive, or one that holds more than a spreadsheet needs.

    Raises
    ------
    BadInput
        Naming what it holds too much of.
    """
    if content.count(_PART) > MOST_PARTS:
        raise bad(name, "an archive of more files", f"at most {MOST_PARTS} files inside")
    try:
        with zipfile.ZipFile(BytesIO(content)) as archive:
            _refuse_unpacked(name, sum(part.file_size for part in archive.infolist()))
            for part in archive.infolist():
                if part.filename.endswith((".xml", ".rels")):
                    with archive.open(part) as stream:
                        _Look(name, part.filename).through(stream)
    except BadInput:
        raise
    except (zipfile.BadZipFile, ValueError):
        raise bad(name, "a file that is not XLSX", "an XLSX file") from None
    except Exception as error:  # ZIP readers raise nearly everything on hostile bytes
        raise bad(name, "a file that is damaged, or no spreadsheet inside", "an XLSX file") from error


def _refuse_unpacked(name: str, unpacked: int) -> None:
    if unpacked > MAX_UNPACKED:
        raise bad(name, f"{in_words(unpacked)} when unpacked", f"at most {in_words(MAX_UNPACKED)}")


class _Look:
    """Counts through the XML of one part; its handlers are called for every tag, so they do as little as they can."""

    def __init__(self, name: str, part: str) -> None:
        self._where = f"{name}, {part.rpartition('/')[2]}"
        self._counts = dict.fromkeys(_COUNTED, 0)
        self._kept = self._text = self._loose = self._across = self._tags = 0
        self._before: list[tuple[int, int]] = []
        self._parser = expat.ParserCreate()
        self._parser.ordered_attributes = True  # they are not looked at, and lists cost less
        self._parser.StartElementHandler = self._begin
        self._parser.EndElementHandler = self._end
        self._parser.CharacterDataHandler = self._more_text
        self._parser.StartDoctypeDeclHandler = self._doctype

    def through(self, stream: IO[bytes]) -> None:
        """Look at all of it; what is no XML is left to the reader to refuse."""
        fed = 0
        try:
            while piece := stream.read(_PIECE):
                self._parser.Parse(piece)
                fed += len(piece)
                if fed - self._parser.CurrentByteIndex > LONGEST_TEXT + _PIECE:
                    raise self._refuse("a longer tag", f"tags of at most {LONGEST_TEXT} bytes")
        except expat.ExpatError:
            return

    def _refuse(self, found: str, allowed: str) -> BadInput:
        return bad(self._where, found, allowed)

    def _begin(self, name: str, _: list[str]) -> None:
        self._text = 0
        self._kept += 1
        self._tags += 1
        if self._kept > MOST_KEPT or self._tags > MOST_TAGS:
            raise self._refuse("more markup", "what a spreadsheet program writes")
        if name[-1] in _ENDS:
            self._count(name.rpartition(":")[2])

    def _count(self, tag: str) -> None:
        if tag not in _COUNTED:
            return
        self._counts[tag] += 1
        if self._counts[tag] > _COUNTED[tag]:
            raise self._refuse(f"more {_SAID[tag]}", f"at most {_COUNTED[tag]} {_SAID[tag]}")
        if tag in _LET_GO:
            self._before.append((self._kept - 1, self._across))
            self._across = 0
        else:
            self._across += 1
            if self._across > MOST_ACROSS:
                raise self._refuse("a longer row", f"at most {MOST_ACROSS} cells in a row")

    def _end(self, name: str) -> None:
        self._text = 0
        if name[-1] in _ENDS and name.rpartition(":")[2] in _LET_GO:
            self._kept, self._across = self._before.pop()

    def _more_text(self, text: str) -> None:
        self._text += len(text)
        if not self._before:
            self._loose += len(text)
        if self._text > LONGEST_TEXT or self._loose > MOST_LOOSE:
            raise self._refuse("a longer text", f"texts of at most {LONGEST_TEXT} characters")

    def _doctype(self, *_: object) -> None:
        raise self._refuse("a document type", "XML without one")
