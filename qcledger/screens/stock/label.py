"""The transcription of a label: typed as printed, with words beside the fields that never block."""

from collections.abc import Callable, Sequence
from functools import partial
from typing import TYPE_CHECKING, ClassVar, Final

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.events import DescendantBlur

from qcledger.bench import labelling, tobekept
from qcledger.errors import BadInput, QcledgerError
from qcledger.records import LabelVersion, Maker, Paint
from qcledger.screens import keys
from qcledger.screens.desk import Desk
from qcledger.screens.dialogs import Anew, Either, Typing
from qcledger.screens.forms.form import TAKEN_UP
from qcledger.screens.page import Page
from qcledger.screens.shown import shown_date
from qcledger.screens.stock.pieceform import tell
from qcledger.screens.widgets.fields import NEEDED, Field, FieldColumn, Line
from qcledger.screens.widgets.wrapped import Wrapped
from qcledger.settings import reference_files
from qcledger.text import one_line
from qcledger.thing import worded

if TYPE_CHECKING:
    from qcledger.bench.tobekept import LabelBefore
    from qcledger.bench.worked import Worked
    from qcledger.ledger import Ledger
    from qcledger.rubric import LabelPart
    from qcledger.rubric.reference import Reference

FIELDS: Final = (
    ("maker", "maker", "name on the label"),
    ("name", "paint", "name of the colour"),
    ("number", "number", "the maker's own, if any"),
    ("index_names", "index names", "as printed, parted by commas: PG18, PW6"),
    ("constitution_numbers", "numbers", "77289, 77891"),
    ("chemical_names", "chemistry", "as printed, parted by commas"),
    ("cas_numbers", "CAS", "1308-38-9"),
    ("claims", "claims", "as printed: single pigment, lightfast I"),
    ("warnings", "warnings", "hazard words and pictograms, as printed"),
    ("printed", "also printed", "whatever else is on it"),
    ("seen_on", "seen on", "today"),
)
PARTS: Final = ("index_names", "constitution_numbers", "chemical_names", "cas_numbers", "claims", "warnings")
"""The fields of what a label may carry, by the keys of a rubric's parts; a rubric's own parts come beside them."""
MUST: Final = frozenset({"maker", "name"})
"""Fields without which there is no paint."""


