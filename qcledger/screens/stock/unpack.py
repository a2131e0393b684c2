"""What is found when a piece is unpacked: one criterion at a time on its ladder, a digit grades."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any, ClassVar, Final

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.content import Content
from textual.widgets import Static

from qcledger.bench import faults
from qcledger.bench.atwork import AtWork
from qcledger.bench.record import WrittenGrade
from qcledger.bench.result import Result, result_of
from qcledger.bench.runsheet import SheetSquare
from qcledger.screens import keys
from qcledger.screens.actions import PICKS
from qcledger.screens.desk import Desk
from qcledger.screens.dialogs import NoteBox
from qcledger.screens.grading import Grading
from qcledger.screens.shown import shown_line, shown_result
from qcledger.screens.widgets.ladder import Ladder, LadderOfAnchors
from qcledger.screens.widgets.marks import Marks
from qcledger.screens.widgets.wrapped import Wrapped, share
from qcledger.vocab import GRADE_NOTE, TAKEN_BACK, SpecimenState

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

AIR: Final = 2
"""Empty lines around the ladder."""
BECAUSE: Final = 4
"""Most lines of the reason of a proposed grade; the label itself tells all of it."""


class Unpacking(Grading):
    """Pack, contents and label of one specimen.

    Parameters
    ----------
    desk
        Where to ask and save.
    specimen
        The specimen's id.
    """

    KEY = "unpacking"
    TITLE = "Unpacking"
    BINDINGS: ClassVar[list[BindingType]] = list(keys.bindings("unpacking"))
    DEFAULT_CSS = """
    Unpacking Marks { height: auto; max-height: 6; }
    Unpacking #how { color: $faint; }
    Unpacking LadderOfAnchors { margin: 1 0; }
    Unpacking #cautions { color: $warning; dock: bottom; }
    Unpacking.-low #how, Unpacking.-low Marks, Unpacking.-low #cautions { display: none; }
    Unpacking.-low LadderOfAnchors { margin: 0; }
    Unpacking.-low #criterion { height: 1; }
    """

    def __init__(self, desk: Desk, specimen: str) -> None:
        super().__init__(desk)
        self._specimen = specimen
        self._is_sealed = False

    def works(self, verb: str) -> bool:
        """Whether there is a criterion with this key."""
        word, _, number = verb.partition("_")
        return word != "pick" or self.atwork is None or int(number) < len(self.atwork.sheet.criteria)

    def body(self) -> ComposeResult:
        """Lay out the criteria, the one that is judged, and its ladder."""
        yield Marks()
        yield Static("", markup=False, id="criterion")
        yield Wrapped(3, id="how")
        yield LadderOfAnchors()
        yield Wrapped(BECAUSE, id="because")
        yield Wrapped(3, id="cautions")

    def on_mount(self) -> None:
        """Say first how to leave."""
        self.foot([], "leave", "photo", "note", "undo", "next", "enter", "not_testable")

    async def fill(self) -> None:
        """Ask for the specimen; what was done to it before the page was left can still be taken back."""
        if self.atwork is None:
            found, tester = await self.desk.read(
                lambda ledger: (_ask(ledger, self._specimen), ledger.daybook.tester), after_saves=True
            )
            done = self.desk.done.steps(self.undone_as)
            work = AtWork(found, tester=tester, now=self.desk.now, new_id=self.desk.new_id, done=done)
            work.go(SheetSquare(0, next(iter(found.criteria))))
            self.atwork = work
            self.show()
        else:
            await self.read_again(self.atwork)
        self._is_sealed = self.atwork.sheet.specimen.state is SpecimenState.UNOPENED

    def show(self) -> None:
        """Show the criterion that is judged; a page that is gone by now shows nothing."""
        work = self.atwork
        if work is None or not self.is_attached:
            return
        found, here = work.sheet, work.here
        criterion, stands = found.criteria[here.criterion], found.result(here)
        proposed = work.proposed
        at = list(found.criteria).index(here.criterion)
        self.head(found.specimen.sticker, found.title)
        self.query_one(Marks).show(self._marks(found), at)
        letter = PICKS[at]
        beside = f"; note: {stands.note}" if stands.note else ""
        beside += f"; {shown_result(work.pending, self.desk.settings)}: a digit grades it" if work.pending else ""
        title = shown_line(f"{letter} {criterion.title}", "bold")
        self.query_one("#criterion", Static).update(Content.assemble(title, f"   {GRADE_NOTE}", shown_line(beside)))
        self.query_one("#how", Wrapped).show(criterion.how)
        because = found.why(here.criterion) if stands.is_open and work.pending is None else ""
        self.query_one("#because", Wrapped).show(because)
        self.query_one(LadderOfAnchors).show(Ladder(criterion.anchors, stands.grade, proposed, criterion.fault_line))
        self.query_one("#cautions", Wrapped).show(" ".join(f"! {remark.text}" for remark in criterion.cautions))
        self.call_after_refresh(self._share_lines)

    def _share_lines(self) -> None:
        """Give the reason of a proposal its lines first, then instruction and cautions what is left."""
        body = self.query_one("#body").content_size
        because, how, cautions = (self.query_one(f"#{name}", Wrapped) for name in ("because", "how", "cautions"))
        least = (1, 1) if because.needed(body.width) else (3, 3)
        room = body.height - AIR - 1
        room -= sum(self.query_one(kind).outer_size.height for kind in (Marks, LadderOfAnchors))
        given = min(because.needed(body.width), BECAUSE, max(room - sum(least), 1))
        because.allow(given)
        share(room - given, body.width, how, cautions, least)

    def on_resize(self) -> None:
        """Share the lines anew."""
        self.call_after_refresh(self._share_lines)

    def _marks(self, found: faults.Unpacked) -> list[str]:
        """Return each criterion with its letter and what stands."""
        return [
            f"{PICKS[n]} {criterion.title} {shown_result(found.result(SheetSquare(0, key)), self.desk.settings)}"
            for n, (key, criterion) in enumerate(found.criteria.items())
        ]

    # What is graded here

    def name_of(self, work: AtWork[Any]) -> str:
        """Return the name under which what is done to this specimen is noted."""
        return self.undone_as

    @property
    def undone_as(self) -> str:
        """What was done to this specimen is taken back here so that the criterion is in front again."""
        return f"{self.KEY} {self._specimen}"

    def on_disk(self, work: AtWork[Any]) -> "Callable[[Ledger], faults.Unpacked]":
        """Return what reads the specimen as it is on disk."""
        return partial(_ask, specimen=self._specimen)

    def nothing_left(self, work: AtWork[Any]) -> str:
        """Say that what was done to this specimen here no longer stands."""
        return f"nothing is left to take back at {work.sheet.specimen.sticker}"

    async def keep(self, written: Sequence[WrittenGrade[Any]]) -> bool:
        """Write, unless another window has graded the piece meanwhile: nobody would see what gave way."""
        return await self.desk.save(lambda ledger: faults.keep(ledger, written))

    async def save(self, work: AtWork[Any], written: Sequence[WrittenGrade[Any]]) -> None:
        """Save; then say what gave way to it, and once that a piece at work is recorded as sealed."""
        await super().save(work, written)
        one = written[0]
        new, was = result_of(one.observation), one.stood.result(one.place)
        if new.is_open or one.observation.reason == TAKEN_BACK or work.sheet.seen.get(one.place) != one.observation:
            return  # it was taken back, or gave way itself meanwhile
        if not was.is_open and new.note == was.note:
            now, then = (shown_result(result, self.desk.settings) for result in (new, was))
            self.say(f"graded {now}, was {then}; z takes it back")
        elif self._is_sealed:
            self._is_sealed = False
            self.say(f"{work.sheet.specimen.sticker} stands as unopened; o in Stock says that it was opened")

    # Grading

    def action_digit(self, number: int) -> None:
        """Grade, unless that grade stands already."""
        work = self.atwork
        if work is None:
            return
        new, stands = replace(work.pending or Result(), grade=float(number)), work.sheet.result(work.here)
        if new == replace(stands, choice=None, not_testable=None, note=""):
            self.say("that grade stands already")
        else:
            super().action_digit(number)

    def action_enter(self) -> None:
        """Take the proposed grade."""
        if self.atwork is not None and self.meant("Enter") and not self.accept():
            self.say("nothing is proposed here; a digit grades", problem=True)

    def action_undo(self) -> None:
        """Take back the last thing done, here or elsewhere in the window."""
        if self.is_last and self.atwork is not None and not self.atwork.done:
            self.say("nothing done here yet; the right digit grades anew", problem=True)
        else:
            super().action_undo()

    # Notes

    def action_note(self) -> None:
        """Write a note to what stands here, or to the grade that is being saved."""
        work, drafts = self.atwork, self.desk.drafts
        if work is None:
            return
        place, stands = work.here, work.sheet.result(work.here)
        title = work.sheet.criteria[place.criterion].title
        if stands.is_open:
            self.say("a digit first, then the note to it", problem=True)
            return
        name = f"unpacking {self._specimen} {place.criterion}"

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
            drafts.drop(name)

        def kept(note: str | None) -> None:
            if note is not None:
                self.call_after_refresh(self.work, partial(keep, note))

        heading = f"Note: {title}, {work.sheet.specimen.sticker}"
        text = drafts.get(name) or stands.note
        self.app.push_screen(NoteBox(heading, text, partial(drafts.keep, name), stands.note), kept)

    # Walking

    def action_pick(self, number: int) -> None:
        """Go to a criterion by its letter."""
        if self.atwork is None:
            return
        there = list(self.atwork.sheet.criteria)
        if number >= len(there):
            last = PICKS[len(there) - 1]
            self.say(f"no criterion has the key {PICKS[number]}; {PICKS[0]} to {last} have one", problem=True)
        elif self.atwork.here.criterion == there[number] and self.atwork.pending is None:
            self.say(f"{self.atwork.sheet.criteria[there[number]].title} is in front already")
        else:
            self.say("")
            self.atwork.go(SheetSquare(0, there[number]))
            self.show()

    def action_move(self, by: int) -> None:
        """Go to the next criterion, or the one before."""
        if self.atwork is not None:
            self.say("")
            self.atwork.move(by)
            self.show()


def _ask(ledger: "Ledger", specimen: str) -> faults.Unpacked:
    from qcledger.labels import proposals

    return faults.load(ledger, specimen, proposals)
