"""What is found when a piece is unpacked: one criterion at a time on its ladder, a digit grades."""

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, ClassVar, Final, TypeVar

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.content import Content
from textual.widgets import Static

from qcledger.bench import faults
from qcledger.bench.filing import file_picture
from qcledger.bench.newest import Picture
from qcledger.bench.result import NO_REASON, Result, result_of
from qcledger.bench.typed import reading
from qcledger.errors import BadInput, QcledgerError, bad
from qcledger.records import Observation, Photo
from qcledger.screens import keys
from qcledger.screens.actions import PICKS
from qcledger.screens.camera import Camera
from qcledger.screens.desk import Desk
from qcledger.screens.dialogs import NoteBox
from qcledger.screens.page import Page
from qcledger.screens.shown import shown_line, shown_result, shown_undone
from qcledger.screens.stock.steps import Steps, elsewhere
from qcledger.screens.widgets.ladder import Ladder, LadderOfAnchors
from qcledger.screens.widgets.marks import Marks
from qcledger.screens.widgets.typeline import TypeLine
from qcledger.screens.widgets.wrapped import Wrapped, share
from qcledger.vocab import GRADE_NOTE, SpecimenState

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.rubric import Criterion

AIR: Final = 2
"""Empty lines around the ladder."""
Saved = TypeVar("Saved")
BECAUSE: Final = 4
"""Most lines of the reason of a proposed grade; the label itself tells all of it."""


