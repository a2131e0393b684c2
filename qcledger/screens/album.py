"""Photos one at a time, closer with +."""

from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.binding import BindingType

from qcledger.records import Photo
from qcledger.screens import keys
from qcledger.screens.desk import Desk
from qcledger.screens.page import Page
from qcledger.screens.widgets.lines import SaidLine
from qcledger.screens.widgets.photo import PhotoView

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.ledger.preview import Preview


class Album(Page):
    """A page with a `PhotoView` in its body; set `photos`, then call `show_photo`."""

    KEY = "look"
    ABOUT: ClassVar[str]
    BINDINGS: ClassVar[list[BindingType]] = list(keys.bindings("look"))

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self.photos: list[Photo] = []
        self._shown = 0
        self._file = ""

    def works(self, verb: str) -> bool:
        """Whether there is an observation to be put right: only a closer look at one has it."""
        return verb not in ("amend", "take_out", "import", "move", "no_photo")

    def show_photo(self) -> None:
        """Show the photo that is at hand, or say that there is none."""
        if not self.photos:
            self.head(self.ABOUT, "no photos")
            return
        self._shown = min(self._shown, len(self.photos) - 1)
        photo = self.photos[self._shown]
        self._say_which(photo.caption or photo.file_name or "")
        self.query_one(PhotoView).reset()

    def _say_which(self, more: str) -> None:
        self.head(self.ABOUT, f"photo {self._shown + 1} of {len(self.photos)}", more)

    @on(PhotoView.Needed)
    def _needed(self) -> None:
        if self._shown < len(self.photos):
            self.work(self._draw, instead_of="photo", holds=False)

    async def _draw(self) -> None:
        view = self.query_one(PhotoView)
        photo = self.photos[self._shown]
        width, height = view.squares
        zoom, centre = view.zoom, view.centre

        def ask(ledger: "Ledger") -> "tuple[Path, Preview]":
            from qcledger.ledger.preview import preview

            path = ledger.photo_path(photo)  # fetched from a server now that it is looked at, and not before
            return path, preview(path, width, height, zoom=zoom, centre=centre)

        if width and height:
            path, drawn = await self.desk.read(ask)
            self._tell_file(f"{path.parent.name}/{path.name}")
            view.draw(drawn.rows)
            across, along = drawn.size
            self._say_which(f"{across} x {along}, x{zoom}   {photo.caption}")

    def _tell_file(self, name: str) -> None:
        """Say where the photo lies, unless something else was said that is to be read first."""
        if self.query_one(SaidLine).said in ("", self._file):
            self.say(name)
        self._file = name

    def action_zoom(self, steps: int) -> None:
        """Go closer or farther away."""
        self.query_one(PhotoView).zoom_by(steps)

    def action_pan(self, right: int, down: int) -> None:
        """Move over the photo."""
        self.query_one(PhotoView).pan(right, down)

    def action_photo(self, by: int) -> None:
        """Show the next photo, or the one before."""
        if self.photos:
            self._shown = (self._shown + by) % len(self.photos)
            self.say("")
            self.show_photo()
