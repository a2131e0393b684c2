"""The newest picture of the photo folder, filed with what is judged; a filing can be taken back."""

import asyncio
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Final

from qcledger.bench import filing
from qcledger.bench.newest import PictureFile, is_still, newest
from qcledger.errors import bad
from qcledger.records import Photo
from qcledger.screens.desk import Desk
from qcledger.settings import load_settings, settings_file

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.screens.page import Page

STILL_S: Final = 1.0
"""How long a picture must lie unchanged before it is filed, in seconds."""
LINE: Final = 'photo_folder = "/home/me/Pictures"'
"""The line of the settings that names a photo folder, with an example."""

File = Callable[["Ledger", PictureFile], Photo]
"""Files a picture and returns its record."""


class Camera:
    """What files pictures for one page.

    Parameters
    ----------
    desk
        Where to ask and save.
    """

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._taken: dict[str, PictureFile] = {}
        self._asked: object = None

    def meant(self, place: object) -> bool:
        """Say whether a picture without a grade is meant at `place`: so it is when asked for there once more."""
        again, self._asked = self._asked == place, place
        return again

    def folder(self) -> Path:
        """Return the photo folder as the settings file names it now: a wrong one is mended without a restart.

        Raises
        ------
        BadInput
            When none is set, or the settings cannot be read.
        """
        settings = self._desk.settings
        named = load_settings().photo_folder or settings.photo_folder
        if named != settings.photo_folder:
            settings = self._desk.settings = replace(settings, photo_folder=named)
        if not settings.photo_folder:
            raise bad("photo folder", "", f"this line in {settings_file()}: {LINE}; then the same key")
        return Path(settings.photo_folder).expanduser()

    async def file(self, file: File) -> Photo:
        """File the newest picture that was not filed here before.

        Raises
        ------
        BadInput
            When there is no folder or no new picture in it, it is still being written, or cannot be filed.
        """
        picture = await asyncio.to_thread(newest, self.folder(), set(self._taken.values()))
        await asyncio.sleep(STILL_S)
        if not await asyncio.to_thread(is_still, picture):
            raise bad("newest picture", f"{picture.path.name}, still being written", "the same key once it is there")
        photo = await self._desk.save(lambda ledger: file(ledger, picture))
        self._taken[photo.id] = picture
        self._asked = None
        return photo

    async def take_back(self, photo: Photo) -> str:
        """Take back the filing of a photo, unless it was changed since, and say so."""
        return self.taken_back(photo, stood=await self._desk.save(lambda ledger: filing.take_back(ledger, photo)))

    def taken_back(self, photo: Photo, *, stood: bool) -> str:
        """Say that the filing of a photo was taken back, if it `stood` as it was filed; its picture is new again."""
        if not stood:
            return f"{photo.file_name} was filed anew since, and stays as it is"
        self._taken.pop(photo.id, None)
        return f"photo of {photo.caption} taken back: {photo.file_name} belongs to nothing now; the file stays"


async def unfile(page: "Page", *, photo: Photo) -> str:
    """Let a photo belong to nothing again, and say so; it is among those not filed then."""
    if await page.desk.save(lambda ledger: filing.take_back(ledger, photo)):
        return f"{photo.file_name} belongs to nothing now; the file stays in the folder"
    return f"{photo.file_name} was filed anew since, and stays as it is"


def noted(page: "Page", photo: Photo) -> Photo:
    """Let the filing of a photo be taken back from whichever page, and return it."""
    page.did(partial(unfile, photo=photo))
    return photo