class Unpacking(Page):
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
        self._at = 0
        self._unpacked: faults.Unpacked | None = None
        self._reading: Result | None = None
        self._coming: dict[str, Result] = {}
        """What is being saved, by criterion."""
        self._camera = Camera(desk)
        done = desk.done.steps(self.undone_as)
        told = partial(desk.done.step, self.undone_as, done, self._take_back_elsewhere)
        self._steps = Steps(specimen, done, told)
        """What was done to this specimen here, also before the page was left."""
        self._is_sealed = False
        self._hand: faults.Hand | None = None

    def works(self, verb: str) -> bool:
        """Whether there is a criterion with this key."""
        word, _, number = verb.partition("_")
        return word != "pick" or self._unpacked is None or int(number) < len(self._unpacked.criteria)

    def body(self) -> ComposeResult:
        """Lay out the criteria, the one that is judged, and its ladder."""
        yield Marks()
        yield Static("", markup=False, id="criterion")
        yield Wrapped(3, id="how")
        yield LadderOfAnchors()
        yield Wrapped(BECAUSE, id="because")
        yield Wrapped(3, id="cautions")

    def on_mount(self) -> None:
        """Say first how to leave: digits grade here, and open no other page."""
        self.foot([self.named("any.palette")], "leave", "photo", "note", "undo", "next", "enter", "not_testable")

    async def fill(self) -> None:
        """Ask for the specimen."""
        specimen = self._specimen

        def ask(ledger: "Ledger") -> tuple[faults.Unpacked, str]:
            from qcledger.labels import proposals

            return faults.load(ledger, specimen, proposals), ledger.daybook.tester

        found, tester = await self.desk.read(ask, after_saves=True)
        self._unpacked = found
        self._is_sealed = found.specimen.state is SpecimenState.UNOPENED
        self._hand = faults.Hand(tester, self.desk.now, self.desk.new_id)
        self.show()

    @property
    def _keys(self) -> list[str]:
        return list(self._unpacked.criteria) if self._unpacked else []

    @property
    def _here(self) -> str:
        return self._keys[self._at]

    def show(self) -> None:
        """Show the criterion that is judged."""
        found = self._unpacked
        if found is None:
            return
        criterion, stands = found.criteria[self._here], found.result(self._here)
        proposed = self._proposed() if stands.is_open else None
        self.head(found.specimen.sticker, found.title)
        self.query_one(Marks).show(self._marks(found), self._at)
        letter = PICKS[self._at]
        beside = f"; note: {stands.note}" if stands.note else ""
        beside += f"; {shown_result(self._reading, self.desk.settings)}: a digit grades it" if self._reading else ""
        title = shown_line(f"{letter} {criterion.title}", "bold")
        self.query_one("#criterion", Static).update(Content.assemble(title, f"   {GRADE_NOTE}", shown_line(beside)))
        self.query_one("#how", Wrapped).show(criterion.how)
        because = found.why(self._here) if stands.is_open and self._reading is None else ""
        self.query_one("#because", Wrapped).show(because)
        self.query_one(LadderOfAnchors).show(Ladder(criterion.anchors, stands.grade, proposed, criterion.fault_line))
        self.query_one("#cautions", Wrapped).show(" ".join(f"! {remark.text}" for remark in criterion.cautions))
        self.call_after_refresh(self._share_lines)

    def _share_lines(self) -> None:
        """Give the instruction and the cautions every line that is left."""
        body = self.query_one("#body").content_size
        taken = sum(self.query_one(kind).outer_size.height for kind in (Marks, LadderOfAnchors)) + 1 + AIR
        taken += min(self.query_one("#because", Wrapped).needed(body.width), BECAUSE)
        how, cautions = self.query_one("#how", Wrapped), self.query_one("#cautions", Wrapped)
        share(body.height - taken, body.width, how, cautions, (3, 3))

    def on_resize(self) -> None:
        """Share the lines anew."""
        self.call_after_refresh(self._share_lines)

    def _marks(self, found: faults.Unpacked) -> list[str]:
        """Return each criterion with its letter and what stands."""
        return [
            f"{PICKS[n]} {criterion.title} {shown_result(found.result(key), self.desk.settings)}"
            for n, (key, criterion) in enumerate(found.criteria.items())
        ]

    def _proposed(self) -> float | None:
        assert self._unpacked is not None
        if (taken := self._reading) is not None and taken.reading is not None:
            return self._unpacked.criteria[self._here].propose(taken.reading, taken.censored)
        return self._unpacked.follows(self._here)

    # Grading

    def action_digit(self, number: int) -> None:
        """Grade."""
        base = self._reading or Result()
        self._write(Result(grade=float(number), reading=base.reading, censored=base.censored))

    def action_enter(self) -> None:
        """Take the proposed grade."""
        if self._unpacked is None:
            return
        grade = self._proposed() if self._unpacked.result(self._here).is_open else None
        if grade is None:
            self.say("nothing is proposed here; a digit grades", problem=True)
        else:
            self.action_digit(int(grade))

    def action_not_testable(self) -> None:
        """Record that there is no result."""
        self._write(Result(not_testable=NO_REASON))

    def _write(self, result: Result) -> None:
        found = self._unpacked
        if found is None:
            return
        key = self._here
        stands = self._coming.get(key, found.result(key))
        if result == Result(grade=stands.grade, reading=stands.reading, censored=stands.censored):
            self.say("that grade stands already")
            return
        try:
            result.check(found.criteria[key])
        except BadInput as refused:
            self.app.bell()
            self.say(refused.line(), problem=True)
            return
        self.say("")
        self.save_state("...")
        self._coming[key] = result
        self.work(partial(self._save, key, result))

    async def _save(self, key: str, result: Result) -> None:
        """Save a result."""
        hand = self._hand
        assert hand is not None
        try:
            seen, before = await self._saved(lambda ledger: self._steps.grade(ledger, key, result, hand))
        finally:
            if self._coming.get(key) is result:
                del self._coming[key]
        if self._reading is not None and (key, result.reading) == (self._here, self._reading.reading):
            self._reading = None
        self._take(seen)
        self._tell_replaced(result, result_of(before))

    def _tell_replaced(self, result: Result, was: Result) -> None:
        """Say which grade gave way to another, and once that a piece at work is recorded as sealed."""
        if not was.is_open and result.note == was.note:
            new, old = (shown_result(one, self.desk.settings) for one in (result, was))
            self.say(f"graded {new}, was {old}; z takes it back")
        elif self._unpacked is not None and self._is_sealed:
            self._is_sealed = False
            self.say(f"{self._unpacked.specimen.sticker} stands as unopened; o in Stock says that it was opened")

    async def _saved(self, job: "Callable[[Ledger], Saved]") -> "Saved":
        try:
            done = await self.desk.save(job)
        except QcledgerError:
            self.save_state("not saved")
            raise
        if done is not None:
            self.saved()
        return done

    def _take(self, seen: Observation) -> None:
        if self._unpacked is not None:
            self._unpacked = self._unpacked.with_seen(seen)
            self.show()

    @property
    def undone_as(self) -> str:
        """What was done to this specimen is taken back here so that the criterion is in front again."""
        return f"{self.KEY} {self._specimen}"

    def action_undo(self) -> None:
        """Take back the last thing done, here or elsewhere in the window."""
        if self._coming or self.desk.done.is_last(self.undone_as):
            self.work(partial(self._take_back, self._at, self._steps.failed))
        else:
            super().action_undo()

    async def _take_back_elsewhere(self, page: Page) -> str:
        assert self._hand is not None  # or nothing would have been done
        return await elsewhere(page, self._steps, self._hand, self._camera)

    async def _take_back(self, at: int, failed: int) -> None:
        hand, found = self._hand, self._unpacked
        if hand is None or found is None:
            return
        taken = await self._saved(lambda ledger: self._steps.take_back(ledger, hand, failed))
        if taken is None:
            if self._steps.failed == failed:  # else the save that was meant has said itself that it failed
                self.say("nothing done here yet; the right digit grades anew", problem=True)
        elif isinstance(taken[1], bool):
            self.say(self._camera.taken_back(taken[0], stood=taken[1]))
        else:
            (last, _), seen = taken
            if self._at == at:  # whoever has gone on meanwhile stays there
                self.action_pick(self._keys.index(seen.criterion))
            self._take(seen)
            title = found.criteria[seen.criterion].title
            self.say(shown_undone(title, result_of(last), result_of(seen), self.desk.settings))

    # Notes, readings, photos

    def action_note(self) -> None:
        """Write a note to what stands here, or to the grade that is being saved."""
        found, drafts = self._unpacked, self.desk.drafts
        if found is None:
            return
        key = self._here
        stands = self._coming.get(key, found.result(key))
        if stands.is_open:
            self.say("a digit first, then the note to it", problem=True)
            return
        name = f"unpacking {found.specimen.id} {key}"

        async def keep(note: str) -> None:
            await self.desk.settled()
            now = self._unpacked.result(key) if self._unpacked else stands
            if now.is_open:  # taken back or refused since: the draft waits for a grade
                self.say(
                    f"{found.criteria[key].title} has no grade now; n brings the note again once it has", problem=True
                )
                return
            if note != now.note:
                await self._save(key, replace(now, note=note))
            drafts.drop(name)

        def kept(note: str | None) -> None:
            if note is not None:
                self.call_after_refresh(self.work, partial(keep, note))

        title = f"Note: {found.criteria[key].title}, {found.specimen.sticker}"
        text = drafts.get(name) or stands.note
        self.app.push_screen(NoteBox(title, text, partial(drafts.keep, name), stands.note), kept)

    def action_reading(self) -> None:
        """Type a reading; it proposes its grade."""
        if self._unpacked is None:
            return
        criterion, key = self._unpacked.criteria[self._here], self._here
        if criterion.reading is None:
            self.say(f"{criterion.title} takes no reading", problem=True)
            return

        def take(taken: Result | None) -> None:
            if taken is not None and key == self._here:
                self._reading = taken
                self.show()

        self.app.push_screen(TypeLine(criterion.reading.unit, partial(_typed_reading, criterion)), take)

    def action_photo(self) -> None:
        """File the newest picture with what is judged."""
        if self._unpacked is not None:
            self.work(partial(self._file_newest, self._here))

    async def _file_newest(self, key: str) -> None:
        await self.desk.settled()
        found = self._unpacked
        assert found is not None
        title, graded = found.criteria[key].title, not found.result(key).is_open
        if not graded:
            self._camera.folder()
            if not self._camera.meant(key):
                raise bad("photo", f"no grade for {title}", "a digit first, or f again for a photo without one")

        def file(ledger: "Ledger", picture: Picture) -> Photo:
            seen = faults.load(ledger, self._specimen).seen.get(key) if graded else None
            observation = seen.id if seen else None
            photo = file_picture(ledger, picture, specimen=self._specimen, observation=observation, caption=title)
            self._steps.filed(photo)
            return photo

        photo = await self._camera.file(file)
        self.saved()
        self.say(f"{photo.file_name} filed with {title}{'' if graded else ', without a grade'}; z takes it back")

    # Walking

    def action_pick(self, number: int) -> None:
        """Go to a criterion by its letter."""
        if number < len(self._keys):
            self._at, self._reading = number, None
            self.show()

    def action_move(self, by: int) -> None:
        """Go to the next criterion, or the one before."""
        if self._keys:
            self.action_pick(min(max(self._at + by, 0), len(self._keys) - 1))


async def _typed_reading(criterion: "Criterion", text: str) -> Result:
    """Return the reading that was typed; a grade is still to come."""
    value, censored = reading(text, "reading")
    taken = Result(reading=value, censored=censored)
    replace(taken, grade=min(criterion.anchors, default=None)).check(criterion)
    return taken
