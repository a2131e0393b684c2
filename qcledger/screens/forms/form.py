"""One form for everything that is typed in fields and kept by a key: what it shows and asks is a table."""

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING, ClassVar, Final

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.message import Message
from textual.widget import Widget
from textual.widgets import Static

from qcledger.errors import BadInput, NotConfirmed, QcledgerError
from qcledger.records import Record
from qcledger.screens import keys
from qcledger.screens.desk import Desk
from qcledger.screens.dialogs import Anew, Ask, Typing
from qcledger.screens.page import Page
from qcledger.screens.shown import shown
from qcledger.screens.widgets.fields import NEEDED, Check, Field, FieldColumn, labelled, nothing_to_say, refuse
from qcledger.text import clean
from qcledger.thing import worded

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

Values = Mapping[str, str]
Back = Callable[["Ledger", Sequence[Record], Sequence[Record]], str]
"""Takes rows back, given a ledger to write to, those of them that stood before, and all as they were kept."""
TAKEN_UP: Final = "taken up where it was left and not kept: F3 keeps it, F7 throws it away"
"""Said where what was half-typed stands in a form again."""


@dataclass(frozen=True, slots=True)
class FormLine:
    """One field of a form: its name and label, what an empty one shows, and whether it may be empty.

    A `tall` one takes a text of several lines. `check` returns words about what is typed, which block nothing;
    `words` are suggested while one of them is typed.
    """

    name: str
    label: str
    hint: str = ""
    needed: bool = False
    tall: bool = False
    check: Check = nothing_to_say
    words: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Ready:
    """What a form comes to: the rows to be kept, what is said once they are, and what is asked before, if anything.

    `reason` is kept in their entries. `back` takes them back and returns what to say.
    """

    records: Sequence[Record]
    said: str
    back: Back
    question: str = ""
    reason: str = ""


def taken_back(said: str) -> Back:
    """Return what takes back the rows of a form that said something outside, or decided something small."""

    def back(ledger: "Ledger", before: Sequence[Record], kept: Sequence[Record]) -> str:
        from qcledger.bench.public.withdrawing import undo

        return undo(ledger, kept, before, said)

    return back


@dataclass(frozen=True, slots=True, kw_only=True)
class FormSubject:
    """What a form is about.

    Parameters
    ----------
    title
        What the head line says.
    draft
        Name of the draft, one for each thing it may be about.
    about
        Shown in full above the fields.
    lines
        The fields, in order.
    values
        What stands in them at first.
    typed
        What was typed elsewhere, put over that.
    chapter
        The chapter of the guide that speaks of it.
    first
        The field to begin in; without one, the first empty one that must be filled in.
    read
        Reads what was typed; raises BadInput with the fields that cannot be read. The ledger it is given is for
        reading.
    """

    title: str
    draft: str
    lines: tuple[FormLine, ...]
    read: Callable[["Ledger", Values], Ready]
    about: Sequence[str] = ()
    values: Values = field(default_factory=dict)
    typed: Values = field(default_factory=dict)
    first: str = ""
    chapter: str = "loose_ends"


class Tall(Widget):
    """A field of several lines, with its label above."""

    DEFAULT_CSS = """
    Tall { height: auto; layout: vertical; }
    Tall > .label { color: $faint; height: 1; }
    Tall > NoteArea { max-height: 6; min-height: 2; }
    """

    def __init__(self, line: FormLine, value: str) -> None:
        super().__init__(name=line.name)
        self._line, self._first = line, value
        self._is_refused = False

    def compose(self) -> ComposeResult:
        """Show the label and the text."""
        from qcledger.screens.widgets.notes import NoteArea  # here, because a text area is slow to load

        yield Static(shown(worded(f"{self._line.label}  {self._line.hint}".rstrip())), markup=False, classes="label")
        yield NoteArea(clean(self._first))

    @property
    def _area(self) -> Widget:
        return self.query_one("NoteArea")

    @property
    def label(self) -> str:
        """The words above it."""
        return self._line.label

    @property
    def value(self) -> str:
        """The typed text."""
        return str(getattr(self._area, "text")) if self.is_mounted else self._first  # noqa: B009 - loaded with the area

    @value.setter
    def value(self, text: str) -> None:
        self._first = text
        setattr(self._area, "text", clean(text))  # noqa: B010 - as above

    def focus_input(self) -> None:
        """Go into it."""
        self._area.focus()

    def refuse(self) -> None:
        """Note that what stands here was refused."""
        self._is_refused = True

    def mended(self) -> bool:
        """Say whether what stands here was refused before it was changed."""
        was, self._is_refused = self._is_refused, False
        return was


