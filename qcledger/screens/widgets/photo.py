"""A photo in half blocks, the upper half of a cell in one colour and the lower in another; or in pixels.

Half blocks work everywhere. Pixels need a terminal that knows sixel or the Kitty graphics protocol, and a library
that asks the terminal before the pages start; `use_pixels` loads it.
"""

from collections.abc import Sequence
from io import BytesIO
from typing import Any, ClassVar, Final

from rich.segment import Segment
from rich.style import Style
from textual.app import ComposeResult
from textual.message import Message
from textual.strip import Strip
from textual.widget import Widget

RGB = tuple[int, int, int]

ZOOMS: Final = (1, 2, 4, 8, 16)
STEP: Final = 0.25
"""How far one key moves, as a share of what is shown."""
FINE: Final = 8
"""Pixels asked for across a cell, and half as many as along it, where pixels can be drawn."""


def netpbm(rows: Sequence[Sequence[RGB]]) -> bytes:
    """Return squares as a picture file of one pixel each (binary PPM of Netpbm)."""
    width = len(rows[0]) if rows else 0
    content = b"".join(bytes(part for square in row for part in square) for row in rows)
    return b"P6 %d %d 255\n" % (width, len(rows)) + content


def move(centre: float, zoom: int, steps: int) -> float:
    """Return the centre moved by `steps`, so that what is shown stays inside the photo."""
    half = 0.5 / zoom
    return min(max(centre + steps * STEP / zoom, half), 1 - half)


class PhotoView(Widget):
    """Draws squares it is given; asks for others when zoom, place or size change."""

    DEFAULT_CSS = """
    PhotoView { height: 1fr; width: 1fr; }
    """

    PIXELS: ClassVar[type[Widget] | None] = None
    """What draws pixels; None where only half blocks can be drawn."""

    class Needed(Message):
        """The view needs its photo in `width` by `height` squares."""

    def __init__(self) -> None:
        super().__init__()
        self.zoom = 1
        self.centre = (0.5, 0.5)
        self._rows: Sequence[Sequence[RGB]] = ()

    def compose(self) -> ComposeResult:
        """Lay out what draws pixels, where that can be."""
        if self.PIXELS is not None:
            yield self.PIXELS(id="pixels")

    @property
    def squares(self) -> tuple[int, int]:
        """Squares there is room for: as wide as the view and twice as high, finer where pixels can be drawn."""
        fine = FINE if self._pixels is not None else 1
        return self.size.width * fine, self.size.height * 2 * fine

    @property
    def _pixels(self) -> Any:
        return next(iter(self.query("#pixels")), None)

    def draw(self, rows: Sequence[Sequence[RGB]]) -> None:
        """Draw these squares."""
        self._rows = rows
        if (pixels := self._pixels) is not None and rows:
            pixels.image = BytesIO(netpbm(rows))
            wide = len(rows[0]) * self.size.height * 2 > len(rows) * self.size.width
            pixels.styles.width, pixels.styles.height = ("100%", "auto") if wide else ("auto", "100%")
        self.refresh()

    def reset(self) -> None:
        """Show all of another photo."""
        self.zoom, self.centre, self._rows = 1, (0.5, 0.5), ()
        if (pixels := self._pixels) is not None:
            pixels.image = None
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
        if self._pixels is not None:
            return Strip.blank(self.size.width, self.rich_style)
        upper = self._rows[2 * y] if 2 * y < len(self._rows) else ()
        lower = self._rows[2 * y + 1] if 2 * y + 1 < len(self._rows) else ()
        cells = [self._cell(upper[x], lower[x] if x < len(lower) else None) for x in range(len(upper))]
        return Strip(cells).adjust_cell_length(self.size.width, self.rich_style)

    def _cell(self, top: RGB, bottom: RGB | None) -> Segment:
        ground = "rgb({},{},{})".format(*bottom) if bottom else None
        style = self.rich_style + Style(color="rgb({},{},{})".format(*top), bgcolor=ground)
        return Segment("▀", style)


def use_pixels() -> bool:
    """Let photos be drawn in pixels from now on; says whether this terminal can.

    The library asks the terminal what it knows while it is imported, so this is called before the pages start. A
    terminal without a size makes it fail; then half blocks remain.
    """
    try:
        from textual_image import renderable, widget
    except Exception:  # whatever it trips over, a photo is not worth the pages
        return False
    can = renderable.Image in (renderable.SixelImage, renderable.TGPImage)
    PhotoView.PIXELS = widget.Image if can else None
    return can
