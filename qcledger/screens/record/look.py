"""One observation in full, with its photos."""

from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType

from qcledger.bench.scales import scales
from qcledger.errors import bad
from qcledger.records import Photo
from qcledger.screens import keys
from qcledger.screens.desk import Desk
from qcledger.screens.page import Page
from qcledger.screens.record import words
from qcledger.screens.widgets.photo import PhotoView
from qcledger.screens.widgets.wrapped import Wrapped

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.ledger.preview import Preview


class Look(Page):
    """An observation: everything it says, then its photos one at a time, closer with +.

    Parameters
    ----------
    desk
        Where to ask.
    observation
        The observation's id.
    """

    KEY = "look"
    TITLE = "Record"
    BINDINGS: ClassVar[list[BindingType]] = list(keys.bindings("look"))

    def __init__(self, desk: Desk, observation: str) -> None:
        super().__init__(desk)
        self._observation = observation
        self._photos: list[tuple[Photo, Path]] = []
        self._shown = 0

    def body(self) -> ComposeResult:
        """Lay out words above, photo below."""
        yield Wrapped(2, id="made_on")
        yield Wrapped(4, id="result")
        yield Wrapped(4, id="history")
        yield PhotoView()

    async def fill(self) -> None:
        """Show the observation."""
        wanted, settings = self._observation, self.desk.settings

        def ask(ledger: "Ledger") -> tuple[str, str, str, list[tuple[Photo, Path]]]:
            from qcledger.ledger import queries_record as record

            with ledger.reading() as connection:
                lines = record.lines(connection, [wanted])
                chain, photos = record.chain(connection, wanted), record.photos_of(connection, wanted)
            if not lines:
                raise bad("observation", wanted, "the id of an observation in this ledger")
            seen = lines[0].observation
            result = words.said(seen, scales(ledger).get((seen.rubric, seen.criterion)), settings)
            note = f" Note: {seen.note}" if seen.note else ""
            places = [(photo, ledger.photo_path(photo)) for photo in photos]
            return words.made_on(lines[0], settings), result + note, words.history(chain, settings), places

        made_on, result, history, self._photos = await self.desk.read(ask)
        for name, text in (("#made_on", made_on), ("#result", result), ("#history", history)):
            self.query_one(name, Wrapped).show(text)
        self._show_photo()

    def _show_photo(self) -> None:
        if not self._photos:
            self.head("one observation", "no photos")
            return
        photo, path = self._photos[self._shown]
        self.head(
            "one observation",
            f"photo {self._shown + 1} of {len(self._photos)}",
            photo.caption or photo.file_name or "",
        )
        self.say(f"{path.parent.name}/{path.name}")
        self.query_one(PhotoView).reset()

    @on(PhotoView.Needed)
    def _needed(self) -> None:
        if self._photos and self._shown < len(self._photos):
            self.work(self._draw, instead_of="photo")

    async def _draw(self) -> None:
        view = self.query_one(PhotoView)
        _, path = self._photos[self._shown]
        width, height = view.squares
        zoom, centre = view.zoom, view.centre

        def ask(_: "Ledger") -> "Preview":
            from qcledger.ledger.preview import preview

            return preview(path, width, height, zoom=zoom, centre=centre)

        if width and height:
            drawn = await self.desk.read(ask)
            view.draw(drawn.rows)
            across, along = drawn.size
            self.head(
                "one observation", f"photo {self._shown + 1} of {len(self._photos)}", f"{across} x {along}, x{zoom}"
            )

    def action_zoom(self, steps: int) -> None:
        """Go closer or farther away."""
        self.query_one(PhotoView).zoom_by(steps)

    def action_pan(self, right: int, down: int) -> None:
        """Move over the photo."""
        self.query_one(PhotoView).pan(right, down)

    def action_photo(self, by: int) -> None:
        """Show the next photo, or the one before."""
        if self._photos:
            self._shown = (self._shown + by) % len(self._photos)
            self._show_photo()

    def action_leave(self) -> None:
        """Go back to the list."""
        self.app.pop_screen()
