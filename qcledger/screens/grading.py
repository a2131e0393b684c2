"""What a pressed key does wherever something is graded: grade, save, take back; a failed save puts the page right."""

from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from functools import partial
from typing import TYPE_CHECKING, Any, Final

from qcledger.bench.amending import WHY_NOT
from qcledger.bench.atwork import AtWork, DoneAtPlace
from qcledger.bench.filing import file_picture
from qcledger.bench.newest import PictureFile
from qcledger.bench.record import WrittenGrade
from qcledger.bench.result import NO_REASON
from qcledger.bench.runsheet import SheetSquare, ToGrade
from qcledger.errors import BadInput, LedgerUnavailable, NotConfirmed, QcledgerError, bad
from qcledger.figures import reading
from qcledger.records import Photo
from qcledger.screens.camera import Camera
from qcledger.screens.desk import Desk
from qcledger.screens.dialogs import Reasons
from qcledger.screens.heldkeys import HeldKeys
from qcledger.screens.keptline import KeptLine
from qcledger.screens.page import Page
from qcledger.screens.shown import shown_undone
from qcledger.screens.widgets.typeline import TypeLine
from qcledger.thing import worded

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

EXCUSES: Final = "abcfghjkl"
"""Letters of the excuses that a rubric gives a criterion: none of those that `WHY_NOT` has."""
AS_BEFORE: Final = "The sheet shows what stood before that key."


