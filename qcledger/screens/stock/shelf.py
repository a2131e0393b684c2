"""The shelf: every specimen, those bought last first, found by a few words."""

from collections.abc import Sequence
from functools import partial
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType

from qcledger.screens import keys
from qcledger.screens.desk import Desk
from qcledger.screens.prices import PricesPage
from qcledger.screens.stock.counting import count_of
from qcledger.screens.stock.pieces import Pieces
from qcledger.screens.stock.words import SHELF
from qcledger.screens.widgets.fields import Field
from qcledger.screens.widgets.rows import Row, Rows
from qcledger.screens.widgets.wrapped import Wrapped
from qcledger.thing import worded

EMPTY = "No specimen yet. n enters a parcel: what is common once, then a line a specimen."
NONE_FOUND = "No specimen has all these words; Esc shows every one again."


class Stock(Pieces):
    """Every specimen; from here parcels are entered and histories opened."""

    KEY = "stock"
    TITLE = "Stock"
    BINDINGS: ClassVar[list[BindingType]] = list(keys.bindings("stock"))

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self._words: tuple[str, ...] = ()

    def body(self) -> ComposeResult:
        """Lay out the line to find by, the list, and words for an empty one."""
        yield Field("find", "find", hint=worded("words of sticker, maker, paint, format, lot, state, seller"))
        yield Wrapped(3, id="empty")
        yield Rows(SHELF, self._load)

    def on_mount(self) -> None:
        """Begin in the list."""
        self.query_one(Rows).focus()

    async def fill(self) -> None:
        """Show the specimens that have every word, the mark where it was."""
        words = self._words

        found = await self.desk.read(lambda ledger: count_of(ledger, words, None), after_saves=True)
        self.head(found.words, f"with {' '.join(words)}" if words else "")
        rows = self.query_one(Rows)
        self.query_one("#empty", Wrapped).show("" if found.rows else NONE_FOUND if words else EMPTY)
        rows.show(found.rows, marked=rows.marked)

    async def _load(self, first: int, most: int) -> Sequence[Row]:
        return await self.shelved(self._words, None, first, most)

    @on(Rows.Picked)
    def _picked(self, message: Rows.Picked) -> None:
        message.stop()
        self.action_open()

    @on(Field.Changed)
    def _typed(self, message: Field.Changed) -> None:
        message.stop()
        self._words = tuple(message.value.casefold().split())
        self.work(self._found, instead_of="fill")

    async def _found(self) -> None:
        self.query_one(Rows).marked = 0
        await self.fill()

    @on(Field.Entered)
    def _entered(self, message: Field.Entered) -> None:
        message.stop()
        self.query_one(Rows).focus()

    def action_find(self) -> None:
        """Go to the line to find by."""
        self.query_one(Field).focus_input()

    def action_all(self) -> None:
        """Show every specimen again."""
        self.query_one(Field).value = ""
        self.query_one(Rows).focus()

    def arrive(self, subject: str) -> None:
        """Open the names of what is spoken of as a table and an id; an id alone is a specimen's, for its history."""
        table, _, name = subject.partition(" ")
        if not name:
            super().arrive(subject)
            return
        from qcledger.screens.stock.names import Names

        self.open_asked(Names(self.desk, {table: name}))

    def action_names(self) -> None:
        """Say that the maker, paint or seller of the marked specimen is the same as another one, or is not."""
        self.with_marked(lambda specimen: self.work(partial(self._names, specimen, renames=False)))

    def action_called(self) -> None:
        """Type what the maker of the marked specimen is called now."""
        self.with_marked(lambda specimen: self.work(partial(self._names, specimen, renames=True)))

    async def _names(self, specimen: str, *, renames: bool) -> None:
        from qcledger.bench.naming import names_on
        from qcledger.screens.stock.names import Names

        subjects = await self.desk.read(lambda ledger: names_on(ledger, specimen), after_saves=True)
        self.app.push_screen(Names(self.desk, subjects, renames=renames))

    def action_reader(self) -> None:
        """Write down what a reader says of the marked paint; with nothing on the shelf, of any."""
        if self.query_one(Rows).count:
            self.with_marked(lambda specimen: self.work(partial(self._reader, specimen)))
        else:
            self.work(partial(self._reader, ""))

    async def _reader(self, specimen: str) -> None:
        from qcledger.bench.public.notes import of_specimen
        from qcledger.screens.forms.notes import write_note

        known = await self.desk.read(lambda ledger: of_specimen(ledger, specimen), after_saves=True)
        await write_note(self, known)

    def action_prices(self) -> None:
        """Show what was paid for the paints of the marked specimen's maker; of every maker on an empty shelf."""
        if self.query_one(Rows).count:
            super().action_prices()
        else:
            self.app.push_screen(PricesPage(self.desk))

    def action_said(self) -> None:
        """Show what was asked, told and decided."""
        from qcledger.screens.forms.said import Said

        self.app.push_screen(Said(self.desk))

    def action_parcel(self) -> None:
        """Enter a parcel."""
        from qcledger.screens.stock.parcel import ParcelPage

        self.app.push_screen(ParcelPage(self.desk))
