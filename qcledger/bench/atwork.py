"""A tester at work on whatever asks for grades: where they are, what the next key means, what can be taken back."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Generic, TypeVar

from qcledger.bench import paper
from qcledger.bench.record import WrittenGrade, write, write_back
from qcledger.bench.result import NO_REASON, Hand, Result, half_step, result_of
from qcledger.bench.runsheet import SheetSquare, ToGrade, Walk, first_open, follow, next_group, step
from qcledger.errors import bad
from qcledger.records import Observation, Photo
from qcledger.vocab import Censored, Kind

S = TypeVar("S", bound=ToGrade)


@dataclass(frozen=True, slots=True)
class DoneAtPlace:
    """One thing done at a place, and what stood there before, to be taken back; or a photo filed there."""

    place: SheetSquare
    made: str
    before: Observation | None
    photo: Photo | None = None
    with_next: bool = False
    """Whether it is one act with what was done right behind it, and is taken back with that."""


class AtWork(Generic[S]):
    """One sheet at work.

    Parameters
    ----------
    sheet
        The sheet as it stands.
    tester
        Whose grades these are.
    now
        The time of day (UTC).
    new_id
        Makes ids.
    walk
        The order in which the sheet is walked.
    done
        The list in which what was done is kept, should it outlive this.

    Notes
    -----
    Each method that records returns what to write and shows the sheet as if it were written; `restore` puts the
    sheet right when that fails. A place that was just graded is `settled`: the next digit belongs to the next place.
    """

    def __init__(
        self,
        sheet: S,
        *,
        tester: str,
        now: Callable[[], datetime],
        new_id: Callable[[], str],
        walk: Walk = Walk.BY_SPECIMEN,
        done: list[DoneAtPlace] | None = None,
    ) -> None:
        self.sheet = sheet
        self.walk = walk
        self.opened_at = now()
        """When this sitting began; a sheet may have been at work for days before."""
        self.place = first_open(sheet, walk)
        self.settled = False
        self.pending: Result | None = None
        self._notes: dict[SheetSquare, str] = {}
        """Notes to grades that are still to come, by place."""
        self._hand = Hand(tester, now, new_id)
        self._done: list[DoneAtPlace] = [] if done is None else done
        self._unconfirmed: WrittenGrade[S] | None = None
        self._failed: dict[str, Observation | None] = {}
        self._stood_as: dict[str, str] = {}
        """The id under which each restored observation stood before."""

    @property
    def done(self) -> Sequence[DoneAtPlace]:
        """What can be taken back on this sheet, the last thing done last; always the same list."""
        return self._done

    @property
    def ahead(self) -> SheetSquare:
        """The place that the next digit grades: behind a place just graded the next one, if its group has one."""
        return (follow(self.sheet, self.walk, self.here) or self.here) if self.settled else self.here

    @property
    def note(self) -> str:
        """The note that waits for the grade of the place at work."""
        return self._notes.get(self.place, "") if self.place is not None else ""

    @note.setter
    def note(self, text: str) -> None:
        self._notes[self.here] = text

    @property
    def here(self) -> SheetSquare:
        """The place at work.

        Raises
        ------
        BadInput
            When the sheet has none.
        """
        if self.place is None:
            raise bad("run sheet", "nothing to judge at this stage", "another stage or sheet")
        return self.place

    # Recording

    def digit(self, number: int) -> WrittenGrade[S]:
        """Record a grade, or the choice with this number, at the place at work or, when that is settled, the next.

        A reading that was taken goes with it.

        Raises
        ------
        BadInput
            When the criterion does not offer it, or the specimen is done and the next one is not yet asked for.
        """
        if self.settled and not self.advance():
            raise bad("run sheet", str(number), self.all_done)
        criterion = self.sheet.criteria[self.here.criterion]
        base = self.pending or Result()
        if criterion.kind is Kind.CHOICE:
            words = list(criterion.choices)
            if not 1 <= number <= len(words):
                raise bad(criterion.title, str(number), f"1 to {len(words)}")
            return self._record(replace(base, choice=words[number - 1]))
        return self._record(replace(base, grade=float(number)))

    def half(self) -> WrittenGrade[S]:
        """Make the grade that stands half a step worse, or whole again."""
        finer = half_step(self.sheet.result(self.here), self.sheet.criteria[self.here.criterion])
        return self._record(finer, "half step")

    def not_testable(self, reason: str = NO_REASON) -> WrittenGrade[S]:
        """Record that the criterion could not be tested here."""
        if self.settled and not self.advance():
            raise bad("run sheet", "-", self.all_done)
        return self._record(Result(not_testable=reason))

    def read(self, reading: float, censored: Censored) -> float | None:
        """Keep a reading for the grade to come; return the grade it proposes.

        Raises
        ------
        BadInput
            When the criterion takes no such reading.
        """
        criterion = self.sheet.criteria[self.here.criterion]
        # The lowest grade stands in, because a reading without limits of its own needs one beside it.
        grade = min(criterion.anchors, default=None)
        Result(grade=grade, reading=reading, censored=censored).check(criterion)
        self.pending = Result(reading=reading, censored=censored)
        return self.proposed

    @property
    def proposed(self) -> float | None:
        """The grade that the reading at hand proposes, else what is known of a place that is open; None for none."""
        if self.place is None:
            return None
        if self.pending is None or self.pending.reading is None:
            return self.sheet.proposes(self.place) if self.sheet.is_open(self.place) else None
        criterion = self.sheet.criteria[self.place.criterion]
        return criterion.propose(self.pending.reading, self.pending.censored)

    def accept(self) -> WrittenGrade[S] | None:
        """Record the proposed grade; None when nothing is proposed."""
        if (grade := self.proposed) is None:
            return None
        return self._record(replace(self.pending or Result(), grade=grade))

    def annotate(self, note: str) -> WrittenGrade[S] | None:
        """Give what stands here a note; without anything standing it is kept for the grade to come."""
        if self.sheet.is_open(self.here):
            self.note = note
            return None
        return self._record(replace(self.sheet.result(self.here), note=note), "note changed")

    def fill(self, results: Mapping[SheetSquare, Result]) -> tuple[WrittenGrade[S], ...]:
        """Record several results as one act, in their order, and stay at the place of the last."""
        first, written = len(self._done), []
        for place, result in results.items():
            self.go(place)
            written.append(self._record(result))
        self._done[first:-1] = [replace(done, with_next=True) for done in self._done[first:-1]]
        return tuple(written)

    def undo_act(self) -> tuple[WrittenGrade[S], ...]:
        """Take back the last act done on this sheet, which may have recorded several results, and go to its first.

        Raises
        ------
        BadInput
            When nothing was done since the sheet was opened.
        """
        written = [self.undo()]
        while self._done and self._done[-1].with_next:
            written.append(self.undo())
        return tuple(written)

    def undo(self) -> WrittenGrade[S]:
        """Take back the last thing done on this sheet and go there.

        Raises
        ------
        BadInput
            When nothing was done since the sheet was opened.
        """
        while self._done:
            last = self._done.pop()
            standing = self.sheet.seen.get(last.place)
            if standing is not None and standing.id == last.made:
                self.go(last.place)
                written = write_back(self.sheet, last.place, last.before, pencil=self._hand.pencil())
                self.sheet = written.on(self.sheet)
                self._restored(last, written.observation.id)
                return written
        raise bad("undo", "nothing done since this sheet was opened", "go back and press the right digit")

    def photographed(self, place: SheetSquare, photo: Photo) -> None:
        """Keep in mind that a photo was filed at a place, so that it can be taken back in its turn."""
        self._done.append(DoneAtPlace(place, photo.id, None, photo))

    def photo_to_take_back(self) -> DoneAtPlace | None:
        """Return the filing of a photo when that was the last thing done here; it is out of mind from then on."""
        return self._done.pop() if self._done and self._done[-1].photo is not None else None

    def _restored(self, undone: DoneAtPlace, made: str) -> None:
        """Let what was restored be taken back next, under the id it stands under now."""
        older = undone.before.id if undone.before else None
        if older is not None:
            self._stood_as[made] = older
        self._done[:] = [replace(done, made=made) if done.made == older else done for done in self._done]

    def type_line(self, line: int, text: str) -> tuple[WrittenGrade[S], ...]:
        """Record a line typed from a filled paper sheet; see `paper.read`.

        Raises
        ------
        BadInput
            When anything on the line is not offered; nothing of it is to be written then.
        """
        places = [place for place in self.sheet.places(Walk.BY_SPECIMEN) if place.line == line]
        criteria = [self.sheet.criteria[place.criterion] for place in places]
        written = []
        for mark in paper.read(text, criteria, self.sheet.label(line)):
            self.go(SheetSquare(line, mark.criterion))
            written.append(self._record(mark.result, "typed from paper"))
        return tuple(written)

    def _record(self, result: Result, reason: str = "") -> WrittenGrade[S]:
        place, before = self.here, self.sheet.seen.get(self.here)
        if self.note:
            result = replace(result, note=self.note)
        written = self._retry(place, result) or write(
            self.sheet, place, result, pencil=self._hand.pencil(), new_id=self._hand.new_id, reason=reason
        )
        self._done.append(DoneAtPlace(place, written.observation.id, before))
        self._failed.pop(written.observation.id, None)
        self.sheet, self.settled = written.on(self.sheet), self.sheet.GOES_ON
        self.pending = None
        self._notes.pop(place, None)
        return written

    def _retry(self, place: SheetSquare, result: Result) -> WrittenGrade[S] | None:
        """Return the save that was not confirmed when this is the same once more, under the same ids."""
        last, self._unconfirmed = self._unconfirmed, None
        if last is None or last.place != place:
            return None
        return last if result_of(last.observation) == result else None

    def restore(self, sheet: S, failed: WrittenGrade[S], *, confirmed: bool = True) -> None:
        """Show the sheet as it is on disk after a save failed, at the place it failed.

        When the failure was that the disk did not confirm, the same key tries the same save again.
        """
        self.renew(sheet)
        self._unconfirmed = None if confirmed else failed
        self.go(failed.place)

    def reopen(self, sheet: S, walk: Walk) -> None:
        """Begin again on the sheet as it is on disk; what was done on it before can still be taken back."""
        self.renew(sheet)
        self.walk, self._notes = walk, {}
        self.place, self.settled, self.pending = first_open(sheet, walk), False, None

    def renew(self, sheet: S) -> None:
        """Show the sheet as it is on disk, at the place at work; only what stands there can be taken back."""
        self.sheet = sheet
        standing = {seen.id for seen in sheet.seen.values()}
        self._done[:] = [done for done in self._done if done.photo is not None or done.made in standing]
        self._failed = {made: before for made, before in self._failed.items() if made not in standing}

    def put_back(self, failed: Sequence[WrittenGrade[S]], *, confirmed: bool = True) -> None:
        """Show the sheet as it stood before what was to be saved together and was not, at the first place of it.

        This asks no ledger, which may not be there to be asked. As with `restore`, the same key tries a save again
        that was not confirmed.
        """
        for written in failed:
            self._failed[written.observation.id] = written.stood.seen.get(written.place)
        for written in reversed(failed):
            before = self._failed[written.observation.id]
            while before is not None and before.id in self._failed:  # that was not saved either
                before = self._failed[before.id]
            self.sheet = written.off(self.sheet, before)
        self._done[:] = [replace(done, made=self._saved(done.made)) for done in self._done]
        self._done[:] = [done for done in self._done if done.made not in self._failed]
        self._unconfirmed = None if confirmed else failed[0]
        self.go(failed[0].place)

    def _saved(self, made: str) -> str:
        """Return the id under which an observation stands when it was to be restored and that was not saved."""
        while made in self._failed and made in self._stood_as:
            made = self._stood_as[made]
        return made

    # Walking

    @property
    def all_done(self) -> str:
        """What may be done where everything of a specimen, or of a test, is graded."""
        group = "specimen" if self.walk is Walk.BY_SPECIMEN else "test"
        return f"Enter for the next {group}, or back: all of this one is graded"

    def go(self, place: SheetSquare) -> None:
        """Go to a place; a reading not yet graded is left behind."""
        self.place, self.settled, self.pending = place, False, None

    def advance(self) -> bool:
        """Go from a graded place to the next of the same specimen or test; False at its end."""
        onward = follow(self.sheet, self.walk, self.here)
        if onward is None:
            return False
        self.go(onward)
        return True

    def move(self, by: int) -> None:
        """Go some places on or back in the walk."""
        self.go(step(self.sheet, self.walk, self.here, by))

    def next_group(self) -> bool:
        """Go to the next specimen or test with something open; False when there is none."""
        onward = next_group(self.sheet, self.walk, self.here)
        if onward is None:
            return False
        self.go(onward)
        return True

    def turn(self) -> Walk:
        """Walk the sheet the other way, from where one is."""
        self.walk = Walk.BY_TEST if self.walk is Walk.BY_SPECIMEN else Walk.BY_SPECIMEN
        return self.walk
