"""The record: every observation, through filters, the newest first."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, ClassVar, Final

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Grid

from qcledger.bench.scales import named, scales
from qcledger.screens import keys
from qcledger.screens.desk import Desk
from qcledger.screens.record import words
from qcledger.screens.record.imports import Imports
from qcledger.screens.record.listed import Listed
from qcledger.screens.widgets.fields import Field
from qcledger.screens.widgets.rows import Row, Rows
from qcledger.thing import worded

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.ledger.queries_record import RecordLine, Wanted

FILTERS = ("maker", "paint", "lot", "criterion", "session", "specimen")

NOTHING_PASSES: Final = "No observation passes these filters; c clears them."
NOTHING_YET: Final = "No observation yet: a sheet on the Bench brings the first."


class RecordPage(Listed):
    """All observations, older ones and amendments too; Enter looks closer at one, a amends it."""

    KEY = "record"
    TELLS_MARKED = True
    TITLE = "Record"
    CSS_PATH = "record.tcss"
    BINDINGS: ClassVar[list[BindingType]] = list(keys.bindings("record"))

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self._wanted: Wanted | None = None
        self._only = 0
        self._arriving: str | None = None

    def body(self) -> ComposeResult:
        """Lay out filters, list, and the marked observation in words."""
        with Grid(id="filters"):
            for name in FILTERS:
                yield Field(name, worded(name), hint="any")
        yield Rows(words.COLUMNS, self._load)
        yield from self.told()

    async def fill(self) -> None:
        """Ask how many observations the filters let through, and show them; the mark stays among the same ones."""
        typed = {field.name or "": field.value.strip() for field in self.query(Field)}
        only = self._only

        def ask(ledger: "Ledger") -> "tuple[Any, Wanted, int, int | None]":
            from qcledger.ledger import queries_record as record

            known = scales(ledger)
            wanted = record.Wanted(
                **{name: typed[name] for name in FILTERS if name != "criterion"},
                criteria=named(typed["criterion"], known),
                only=list(record.Only)[only],
            )
            with ledger.reading() as connection:
                here = record.number_of(connection, wanted, marked.id) if marked is not None else None
                return known, wanted, record.count(connection, wanted), here

        rows = self.query_one(Rows)
        marked = rows.row
        self._scales, wanted, found, here = await self.desk.read(ask)
        # What was amended is a new line on top of the list: the mark stays on what it was on, not on its number.
        number = here if here is not None and rows.row is marked else rows.marked
        stood, self._wanted = number if wanted == self._wanted else 0, wanted
        self._lines.clear()
        shown = "" if wanted.only == "everything" else str(wanted.only)
        self.head(f"{found} observation" + ("s" if found != 1 else ""), shown)
        rows.show(found, marked=stood)
        if not found:
            asked = self._only or any(field.value for field in self.query(Field))
            self._describe("", NOTHING_PASSES if asked else NOTHING_YET, "")
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

    def action_imports(self) -> None:
        """List what was brought in, with the mark on what the marked observation came with."""
        row = self.query_one(Rows).row
        self.app.push_screen(Imports(self.desk, row.id if row is not None else None))

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
