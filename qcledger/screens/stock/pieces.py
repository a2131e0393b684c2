"""What can be done with one specimen, from whichever page it is marked on."""

from collections.abc import Callable, Sequence
from functools import partial
from typing import TYPE_CHECKING, Final

from qcledger.bench import mending, unpacking
from qcledger.records import Parcel as ParcelRow
from qcledger.records import Record, Specimen
from qcledger.screens.dialogs import Ask
from qcledger.screens.page import Page
from qcledger.screens.stock.words import shelf_row
from qcledger.screens.widgets.rows import Row, Rows
from qcledger.vocab import SpecimenState

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.ledger.queries_stock import Shelved


PUT_BACK: Final = "Put it back into stock? Its line opens, and Enter in price puts it back; z takes it out again."
STAYS_OUT: Final = "it stays out"


async def back_to(page: Page, *, before: Sequence[Record], after: Sequence[Record], name: str, said: str) -> str:
    """Write rows as they were `before`, if they still are as `after`: what was changed since stays."""
    stood = await page.desk.save(lambda ledger: mending.take_back(ledger, before, after))
    return said if stood else f"{name} was changed since, and stays as it is"


def keep_line(
    ledger: "Ledger",
    *,
    parcel: ParcelRow,
    piece: unpacking.Typed,
    id_: str,
    new_id: Callable[[], str],
    reason: str,
    returns: bool,
) -> tuple[Specimen | None, Specimen, str]:
    """Save a line; return the piece before and now, and in words which results of one that `returns` stay back.

    A new one that the list of what to buy named is marked so.
    """
    from qcledger.bench.advice import marked

    before = ledger.get(Specimen, id_)
    if before is None:
        piece = marked(ledger, parcel, piece)
    kept = unpacking.save_piece(ledger, parcel, piece, id_, new_id, reason, again=returns)
    return before, kept, unpacking.stays_back(ledger, id_) if returns else ""


