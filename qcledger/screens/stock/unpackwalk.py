"""How hands go over the table of unpacking: by letters, arrows and Enter; what they leave blank is said."""

from collections.abc import Sequence
from typing import Any, Final

from qcledger.bench import faults
from qcledger.bench.atwork import AtWork
from qcledger.bench.runsheet import SheetSquare, left_open, progress
from qcledger.errors import bad
from qcledger.screens import keys
from qcledger.screens.desk import Desk
from qcledger.screens.grading import Grading
from qcledger.screens.shown import shown_result
from qcledger.screens.widgets.lines import SaidLine

MOST_NAMED: Final = 3
"""Criteria left blank that are named; of more it is said how many."""


class UnpackWalking(Grading):
    """A page with the pieces of a parcel at work, or none yet."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self._left: SheetSquare | None = None
        """The first place that Enter left blank; the key back goes there."""
        self.unknown_letter = ""
        """The letter pressed last, where it led to no criterion: a digit behind it was meant for another one."""

    def works(self, verb: str) -> bool:
        """Whether a criterion of the parcel has this letter."""
        word, _, letter = verb.partition("_")
        return word != "pick" or self.atwork is None or self._by_letter(self.atwork.sheet, letter) is not None

    def one_of_several(self, work: AtWork[Any]) -> str:
        """Return the sticker of the piece at work."""
        return str(work.sheet.label(work.here.line))

    def action_enter(self) -> None:
        """Take the proposed grade; else go to the next piece on which something is open."""
        work = self.atwork
        if work is None or not self.meant("Enter"):
            return
        self.say("")
        if work.settled and work.ahead != work.here:
            work.go(work.ahead)
        if work.proposed is not None and self.is_shut(work, "Enter"):
            return
        if self.accept():
            self.say_graded(work)
            return
        if work.pending is not None:
            self.say("a digit grades what was read; no grade follows from it", problem=True)
            return
        left = left_open(work.sheet, work.walk, work.here)
        if not work.next_group():
            self.say_end(work)
        elif left:
            self._left = left[0]
            back = keys.key_name(keys.keys_of(keys.action("unpacking.back"), self.desk.settings.keys)[-1])
            self.say(
                f"left blank, {work.sheet.label(left[0].line)}: {self.named_of(work, left)}; {back} goes back there"
            )
        self.show()

    def named_of(self, work: AtWork[Any], places: Sequence[SheetSquare]) -> str:
        """Return the criteria of some places, the first few by their titles."""
        titles = [work.sheet.criteria[place.criterion].title for place in places]
        more = f" and {len(titles) - MOST_NAMED} more" if len(titles) > MOST_NAMED else ""
        return f"{', '.join(titles[:MOST_NAMED])}{more}"

    def say_end(self, work: AtWork[Any]) -> None:
        """Say what is left of the piece, or of the parcel."""
        left = left_open(work.sheet, work.walk, work.here)
        done, of = progress(work.sheet)
        if left:
            self.say(f"still blank, {work.sheet.label(work.here.line)}: {self.named_of(work, left)}")
        elif done == of:
            self.say("everything of this parcel is graded; Esc goes back")
        else:
            self.say(f"{work.sheet.label(work.here.line)} is done; Enter goes to the next piece")

    def is_behind_unknown(self, work: AtWork[Any], key: str) -> bool:
        """Refuse the grade behind a letter that led nowhere; say whether it was, and what the key would grade."""
        letter, self.unknown_letter = self.unknown_letter, ""
        if letter:
            title = work.sheet.criteria[work.ahead.criterion].title
            self.app.bell()
            self.say(
                f"{letter} leads nowhere here, so {key} graded nothing; {key} again grades {title}", problem=True
            )
        return bool(letter)

    def is_shut(self, work: AtWork[Any], key: str) -> bool:
        """Refuse a grade of what is inside a piece that is kept sealed; say whether it was."""
        if not work.sheet.is_shut(work.ahead):
            return False
        piece = work.sheet.label(work.ahead.line)
        self.refuse(bad(piece, f"{key} on what is inside a sealed reserve", "o in Stock first: it was opened"))
        return True

    def say_graded(self, work: AtWork[Any]) -> None:
        """Say with what a photo or note goes that is asked for now, where that was a fault or nothing follows."""
        if not (self.wrote and work.settled) or self.query_one(SaidLine).said:
            return
        here = work.here
        grade, criterion = work.sheet.result(here).grade, work.sheet.criteria[here.criterion]
        if grade is not None and criterion.is_fault(grade):
            shown = shown_result(work.sheet.result(here), self.desk.settings)
            self.say(f"{criterion.title} {shown}; f and n go with it")
        elif work.ahead == here:
            self.say_end(work)

    # Walking

    @staticmethod
    def _by_letter(sheet: faults.Unpacked, letter: str) -> str | None:
        """Return the key of the criterion of this parcel that has a letter."""
        return next((key for key in sheet.criteria if sheet.letters.get(key) == letter), None)

    def action_pick(self, letter: str) -> None:
        """Go to a criterion of the piece at work by its letter."""
        work = self.atwork
        if work is None:
            return
        sheet, at, key = work.sheet, work.ahead, self._by_letter(work.sheet, letter)
        if key is None:
            self.unknown_letter = letter
            there = " ".join(sheet.letters[one] for one in sheet.criteria if one in sheet.letters)
            self.say(f"no criterion of this parcel has the letter {letter}; there are {there}", problem=True)
            return
        there_ = SheetSquare(at.line, key)
        title = sheet.criteria[key].title
        if not sheet.asks(there_):
            self.unknown_letter = letter
            self.say(f"{title} is not asked of a {sheet.lines[at.line].specimen.format}", problem=True)
        elif at == there_ and work.pending is None and not work.settled:
            self.say(f"{title} is in front already")
        else:
            self._go(work, there_)

    def _go(self, work: AtWork[Any], place: SheetSquare) -> None:
        self.say("")
        self._left = None
        work.go(place)
        self.show()

    def action_move(self, by: int) -> None:
        """Go to the next criterion, or the one before; back leads to what Enter has left blank."""
        work = self.atwork
        if work is None:
            return
        if by < 0 and self._left is not None:
            self._go(work, self._left)
            return
        work.go(work.ahead)
        before = work.here
        work.move(by)
        self._go(work, work.here)
        if work.here == before:
            self.say(f"this is the {'last' if by > 0 else 'first'} criterion of the parcel")

    def action_piece(self, by: int) -> None:
        """Go to the piece below or above, on the same criterion where that is asked of it."""
        work = self.atwork
        if work is None:
            return
        at = work.ahead
        line = at.line + by
        if not 0 <= line < len(work.sheet.lines):
            self.say(f"this is the {'last' if by > 0 else 'first'} piece of the parcel")
            return
        places = work.sheet.places_of(line)
        same = SheetSquare(line, at.criterion)
        if places:
            self._go(work, same if same in places else places[0])
