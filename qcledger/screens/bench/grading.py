"""What a pressed key does at a sheet: grade, save, move on, take back."""

from collections.abc import Callable, Sequence
from contextlib import suppress
from functools import partial
from typing import Final

from textual.timer import Timer as Countdown

from qcledger.bench import held, sheets
from qcledger.bench.atwork import AtWork, Done
from qcledger.bench.planning import REST_MINUTES, rests
from qcledger.bench.record import Written
from qcledger.bench.runsheet import RunSheet, Walk, progress
from qcledger.errors import BadInput, LedgerUnavailable, NotConfirmed, QcledgerError
from qcledger.screens.bench.view import SheetView
from qcledger.screens.desk import Desk
from qcledger.screens.page import Page
from qcledger.screens.shown import shown_undone

AS_BEFORE: Final = "The sheet shows what stood before that key."
MOMENT_S: Final = 0.8
"""How long a graded criterion stays on the screen before the next one comes."""


class Grading(Page):
    """A page with a sheet at work, or none."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self.atwork: AtWork | None = None
        self._press: held.Press | None = None
        self._saving = 0
        self._countdown: Countdown | None = None
        self._is_unread = False
        """Whether a save failed and the sheet could not be read again since."""

    # What is shown

    def show(self) -> None:
        """Show where the work is; a stage with nothing to judge is said instead."""
        work = self.atwork
        if work is None:
            return
        sheet = work.sheet
        where = f"specimen {work.place.line + 1} of {len(sheet.lines)}" if work.place else ""
        session = f"session {sheet.session.code}, {sheet.stage}"
        self.head(sheet.comparison, session, f"tester {sheet.session.tester}", where)
        if work.place is None:
            self.say(f"nothing to judge at the stage {sheet.stage}; s goes to the next stage", problem=True)
        self.query_one(SheetView).show(work)

    def _say_end(self, work: AtWork) -> None:
        done, of = progress(work.sheet)
        group = "specimen" if work.walk is Walk.BY_SPECIMEN else "test"
        onward = f"the stage {work.sheet.stage} is complete; s goes on" if done == of else "Enter goes to the next"
        if work.walk is Walk.BY_SPECIMEN and work.here.line + 1 in rests(len(work.sheet.lines)):
            onward = f"rest your eyes {REST_MINUTES} minutes; {onward}"
        self.mention(f"{group} done; {onward}")

    # Writing

    def meant(self, key: str) -> bool:
        """Say whether a press is meant; a held key is ignored, and said."""
        verdict, self._press = held.judge(self._press, key, self.pressed_at)
        if verdict is held.Verdict.TAKE:
            return True
        if verdict is held.Verdict.TAKE_BACK:
            self.write(AtWork.undo)
            self.say(f"{key} is held down: its second press was taken back", problem=True)
        else:
            self.say(f"{key} again within {held.HOLD_S:g} s: ignored", problem=True)
        return False

    def write(self, what: Callable[[AtWork], Written | None]) -> bool:
        """Do `what` at the sheet, save what it writes, and show it; say what is refused."""
        work = self.atwork
        if work is None:
            return False
        before = len(work.done)
        try:
            written = what(work)
        except BadInput as refused:
            self.app.bell()
            self.stay()  # or what comes after the moment would hide the refusal
            self.say(refused.line(), problem=True)
            self.show()
            return False
        if written is not None:
            self.say("")
            self.noted(work, len(work.done) - before)
            self.work(partial(self.save, work, (written,)))
        self.show()
        return written is not None

    def noted(self, work: AtWork, new: int = 1) -> None:
        """Let the `new` last things done on a sheet be taken back in their turn, from whichever page."""
        if new > 0:  # else something was taken back
            back = partial(self._take_back_elsewhere, work)
            self.desk.done.step(self.undone_at(work), work.done, back, new)

    @staticmethod
    def undone_at(work: AtWork) -> str:
        """Return the name under which what is done on a sheet is noted."""
        return f"bench {work.sheet.session.id} {work.sheet.stage}"

    async def _take_back_elsewhere(self, work: AtWork, page: Page) -> str:
        """Take back the last thing done on a sheet that is not in front."""
        if (filed := work.photo_to_take_back()) is not None:
            return await self.take_photo_back(work, filed)
        work.renew(await self._on_disk(work))
        if not work.done:
            return f"session {work.sheet.session.code} was worked on elsewhere since, and stays as it is"
        before, written = work.sheet, work.undo()
        place = work.here
        try:
            await page.desk.append(written.records)
        except QcledgerError:
            work.put_back((written,))
            raise
        if self.atwork is work:
            self.show()
        named = f"{before.criteria[place.criterion].title}, {before.label(place.line)},"
        return shown_undone(named, before.result(place), work.sheet.result(place), self.desk.settings)

    async def take_photo_back(self, work: AtWork, filed: Done) -> str:
        """Take back the filing of a photo and say so."""
        raise NotImplementedError

    async def save(self, work: AtWork, written: Sequence[Written]) -> None:
        """Save together, and say so only once it is on disk; after a failure show the sheet as it is on disk."""
        records = [record for part in written for record in part.records]
        self._saving += 1
        self.save_state("...")
        try:
            await self.desk.append(records)
        except QcledgerError as error:
            self.save_state("not saved")
            unconfirmed = isinstance(error, NotConfirmed)
            if not await self._put_right(work, written, confirmed=not unconfirmed):
                told = f"{error.line()} {AS_BEFORE}"
                raise (NotConfirmed(told) if unconfirmed else LedgerUnavailable(told)) from error
            raise
        finally:
            self._saving -= 1
        if self._saving == 0:
            self.saved()
            if self._is_unread:
                await self.read_again(work)

    async def _put_right(self, work: AtWork, written: Sequence[Written], *, confirmed: bool) -> bool:
        """Take off the sheet what was not saved, then show what is on disk; say whether that could be read."""
        self.stay()
        work.put_back(written, confirmed=confirmed)
        self.show()
        try:
            sheet = await self._on_disk(work)
        except QcledgerError:
            self._is_unread = True
            return False
        work.restore(sheet, written[0], confirmed=confirmed)
        self._is_unread = self._saving > 1  # what was pressed meanwhile is not on it yet
        self.show()
        return True

    async def read_again(self, work: AtWork) -> None:
        """Show what is on disk: once it can be read again, and when another page was in front."""
        with suppress(QcledgerError):
            sheet = await self._on_disk(work)
            if self._saving == 0:
                work.renew(sheet)
                self._is_unread = False
                self.show()

    async def _on_disk(self, work: AtWork) -> RunSheet:
        session, stage = work.sheet.session.id, work.sheet.stage
        return await self.desk.read(lambda ledger: sheets.load(ledger, session, stage), after_saves=True)

    # Walking

    def move_on(self) -> None:
        """Go on after a moment, in which undo takes back."""
        self.stay()
        self._countdown = self.set_timer(MOMENT_S, self._advance)

    def stay(self) -> None:
        """Stay here after all."""
        if self._countdown is not None:
            self._countdown.stop()

    def _advance(self) -> None:
        work = self.atwork
        if work is not None and work.settled:
            if not work.advance():
                self._say_end(work)
            self.show()

    # Keys

    def action_digit(self, number: int) -> None:
        """Grade."""
        if self.meant(str(number)) and self.write(lambda work: work.digit(number)):
            self.move_on()

    def action_half(self) -> None:
        """Half a step worse, or whole again."""
        if self.meant("+") and self.write(AtWork.half):
            self.move_on()

    def action_not_testable(self) -> None:
        """Record that there is no result."""
        if self.meant("-") and self.write(AtWork.not_testable):
            self.move_on()

    def action_enter(self) -> None:
        """Take the proposed grade; else go to the next specimen or test that has something open."""
        work = self.atwork
        if work is None or work.place is None or not self.meant("Enter"):
            return
        self.stay()
        self.say("")
        if work.proposed is not None:
            if self.write(AtWork.accept):
                self.move_on()
            return
        if not work.next_group():
            self._say_end(work)
        self.show()

    def is_last(self) -> bool:
        """Whether the last thing done in this window was done on the sheet in front."""
        return self.atwork is not None and self.desk.done.is_last(self.undone_at(self.atwork))

    def action_undo(self) -> None:
        """Take back the last thing done on this sheet."""
        work = self.atwork
        if self.meant("undo") and work is not None:
            self.stay()
            before = work.sheet
            if self.write(AtWork.undo):
                place, title = work.here, before.criteria[work.here.criterion].title
                named = f"{title}, {before.label(place.line)},"
                self.say(shown_undone(named, before.result(place), work.sheet.result(place), self.desk.settings))

    def action_move(self, by: int) -> None:
        """Go on or back."""
        if self.atwork is not None and self.atwork.place is not None:
            self.stay()
            self.say("")
            self.atwork.move(by)
            self.show()

    def action_walk(self) -> None:
        """Walk the other way."""
        if self.atwork is not None:
            self.say(f"walking {self.atwork.turn()}")
            self.show()
