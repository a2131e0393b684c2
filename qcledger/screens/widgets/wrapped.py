"""Words in as many lines as there is room for."""

from textwrap import wrap
from typing import Any

from textual.content import Content
from textual.geometry import Size
from textual.widget import Widget

from qcledger.text import one_line

_FILL = "\ue000"
"""Stands behind a wide letter while lines are broken; of a private use, so that no text loses by it."""


def _wrap(text: str, width: int, **kwargs: Any) -> list[str]:
    """Return a text in lines of at most `width` terminal cells, in which a wide letter takes two."""
    from rich.cells import cell_len

    width = max(width, 4)
    if len(text) == cell_len(text):
        return wrap(text, width, **kwargs)
    padded = "".join(letter + _FILL * (cell_len(letter) - 1) for letter in text.replace(_FILL, ""))
    # A letter may be parted from its fill at the end of a line, hence a cell less.
    return [line.replace(_FILL, "") for line in wrap(padded, width - 1, **kwargs)]


def in_lines(text: str, width: int) -> list[str]:
    """Return a text in as many lines as it needs, none of them cut."""
    return _wrap(one_line(text), width) or [""]


def share(room: int, width: int, first: "Wrapped", second: "Wrapped", least: tuple[int, int]) -> bool:
    """Share lines between two texts, and say whether both are whole.

    Parameters
    ----------
    room, width
        Lines there are for both, and characters of a line.
    first, second
        The first gets what it needs, as far as the second keeps its least; the second gets all that is left.
    least
        Lines each of them has even where there is no room for both.
    """
    wanted, other = first.needed(width), second.needed(width)
    given = max(min(wanted, room - min(other, least[1])), least[0])
    first.allow(given)
    second.allow(max(room - min(wanted, given), least[1]))
    return wanted + other <= room


class Wrapped(Widget):
    """Words in as many lines as they need, up to a limit; hidden when there are none.

    Parameters
    ----------
    most
        The limit.
    more
        Said where they do not fit: how the rest is read.
    """

    DEFAULT_CSS = """
    Wrapped { height: auto; }
    Wrapped.-none { display: none; }
    """

    def __init__(self, most: int, *, id: str, more: str = "") -> None:  # noqa: A002
        super().__init__(id=id, classes="-none")
        self._more = f" … {more}".rstrip()
        self._most = most
        self._text = ""

    def show(self, text: str) -> None:
        """Show other words."""
        if (line := one_line(text)) == self._text:
            return
        self._text = line
        self.set_class(not self._text, "-none")
        self.refresh(layout=True)

    @property
    def has_words(self) -> bool:
        """Whether there is anything to show."""
        return bool(self._text)

    def needed(self, width: int) -> int:
        """Return the lines that all the words take."""
        return len(_wrap(self._text, width))

    def allow(self, most: int) -> None:
        """Take another number of lines at most."""
        if most != self._most:
            self._most = most
            self.refresh(layout=True)

    def _lines(self, width: int, most: int) -> list[str]:
        more = self._more if width >= 2 * len(self._more) else " …"
        return _wrap(self._text, width, max_lines=max(most, 1), placeholder=more)

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """Return the lines the words take."""
        return len(self._lines(width, self._most))

    def render(self) -> Content:
        """Return the words."""
        return Content("\n".join(self._lines(self.size.width, self.size.height)))
