"""What is put on the paper, step by step, with timers; then what is looked at, at which stage."""

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, ClassVar, Final

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType

from qcledger.bench import sheets
from qcledger.bench.laying import LaidStep, looked_at, of_sheet
from qcledger.bench.timers import clock
from qcledger.screens import keys
from qcledger.screens.bench.pulse import Pulse
from qcledger.screens.desk import Desk
from qcledger.screens.page import Page
from qcledger.screens.widgets.rows import Column, Row, Rows
from qcledger.screens.widgets.wrapped import Wrapped
from qcledger.text import one_line

if TYPE_CHECKING:
    from qcledger.bench.runsheet import RunSheet
    from qcledger.ledger import Ledger

COLUMNS: Final = (Column("", 4), Column("step", 20, grows=True))
LAID: Final = "laid"
IN_FULL: Final = 6
"""Most lines that the marked step takes below the list."""
UNSAID: Final = "the rubric does not say what is put down; ? lists the keys"
NO_STEP: Final = "mark a step that is put down first"


class PutDown(Page):
    """The steps of one sheet in the order of the hand, and what is looked at.

    Parameters
    ----------
    desk
        Where to ask.
    sheet
        The sheet at work, at its stage.
    laid
        The steps that are done, by their words; the page adds to them and takes from them.
    pulse
        The line of the bench that keeps its timers.
    part
        The key of the part it opens on: ``y`` what is put down, ``v`` what is looked at.
    """

    KEY = "put_down"
    TITLE = "Put down"
    TELLS_MARKED = True
    BINDINGS: ClassVar[list[BindingType]] = list(keys.bindings("put_down"))

    def __init__(self, desk: Desk, sheet: "RunSheet", laid: set[str], pulse: Pulse, part: str) -> None:
        super().__init__(desk)
        self._sheet = sheet
        self._laid = laid
        self._pulse = pulse
        self._steps: Sequence[LaidStep] = ()
        self._lines: list[tuple[str, int | None]] = []
        """Each line in full, and the number of its step, from 0; None for a heading or what is looked at."""
        self._begins: dict[str, int] = {}
        """The line on which each part begins, by its key."""
        self._part: str | None = part
        self._rung: set[str] = set()

    def body(self) -> ComposeResult:
        """Lay out the list, the marked line in full, and the timers."""
        yield Rows(COLUMNS, self._load)
        yield Wrapped(IN_FULL, id="whole")
        yield Wrapped(2, id="timers")

    def on_mount(self) -> None:
        """Begin in the list, and let the timers go on."""
        self.query_one(Rows).focus()
        self.set_interval(1, self._tick)

    async def fill(self) -> None:
        """Ask for the sheet at every stage and tell its steps."""
        session = self._sheet.session

        def ask(ledger: "Ledger") -> "tuple[RunSheet, ...]":
            return sheets.at_every_stage(ledger, session)

        stages = await self.desk.read(ask, after_saves=True)
        self._steps = of_sheet(stages)
        self._lines, self._begins = [], {"y": 0}
        self._tell_steps()
        self._tell_looks(stages)
        rows = self.query_one(Rows)
        at = rows.marked if self._part is None else self._begins.get(self._part, 0)
        self._part = None
        rows.show(len(self._lines), marked=at)
        self._tell_progress()
        self._tick()

    def _tell_steps(self) -> None:
        when = None
        for number, one in enumerate(self._steps):
            if one.when is not when:
                when = one.when
                self._lines.append((f"Put down {when}", None))
            self._lines.append((f"{number + 1} {', '.join(one.tests)}: {one.step}", number))
        if not self._steps:
            self.say(UNSAID)

    def _tell_looks(self, stages: "Iterable[RunSheet]") -> None:
        for stage, looks in looked_at(list(stages)):
            if "v" not in self._begins or stage == self._sheet.stage:
                self._begins["v"] = len(self._lines)
            self._lines.append((f"Look, {stage}", None))
            self._lines += [(f"{one.test}: {one.look}", None) for one in looks]

    def _tell_progress(self) -> None:
        done = sum(one.step in self._laid for one in self._steps)
        steps = f"{done} of {len(self._steps)} laid" if self._steps else ""
        self.head(f"session {self._sheet.session.code}", *([steps] if steps else []))

    async def _load(self, first: int, most: int) -> Sequence[Row]:
        return [self._row(n) for n in range(len(self._lines))][first : first + most]

    def _row(self, number: int) -> Row:
        line, step = self._lines[number]
        is_laid = step is not None and self._steps[step].step in self._laid
        return Row(str(number), (LAID if is_laid else "", line), faint=is_laid)

    @on(Rows.Marked)
    def _tell_whole(self, message: Rows.Marked) -> None:
        message.stop()
        if message.row is not None:
            self.query_one("#whole", Wrapped).show(self._lines[int(message.row.id)][0])

    # Keys

    def _marked_step(self) -> LaidStep | None:
        number = self.query_one(Rows).marked
        step = self._lines[number][1] if number < len(self._lines) else None
        if step is None:
            self.say(NO_STEP, problem=True)
            return None
        return self._steps[step]

    @on(Rows.Picked)
    def _picked(self, message: Rows.Picked) -> None:
        message.stop()
        self.action_laid()

    def action_laid(self) -> None:
        """Tick the marked step and go on to the next; a ticked one is taken back and stays marked."""
        if (step := self._marked_step()) is None:
            return
        rows = self.query_one(Rows)
        was_laid = step.step in self._laid
        (self._laid.discard if was_laid else self._laid.add)(step.step)
        self.say("")
        rows.show(len(self._lines), marked=rows.marked + (0 if was_laid else 1))
        self._tell_progress()

    def action_timer(self) -> None:
        """Start or stop the timer of the marked step."""
        if (step := self._marked_step()) is not None:
            name = _timer_of(step)
            self._rung.discard(name)
            running = self._pulse.toggle_timer(name)
            asked = f", {step.seconds} s asked" if running and step.seconds else ""
            self.say(f"timer {'started' if running else 'stopped'}: {name}{asked}")
            self._tick()

    def action_to_part(self, part: str) -> None:
        """Go to what is put down, or to what is looked at."""
        if part in self._begins:
            self.query_one(Rows).mark(self._begins[part])

    def _tick(self) -> None:
        """Show the timers; where the time of a step is over, say so once."""
        now, asked = self.desk.clock(), {_timer_of(one): one.seconds for one in self._steps}
        started = self._pulse.timers.started
        over = {name for name, since in started.items() if (want := asked.get(name)) and now - since >= want}
        if new := over - self._rung:
            self._rung |= new
            self.app.bell()
            self.say(f"time is over: {', '.join(sorted(new))}")
        told = (f"{name} {clock(now - since)}{' over' if name in over else ''}" for name, since in started.items())
        self.query_one("#timers", Wrapped).show("; ".join(told))


def _timer_of(step: LaidStep) -> str:
    """Return the name of a step's timer: its first test, and the words that tell it from that test's other steps."""
    return f"{one_line(step.tests[0])}: {' '.join(one_line(step.step).split()[:4])}"
