"""What a pressed key does at a run sheet: it grades, and the hands are led to the next place."""

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, Final

from textual.events import Key
from textual.message import Message
from textual.timer import Timer as Countdown

from qcledger.bench import sheets
from qcledger.bench.atwork import AtWork
from qcledger.bench.planning import REST_MINUTES, rests
from qcledger.bench.runsheet import RunSheet, SheetSquare, ToGrade, Walk, left_open, progress
from qcledger.errors import bad
from qcledger.screens import keys
from qcledger.screens.bench.sheetmap import MapOfSheet
from qcledger.screens.bench.view import SheetView
from qcledger.screens.desk import Desk
from qcledger.screens.grading import Grading

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

MOMENT_S: Final = 0.8
"""How long a graded criterion stays on the screen before the next one comes."""
MOST_NAMED: Final = 3
"""Places left blank that are named; of more it is said how many."""


class Walking(Grading):
    """A page with a sheet at work, or none."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self._countdown: Countdown | None = None
        self._left: SheetSquare | None = None
        """The first place that the last key left blank; the key back goes there."""
        self._moved_on: tuple[float, SheetSquare, SheetSquare] | None = None
        """When a graded place gave way to the next by itself, and both."""

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
            self.say(f"nothing to judge at the stage {sheet.stage}; {self._onward(sheet)}", problem=True)
        self.query_one(SheetView).show(work)
        if work.place is not None:
            self.query_one(MapOfSheet).show(sheet, work.place)

    def _onward(self, sheet: RunSheet) -> str:
        """Return the key to what comes after a stage: the next one or, behind the last, the end of the session."""
        closes = f"{self._key('close')} checks and closes the session"
        return closes if sheet.stage == sheet.order[-1] else f"{self._key('stage')} goes to the next stage, {closes}"

    def _say_end(self, work: AtWork[RunSheet]) -> None:
        if left := left_open(work.sheet, work.walk, work.here):
            self._say_blank(work, left)
            return
        done, of = progress(work.sheet)
        group = "specimen" if work.walk is Walk.BY_SPECIMEN else "test"
        ended = f"the stage {work.sheet.stage} is complete; {self._onward(work.sheet)}"
        onward = ended if done == of else "Enter goes to the next"
        if work.walk is Walk.BY_SPECIMEN and work.here.line + 1 in rests(len(work.sheet.lines)):
            onward = f"rest your eyes {REST_MINUTES} minutes; {onward}"
        self.mention(f"{group} done; {onward}")

    def _say_blank(self, work: AtWork[RunSheet], left: Sequence[SheetSquare]) -> None:
        """Say what of a specimen, or test, is left blank, and the key back to it."""
        by_specimen = work.walk is Walk.BY_SPECIMEN
        titles = [work.sheet.criteria[one.criterion].title for one in left]
        labels = [work.sheet.label(one.line) for one in left]
        named = titles if by_specimen else labels
        more = f" and {len(named) - MOST_NAMED} more" if len(named) > MOST_NAMED else ""
        where = labels[0] if by_specimen else titles[0]
        self._left = left[0]
        self.say(f"left blank, {where}: {', '.join(named[:MOST_NAMED])}{more}; {self._key('back')} goes back there")

    def _key(self, verb: str) -> str:
        """Return the key of an action of this page, as it is written."""
        return keys.key_name(keys.keys_of(keys.action(f"{self.KEY}.{verb}"), self.desk.settings.keys)[0])

    def name_of(self, work: AtWork[Any]) -> str:
        """Return the name under which what is done on a sheet is noted."""
        return f"bench {work.sheet.session.id} {work.sheet.stage}"

    def on_disk(self, work: AtWork[Any]) -> "Callable[[Ledger], RunSheet]":
        """Return what reads a sheet as it is on disk."""
        session, stage = work.sheet.session.id, work.sheet.stage
        return lambda ledger: sheets.load(ledger, session, stage)

    def nothing_left(self, work: AtWork[Any]) -> str:
        """Say that a sheet is no longer as this window left it."""
        return f"session {work.sheet.session.code} was worked on elsewhere since, and stays as it is"

    def one_of_several(self, work: AtWork[Any]) -> str:
        """Return the code or sticker of the specimen at work."""
        return str(work.sheet.label(work.here.line))

    def check_photo(self, sheet: ToGrade) -> None:
        """Refuse a photo without a grade while blind: it would stand in the specimen's history at once."""
        assert isinstance(sheet, RunSheet)
        if sheet.is_blind:
            raise bad("photo", "no grade yet", "a grade first, while the sheet is blind")

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
            before = work.here
            if work.advance():
                self._moved_on = Message().time, before, work.here
            else:
                self._say_end(work)
            self.show()

    def on_key(self, event: Key) -> None:
        """Let a key that was pressed before the next place came mean the one that was shown then."""
        moved, self._moved_on, work = self._moved_on, None, self.atwork
        if moved is not None and work is not None and event.time < moved[0] and work.place == moved[2]:
            work.go(moved[1])
            work.settled = True
        if work is not None and work.place is None:
            self.show()  # which says that there is nothing to judge, and the key on

    # Keys

    def action_half(self) -> None:
        """Half a step worse, or whole again."""
        if self.meant("+", twice=True) and self.write(AtWork.half):
            self.move_on()

    def action_enter(self) -> None:
        """Take the proposed grade; else go to the next specimen or test that has something open."""
        work = self.atwork
        if work is None or work.place is None or not self.meant("Enter"):
            return
        self.stay()
        self.say("")
        if self.accept():
            return
        if work.pending is not None:
            self.say("a digit grades what was read; no grade follows from it", problem=True)
            return
        left = left_open(work.sheet, work.walk, work.here)
        if not work.next_group():
            self._say_end(work)
        elif left:
            self._say_blank(work, left)
        self.show()

    def action_move(self, by: int) -> None:
        """Go on or back; back leads to what the key before left blank."""
        if self.atwork is not None and self.atwork.place is not None:
            left, self._left = self._left, None
            self.stay()
            self.say("")
            if by < 0 and left is not None:
                self.atwork.go(left)
            else:
                self.atwork.move(by)
            self.show()

    def action_walk(self) -> None:
        """Walk the other way."""
        if self.atwork is not None:
            self.say(f"walking {self.atwork.turn()}")
            self.show()
