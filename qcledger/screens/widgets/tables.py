"""Tables of the guide: in columns where these can be read, else each row as a short block of lines."""

from collections.abc import Sequence
from typing import Final

from textual.app import ComposeResult
from textual.content import Content
from textual.geometry import Size
from textual.widget import Widget
from textual.widgets import Markdown
from textual.widgets._markdown import MarkdownTable  # the library names no table but draws one
from textual.widgets.markdown import MarkdownBlock

GAP: Final = 2
"""Blanks between two columns."""
READABLE: Final = 12
"""Cells that a column of running words gets at least; narrower ones are a word a line."""
INDENT: Final = "  "
"""Stands before the lines of a block but its first."""


def table_lines(headers: Sequence[Content], rows: Sequence[Sequence[Content]], width: int) -> list[Content]:
    """Return a table as lines of at most `width` cells; no word of it is lost at any width."""
    widths = column_widths([headers, *rows], width)
    if not widths:
        return _blocks(headers, rows, max(width, 2 * len(INDENT) + 2))
    bold = [header.stylize("bold $ink") for header in headers]
    told = [_side_by_side(row, widths) for row in rows]
    between = [Content("")] if any(len(lines) > 1 for lines in told) else []
    drawn = [*_side_by_side(bold, widths), Content("-" * (sum(widths) + GAP * (len(widths) - 1)))]
    for lines in told:
        drawn += [*lines, *between]
    return drawn


def column_widths(rows: Sequence[Sequence[Content]], width: int) -> list[int]:
    """Return the cells each column gets; none where there is no room for the longest word of each side by side."""
    columns = list(zip(*rows, strict=True))
    whole = [max(cell.cell_length for cell in column) for column in columns]
    words = [[word for cell in column for word in cell.plain.split()] for column in columns]
    least = [max(min(wide, READABLE), *map(len, own), 0) for wide, own in zip(whole, words, strict=True)]
    left = width - GAP * (len(columns) - 1) - sum(least)
    if left < 0:
        return []
    wanted = [most - few for most, few in zip(whole, least, strict=True)]
    share = min(left / max(sum(wanted), 1), 1.0)
    return [few + int(more * share) for few, more in zip(least, wanted, strict=True)]


def _side_by_side(row: Sequence[Content], widths: Sequence[int]) -> list[Content]:
    cells = [cell.wrap(wide) if cell else [Content("")] for cell, wide in zip(row, widths, strict=True)]
    lines = []
    for n in range(max(len(cell) for cell in cells)):
        parts = [cell[n] if n < len(cell) else Content("") for cell in cells]
        padded = [part.pad_right(wide - part.cell_length) for part, wide in zip(parts, widths, strict=True)]
        lines.append(Content(" " * GAP).join(padded).rstrip())
    return lines


def _blocks(headers: Sequence[Content], rows: Sequence[Sequence[Content]], width: int) -> list[Content]:
    lines: list[Content] = []
    for row in rows:
        for n, (header, cell) in enumerate(zip(headers, row, strict=True)):
            if not cell and n:
                continue
            named = Content.assemble((header.plain, "$ink"), ": " if header.plain else "", cell)
            first, rest = ("", INDENT * 2) if n == 0 else (INDENT, INDENT * 2)
            folded = (named.stylize("bold") if n == 0 else named).wrap(width - len(rest))
            lines += [Content(first if place == 0 else rest) + line for place, line in enumerate(folded)]
        lines.append(Content(""))
    return lines


class Laid(Widget):
    """A table, laid out anew for each width; one widget, for a widget a cell takes seconds to open."""

    DEFAULT_CSS = "Laid { height: auto; }"

    def __init__(self, headers: Sequence[Content], rows: Sequence[Sequence[Content]]) -> None:
        super().__init__()
        self._headers, self._cells = headers, rows
        self._drawn: tuple[int, list[Content]] = (0, [])

    def _lines(self, width: int) -> list[Content]:
        if self._drawn[0] != width:
            self._drawn = (width, table_lines(self._headers, self._cells, width))
        return self._drawn[1]

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """Return the lines the table takes."""
        return len(self._lines(width))

    def render(self) -> Content:
        """Return the table."""
        return Content("\n").join(self._lines(self.size.width))

    def action_link(self, href: str) -> None:
        """Follow a link in a cell, as the library's own cells do."""
        self.post_message(Markdown.LinkClicked(self.query_ancestor(Markdown), href))


class _Table(MarkdownTable):
    def compose(self) -> ComposeResult:
        """Lay out the table as one widget."""
        yield Laid(*self._get_headers_and_rows())


class Chapter(Markdown):
    """A text with tables that can be read in any window."""

    DEFAULT_CSS = "_Table { background: $background; }"

    def get_block_class(self, block_name: str) -> type[MarkdownBlock]:
        """Return what draws a block of the text."""
        return _Table if block_name == "table_open" else super().get_block_class(block_name)