class Label(Page):
    """One paint's label, new or as it was last seen.

    Parameters
    ----------
    desk
        Where to ask and save.
    paint
        The id of the paint whose latest label is shown; None for a new paint.
    maker, name
        What is known of a new paint already.
    kept
        Called with the paint's id once the label is on disk.
    """

    KEY = "label"
    TITLE = "Label"
    BINDINGS: ClassVar[list[BindingType]] = list(keys.bindings("label"))
    DEFAULT_CSS = """
    Label #label { height: 1fr; }
    Label Field { height: auto; min-height: 1; }
    Label Field > .words { width: auto; max-width: 60%; height: auto; }
    Label #missing { color: $warning; }
    """

    def __init__(
        self,
        desk: Desk,
        *,
        paint: str | None = None,
        maker: str = "",
        name: str = "",
        kept: Callable[[str], None] | None = None,
    ) -> None:
        super().__init__(desk)
        self._paint = paint
        self._names = {"maker": maker, "name": name}
        self._first: dict[str, str] = {}
        """What stood in the fields before anything was typed."""
        self._shown: LabelVersion | None = None
        self._kept = kept
        self._reference: Reference | None = None
        self._stands: LabelBefore | None = None
        self._work: Worked | None = None
        self._saving = False
        self._has_draft = False
        """Whether the draft of this name is of this paint: another's stays."""
        self._anew = Anew()
        self._drafting = Typing(self, self._keep_draft)

    def body(self) -> ComposeResult:
        """Lay out the fields and a line for what is missing."""
        with FieldColumn(id="label", can_focus=False):
            for name, label, hint in FIELDS:
                yield Field(name, worded(label), value=self._names.get(name, ""), hint=hint, needed=name in MUST)
        yield Wrapped(2, id="makes")
        yield Wrapped(3, id="missing")

    def on_mount(self) -> None:
        """Begin in the first empty field."""
        fields = list(self.query(Field))
        next(field for field in fields if not self._names.get(field.name or "")).focus_input()

    async def fill(self) -> None:
        """Ask for the reference, and for the label as it was last seen."""
        if self._reference is not None:
            return
        paint = self._paint

        def ask(
            ledger: "Ledger",
        ) -> "tuple[Reference, LabelBefore, Worked, tuple[Maker, Paint, LabelVersion | None] | None]":
            from qcledger.bench.worked import of_ledger
            from qcledger.rubric import reference

            one = ledger.get(Paint, paint) if paint else None
            maker = ledger.get(Maker, one.maker) if one else None
            stood = tobekept.stands(ledger, paint)
            known = (maker, one, stood.label) if one and maker else None
            return reference.load(reference_files()), stood, of_ledger(ledger), known

        reference, self._stands, work, found = await self.desk.read(ask, after_saves=True)
        self._reference, self._work = reference, work
        await self._ask_by_rubric(work.label, found[2] if found else None)
        if found is not None:
            self._show(*found)
        self._first = self._values()
        self._take_draft()
        self.head(worded("new paint") if found is None else "as last seen", "typed as printed", NEEDED)
        self.speak()

    async def _ask_by_rubric(self, parts: "Sequence[LabelPart]", label: LabelVersion | None) -> None:
        """Ask for what labels of such things carry; what this one has beside it is shown all the same."""
        asked = {part.key for part in parts} | {name for name in PARTS if label is not None and getattr(label, name)}
        for name in PARTS:
            self._field(name).display = name in asked
        for part in (part for part in parts if part.key in PARTS):
            self._field(part.key).call(part.title, part.words)
        own = [part for part in parts if part.key not in PARTS]
        facts = [Field(f"{labelling.FACT}{part.key}", part.title, hint=part.words or "as printed") for part in own]
        await self.query_one("#label").mount(*facts, before=self._field("claims"))

    def _asked(self) -> list[Field]:
        return [field for field in self.query(Field) if field.display]

    def _show(self, maker: Maker, paint: Paint, label: LabelVersion | None) -> None:
        values = {"maker": maker.name, "name": paint.name, "number": paint.number or ""}
        self._shown = label
        if label is not None:
            values |= {field: ", ".join(getattr(label, field)) for field in labelling.LISTS}
            values |= {"warnings": label.warnings, "printed": label.printed}
            self._field("seen_on").hint(f"today; last {shown_date(label.seen_on, self.desk.settings)}")
            values |= labelling.facts_of(label)
        named = {field.name: field for field in self.query(Field)}
        for name, value in values.items():
            if name in named:
                named[name].value = value
        next(field for field in self._asked() if field.name not in ("maker", "name", "number")).focus_input()

    def _field(self, name: str) -> Field:
        return next(field for field in self.walk_children(Field) if field.name == name)

    # What was typed outlives the page and the program

    @property
    def _draft_name(self) -> str:
        return f"label {self._paint or 'of a new paint'}"

    def _take_draft(self) -> None:
        """Take up a label that was left half-typed, unless another paint is named now."""
        lines = self.desk.drafts.get(self._draft_name).split("\n")
        left = {name: value for name, _, value in (line.partition(" ") for line in lines) if value}
        named = " ".join(filter(None, self._names.values())).casefold()
        if not left or named not in f"{left.get('maker', '')} {left.get('name', '')}".casefold():
            self.desk.drafts.pass_over(self._draft_name)
            return
        for field in (field for field in self.query(Field) if field.name in left):
            field.value = left[field.name or ""]
        self._has_draft = True
        self.say(TAKEN_UP)

    def _keep_draft(self) -> None:
        """Keep what is typed, if anything was."""
        values = self._values()
        if self._reference is not None and (values != self._first or self._has_draft):
            lines = [f"{name} {value}" for name, value in values.items() if value] if values != self._first else []
            self.desk.drafts.keep(self._draft_name, "\n".join(lines))
            self._has_draft = bool(lines)

    def _values(self) -> dict[str, str]:
        return {field.name or "": field.value for field in self.query(Field)}

    # Words beside the fields

    @on(Field.Changed)
    def _typed(self, message: Field.Changed) -> None:
        message.stop()
        self.speak()
        if self._reference is not None:
            self._drafting.typed()

    def speak(self) -> None:
        """Say beside each field what there is to say about it, and below what is missing."""
        if self._reference is None:
            return
        from qcledger.labels import about, missing

        values = self._values()
        draft = labelling.draft(values, self.desk.today)
        checked = self._work is None or self._work.names_pigments
        found = about(draft, values["name"], self._reference) if checked else ()
        for field in self.query(Field):
            field.speak("; ".join(one.words for one in found if one.field == field.name))
        if self._stands is not None:
            today = shown_date(self.desk.today, self.desk.settings)
            self.query_one("#makes", Wrapped).show(tobekept.words(self._stands, values, self._first, today))
        lacking = missing(draft, self._reference) if checked else ()
        self.query_one("#missing", Wrapped).show(
            f"Not typed: {'; '.join(lacking)}. Look on item, box and leaflet." if lacking else ""
        )

    # Keys

    @on(Field.Entered)
    def _entered(self, message: Field.Entered) -> None:
        message.stop()
        if message.field.name == FIELDS[-1][0]:
            self.action_keep()
        else:
            self.action_step(1)

    @on(DescendantBlur)
    def _left(self, event: DescendantBlur) -> None:
        """Part the names however the maker is left: by Enter, Tab, an arrow or the mouse."""
        if event.widget is self._field("maker").query_one(Line):
            self._part_names()

    def _part_names(self) -> None:
        """Leave a new paint its own name where both were typed into the line of a piece."""
        name, maker = self._field("name"), one_line(self._field("maker").value)
        begins = f"{maker} ".casefold()
        if self._paint is None and maker and name.value.casefold().startswith(begins):
            name.value = name.value[len(begins) :].strip()

    def action_step(self, by: int) -> None:
        """Go to another field."""
        fields = self._asked()
        here = next((n for n, field in enumerate(fields) if field.has_focus_within), 0)
        fields[min(max(here + by, 0), len(fields) - 1)].focus_input()

    def action_keep(self) -> None:
        """Save the label."""
        if not self._saving:
            self._part_names()
            self.work(self._keep, instead_of="keep")

    async def _keep(self) -> None:
        today = self.desk.today
        try:
            read = labelling.read_label(self._values(), today, self.desk.settings)
        except BadInput as refused:
            raise tell(self.query(Field), refused) from refused
        renamed = await self._asked_about_maker(read.maker)
        if renamed is None:
            return
        self.save_state("...")
        self._saving = True
        try:
            new_id, paint_id = self.desk.new_id, self._paint
            job = partial(labelling.keep_label, read=read, new_id=new_id, paint=paint_id, renamed=renamed)
            kept = await self.desk.save(job)
        except QcledgerError:
            self.save_state("not saved")
            raise
        finally:
            self._saving = False
        self.did(partial(_take_back, kept=kept))
        self._forget()
        self.app.pop_screen()
        if self._kept is not None:
            self._kept(kept.paint.id)
        from qcledger.labels.checks import NO_FORM
        from qcledger.rubric.colour_index import printed

        odd = [name for name in read.label.index_names if printed(name) is None]
        if isinstance(front := self.app.screen, Page):  # names no reference knows are kept all the same
            but = f"kept, but {', '.join(odd)}: {NO_FORM}, as in PB29 or PR101" if odd else tobekept.made(kept)
            front.say(but, problem=bool(odd))

    def action_put_right(self) -> None:
        """Put right the label that is shown: what is typed goes into the form of a correction."""
        if self._shown is None:
            self.say("no label is kept yet that could be put right; F3 keeps what is typed", problem=True)
        else:
            self.work(partial(self._put_right, self._shown), instead_of="keep")

    async def _put_right(self, label: LabelVersion) -> None:
        from qcledger.bench.correcting import WORDS, standing
        from qcledger.screens.forms.labels import put_right

        values = self._values()
        typed = {name: text for name, text in values.items() if text != self._first[name]}
        if {"maker", "name", "number"} & typed.keys():
            self.say(
                worded("maker, paint and number are no part of this: F3 keeps them, F4 then the rest"), problem=True
            )
            return

        def mine(ledger: "Ledger") -> LabelVersion:
            return standing(ledger, label.id)

        await self.desk.read(mine, after_saves=True)
        self._forget()
        self.app.pop_screen()
        if isinstance(front := self.app.screen, Page):
            over = {name: text for name, text in typed.items() if name in WORDS}
            if any(name.startswith(labelling.FACT) for name in typed):
                over["facts"] = "; ".join(labelling.facts_typed(values))
            front.work(partial(put_right, front, mine, over), instead_of="form")

    async def _asked_about_maker(self, typed: str) -> bool | None:
        """Say whether a maker's name typed over another is what it is called now; None to go back to the label."""
        paint = self._paint
        if paint is None:
            return False
        other = await self.desk.read(lambda ledger: labelling.other_maker(ledger, typed, paint), after_saves=True)
        if other is None:
            return False
        name, paints = other
        all_of_them = worded("its one paint") if paints == 1 else f"all its {paints} {worded('paints')}"
        question = f"{name} is the maker here. Is it called {typed} now, with {all_of_them}?"
        return await self.app.push_screen_wait(Either(question, "yes", worded("no, this paint is another maker's")))

    def action_anew(self) -> None:
        """Throw away what is typed, its draft too; once more brings it back."""
        if self._saving or self._reference is None:
            return
        self._drafting.stop()
        values, told = self._anew.turn(self._values(), self._first)
        for field in self.query(Field):
            field.value = values[field.name or ""]
        if values == self._first:
            self.desk.drafts.drop(self._draft_name)
        self.say(told)

    def action_leave(self) -> None:
        """Leave; what was typed is there again when the label is next opened."""
        self._drafting.stop()
        self._keep_draft()
        self.app.pop_screen()

    def _forget(self) -> None:
        self._drafting.stop()
        self.desk.drafts.drop(self._draft_name)


async def _take_back(page: Page, *, kept: labelling.KeptLabel) -> str:
    """Let what stood before a label was kept stand again."""
    return await page.desk.save(lambda ledger: labelling.take_back(ledger, kept, page.desk.new_id))
