"""Form fields: a label, a place to type, and words beside it that never get in the way."""

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Final, Protocol

from textual import on
from textual.app import ComposeResult
from textual.containers import Horizontal, VerticalScroll
from textual.content import Content
from textual.events import DescendantBlur, DescendantFocus
from textual.geometry import Size
from textual.message import Message
from textual.reactive import Reactive
from textual.suggester import SuggestFromList
from textual.widgets import Input, Static

from qcledger.errors import BadInput
from qcledger.screens.shown import shown_line
from qcledger.text import one_line, steers

Check = Callable[[str], str]
"""Returns words about a typed text: empty when there is nothing to say."""


NEEDED: Final = "* must be filled in"
"""Said once on each form; the mark stands behind the words of the fields that may not be empty."""


def nothing_to_say(_: str) -> str:
    """Accept every text without a word."""
    return ""


def labelled(fields: "Iterable[Field]", refused: BadInput) -> BadInput:
    """Return what was refused with each field called by the label that stands before it."""
    labels = {field.name: field.label for field in fields}
    return BadInput(replace(problem, where=labels.get(problem.where, problem.where)) for problem in refused.problems)


class Refusable(Protocol):
    """A field that may be told that what stands in it was refused."""

    @property
    def name(self) -> str | None:
        """What the field is called in the form's values."""

    def refuse(self) -> None:
        """Note that what stands here was refused."""


def refuse(fields: Iterable[Refusable], refused: BadInput) -> None:
    """Note in which field stands what was refused first, so that what is said of it goes once that is mended.

    What is about no field in particular goes with the next that is changed in any.
    """
    every = list(fields)
    where = refused.problems[0].where if refused.problems else ""
    for field in [one for one in every if one.name == where] or every:
        field.refuse()


class FieldColumn(VerticalScroll, inherit_bindings=False):
    """Fields below each other; it scrolls with the cursor, and leaves the arrows to whoever moves that."""


class Line(Input):
    """A line to type or paste into; what would steer the terminal is taken out on the way in.

    What was offered and not typed is marked when the cursor comes, so that typing replaces it.
    """

    virtual_size: Reactive[Size] = Reactive(Size(0, 0))
    """What is typed scrolls in a line of one width: no letter lays the page out anew."""

    offered = ""
    """What was put here for the tester; empty when nothing was."""

    def offer(self, text: str) -> None:
        """Put a text here that typing replaces."""
        self.value = text
        self.offered = self.value

    def mark(self) -> None:
        """Mark what was offered; what was typed since stays, the cursor where it was."""
        if self.offered and self.value == self.offered:
            self.select_all()

    def on_focus(self) -> None:
        """Mark what was offered."""
        self.mark()

    def validate_value(self, value: str) -> str:
        """Return the text without control characters."""
        value = value.replace("\t", " ").replace("\n", " ")
        return value if steers(value) is None else "".join(char for char in value if steers(char) is None)


class FieldWords(Static):
    """Words beside what is typed; the page is laid out anew only where they are other ones."""

    virtual_size: Reactive[Size] = Reactive(Size(0, 0))

    def tell(self, words: Content) -> None:
        """Show these words."""
        if words != self.content:
            self.update(words)


