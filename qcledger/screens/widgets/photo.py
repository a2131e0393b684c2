"""A photo in half blocks: the upper half of a cell in one colour, the lower in another."""

from collections.abc import Sequence
from typing import Final

from rich.segment import Segment
from rich.style import Style
from textual.message import Message
from textual.strip import Strip
from textual.widget import Widget

RGB = tuple[int, int, int]

ZOOMS: Final = (1, 2, 4, 8, 16)
STEP: Final = 0.25
"""How far one key moves, as a share of what is shown."""


def move(centre: float, zoom: int, steps: int) -> float:
    """Return the centre moved by `steps`, so that what is shown stays inside the photo."""
    half = 0.5 / zoom
    return min(max(centre + steps * STEP / zoom, half), 1 - half)


class PhotoView(Widget):
    """Draws squares it is given; asks for others when zoom, place or size change."""

    DEFAULT_CSS = """
    PhotoView { height: 1fr; width: 1fr; }
    """

    class Needed(Message):
        """The view needs its photo in `width` by `height` squares."""

    def __init__(self) -> None:
        super().__init__()
        self.zoom = 1
        self.centre = (0.5, 0.5)
        self._rows: Sequence[Sequence[RGB]] = ()

    @property
    def squares(self) -> tuple[int, int]:
        """Squares there is room for: as wide as the view, twice as high."""
        return self.size.width, self.size.height * 2

    def draw(self, rows: Sequence[Sequence[RGB]]) -> None:
        """Draw these squares."""
        self._rows = rows
        self.refresh()

    def reset(self) -> None:
        """Show all of another photo."""
        self.zoom, self.centre, self._rows = 1, (0.5, 0.5), ()
        self.refresh()
        self.post_message(self.Needed())

    def zoom_by(self, steps: int) -> None:
        """Go closer, or farther away."""
        place = min(max(ZOOMS.index(self.zoom) + steps, 0), len(ZOOMS) - 1)
        self.zoom = ZOOMS[place]
        self.pan(0, 0)

    def pan(self, right: int, down: int) -> None:
        """Move what is shown."""
        across, along = self.centre
        self.centre = (move(across, self.zoom, right), move(along, self.zoom, down))
        self.post_message(self.Needed())

    def on_resize(self) -> None:
        """Ask for squares that fit."""
        self.post_message(self.Needed())

    def render_line(self, y: int) -> Strip:
        """Return one line: two rows of squares."""
        upper = self._rows[2 * y] if 2 * y < len(self._rows) else ()
        lower = self._rows[2 * y + 1] if 2 * y + 1 < len(self._rows) else ()
        cells = [self._cell(upper[x], lower[x] if x < len(lower) else None) for x in range(len(upper))]
        return Strip(cells).adjust_cell_length(self.size.width, self.rich_style)

    def _cell(self, top: RGB, bottom: RGB | None) -> Segment:
        ground = "rgb({},{},{})".format(*bottom) if bottom else None
        style = self.rich_style + Style(color="rgb({},{},{})".format(*top), bgcolor=ground)
        return Segment("▀", style)