class FormPage(Page):
    """A form; its save key keeps it, Esc leaves, and what is typed stands there again next time.

    Parameters
    ----------
    desk
        Where to save.
    form
        What it is about.
    kept
        Called with what is said about it, once it is on disk.
    """

    KEY = "form"
    TITLE = "Form"
    BINDINGS: ClassVar[list[BindingType]] = list(keys.bindings("form"))
    DEFAULT_CSS = """
    FormPage #fields { height: 1fr; }
    FormPage Field { height: auto; min-height: 1; }
    FormPage #about { color: $ink; height: auto; }
    """

    def __init__(self, desk: Desk, form: FormSubject, kept: Callable[[str], None] | None = None) -> None:
        super().__init__(desk)
        self._form, self._kept = form, kept
        self._anew = Anew()
        self._drafting = Typing(self, self._keep_draft)
        self._ready = self._saving = False
        self._unsure: tuple[dict[str, str], Ready, list[Record]] | None = None
        """What was typed, what it comes to and what stood before, while its save may or may not be on disk."""

    def body(self) -> ComposeResult:
        """Lay out what it is about, then the fields."""
        with FieldColumn(id="fields", can_focus=False):
            yield Static(shown("\n".join(self._form.about)), markup=False, id="about")
            for line in self._form.lines:
                value = self._form.values.get(line.name, "")
                if line.tall:
                    yield Tall(line, value)
                else:
                    label, hint = worded(line.label), worded(line.hint)
                    yield Field(line.name, label, line.check, value=value, hint=hint, needed=line.needed)

    def on_mount(self) -> None:
        """Begin in the first empty field that must be filled in, with what was left half-typed."""
        for line, one in zip(self._form.lines, self._fields, strict=True):
            if isinstance(one, Field) and line.words:
                one.suggest(line.words)
        taken = self._take_draft()
        for one in self._fields:
            if (over := self._form.typed.get(one.name or "")) is not None:
                one.value = over
        wanted = [one for line, one in zip(self._form.lines, self._fields, strict=True) if line.needed]
        begins = [one for one in self._fields if one.name == self._form.first]
        begins += [one for one in wanted if not one.value.strip()]
        next(iter(begins), self._fields[0]).focus_input()
        self.query_one("#fields").scroll_home(animate=False)
        self.head(self._form.title, *([NEEDED] if wanted else []))
        self._ready = True
        if taken:
            self.say(TAKEN_UP)

    @property
    def _fields(self) -> "list[Field | Tall]":
        return [one for one in self.query("Field, Tall") if isinstance(one, Field | Tall)]

    @property
    def chapter(self) -> str:
        """The chapter of the guide that speaks of this form."""
        return self._form.chapter

    def values(self) -> dict[str, str]:
        """Return what stands in each field."""
        return {one.name or "": one.value for one in self._fields}

    # What was typed outlives the page and the program

    def _take_draft(self) -> bool:
        try:
            left = json.loads(self.desk.drafts.get(self._form.draft) or "{}")
        except ValueError:  # of another program
            return False
        if not isinstance(left, dict):
            return False
        for one in self._fields:
            if isinstance(text := left.get(one.name or ""), str):
                one.value = text
        return bool(left)

    def _keep_draft(self) -> None:
        if self._ready:
            values = self.values()
            self.desk.drafts.keep(self._form.draft, json.dumps(values) if values != self._first else "")

    @property
    def _first(self) -> dict[str, str]:
        """What stands in the fields before anything is typed."""
        return {line.name: self._form.values.get(line.name, "") for line in self._form.lines}

    @on(Field.Changed)
    def _typed(self, message: Field.Changed) -> None:
        message.stop()
        self._touched()

    def on_text_area_changed(self, event: Message) -> None:
        """Keep a draft in a moment."""
        event.stop()
        for one in self.query(Tall):
            if one.has_focus_within and one.mended():
                self.post_message(Field.Mended())
        self._touched()

    def _touched(self) -> None:
        if self._ready:
            self._drafting.typed()

    # Keys

    @on(Field.Entered)
    def _entered(self, message: Field.Entered) -> None:
        message.stop()
        self.action_step(1)

    def action_step(self, by: int) -> None:
        """Go to another field."""
        fields = self._fields
        here = next((n for n, one in enumerate(fields) if one.has_focus_within), 0)
        fields[min(max(here + by, 0), len(fields) - 1)].focus_input()

    def action_anew(self) -> None:
        """Throw away what is typed, its draft too; once more brings it back."""
        if self._saving or self._unsure is not None:
            self.say("its save is still under way; F3 tries it again", problem=True)
            return
        self._drafting.stop()
        values, said = self._anew.turn(self.values(), self._first)
        for one in self._fields:
            one.value = values[one.name or ""]
        if values == self._first:
            self.desk.drafts.drop(self._form.draft)
        self.say(said)

    def action_leave(self) -> None:
        """Leave; what is typed stands there next time."""
        self._drafting.stop()
        self._keep_draft()
        super().action_leave()

    def action_keep(self) -> None:
        """Keep what is typed."""
        if not self._saving:
            self.work(self._keep, instead_of="keep")

    async def _keep(self) -> None:
        values = self.values()
        if self._unsure is not None and self._unsure[0] == values:
            _, ready, before = self._unsure  # the same rows again: they may be on disk already
        else:
            try:
                ready, before = await self.desk.read(lambda ledger: self._read(ledger, values), after_saves=True)
            except BadInput as refused:
                raise self._named(refused) from refused
            if ready.question and not await self.app.push_screen_wait(Ask(ready.question)):
                return
        self._saving, self._unsure = True, (values, ready, before)
        self.save_state("...")
        try:
            kept = await self.desk.save(partial(_kept, ready=ready))
        except NotConfirmed:
            raise
        except QcledgerError:
            self._unsure = None
            self.save_state("not saved")
            raise
        finally:
            self._saving = False
        may_be_taken_back(self, ready.back, before, kept, self._form.draft)
        self._drafting.stop()
        self._ready = False
        self.desk.drafts.drop(self._form.draft)
        super().action_leave()
        if self._kept is not None:
            self._kept(ready.said)
        elif isinstance(front := self.app.screen, Page):
            front.saved()
            front.say(ready.said)

    def _read(self, ledger: "Ledger", values: Values) -> tuple[Ready, list[Record]]:
        ready = self._form.read(ledger, values)
        return ready, [row for one in ready.records if (row := ledger.get(type(one), one.id)) is not None]

    def _named(self, refused: BadInput) -> BadInput:
        """Return what was refused with its field called by its label, and go into that field."""
        first = refused.problems[0].where
        for one in self._fields:
            if one.name == first:
                self.call_after_refresh(one.focus_input)
        refuse(self._fields, refused)
        lines = [Field(line.name, worded(line.label)) for line in self._form.lines]
        return labelled(lines, refused)