class Field(Horizontal):
    """One line of a form.

    Parameters
    ----------
    name
        What the field is called in the form's values.
    label
        The word on its left.
    check
        Called as the text changes; its words appear beside the field and block nothing.
    value
        What stands there at first.
    hint
        What an empty field shows, faintly.
    needed
        Whether it may not be left empty; then a mark stands behind its label.
    """

    DEFAULT_CSS = """
    Field { height: auto; min-height: 1; }
    Field > .label { width: 14; color: $faint; }
    Field > Input { width: 1fr; height: 1; border: none; padding: 0; background: $surface; }
    Field > Input:focus { border: none; background: $panel; }
    Field > .words { width: auto; max-width: 50%; height: auto; padding-left: 1; color: $warning; }
    """

    class Changed(Message):
        """The text of a field has changed."""

        def __init__(self, field: "Field", value: str) -> None:
            super().__init__()
            self.field = field
            self.value = value

        @property
        def control(self) -> "Field":
            """The field."""
            return self.field

    class Mended(Message):
        """The text of a field that was refused is another one now."""

    class Entered(Message):
        """Enter was pressed in a field."""

        def __init__(self, field: "Field", value: str) -> None:
            super().__init__()
            self.field = field
            self.value = value

        @property
        def control(self) -> "Field":
            """The field."""
            return self.field

    def __init__(
        self,
        name: str,
        label: str,
        check: Check = nothing_to_say,
        *,
        value: str = "",
        hint: str = "",
        needed: bool = False,
        id: str = "",  # noqa: A002
    ) -> None:
        super().__init__(id=id or None, name=name)
        self._label = label
        self._check = check
        self._first = value
        self._hint = hint
        self._needed = needed
        self._is_refused = self._says_hint = False

    def compose(self) -> ComposeResult:
        """Lay out label, input and words on one line."""
        yield FieldWords(self._marked_label(), markup=False, classes="label")
        line = Line(placeholder=one_line(self._hint), select_on_focus=False)
        line.offer(self._first)
        yield line
        yield FieldWords(Content(), markup=False, classes="words")

    def on_mount(self) -> None:
        """Say what there is to say about the first value."""
        self.speak()

    @property
    def label(self) -> str:
        """The word on its left."""
        return self._label

    @property
    def value(self) -> str:
        """The typed text."""
        return self.query_one(Input).value if self.is_mounted else self._first

    @value.setter
    def value(self, text: str) -> None:
        self.query_one(Line).offer(text)

    def hint(self, text: str) -> None:
        """Show another hint while the field is empty."""
        self.query_one(Input).placeholder = one_line(text)

    def call(self, label: str, hint: str) -> None:
        """Call the field by another word from now on, with another hint."""
        self._label = label
        self.query_one(".label", FieldWords).tell(self._marked_label())
        self.hint(hint)

    def need(self, needed: bool) -> None:
        """Mark the field as one that may not be left empty, or take the mark away."""
        self._needed = needed
        self.query_one(".label", FieldWords).tell(self._marked_label())

    def _marked_label(self) -> Content:
        mark = NEEDED[0] if self._needed else ""
        return Content.assemble(shown_line(self._label), " " if mark else "", (mark, "bold $ink"))

    def suggest(self, texts: Iterable[str]) -> None:
        """Show faintly which of these texts is being typed; the right arrow takes it."""
        suggester = SuggestFromList([one_line(text) for text in texts], case_sensitive=False)
        self.query_one(Input).suggester = suggester

    def focus_input(self) -> None:
        """Go into the field; a text that was offered is marked: typing replaces it, an arrow or End keeps it."""
        line = self.query_one(Line)
        line.focus()
        line.mark()  # also where the field was in front already

    def speak(self, words: str | None = None) -> None:
        """Show `words` beside the field, or what its check says about the text.

        A hint that is longer than the line shows there in full while the cursor is in the empty field.
        """
        said = self._check(self.value) if words is None else words
        self._says_hint = not said and self._cuts_hint
        words = str(self.query_one(Input).placeholder) if self._says_hint else said
        self.query_one(".words", FieldWords).tell(shown_line(words))

    @property
    def _cuts_hint(self) -> bool:
        """Whether the cursor is in the empty field and its hint has no room there."""
        line = self.query_one(Input)
        room = line.size.width + (self.query_one(".words", FieldWords).outer_size.width if self._says_hint else 0)
        return line.has_focus and not line.value and 0 < room <= len(str(line.placeholder))

    @on(DescendantFocus)
    @on(DescendantBlur)
    def _speak_of_hint(self) -> None:
        if self._says_hint or self._cuts_hint:
            self.speak()

    def refuse(self) -> None:
        """Note that what stands here was refused; `Mended` tells once it is another text."""
        self._is_refused = True

    @on(Input.Changed)
    def _typed(self, event: Input.Changed) -> None:
        event.stop()
        self.speak()
        if self._is_refused:
            self._is_refused = False
            self.post_message(self.Mended())
        self.post_message(self.Changed(self, event.value))

    @on(Input.Submitted)
    def _entered(self, event: Input.Submitted) -> None:
        event.stop()
        self.post_message(self.Entered(self, event.value))