class Grading(HeldKeys):
    """A page on which something is graded: what asks for grades is at work, or nothing is yet.

    A page says what it is about: `show`, `name_of`, `on_disk` and `nothing_left`; and where the hands are taken next.
    """

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self.atwork: AtWork[Any] | None = None
        self.camera = Camera(desk)
        self._saving = 0
        self._filing = 0
        """How many photos are being filed."""
        self._after_photo = 0
        """How many things are to be taken back once they are."""
        self._is_unread = False
        """Whether a save failed and what stands could not be read again since."""

    @property
    def waits_for_fill(self) -> bool:
        """Whether keys wait: until there is something to grade; what is read again is graded meanwhile."""
        return self.atwork is None

    # What each page says of itself

    def show(self) -> None:
        """Show where the work is, if the page is there."""
        raise NotImplementedError

    def name_of(self, work: AtWork[Any]) -> str:
        """Return the name under which what is done at some work is noted."""
        raise NotImplementedError

    def on_disk(self, work: AtWork[Any]) -> "Callable[[Ledger], ToGrade]":
        """Return what reads from a ledger what is at work."""
        raise NotImplementedError

    def nothing_left(self, work: AtWork[Any]) -> str:
        """Say that nothing of some work can be taken back from another page."""
        raise NotImplementedError

    def one_of_several(self, work: AtWork[Any]) -> str:
        """Return what stands for the specimen at work; nothing where the page is about one alone."""
        return ""

    def check_photo(self, sheet: ToGrade) -> None:
        """Raise BadInput where a photo may not be filed with a specimen alone."""

    def why_not(self, excuses: Sequence[str]) -> Mapping[str, str]:
        """Return the reasons offered by a letter each: those that the rubric gives, then the usual ones."""
        ours = {key: worded(why) for key, why in WHY_NOT.items()}
        return {**dict(zip(EXCUSES, excuses, strict=False)), **ours}

    def move_on(self) -> None:
        """Go on after a grade; here nobody does."""

    def stay(self) -> None:
        """Stay here after all."""

    # Writing

    def take_back_second(self) -> None:
        """Take back what the second press of a held key has written."""
        self.write(AtWork.undo_act)

    def write(self, what: Callable[[AtWork[Any]], WrittenGrade[Any] | Sequence[WrittenGrade[Any]] | None]) -> bool:
        """Do `what` at the work, save together what it writes, and show it; say what is refused."""
        work = self.atwork
        if work is None:
            return False
        before = len(work.done)
        try:
            made = what(work)
        except BadInput as refused:
            self.refuse(refused)
            return False
        written = (made,) if isinstance(made, WrittenGrade) else tuple(made or ())
        if written:
            self.wrote = True
            self.say("")
            self.noted(work, len(work.done) - before)
            self.work(partial(self.save, work, written), holds=False)
        self.show()
        return bool(written)

    def refuse(self, refused: BadInput) -> None:
        """Say what a key may not do here."""
        self.app.bell()
        self.stay()  # or what comes after the moment would hide the refusal
        self.say(refused.told(), problem=True)
        self.show()

    def noted(self, work: AtWork[Any], new: int = 1) -> None:
        """Let the `new` last things done be taken back in their turn, from whichever page."""
        if new > 0:  # else something was taken back
            back = partial(self._take_back_elsewhere, work)
            self.desk.done.step(self.name_of(work), work.done, back, new)

    async def _take_back_elsewhere(self, work: AtWork[Any], page: Page) -> str:
        """Take back the last thing done at some work that is not in front."""
        if (filed := work.photo_to_take_back()) is not None:
            return await self.take_photo_back(work, filed)
        work.renew(await self._read(work))
        if not work.done:
            return self.nothing_left(work)
        before, written = work.sheet, work.undo_act()
        try:
            await self.keep(written)
        except QcledgerError:
            work.put_back(written)
            raise
        if self.atwork is work:
            self.show()
        return self._undone(work, before, before.label(work.here.line))

    def _undone(self, work: AtWork[Any], before: ToGrade, specimen: str) -> str:
        """Return, in words, what was taken back at the place at work of a specimen, named where that has a name."""
        place = work.here
        if (count := sum(before.seen.get(one) != seen for one, seen in work.sheet.seen.items())) > 1:
            return f"{count} results{f' of {specimen}' if specimen else ''} taken back, which were given at once"
        title = before.criteria[place.criterion].title
        named = f"{title}, {specimen}," if specimen else title
        return shown_undone(named, before.result(place), work.sheet.result(place), self.desk.settings)

    async def take_photo_back(self, work: AtWork[Any], filed: DoneAtPlace) -> str:
        """Take back the filing of a photo and say so."""
        assert filed.photo is not None
        try:
            return await self.camera.take_back(filed.photo)
        except QcledgerError:
            work.photographed(filed.place, filed.photo)
            raise

    async def save(self, work: AtWork[Any], written: Sequence[WrittenGrade[Any]]) -> None:
        """Save together, and say so only once it is on disk; after a failure show what stands on disk."""
        self._saving += 1
        self.save_state("...")
        try:
            is_kept = await self.keep(written)
        except QcledgerError as error:
            self.save_state("not saved")
            unconfirmed = isinstance(error, NotConfirmed)
            if not await self._put_right(work, written, confirmed=not unconfirmed):
                told = f"{error.line()} {AS_BEFORE}"
                raise (NotConfirmed(told) if unconfirmed else LedgerUnavailable(told)) from error
            raise
        finally:
            self._saving -= 1
        if not is_kept:
            work.put_back(written)
            self.save_state("not saved")
            self.show()
        elif self._saving == 0:
            self.saved()
            if self._is_unread:
                await self.read_again(work)

    async def keep(self, written: Sequence[WrittenGrade[Any]]) -> bool:
        """Write together what keys have written; say whether it was: not where a save before it has failed."""
        await self.desk.append([record for part in written for record in part.records])
        return True

    async def _put_right(self, work: AtWork[Any], written: Sequence[WrittenGrade[Any]], *, confirmed: bool) -> bool:
        """Take off what was not saved, then show what is on disk; say whether that could be read."""
        self.stay()
        work.put_back(written, confirmed=confirmed)
        self.show()
        try:
            found = await self._read(work)
        except QcledgerError:
            self._is_unread = True
            return False
        work.restore(found, written[0], confirmed=confirmed)
        self._is_unread = self._saving > 1  # what was pressed meanwhile is not on it yet
        self.show()
        return True

    async def read_again(self, work: AtWork[Any]) -> None:
        """Show what is on disk: once it can be read again, and when another page was in front."""
        with suppress(QcledgerError):
            found = await self._read(work)
            if self._saving == 0:
                work.renew(found)
                self._is_unread = False
                self.show()

    async def _read(self, work: AtWork[Any]) -> ToGrade:
        return await self.desk.read(self.on_disk(work), after_saves=True)

    # Keys

    def action_digit(self, number: int) -> None:
        """Grade."""
        if self.meant(str(number), twice=True) and self.write(lambda work: work.digit(number)):
            self.move_on()

    def action_not_testable(self) -> None:
        """Ask why there is no result, and record that."""
        work = self.atwork
        if work is None or work.place is None or not self.meant("-"):
            return
        self.stay()
        if work.settled and not work.advance():
            self.refuse(bad("run sheet", "-", work.all_done))
            return
        self.show()
        self._ask_why_not(work, work.here)

    def _ask_why_not(self, work: AtWork[Any], place: SheetSquare) -> None:
        title = work.sheet.criteria[place.criterion].title
        name = f"why not {self.name_of(work)} {place.line} {place.criterion}"

        def record(reason: str | None) -> None:
            if reason:
                work.go(place)
                if self.write(lambda here: here.not_testable(reason)):
                    self.desk.drafts.drop(name)
                    self.move_on()

        def take(reason: str | None) -> None:
            if reason == Reasons.OWN:
                line = KeptLine(f"Why {title} could not be tested", self.desk.drafts.get(name), keep)
                self.app.push_screen(line, record)
            else:
                record(reason)

        keep = partial(self.desk.drafts.keep, name)
        where = _named(title, self.one_of_several(work))
        reasons = self.why_not(work.sheet.criteria[place.criterion].excuses)
        self.app.push_screen(Reasons(f"Not testable: {where}. Why?", reasons, NO_REASON), take)

    def accept(self) -> bool:
        """Record the grade that is proposed; say whether there was one."""
        work = self.atwork
        if work is None or work.proposed is None:
            return False
        if self.write(AtWork.accept):
            self.move_on()
        return True

    def action_reading(self) -> None:
        """Ask for a reading; the page shows what it proposes."""
        work = self.atwork
        if work is None or work.place is None:
            return
        self.stay()
        place, criterion = work.here, work.sheet.criteria[work.here.criterion]
        if criterion.reading is None:
            self.say(f"{criterion.title} takes no reading", problem=True)
            return

        async def read(text: str) -> None:
            taken = reading(text, "reading")
            if work.here == place:
                work.read(*taken)
                self.say("")

        self.app.push_screen(TypeLine(criterion.reading.unit, read), lambda _: self.show())

    def action_photo(self) -> None:
        """File the newest picture with what is at work."""
        work = self.atwork
        if work is not None and work.place is not None and self.meant("photo"):
            self.work(partial(self._file_then, work, work.here), holds=False)

    async def _file_then(self, work: AtWork[Any], place: SheetSquare) -> None:
        """File the newest picture; then take back what was to be taken back behind it."""
        self._filing += 1
        try:
            await self._file_newest(work, place)
        finally:
            self._filing -= 1
            if not self._filing:
                waiting, self._after_photo = self._after_photo, 0
                for _ in range(waiting):
                    self._undo()

    async def _file_newest(self, work: AtWork[Any], place: SheetSquare) -> None:
        sheet, title = work.sheet, work.sheet.criteria[place.criterion].title
        where = _named(title, self.one_of_several(work))
        graded = not sheet.is_open(place)
        if not graded:
            self.check_photo(sheet)
            self.camera.folder()
            if not self.camera.meant((self.name_of(work), place)):
                raise bad("photo", f"no grade for {where}", "a grade first, or f again for a photo without one")

        read = self.on_disk(work)

        def file(ledger: "Ledger", picture: PictureFile) -> Photo:
            found = read(ledger)  # the grade may have been taken back or amended while the picture was looked at
            if graded and found.is_open(place):
                raise bad("photo", f"no grade for {where} any more", "a grade first")
            one, observation = found.lines[place.line].specimen.id, found.seen[place].id if graded else None
            return file_picture(ledger, picture, specimen=one, observation=observation, caption=title)

        photo = await self.camera.file(file)
        work.photographed(place, photo)
        self.noted(work)
        self.saved()
        self.say(f"{photo.file_name} filed with {where}{'' if graded else ', without a grade'}; z takes it back")

    @property
    def is_last(self) -> bool:
        """Whether the last thing done in this window was done at the work in front."""
        return self.atwork is not None and self.desk.done.is_last(self.name_of(self.atwork))

    def action_undo(self) -> None:
        """Take back the last thing done, a photo as well as a grade; what was done elsewhere since in its turn."""
        if not self.meant("undo", twice=True):
            return
        self.stay()
        if self._filing:  # the photo comes first: it was asked for last
            self._after_photo += 1
            self.say("taken back once the photo is filed")
        else:
            self._undo()

    def _undo(self) -> None:
        work = self.atwork
        if work is None or not self.is_last:
            Page.action_undo(self)
        elif (filed := work.photo_to_take_back()) is not None:
            work.go(filed.place)
            self.show()
            self.work(partial(self._take_photo_back, work, filed))
        else:
            before = work.sheet
            if self.write(AtWork.undo_act):
                self.say(self._undone(work, before, self.one_of_several(work)))

    async def _take_photo_back(self, work: AtWork[Any], filed: DoneAtPlace) -> None:
        said = await self.take_photo_back(work, filed)
        self.saved()
        self.say(said)


def _named(title: str, specimen: str) -> str:
    """Return a criterion and, where there are several, the specimen it is judged on."""
    return f"{title}, {specimen}" if specimen else title
