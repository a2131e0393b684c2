"""A parcel in one form: what is common once, then a line a piece."""

import asyncio
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import TYPE_CHECKING, ClassVar, Final

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType

from qcledger.bench import known, unpacking
from qcledger.bench.known import Known
from qcledger.bench.worked import of_ledger
from qcledger.errors import BadInput, QcledgerError
from qcledger.records import Parcel as ParcelRow
from qcledger.records import Specimen
from qcledger.screens import keys
from qcledger.screens.desk import Desk
from qcledger.screens.dialogs import Anew, Typing
from qcledger.screens.page import Page
from qcledger.screens.shown import shown_date
from qcledger.screens.stock import leftover
from qcledger.screens.stock.changing import draft_of, line_of, mend_parcel, read_common, tell_changed, why_line
from qcledger.screens.stock.common import CommonFields
from qcledger.screens.stock.counting import Count, count_of, place_of
from qcledger.screens.stock.leftover import Leftover
from qcledger.screens.stock.pieceform import PieceForm, tell
from qcledger.screens.stock.pieces import Pieces, keep_line
from qcledger.screens.stock.words import SHELF, saved_words
from qcledger.screens.widgets.fields import Field
from qcledger.screens.widgets.rows import Row, Rows

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

ONLY_IN_LIST: Final = frozenset({"new", "open", "change", "label", "mend", "to_parcel", "state"})
"""Actions whose keys are letters, for when the list is in front."""
LINE_TAKEN_UP: Final = "a half-typed line was taken up; F7 throws it away"


def _asked(
    ledger: "Ledger", parcel: str | None
) -> tuple[tuple[Known, ...], tuple[str, ...], frozenset[str], str, Count, list[str]]:
    """Return what a parcel's page asks the ledger for.

    Known paints, formats, those of the ledger's own things, the next sticker, how many pieces the parcel has, and for
    a new one the sellers.
    """
    sellers = [] if parcel else known.sellers_names(ledger)
    counted = count_of(ledger, (), parcel) if parcel else Count(0, 0)
    formats, usual = unpacking.formats_of(ledger), of_ledger(ledger).formats
    return known.known_paints(ledger), formats, usual, unpacking.next_sticker(ledger), counted, sellers


def _known_of(ledger: "Ledger", paint: str) -> tuple[tuple[Known, ...], tuple[Known, ...]]:
    """Return known paints, and those among them that one row of a paint is."""
    return known.known_paints(ledger), known.of_paint(ledger, paint)


async def _take_out(page: Page, *, specimen: Specimen) -> str:
    """Take the entry of a piece back; on a page of parcels its line comes back into the form."""
    await page.desk.save(lambda ledger: unpacking.take_out(ledger, specimen, page.desk.new_id))
    if not isinstance(page, ParcelPage):
        return f"{specimen.sticker} taken back: entered by mistake; e on its line in Stock puts it back"
    await page.open_change(specimen.id)
    return f"{specimen.sticker} taken back; Enter in price enters it again, changed or not; Esc leaves it out"


