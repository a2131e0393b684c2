"""The record: every observation, through filters, the newest first."""

from collections.abc import Sequence
from functools import partial
from typing import TYPE_CHECKING, Any, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Grid

from qcledger.bench.scales import named, scales
from qcledger.records import Observation
from qcledger.screens import keys
from qcledger.screens.desk import Desk
from qcledger.screens.page import Page
from qcledger.screens.record import words
from qcledger.screens.record.look import Look
from qcledger.screens.widgets.fields import Field
from qcledger.screens.widgets.rows import Row, Rows
from qcledger.screens.widgets.wrapped import Wrapped

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.ledger.queries_record import RecordLine, Wanted
    from qcledger.rubric import Criterion

FILTERS = ("maker", "paint", "lot", "criterion", "session", "specimen")


class Record(Page):
    """All observations, older ones and amendments too; Enter looks closer at one."""

    KEY = "record"
    TITLE = "Record"
    CSS_PATH = "record.tcss"
    BINDINGS: ClassVar[list[BindingType]] = list(keys.bindings("record"))

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self._scales: dict[tuple[str, str], Criterion] = {}
        self._wanted: Wanted | None = None
        self._only = 0
        self._lines: dict[str, RecordLine] = {}
        self._arriving: str | None = None

    def body(self) -> ComposeResult:
        """Lay out filters, list, and the marked observation in words."""
        with Grid(id="filters"):
            for name in FILTERS:
                yield Field(name, name, hint="any")
        yield Rows(words.COLUMNS, self._load)
        yield Wrapped(2, id="made_on")
        yield Wrapped(3, id="result")
        yield Wrapped(2, id="history")

    def on_mount(self) -> None:
        """Begin in the list."""
        self.query_one(Rows).focus()

    async def fill(self) -> None:
        """Ask how many observations the filters let through, and show them; the mark stays among the same ones."""
        typed = {field.name or "": field.value.strip() for field in self.query(Field)}
        only = self._only

        def ask(ledger: "Ledger") -> "tuple[Any, Wanted, int]":
            from qcledger.ledger import queries_record as record

            known = scales(ledger)
            wanted = record.Wanted(
                **{name: typed[name] for name in FILTERS if name != "criterion"},
                criteria=named(typed["criterion"], known),
                only=list(record.Only)[only],
            )
            with ledger.reading() as connection:
                return known, wanted, record.count(connection, wanted)

        self._scales, wanted, found = await self.desk.read(ask)
        rows = self.query_one(Rows)
        stood, self._wanted = rows.marked if wanted == self._wanted else 0, wanted
        self._lines.clear()
        shown = "" if wanted.only == "everything" else str(wanted.only)
        self.head(f"{found} observation" + ("s" if found != 1 else ""), shown)
        rows.show(found, marked=stood)
        if not found:
            self._describe("", "No observation passes these filters; x clears them.", "")
        if self._arriving is not None:
            arriving, self._arriving = self._arriving, None
            self._look(arriving)

    def arrive(self, subject: str) -> None:
        """Look closer at the observation with this id."""
        self._arriving = subject
        self.work(self.fill, instead_of="fill")

    async def _load(self, first: int, most: int) -> Sequence[Row]:
        wanted = self._wanted
        if wanted is None:
            return []

        def ask(ledger: "Ledger") -> "list[RecordLine]":
            from qcledger.ledger.queries_record import page

            with ledger.reading() as connection:
                return page(connection, wanted, first, most)

        found = await self.desk.read(ask)
        self._lines.update({line.observation.id: line for line in found})
        return [words.row(line, self._scale(line.observation), self.desk.settings) for line in found]

    def _scale(self, seen: Observation) -> "Criterion | None":
        return self._scales.get((seen.rubric, seen.criterion))

    # The marked observation

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
            self.work(partial(self._tell_history, seen.id), instead_of="history")

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

    # Filters

    def action_filter(self) -> None:
        """Go to the first filter."""
        self.query(Field).first().focus_input()

    def action_apply(self) -> None:
        """Go back to the list, with what the filters say."""
        self.query_one(Rows).focus()
        self.work(self.fill, instead_of="fill")

    @on(Field.Entered)
    def _entered(self, message: Field.Entered) -> None:
        message.stop()
        self.action_apply()

    def action_only(self) -> None:
        """Show the next kind: standing, amended, not testable, with photos, older notes, everything."""
        from qcledger.ledger.queries_record import Only

        self._only = (self._only + 1) % len(Only)
        self.work(self.fill, instead_of="fill")

    def action_clear(self) -> None:
        """Take every filter away."""
        for field in self.query(Field):
            field.value = ""
        self._only = 0
        self.action_apply()
