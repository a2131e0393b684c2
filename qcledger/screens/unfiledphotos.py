"""The photos of the photo folder that are not filed, each with the sticker of the specimen that it shows."""

import asyncio
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime
from functools import partial
from typing import TYPE_CHECKING, ClassVar, Final

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType

from qcledger.bench import unfiled
from qcledger.bench.filing import file_picture
from qcledger.bench.newest import PictureFile, is_still
from qcledger.bench.unpacking import find_sticker
from qcledger.clock import day_of
from qcledger.errors import bad
from qcledger.records import Photo, Specimen
from qcledger.screens import camera, keys
from qcledger.screens.desk import Desk
from qcledger.screens.page import Page
from qcledger.screens.shown import shown_date, shown_time
from qcledger.screens.widgets.rows import Column, Row, Rows
from qcledger.screens.widgets.typeline import TypeLine

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

STILL_S: Final = 1.0
"""How long a picture must lie unchanged before it is filed, in seconds."""


class UnfiledPhotos(Page):
    """Photos that are not filed: Enter, then the sticker of the specimen that one shows."""

    KEY = "photos"
    TITLE = "Photos not filed"
    BINDINGS: ClassVar[list[BindingType]] = list(keys.bindings("photos"))

    def __init__(self, desk: Desk, folder: unfiled.Folder) -> None:
        super().__init__(desk)
        self._folder = folder
        self._pictures: list[PictureFile] = []
        self._last: Photo | None = None

    def body(self) -> ComposeResult:
        """Lay out the list."""
        yield Rows((Column("photo", 20, grows=True), Column("saved", 16, need=1)), self._load)

    def on_mount(self) -> None:
        """Begin in the list."""
        self.query_one(Rows).focus()

    async def fill(self) -> None:
        """Look into the folder."""
        filed = await self.desk.read(unfiled.filed, after_saves=True)
        self._pictures = await asyncio.to_thread(self._folder.unfiled, filed)
        self.head(f"{len(self._pictures)} in {self._folder.path}")
        rows = self.query_one(Rows)
        rows.show(len(self._pictures), marked=rows.marked)

    async def _load(self, first: int, most: int) -> Sequence[Row]:
        return [
            Row(str(n), (picture.path.name, self._saved_at(picture)))
            for n, picture in enumerate(self._pictures[first : first + most], first)
        ]

    def _saved_at(self, picture: PictureFile) -> str:
        at = datetime.fromtimestamp(picture.written_ns // 1_000_000_000, UTC)
        zone = self.desk.zone
        return f"{shown_date(day_of(at, zone), self.desk.settings)} {shown_time(at, zone)}"

    @on(Rows.Picked)
    def _picked(self, message: Rows.Picked) -> None:
        message.stop()
        self.action_file()

    def action_file(self) -> None:
        """Ask whose photo the marked one is, and file it."""
        row = self.query_one(Rows).row
        if row is None:
            return
        picture = self._pictures[int(row.id)]

        def take(specimen: str | None) -> None:
            if specimen is not None:
                self.work(partial(self._file, picture, specimen))

        self.app.push_screen(TypeLine(f"{picture.path.name} shows the specimen with the sticker", self._find), take)

    async def _find(self, sticker: str) -> str:
        return await self.desk.read(lambda ledger: find_sticker(ledger, sticker), after_saves=True)

    async def _file(self, picture: PictureFile, specimen: str) -> None:
        await asyncio.sleep(STILL_S)
        if not await asyncio.to_thread(is_still, picture):
            raise bad("photo", f"{picture.path.name}, still being written", "the same key once it is there")

        def job(ledger: "Ledger") -> tuple[Photo, Specimen | None]:
            return file_picture(ledger, picture, specimen=specimen, observation=None), ledger.get(Specimen, specimen)

        photo, shows = await self.desk.save(job)
        self._last = camera.noted(self, photo)
        self.saved()
        self.say(f"{picture.path.name} filed with {shows.sticker if shows else ''}; z: it shows another one")
        await self.fill()

    def action_undo(self) -> None:
        """Say which specimen the photo filed last really shows; what was done elsewhere since is taken back."""
        last, newest = self._last, self.desk.done.newest
        if last is None or newest is None or newest.by != self.KEY:
            super().action_undo()
            return

        def take(specimen: str | None) -> None:
            if specimen is not None:
                self.work(partial(self._move, last, specimen))

        self.app.push_screen(TypeLine(f"{last.file_name} shows the specimen with the sticker", self._find), take)

    async def _move(self, photo: Photo, specimen: str) -> None:
        moved = replace(photo, specimen=specimen)

        def job(ledger: "Ledger") -> Specimen | None:
            ledger.append([moved], reason="it shows another specimen")
            return ledger.get(Specimen, specimen)

        shows = await self.desk.save(job)
        self.desk.done.drop_last(self.KEY)
        self._last = camera.noted(self, moved)
        self.saved()
        self.say(f"{photo.file_name} moved to {shows.sticker if shows else ''}")
