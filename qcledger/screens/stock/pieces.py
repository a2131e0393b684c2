"""What can be done with one specimen, from whichever page it is marked on."""

from collections.abc import Awaitable, Callable
from functools import partial
from typing import TYPE_CHECKING

from qcledger.bench import unpacking
from qcledger.records import Specimen
from qcledger.screens.desk import Desk
from qcledger.screens.page import Page
from qcledger.screens.shown import shown_time
from qcledger.screens.widgets.rows import Rows
from qcledger.vocab import TAKEN_BACK, SpecimenState

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

Undo = Callable[[], Awaitable[str]]
"""Takes one thing back and returns what to say."""


class Pieces(Page):
    """A page with a specimen marked on it, whose last steps can be taken back one by one."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self._undo: list[Undo] = []

    @property
    def marked(self) -> str | None:
        """The id of the specimen the keys are about."""
        row = self.query_one(Rows).row
        return row.id if row else None

    def saved(self) -> None:
        """Say when the last save was made."""
        self.save_state(f"saved {shown_time(self.desk.now())}")

    def action_open(self) -> None:
        """Open the whole history of the marked specimen."""
        from qcledger.screens.stock.history import History

        if self.marked is not None:
            self.app.push_screen(History(self.desk, self.marked))

    def arrive(self, subject: str) -> None:
        """Open the history of the specimen with this id."""
        from qcledger.screens.stock.history import History

        self.app.push_screen(History(self.desk, subject))

    def action_unpack(self) -> None:
        """Grade what was found when the marked specimen was unpacked."""
        from qcledger.screens.stock.unpack import Unpacking

        if self.marked is not None:
            self.app.push_screen(Unpacking(self.desk, self.marked))

    def action_label(self) -> None:
        """Open the label of the marked specimen's paint."""
        if self.marked is not None:
            self.work(partial(self._open_label, self.marked))

    async def _open_label(self, specimen: str) -> None:
        from qcledger.screens.stock.label import Label

        one = await self.desk.read(lambda ledger: ledger.get(Specimen, specimen), after_saves=True)
        if one is not None:
            self.app.push_screen(Label(self.desk, paint=one.paint))

    def action_change(self) -> None:
        """Open the marked specimen's line to be changed."""
        if self.marked is not None:
            self.work(partial(self._change, self.marked))

    async def _change(self, specimen: str) -> None:
        from qcledger.screens.stock.parcel import Parcel

        self.app.push_screen(Parcel(self.desk, change=specimen))

    def action_state(self, state: str) -> None:
        """Give the marked specimen another state."""
        if self.marked is not None:
            self.work(partial(self._set_state, self.marked, SpecimenState(state)))

    async def _set_state(self, specimen: str, state: SpecimenState) -> None:
        today = self.desk.now().astimezone().date()

        def job(ledger: "Ledger") -> tuple[Specimen, Specimen]:
            return unpacking.set_state(ledger, specimen, state, today, f"now {state}")

        before, after = await self.desk.save(job)
        self.saved()
        self._undo.append(partial(self._back_to, before))
        self.say(f"{after.sticker} is {after.state}; undo takes it back")
        await self.fill()

    async def _back_to(self, before: Specimen) -> str:
        await self.desk.save(lambda ledger: ledger.append([before], reason=TAKEN_BACK))
        return f"{before.sticker} is {before.state} again"

    def action_undo(self) -> None:
        """Take back the last thing done on this page."""
        if self._undo:
            self.work(self._take_back)
        else:
            self.say("nothing done on this page yet", problem=True)

    async def _take_back(self) -> None:
        last = self._undo.pop()
        try:
            said = await last()
        except BaseException:
            self._undo.append(last)
            raise
        self.saved()
        self.say(said)
        await self.fill()
