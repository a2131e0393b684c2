"""Photos at the bench: the newest picture is filed with what is at work, and undo takes that back in its turn."""

from functools import partial
from typing import TYPE_CHECKING

from qcledger.bench.atwork import AtWork, Done
from qcledger.bench.filing import file_picture
from qcledger.bench.newest import Picture
from qcledger.bench.runsheet import Place
from qcledger.errors import QcledgerError, bad
from qcledger.records import Photo
from qcledger.screens.bench.grading import Grading
from qcledger.screens.camera import Camera
from qcledger.screens.desk import Desk
from qcledger.screens.page import Page

if TYPE_CHECKING:
    from qcledger.ledger import Ledger


class Photographing(Grading):
    """A page with a sheet at work whose places can be photographed."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self._camera = Camera(desk)

    def action_photo(self) -> None:
        """File the newest picture with what is at work."""
        work = self.atwork
        if work is not None and work.place is not None and self.meant("photo"):
            self.work(partial(self._file_newest, work, work.here))

    async def _file_newest(self, work: AtWork, place: Place) -> None:
        sheet = work.sheet
        seen, specimen = sheet.seen.get(place), sheet.lines[place.line].specimen
        title = sheet.criteria[place.criterion].title
        where = f"{title}, {sheet.label(place.line)}"
        graded = not sheet.is_open(place)
        if not graded:
            if sheet.is_blind:  # filed with the specimen alone it would stand in its history at once
                raise bad("photo", "no grade yet", "a grade first, while the sheet is blind")
            self._camera.folder()
            if not self._camera.meant((sheet.session.id, sheet.stage, place)):
                raise bad("photo", f"no grade for {where}", "a grade first, or f again for a photo without one")

        def file(ledger: "Ledger", picture: Picture) -> Photo:
            observation = seen.id if seen and graded else None
            return file_picture(ledger, picture, specimen=specimen.id, observation=observation, caption=title)

        photo = await self._camera.file(file)
        work.photographed(place, photo)
        self.noted(work)
        self.saved()
        self.say(f"{photo.file_name} filed with {where}{'' if graded else ', without a grade'}; z takes it back")

    def action_undo(self) -> None:
        """Take back the last thing done, a photo as well as a grade; what was done elsewhere since in its turn."""
        if not self.is_last():
            if self.meant("undo"):
                self.stay()
                Page.action_undo(self)
            return
        work = self.atwork
        filed = work.photo_to_take_back() if work is not None else None
        if work is None or filed is None:
            super().action_undo()
        elif self.meant("undo"):
            self.stay()
            work.go(filed.place)
            self.show()
            self.work(partial(self._take_photo_back, work, filed))

    async def _take_photo_back(self, work: AtWork, filed: Done) -> None:
        said = await self.take_photo_back(work, filed)
        self.saved()
        self.say(said)

    async def take_photo_back(self, work: AtWork, filed: Done) -> str:
        """Take back the filing of a photo and say so."""
        assert filed.photo is not None
        try:
            return await self._camera.take_back(filed.photo)
        except QcledgerError:
            work.photographed(filed.place, filed.photo)
            raise
