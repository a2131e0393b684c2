"""A page that shows findings while some of them are still being worked out beside it."""

import asyncio
from collections.abc import Callable
from functools import partial
from threading import Event
from typing import TYPE_CHECKING, Final, TypeVar

from qcledger.screens import keys
from qcledger.screens.desk import Desk
from qcledger.screens.findings.asking import work_beside
from qcledger.screens.findings.deciding import Decides
from qcledger.screens.widgets.lines import SaidLine

if TYPE_CHECKING:
    from textual.timer import Timer

    from qcledger.ledger import Ledger
    from qcledger.report.beside import Beside
    from qcledger.report.kept import KeptFindings

T = TypeVar("T")

LOOK_S: Final = 1.0
"""Seconds between looks at what is worked out beside the page."""
PATIENCE_S: Final = 0.2
"""Seconds after which the page says that it is still working."""
STOPPED: Final = "stopped; r goes on; until then what is missing is drawn from counts and reads checking"
WORKING: Final = "working on the findings; Esc stops"


class WorksBeside(Decides):
    """Asks for findings, says that it works on them, and has a process beside it answer what is missing.

    Parameters
    ----------
    desk
        Where to ask.
    begun
        The page this one is opened from: its findings and its process are gone on with. That page ends the process.
    """

    def __init__(self, desk: Desk, begun: "WorksBeside | None" = None) -> None:
        super().__init__(desk)
        self._begun = begun
        self._kept: KeptFindings | None = begun._kept if begun else None
        self._beside: Beside | None = begun._beside if begun else None
        self._halted: bool = begun._halted if begun else False
        self._working = False
        self._missing = 0
        self._watch: Timer | None = None

    def on_mount(self) -> None:
        """Look at what is worked out now and then, while something is."""
        self._watch = self.set_interval(LOOK_S, self._look_beside, pause=True)

    def on_unmount(self) -> None:
        """Leave no process behind; one that another page began goes on for it."""
        if self._begun is not None:
            self._begun._kept, self._begun._beside, self._begun._halted = self._kept, self._beside, self._halted
        elif self._beside is not None:
            self._beside.stop()

    @property
    def waits_for_fill(self) -> bool:
        """Whether keys wait until it was filled: findings are worked on for long, and Esc stops that."""
        return False

    async def asked(self, ask: "Callable[[Event, Ledger], T]") -> T:
        """Return what `ask` makes of the ledger; it is given what is set once the answer is no longer wanted."""
        stop = Event()
        waiting = self.set_timer(PATIENCE_S, lambda: self.say(WORKING))
        self._working = True
        try:
            return await self.desk.read(partial(ask, stop))
        except asyncio.CancelledError:
            stop.set()
            raise
        finally:
            waiting.stop()
            self._working = False

    async def go_on(self, missing: int) -> None:
        """Have what is missing worked out beside the page, unless that is under way or was stopped."""
        self._missing = missing
        if self._kept is not None and missing and not self._halted and not self._is_beside:
            ask = partial(work_beside, self._beside, self._kept, self.asked_in, self.desk.place)
            self._beside = await self.desk.read(ask)
        if self._is_beside and self._watch is not None:
            self._watch.resume()
            self.say_what_is_shown()

    @property
    def _is_beside(self) -> bool:
        return self._beside is not None and self._beside.running

    def _look_beside(self) -> None:
        """Show answers that have come, and how far it is; the first look after the end shows the last of them."""
        if self._beside is None or self._watch is None or not self.is_current:
            return
        ended = not self._beside.running
        if self._beside.news() or ended:
            self.work(self.fill, instead_of="fill")
        if ended:
            self._watch.pause()
        self.say_what_is_shown()

    def say_what_is_shown(self) -> None:
        """Say how far the work beside the page is, else what the page shows, and name its keys."""
        raise NotImplementedError

    def say_how_far(self) -> bool:
        """Say how far the work beside the page is, and whether there was anything to say."""
        if self._beside is not None and self._beside.told:
            self.mention(f"{self._beside.told}; Esc stops, r goes on")
            return True
        if self._halted and self._missing:
            self.mention(STOPPED)
        return self._halted and self._missing > 0

    @property
    def goes_on(self) -> list[tuple[str, str]]:
        """The key that goes on, as the foot names it first, while something was stopped."""
        if not (self._halted and self._missing):
            return []
        again = next(action for action in keys.actions_of(self.KEY) if action.id == f"{self.KEY}.again")
        return [(keys.key_name(keys.keys_of(again, self.desk.settings.keys)[0]), "goes on")]

    def stopped(self) -> bool:
        """Stop what is said to be worked on; return whether there was anything."""
        if self._working and self.query_one(SaidLine).said == WORKING:
            self.stop_filling()
            return True
        if self._beside is not None and self._beside.running:
            self._beside.stop(again=True)
            self._halted = True
            self.say_what_is_shown()
            return True
        return False

    def stop_filling(self) -> None:
        """Stop what is asked for, if anything is."""
        if self._working:
            self.workers.cancel_group(self, "fill")
            self.say("stopped; r works on the findings again")

    def action_again(self) -> None:
        """Look again whether the ledger has changed, and go on with what is missing."""
        self._halted = False
        if self._beside is not None and not self._beside.running:
            self._beside.stop(again=True)
        self.work(self.fill, instead_of="fill")