class Pieces(Page):
    """A page with a specimen marked on it."""

    def with_marked(self, then: Callable[[str], object]) -> None:
        """Do something with the marked specimen; where the list is just being filled, once it is there."""
        rows = self.query_one(Rows)
        rows.with_row(rows.marked, lambda row: then(row.id))

    async def shelved(self, words: Sequence[str], parcel: str | None, first: int, most: int) -> Sequence[Row]:
        """Return some of the specimens that have every word, of one parcel or of all, as rows."""

        def ask(ledger: "Ledger") -> "list[Shelved]":
            from qcledger.ledger.queries_stock import shelf

            with ledger.reading() as connection:
                return shelf(connection, words, parcel, first, most)

        found = await self.desk.read(ask, after_saves=True)
        return [shelf_row(one, self.desk.settings) for one in found]

    def action_open(self) -> None:
        """Open the whole history of the marked specimen."""
        from qcledger.screens.stock.history import History

        self.with_marked(lambda specimen: self.app.push_screen(History(self.desk, specimen)))

    def arrive(self, subject: str) -> None:
        """Open the history of the specimen with this id."""
        from qcledger.screens.stock.history import History

        self.open_asked(History(self.desk, subject))

    def action_unpack(self) -> None:
        """Grade what was found when the marked specimen was unpacked."""
        from qcledger.screens.stock.unpack import Unpacking

        self.with_marked(lambda specimen: self.app.push_screen(Unpacking(self.desk, specimen)))

    def action_label(self) -> None:
        """Open the label of the marked specimen's paint."""
        self.with_marked(lambda specimen: self.work(partial(self._open_label, specimen)))

    async def _open_label(self, specimen: str) -> None:
        from qcledger.screens.stock.label import Label

        one = await self.desk.read(lambda ledger: ledger.get(Specimen, specimen), after_saves=True)
        if one is not None:
            self.app.push_screen(Label(self.desk, paint=one.paint))

    def action_put_right(self) -> None:
        """Put the label right that the marked specimen carries."""
        self.with_marked(lambda specimen: self.work(partial(self._put_right, specimen), instead_of="form"))

    async def _put_right(self, specimen: str) -> None:
        from qcledger.bench.correcting import label_of
        from qcledger.screens.forms.labels import put_right

        if await self.is_own(specimen):
            await put_right(self, lambda ledger: label_of(ledger, specimen))

    def action_change(self) -> None:
        """Open the marked specimen's line to be changed."""
        self.with_marked(lambda specimen: self.work(partial(self._change, specimen)))

    async def is_own(self, specimen: str) -> bool:
        """Say whether a specimen is this tester's, or say on the page whose it is: only that tester changes it."""

        def ask(ledger: "Ledger") -> tuple[Specimen | None, str]:
            return ledger.get(Specimen, specimen), ledger.made_by(Specimen, specimen)

        one, made_by = await self.desk.read(ask, after_saves=True)
        if one is not None and made_by:
            self.say(f"{one.sticker} is a specimen of {made_by}, who alone changes it", problem=True)
        return not made_by

    async def _change(self, specimen: str) -> None:
        from qcledger.screens.stock.parcel import ParcelPage

        if await self.may_change(specimen):
            self.app.push_screen(ParcelPage(self.desk, change=specimen))

    async def may_change(self, specimen: str) -> bool:
        """Say whether the line of a specimen may be opened; of one that was taken out it is asked first."""
        if not await self.is_own(specimen):
            return False

        def ask(ledger: "Ledger") -> tuple[str, str]:
            out = unpacking.out_words(ledger, specimen)
            return out, unpacking.stays_back(ledger, specimen) if out else ""

        out, stays = await self.desk.read(ask, after_saves=True)
        beside = f" {stays}." if stays else ""
        if not out or await self.app.push_screen_wait(Ask(f"{out}. {PUT_BACK}{beside}")):
            return True
        self.say(STAYS_OUT)
        return False

    def action_prices(self) -> None:
        """Show what was paid for the paints of the specimen's maker."""
        self.with_marked(lambda specimen: self.work(partial(self._prices, specimen)))

    async def _prices(self, specimen: str) -> None:
        from qcledger.bench.naming import names_on
        from qcledger.screens.prices import PricesPage

        named = await self.desk.read(lambda ledger: names_on(ledger, specimen), after_saves=True)
        self.app.push_screen(PricesPage(self.desk, named["maker"]))

    def action_mend(self) -> None:
        """Mend lot and price of every piece of the parcel that is like the marked one, or of others of it."""
        self.with_marked(lambda specimen: self.work(partial(self._mend, specimen)))

    async def _mend(self, specimen: str) -> None:
        from qcledger.screens.stock.several import mend_several

        if await self.is_own(specimen):
            await mend_several(self, specimen)

    def action_to_parcel(self) -> None:
        """Move the marked piece, and others of its parcel with it, to another parcel."""
        self.with_marked(lambda specimen: self.work(partial(self._to_parcel, specimen)))

    async def _to_parcel(self, specimen: str) -> None:
        from qcledger.screens.stock.reparcel import to_parcel

        if await self.is_own(specimen):
            await to_parcel(self, specimen)

    def action_state(self, state: str) -> None:
        """Give the marked specimen another state."""
        self.with_marked(lambda specimen: self.work(partial(self._set_state, specimen, SpecimenState(state))))

    async def _set_state(self, specimen: str, state: SpecimenState) -> None:
        if not await self.is_own(specimen):
            return
        today = self.desk.today

        def job(ledger: "Ledger") -> tuple[Specimen, Specimen]:
            return unpacking.set_state(ledger, specimen, state, today, f"now {state}")

        before, after = await self.desk.save(job)
        self.saved()
        said, name = f"{before.sticker} is {before.state} again", before.sticker
        self.did(partial(back_to, before=[before], after=[after], name=name, said=said))
        self.say(f"{after.sticker} is {after.state}; z takes it back")
        await self.fill()
