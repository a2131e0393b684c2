"""What is found when a parcel is unpacked: its pieces down, criteria across; a digit grades and goes on."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any, ClassVar, Final

from textual import events
from textual.app import ComposeResult
from textual.binding import BindingType

from qcledger.bench import faults
from qcledger.bench.atwork import AtWork
from qcledger.bench.record import WrittenGrade
from qcledger.bench.result import Result, result_of
from qcledger.bench.runsheet import progress
from qcledger.records import Specimen
from qcledger.screens import keys
from qcledger.screens.desk import Desk
from qcledger.screens.dialogs import NoteBox, Words
from qcledger.screens.shown import shown_result
from qcledger.screens.stock.unpackview import UnpackingView
from qcledger.screens.stock.unpackwalk import UnpackWalking
from qcledger.screens.widgets.lines import SaidLine
from qcledger.vocab import TAKEN_BACK, SpecimenState

if TYPE_CHECKING:
    from qcledger.ledger import Ledger


ON_A_SHEET: Final = "sd"
"""Keys of the reasons, of `bench.amending.WHY_NOT`, that are about places on a sheet."""


class Unpacking(UnpackWalking):
    """Pack, contents and label of the pieces of one parcel.

    Parameters
    ----------
    desk
        Where to ask and save.
    specimen
        The id of the piece that is at work first.
    """

    KEY = "unpacking"
    TITLE = "Unpacking"
    BINDINGS: ClassVar[list[BindingType]] = list(keys.bindings("unpacking"))
    DEFAULT_CSS = """
    Unpacking.-low #how, Unpacking.-low UnpackingTable, Unpacking.-low #cautions { display: none; }
    Unpacking.-low #because { display: none; }
    Unpacking.-low LadderOfAnchors { margin: 0; }
    Unpacking.-low #criterion { height: 1; }
    """

    def __init__(self, desk: Desk, specimen: str) -> None:
        super().__init__(desk)
        self._specimen = specimen
        self._parcel = ""
        self._changed: list[Specimen] = []
        """Pieces whose state the last saves changed, and that was not told yet."""
        self._asked_undo = 0.0
        """When z was pressed that said what it would take back elsewhere; 0 for never."""

    def on_mount(self) -> None:
        """Say first how the rest of a sound piece is graded, and how to leave."""
        self.foot([], "rest", "enter", "leave", "photo", "note", "undo", "not_testable")

    async def fill(self) -> None:
        """Ask for the parcel; what was done to it before the page was left can still be taken back."""
        if self.atwork is not None:
            await self.read_again(self.atwork)
            return
        found, tester = await self.desk.read(
            lambda ledger: (_ask(ledger, self._specimen), ledger.daybook.tester), after_saves=True
        )
        self._parcel = found.lines[0].specimen.parcel
        done = self.desk.done.steps(self.undone_as)
        work = AtWork(found, tester=tester, now=self.desk.now, new_id=self.desk.new_id, done=done)
        line = found.line_of(self._specimen)
        first = next((place for place in found.places_of(line) if found.is_open(place)), None)
        if (start := first or next(iter(found.places_of(line)), None)) is None:
            self.say(f"nothing is judged at unpacking of a {found.lines[line].specimen.format}", problem=True)
            return
        work.go(start)
        self.atwork = work
        self.show()

    def body(self) -> ComposeResult:
        """Lay out the table, and below it the criterion that is judged and its ladder."""
        yield UnpackingView(self.desk.settings)

    def show(self) -> None:
        """Show the place that the next key is about; a page that is gone by now shows nothing."""
        work = self.atwork
        if work is None or not self.is_attached:
            return
        piece, (done, of) = work.sheet.lines[work.ahead.line], progress(work.sheet)
        which = f"piece {work.ahead.line + 1} of {len(work.sheet.lines)}"
        self.head(piece.specimen.sticker, piece.title, which, f"{done} of {of} graded")
        self.query_one(UnpackingView).show(work)

    # What is graded here

    def name_of(self, work: AtWork[Any]) -> str:
        """Return the name under which what is done to this parcel is noted."""
        return self.undone_as

    @property
    def undone_as(self) -> str:
        """What was done to this parcel is taken back here so that the place is in front again."""
        return f"{self.KEY} {self._parcel}"

    def on_disk(self, work: AtWork[Any]) -> "Callable[[Ledger], faults.Unpacked]":
        """Return what reads the same pieces as they are on disk."""
        return partial(_again, specimens=[line.specimen.id for line in work.sheet.lines])

    def nothing_left(self, work: AtWork[Any]) -> str:
        """Say that what was done to this parcel here no longer stands."""
        return f"nothing is left to take back at {work.sheet.label(work.here.line)}"

    def why_not(self, excuses: Sequence[str]) -> Mapping[str, str]:
        """Leave out the reasons that only a sheet can have."""
        return {key: why for key, why in super().why_not(excuses).items() if key not in ON_A_SHEET}

    async def keep(self, written: Sequence[WrittenGrade[Any]]) -> bool:
        """Write, unless another window has graded the piece meanwhile: nobody would see what gave way."""
        changed = await self.desk.save(lambda ledger: faults.keep(ledger, written))
        self._changed += changed or ()
        return changed is not None

    async def save(self, work: AtWork[Any], written: Sequence[WrittenGrade[Any]]) -> None:
        """Save; then say what gave way to it, and which pieces are opened by it."""
        await super().save(work, written)
        changed, self._changed = self._changed, []
        if changed:
            work.sheet = work.sheet.with_pieces(changed)
            self.show()
        one = written[-1]
        new, was = result_of(one.observation), one.stood.result(one.place)
        stands = work.sheet.seen.get(one.place) == one.observation and one.observation.reason != TAKEN_BACK
        if stands and not new.is_open and len(written) == 1 and not was.is_open and new.note == was.note:
            now, then = (shown_result(result, self.desk.settings) for result in (new, was))
            self._add(f"graded {now}, was {then}; z takes it back")
        for row in changed:
            now = "opened now" if row.state is SpecimenState.OPENED else f"{row.state} again"
            self._add(f"{row.sticker} is {now}")

    def _add(self, words: str) -> None:
        """Say something behind what a key has said."""
        said = self.query_one(SaidLine).said
        self.mention(f"{said}; {words}" if said else words)

    # Grading

    def action_digit(self, number: int) -> None:
        """Grade the place that is shown and go on, unless that grade stands already."""
        work = self.atwork
        if work is None or self.is_behind_unknown(work, str(number)) or self.is_shut(work, str(number)):
            return
        new, stands = replace(work.pending or Result(), grade=float(number)), work.sheet.result(work.here)
        if not work.settled and new == replace(stands, choice=None, not_testable=None, note=""):
            self.say("that grade stands already")
            return
        super().action_digit(number)
        self.say_graded(work)

    def action_rest(self) -> None:
        """Grade the rest of the piece as sound: what stands stays, what a label says otherwise is left open."""
        work = self.atwork
        if work is None or not self.meant("space"):
            return
        sheet, line = work.sheet, work.ahead.line
        open_ = [place for place in sheet.places_of(line) if sheet.is_open(place)]
        given = {place: result for place in open_ if (result := sheet.sound(place)) is not None}
        if not given:
            onward = f"left to look at: {self.named_of(work, open_)}" if open_ else "Enter goes to the next piece"
            self.say(f"nothing of {sheet.label(line)} is left to be called sound; {onward}", problem=True)
            return
        if not self.write(lambda work: work.fill(given)):
            return
        left = [place for place in open_ if place not in given]
        if left:
            work.go(left[0])
            self.show()
        count = f"{len(given)} {'criteria' if len(given) > 1 else 'criterion'}"
        said = f"the rest of {sheet.label(line)} is sound: {count}"
        self.say(f"{said}; look at {self.named_of(work, left)}" if left else f"{said}; Enter goes on")

    def action_reading(self) -> None:
        """Ask for a reading of what is shown."""
        if self.atwork is not None and not self.is_shut(self.atwork, "a reading"):
            if self.atwork.settled:
                self.atwork.go(self.atwork.ahead)
            super().action_reading()

    # Taking back

    def action_undo(self) -> None:
        """Take back the last thing done here; what was done elsewhere is told first, and a second z takes it back."""
        if self.is_last and self.atwork is not None and not self.atwork.done:
            self.say("nothing done here yet; the right digit grades anew", problem=True)
        elif self.is_last or self._filing or self._asked_undo:
            self._asked_undo = 0.0
            super().action_undo()
        elif (newest := self.desk.done.newest) is not None:
            self._asked_undo = self.pressed_at or 1.0
            where = keys.page_title(newest.by.split()[0])
            self.say(f"nothing done here is left; z once more takes back what was done last on {where}", problem=True)

    def on_key(self, event: events.Key) -> None:
        """Forget at any other key that z has asked, and, at one that is no digit, the letter before it."""
        if not event.key.isdigit():
            self.unknown_letter = ""
        if event.key not in keys.keys_of(keys.action("unpacking.undo"), self.desk.settings.keys):
            self._asked_undo = 0.0

    # Notes and cautions

    def action_note(self) -> None:
        """Write a note to what stands at work, or to the grade that is being saved."""
        work, drafts = self.atwork, self.desk.drafts
        if work is None:
            return
        place, stands = work.here, work.sheet.result(work.here)
        title, piece = work.sheet.criteria[place.criterion].title, work.sheet.lines[place.line].specimen
        if stands.is_open:
            self.say("a digit first, then the note to it", problem=True)
            return
        name = f"unpacking {piece.id} {place.criterion}"

        async def keep(note: str) -> None:
            await self.desk.settled()
            now = work.sheet.result(place)
            if now.is_open:  # taken back or refused since: the draft waits for a grade
                self.say(f"{title} has no grade now; n brings the note again once it has", problem=True)
                return
            if note != now.note:
                work.go(place)
                written = work.annotate(note)
                assert written is not None  # there is a grade
                self.show()
                self.noted(work)
                await self.save(work, (written,))
                self._add(f"note kept with {title}, {piece.sticker}")
            drafts.drop(name)

        def kept(note: str | None) -> None:
            if note is not None:
                self.work(partial(keep, note))

        heading = f"Note: {title}, {piece.sticker}"
        text = drafts.get(name) or stands.note
        self.app.push_screen(NoteBox(heading, text, partial(drafts.keep, name), stands.note), kept)

    def action_cautions(self) -> None:
        """Read everything to be minded at this parcel."""
        if self.atwork is not None:
            sheet = self.atwork.sheet
            told = [f"{one.title}: {remark.text}" for one in sheet.criteria.values() for remark in one.cautions]
            self.app.push_screen(Words("Cautions of unpacking", (*sheet.rules, *dict.fromkeys(told))))


def _ask(ledger: "Ledger", specimen: str) -> faults.Unpacked:
    from qcledger.labels import proposals

    return faults.load_parcel(ledger, specimen, proposals)


def _again(ledger: "Ledger", specimens: Sequence[str]) -> faults.Unpacked:
    """Return the same pieces once more, in the same lines, whatever the parcel has become."""
    from qcledger.labels import proposals

    return faults.load_pieces(ledger, specimens, proposals)
