"""How unpacking looks: the table, and below it the criterion that the next key is about."""

from typing import Any, Final

from textual.app import ComposeResult
from textual.containers import Vertical
from textual.content import Content
from textual.widgets import Static

from qcledger.bench.atwork import AtWork
from qcledger.bench.faults import Unpacked
from qcledger.bench.runsheet import SheetSquare
from qcledger.screens.shown import shown_line, shown_result
from qcledger.screens.stock.unpacktable import UnpackingTable
from qcledger.screens.widgets.ladder import Ladder, LadderOfAnchors
from qcledger.screens.widgets.wrapped import Wrapped, share
from qcledger.settings import Settings
from qcledger.vocab import GRADE_NOTE

AIR: Final = 2
"""Empty lines around the ladder."""
BECAUSE: Final = 4
"""Most lines of the reason of a proposed grade; the label itself tells all of it."""
TABLE: Final = 5
"""Lines that the table keeps at least: the letters and four pieces."""


class UnpackingView(Vertical):
    """The pieces of a parcel at work, from the table down to the cautions."""

    DEFAULT_CSS = """
    UnpackingView { height: 1fr; overflow: hidden; }
    UnpackingView > #how, UnpackingView > #because { color: $faint; }
    UnpackingView > LadderOfAnchors { margin: 1 0; }
    UnpackingView > #cautions { color: $warning; dock: bottom; }
    UnpackingView.-tight > LadderOfAnchors { margin: 0; }
    """

    def __init__(self, settings: Settings) -> None:
        super().__init__()
        self._settings = settings

    def compose(self) -> ComposeResult:
        """Lay out the table, and below it the criterion that is judged and its ladder."""
        yield UnpackingTable()
        yield Static("", markup=False, id="criterion")
        yield Wrapped(3, id="how")
        yield LadderOfAnchors()
        yield Wrapped(BECAUSE, id="because")
        yield Wrapped(3, id="cautions", more="(! reads on)")

    def show(self, work: AtWork[Any]) -> None:
        """Show the place that the next key is about."""
        found, at = work.sheet, work.ahead
        criterion, stands = found.criteria[at.criterion], found.result(at)
        self.query_one(UnpackingTable).show(found, at)
        beside = f"; note: {stands.note}" if stands.note else ""
        beside += f"; not tested: {stands.not_testable}" if stands.not_testable and not stands.is_open else ""
        beside += f"; {shown_result(work.pending, self._settings)}: a digit grades it" if work.pending else ""
        title = shown_line(f"{found.letters.get(at.criterion, '')} {criterion.title}".strip(), "bold")
        told = "" if criterion.choices else f"   {GRADE_NOTE}"
        self.query_one("#criterion", Static).update(Content.assemble(title, told, shown_line(beside)))
        self.query_one("#how", Wrapped).show(criterion.how)
        because = found.why(at) if stands.is_open and work.pending is None else ""
        self.query_one("#because", Wrapped).show(because or rest_words(found, at))
        self.query_one(LadderOfAnchors).show(ladder_of(work, at))
        rules = found.rules if not found.seen else ()
        minded = [*(f"! {remark.text}" for remark in criterion.cautions), *(f"! {rule}" for rule in rules)]
        self.query_one("#cautions", Wrapped).show(" ".join(minded))
        self.call_after_refresh(self._share_lines)

    def _share_lines(self) -> None:
        """Give the reason of a proposal its lines first, then table, instruction and cautions what is left."""
        body = self.content_size
        table, ladder = self.query_one(UnpackingTable), self.query_one(LadderOfAnchors)
        because, how, cautions = (self.query_one(f"#{name}", Wrapped) for name in ("because", "how", "cautions"))
        rungs = ladder.get_content_height(body, self.size, body.width)
        room = body.height - 1 - rungs
        is_said = bool(because.display and because.has_words)
        needed = min(table.needed, TABLE) + how.needed(body.width) + cautions.needed(body.width)
        is_tight = room - AIR < needed + (because.needed(body.width) if is_said else 0)
        self.set_class(is_tight, "-tight")
        room -= 0 if is_tight else AIR
        given = min(because.needed(body.width), BECAUSE, max(room - TABLE - 2, 1)) if is_said else 0
        because.allow(max(given, 1))
        room -= given
        texts = min(how.needed(body.width), 3) + min(cautions.needed(body.width), 2)
        lines = min(table.needed, max(room - texts, min(TABLE, table.needed, max(room - 2, 2))))
        table.allow(lines)
        share(room - lines, body.width, how, cautions, (1, 1))

    def on_resize(self) -> None:
        """Share the lines anew."""
        self.call_after_refresh(self._share_lines)


def rest_words(found: Unpacked, at: SheetSquare) -> str:
    """Return what the rest of a sound piece is given here, where that is no grade; empty where it is one."""
    if (lacks := found.lacks(at)) is not None and found.is_open(at):
        return f"No {lacks} was entered for this piece: the rest (space) leaves this to be looked at."
    given = found.sound(at)
    said = given.choice or given.not_testable if given is not None else None
    return f"The rest of a sound piece (space) is given here: {said}." if said and found.is_open(at) else ""


def ladder_of(work: AtWork[Any], at: SheetSquare) -> Ladder:
    """Return the ladder of a place, with what stands and what is proposed; choices by their numbers."""
    criterion, stands = work.sheet.criteria[at.criterion], work.sheet.result(at)
    if not criterion.choices:
        proposed = work.proposed if at == work.here else work.sheet.proposes(at) if stands.is_open else None
        return Ladder(criterion.anchors, stands.grade, proposed, criterion.fault_line)
    words = list(criterion.choices)
    rungs = {float(n): f"{word}: {criterion.choices[word]}" for n, word in enumerate(words, 1)}
    return Ladder(rungs, chosen=float(words.index(stands.choice) + 1) if stands.choice in words else None)