class ParcelPage(Pieces):
    """A new parcel, or one whose line is to be changed.

    Parameters
    ----------
    desk
        Where to ask and save.
    change
        The id of a specimen whose line is opened first; None for a new parcel.
    """

    KEY = "parcel"
    TITLE = "Stock"
    BINDINGS: ClassVar[list[BindingType]] = list(keys.bindings("parcel"))
    DEFAULT_CSS = """
    ParcelPage Rows.-behind { display: none; }
    ParcelPage Rows { min-height: 3; }
    ParcelPage.-low Rows, ParcelPage.-low #more { display: none; }
    """

    def __init__(self, desk: Desk, change: str | None = None) -> None:
        super().__init__(desk)
        self._wanted = change
        self._parcel: ParcelRow | None = None
        self._known: Sequence[Known] = ()
        self._piece: str | None = None
        self._changing: str = ""
        self._returns = False
        """Whether what is being changed was taken out, and comes back with it."""
        self._asking = asyncio.Lock()
        self._taken_up = change is not None
        self._line_taken_up = False
        """Whether a half-typed line came back and was not in front yet."""
        self._drafting = Typing(self, self._keep_draft)
        self._anew = Anew()

    def body(self) -> ComposeResult:
        """Lay out the common fields, the pieces so far, and the line to type."""
        yield CommonFields(self.desk.settings)
        yield Rows(SHELF, self._load, marks_in_front=True)
        yield PieceForm(self.desk.settings)

    def on_mount(self) -> None:
        """Begin with what is common."""
        self.query_one(CommonFields).propose(self.desk.today)
        self._show_common(front=True)
        self.query_one(CommonFields).field("seller").focus_input()

    def _show_common(self, *, front: bool) -> None:
        """Bring the common fields to the front, or the list and the line."""
        self.query_one(CommonFields).display, self.query_one(PieceForm).display = front, not front
        self.query_one(Rows).set_class(front, "-behind")
        if front:
            self.foot([("Enter", "next field")], "lines", "leave")
        else:
            self.foot([("Enter", "next, then add")], "unpack", "paint", "common", "undo", "leave")

    @property
    def _in_common(self) -> bool:
        return bool(self.query_one(CommonFields).display)

    async def fill(self) -> None:
        """Ask for known paints, the next sticker, and how many pieces the parcel has."""
        wanted, self._wanted = self._wanted, None
        if wanted is not None:
            await self.open_change(wanted)
        job = partial(_asked, parcel=self._parcel.id if self._parcel else None)
        self._known, formats, usual, sticker, count, sellers = await self.desk.read(job, after_saves=True)
        if sellers:
            self.query_one(CommonFields).field("seller").suggest(sellers)
        self.query_one(PieceForm).know(self._known, formats, usual)
        if not self._taken_up:
            self._taken_up = True
            if await self._take_up():
                await self.fill()
                return
        rows = self.query_one(Rows)
        rows.show(count.rows, marked=rows.marked)
        self._head(sticker, count)

    def _head(self, sticker: str, count: Count) -> None:
        parcel = self._parcel
        if parcel is None:
            self.head("new parcel", "what is common to all its specimens")
            return
        line = self._changing or f"next sticker {sticker}"
        bought = shown_date(parcel.bought_on, self.desk.settings)
        self.head(line, f"{count.there} so far", f"{parcel.seller}, {bought}, {parcel.currency}")

    async def _load(self, first: int, most: int) -> Sequence[Row]:
        return await self.shelved((), self._parcel.id if self._parcel else "", first, most)

    # What is common

    @on(CommonFields.Done)
    def action_lines(self) -> None:
        """Go on to the lines; wrong fields are told and stay."""
        if not self._in_common:
            self.query_one(PieceForm).field("paint").focus_input()
            return
        self.work(partial(self._take_common, self.query_one(CommonFields).values()))

    async def _take_common(self, values: Mapping[str, str]) -> None:
        today, settings = self.desk.today, self.desk.settings
        id_ = self._parcel.id if self._parcel else ""

        job = partial(read_common, values=values, id_=id_, today=today, settings=settings)
        try:
            parcel, wanted = await self.desk.read(job, after_saves=True)
        except BadInput as refused:
            raise tell(self.query_one(CommonFields).query(Field), refused) from refused
        if wanted is None or await mend_parcel(self, wanted):
            self._go_on(parcel)
            await self.fill()

    def _go_on(self, parcel: ParcelRow) -> None:
        self._parcel = parcel
        form = self.query_one(PieceForm)
        self._show_common(front=False)
        self.say(LINE_TAKEN_UP if self._line_taken_up else "")
        self._line_taken_up = False
        form.begin(parcel.currency, self.desk.today)

    def action_common(self) -> None:
        """Go back to the common fields."""
        self._show_common(front=True)
        self.query_one(CommonFields).field("seller").focus_input()

    # What was typed outlives the page and the program

    @on(CommonFields.Touched)
    @on(PieceForm.Touched)
    def _typed(self) -> None:
        """Keep a draft in a moment."""
        self._drafting.typed()

    def _keep_draft(self) -> None:
        """Keep what is typed and not saved; a line that is being changed stands in the ledger."""
        if not self._changing and self._taken_up:
            begun = self._parcel.id if self._parcel is not None and self.query_one(Rows).count else ""
            leftover.keep(self.desk.drafts, self.query_one(CommonFields), self.query_one(PieceForm), begun)

    async def _take_up(self) -> bool:
        """Take up a parcel that was left half-typed; say whether its lines are in front."""
        left = Leftover.read(self.desk.drafts.get(leftover.NAME))
        self.query_one(CommonFields).take(left.common)
        row = None
        if left.parcel:
            row = await self.desk.read(lambda ledger: ledger.get(ParcelRow, left.parcel), after_saves=True)
        if row is not None:
            self._go_on(row)
        self.query_one(PieceForm).take_up(left.line)
        self._line_taken_up = bool(left.line) and row is None
        if left.common or left.line:
            self.say(LINE_TAKEN_UP if left.line else leftover.TAKEN_UP)
        return row is not None

    def action_anew(self) -> None:
        """Throw away what is typed in front, its draft too; once more brings it back."""
        if self._changing or (self._in_common and self._parcel is not None):
            self.say("this stands in the ledger; Esc leaves it as it stands", problem=True)
            return
        fields, form = self.query_one(CommonFields), self.query_one(PieceForm)
        self.say(leftover.turn(self._anew, self.desk.drafts, fields, form, common=self._in_common))
        self._keep_draft()

    # A line

    @on(PieceForm.Added)
    def _added(self, message: PieceForm.Added) -> None:
        message.stop()
        form = self.query_one(PieceForm)
        try:
            piece = form.read()
        except BadInput as refused:
            self.say(refused.told(), problem=True)
            return
        self.say("")
        assert form.chosen is not None
        self.work(partial(self._change_line if self._changing else self._add, piece, form.chosen))

    async def _add(self, piece: unpacking.Typed, chosen: Known, reason: str = "") -> None:
        self.save_state("...")
        await self._save(piece, chosen, self.query_one(PieceForm).clear(), reason)

    async def _change_line(self, piece: unpacking.Typed, chosen: Known) -> None:
        """Ask why a line is changed, and save it."""
        parcel, id_ = self._parcel, self._piece
        if parcel is None or id_ is None or self._asking.locked():
            return
        async with self._asking:
            reason = await why_line(self, parcel, piece, id_)
        if reason is not None:
            await self._add(piece, chosen, reason)
            self.desk.drafts.drop(draft_of(id_))

    async def _save(self, piece: unpacking.Typed, chosen: Known, values: Mapping[str, str], reason: str = "") -> None:
        """Save a piece; when that fails, what was typed comes back."""
        parcel, changing, returns = self._parcel, self._changing, self._returns
        assert parcel is not None
        id_, self._piece, self._changing, self._returns = self._piece or self.desk.new_id(), None, "", False

        new_id = self.desk.new_id
        job = partial(keep_line, parcel=parcel, piece=piece, id_=id_, new_id=new_id, reason=reason, returns=returns)
        try:
            before, specimen, stays = await self.desk.save(job)
        except QcledgerError:
            self._piece, self._changing, self._returns = id_, changing, returns
            self.save_state("not saved")
            self.query_one(PieceForm).restore(chosen, values, stands=bool(changing))
            raise
        self.saved()
        self._keep_draft()
        form = self.query_one(PieceForm)
        if before is None:
            self.query_one(Rows).mark(0)  # where the new line stands
            self.did(partial(_take_out, specimen=specimen))
            self.say(saved_words(specimen))
        else:
            tell_changed(self, before, specimen, returned=returns, stays=stays)
            form.forget()
        await self.fill()
        if before is None:
            form.remember(piece)

    async def _change(self, specimen: str) -> None:
        if await self.may_change(specimen):
            await self.open_change(specimen)
            await self.fill()

    async def open_change(self, specimen: str) -> None:
        """Open the line of a specimen of this or another parcel."""
        found = await self.desk.read(
            partial(line_of, specimen=specimen, settings=self.desk.settings), after_saves=True
        )
        one, parcel, values, paint, self._returns = found
        # The list is filled after this, and may be shorter until then.
        self.query_one(Rows).marked = await self.desk.read(partial(place_of, specimen=one), after_saves=True)
        self._go_on(parcel)
        self.query_one(CommonFields).show(parcel)
        self._piece, self._changing = one.id, f"{'putting back' if self._returns else 'changing'} {one.sticker}"
        self.query_one(PieceForm).restore(paint, values, stands=True)

    @on(PieceForm.Unclear)
    def _unclear(self, message: PieceForm.Unclear) -> None:
        message.stop()
        self.say(message.words, problem=True)

    # A paint not seen before

    @on(PieceForm.NewPaint)
    def _new_paint(self, message: PieceForm.NewPaint) -> None:
        message.stop()
        self.work(partial(self._transcribe, message.text))

    def action_paint(self) -> None:
        """Transcribe the label of a new paint."""
        if self._parcel is not None:
            form = self.query_one(PieceForm)
            self.work(partial(self._transcribe, "" if form.chosen else form.field("paint").value))

    async def _transcribe(self, text: str) -> None:
        from qcledger.screens.stock.label import Label

        makers = await self.desk.read(known.makers_names, after_saves=True)
        maker, name = known.split_maker(text, makers)
        self.app.push_screen(Label(self.desk, maker=maker, name=name, kept=self._take_paint))

    def _take_paint(self, paint: str) -> None:
        """Take the paint whose label was just kept."""
        self.work(partial(self._take_new, paint))

    async def _take_new(self, paint: str) -> None:
        self._known, kept = await self.desk.read(partial(_known_of, paint=paint), after_saves=True)
        form = self.query_one(PieceForm)
        form.know(self._known)
        form.take(kept[0])

    # Keys

    @property
    def _typing(self) -> bool:
        return not self.query_one(Rows).has_focus

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Leave letters and Enter to the fields while something is typed."""
        return action not in ONLY_IN_LIST or not self._typing

    def with_marked(self, then: Callable[[str], object]) -> None:
        """Do something with the marked piece; while typing, with the one being changed, else the one entered last."""
        rows = self.query_one(Rows)
        if self._typing and self._piece:
            then(self._piece)
        else:
            rows.with_row(0 if self._typing else rows.marked, lambda row: then(row.id))

    @on(Rows.Picked)
    def _picked(self, message: Rows.Picked) -> None:
        message.stop()
        self.action_open()

    def action_step(self, by: int) -> None:
        """Go to another field, or mark another of the offered paints."""
        form = self.query_one(PieceForm)
        if not self._in_common and form.field("paint").has_focus_within and form.step(by):
            return
        if by > 0:
            self.focus_next("Input")
        else:
            self.focus_previous("Input")

    def action_new(self) -> None:
        """Go back from the list to the form."""
        self.query_one(PieceForm).field("paint").focus_input()

    def action_leave(self) -> None:
        """Go from the form to the list, from there back to the shelf."""
        rows, form = self.query_one(Rows), self.query_one(PieceForm)
        if self._in_common and self._parcel is not None:
            self._show_common(front=False)
            form.field("paint").focus_input()
        elif not self._in_common and self._typing and rows.count:
            if self._piece is not None:
                self._piece, self._changing, self._returns = None, "", False
                form.clear()
            rows.focus()
            self.work(self.fill, instead_of="fill")
        else:
            self._keep_draft()
            self.app.pop_screen()
