"""Reads somebody else's spreadsheet: text, XLSX or ODS, as its layout says."""

from dataclasses import replace
from pathlib import Path

from qcledger.exchange.grid import DELIMITERS, Cell
from qcledger.exchange.layout import PLAIN, Layout
from qcledger.exchange.shape import shaped
from qcledger.exchange.sheetfiles import grid_of
from qcledger.exchange.table import LeftOut, SheetRow, Spreadsheet

__all__ = ["DELIMITERS", "Cell", "LeftOut", "SheetRow", "Spreadsheet", "read"]


def read(
    path: Path,
    *,
    delimiter: str | None = None,
    sheet: str | None = None,
    header_line: int | None = None,
    layout: Layout = PLAIN,
) -> Spreadsheet:
    """Return the spreadsheet in a file.

    Parameters
    ----------
    path
        A file whose name ends in one of `sheetfiles.KINDS`.
    delimiter
        A key of `DELIMITERS`; guessed from the header if None. Only for text.
    sheet
        The sheet's name; the first one if None. Not for text.
    header_line
        The line of the header, from 1; the first line that is not empty if None.
    layout
        How the table lies in its file; what the parameters above say comes first.

    Raises
    ------
    BadInput
        When the file cannot be read as such, or its columns cannot be told apart.
    """
    layout = replace(
        layout,
        delimiter=delimiter or layout.delimiter,
        sheet=sheet or layout.sheet,
        header_line=header_line or layout.header_line,
    )
    grid = grid_of(path, layout)
    return shaped(grid, layout, lambda name: grid_of(path, replace(layout, sheet=name)))