def _kept(ledger: "Ledger", *, ready: Ready) -> list[Record]:
    """Keep what a form comes to, and return its rows as they stand then."""
    ledger.append(ready.records, reason=ready.reason)
    return [row for one in ready.records if (row := ledger.get(type(one), one.id)) is not None]


def may_be_taken_back(
    page: Page, back: Back, before: Sequence[Record], kept: Sequence[Record], draft: str = ""
) -> None:
    """Let rows that were just kept be taken back, from any page of the window.

    What was half-typed since to amend something that is new, under the name `draft`, goes with it: it would stand in
    the form of another one, as what was never kept.
    """

    async def take_back(front: Page) -> str:
        said = await front.desk.save(lambda ledger: back(ledger, before, kept))
        if not before and draft:
            front.desk.drafts.drop(draft)
        return said

    page.desk.done.add(FormPage.KEY, take_back)  # not the page's own: it takes back what it did in its own way


def open_form(page: Page, form: FormSubject) -> None:
    """Open a form on top of a page; once it is kept the page is filled anew and says so."""

    def kept(told: str) -> None:
        async def fill() -> None:
            await page.fill()
            page.saved()
            page.say(told)

        page.call_after_refresh(page.work, fill, instead_of="fill")

    page.app.push_screen(FormPage(page.desk, form, kept))
