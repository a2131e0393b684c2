"""Observations as a list with one of them marked, which is told in words below it."""

from functools import partial
from typing import TYPE_CHECKING

from textual import on
from textual.app import ComposeResult

from qcledger.records import Observation
from qcledger.screens.desk import Desk
from qcledger.screens.page import Page
from qcledger.screens.record import taking_out, words
from qcledger.screens.record.amend import Amend
from qcledger.screens.record.look import Look
from qcledger.screens.widgets.rows import Rows
from qcledger.screens.widgets.wrapped import Wrapped

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.ledger.queries_record import RecordLine
    from qcledger.rubric import Criterion


class Listed(Page):
    """A list of observations; the marked one is told in words, looked at closer and amended."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self._scales: dict[tuple[str, str], Criterion] = {}
        self._lines: dict[str, RecordLine] = {}

    @staticmethod
    def told() -> ComposeResult:
        """Lay out the marked observation in words."""
        yield Wrapped(2, id="made_on")
        yield Wrapped(3, id="result")
        yield Wrapped(2, id="history")

    def on_mount(self) -> None:
        """Begin in the list."""
        self.query_one(Rows).focus()

    def _scale(self, seen: Observation) -> "Criterion | None":
        return self._scales.get((seen.rubric, seen.criterion))

    @on(Rows.Marked)
    def _marked(self, message: Rows.Marked) -> None:
        message.stop()
        line = self._lines.get(message.row.id) if message.row else None
        if line is None:
            return
        seen, settings = line.observation, self.desk.settings
        note = f" Note: {seen.note}" if seen.note else ""
        reason = f"Reason: {seen.reason}" if seen.reason else ""
        self._describe(words.made_on(line, settings), words.said(seen, self._scale(seen), settings) + note, reason)
        if seen.supersedes or line.superseded_by:
            self.work(partial(self._tell_history, seen.id), instead_of="history", holds=False)

    def _describe(self, made_on: str, result: str, history: str) -> None:
        for name, text in (("#made_on", made_on), ("#result", result), ("#history", history)):
            self.query_one(name, Wrapped).show(text)

    async def _tell_history(self, observation: str) -> None:
        def ask(ledger: "Ledger") -> list[Observation]:
            from qcledger.ledger.queries_record import chain

            with ledger.reading() as connection:
                return chain(connection, observation)

        found = await self.desk.read(ask)
        marked = self.query_one(Rows).row
        if marked is not None and marked.id == observation:
            line = self._lines.get(observation)
            zone = line.zone if line is not None else None
            self.query_one("#history", Wrapped).show(words.history(found, self.desk.settings, zone))

    @on(Rows.Picked)
    def _picked(self, message: Rows.Picked) -> None:
        message.stop()
        self._look(message.row.id)

    def _look(self, observation: str) -> None:
        self.open_asked(Look(self.desk, observation))

    def action_open(self) -> None:
        """Look closer at the marked observation."""
        self.query_one(Rows).action_pick()

    def action_take_out(self) -> None:
        """Take the notes and reasons of the marked observation out for good."""
        rows = self.query_one(Rows)
        rows.with_row(rows.marked, lambda row: self.work(partial(taking_out.ask, self, taking_out.words_of(row.id))))

    def action_amend(self) -> None:
        """Amend the marked observation."""
        rows = self.query_one(Rows)
        rows.with_row(rows.marked, lambda row: self.app.push_screen(Amend(self.desk, row.id)))
