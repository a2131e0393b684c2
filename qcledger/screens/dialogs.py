"""Questions that stand in front of a page; each gives back a typed answer."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import ClassVar, Final, Generic, TypeVar

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.events import Key
from textual.message import Message
from textual.message_pump import MessagePump
from textual.screen import ModalScreen
from textual.timer import Timer
from textual.widgets import Static

from qcledger.screens.shown import shown, shown_line
from qcledger.screens.styles import StyledOnce
from qcledger.text import clean

Answer = TypeVar("Answer")

LEFT: Final = "Taken up where it was left; not kept yet. F7 throws it away."
NOTE_KEYS: Final = "Esc keeps the note; an empty one takes it away. F7 throws away what is typed."
DRAFT_S: Final = 0.5
"""Seconds after which what was typed is kept as a draft."""


class Typing:
    """Keeps a draft soon after something was typed, however long the hand goes on without a rest.

    Parameters
    ----------
    owner
        Whose timer it is.
    keep
        Keeps what is typed.
    """

    def __init__(self, owner: MessagePump, keep: Callable[[], None]) -> None:
        self._owner = owner
        self._keep = keep
        self._timer: Timer | None = None

    def typed(self) -> None:
        """Keep a draft in a moment, with what is typed until then."""
        if self._timer is None:
            self._timer = self._owner.set_timer(DRAFT_S, self._now)

    def stop(self) -> None:
        """Keep nothing after all."""
        if self._timer is not None:
            self._timer.stop()
            self._timer = None

    def _now(self) -> None:
        self._timer = None
        self._keep()


THROWN_AWAY: Final = "thrown away, the draft too; F7 brings it back while this stays open"
BROUGHT_BACK: Final = "brought back; F7 throws it away again"
NOTHING_TYPED: Final = "nothing is typed here that could be thrown away"


class Anew:
    """What was thrown away last, so that the same key brings it back."""

    def __init__(self) -> None:
        self._thrown: dict[str, str] | None = None

    def turn(self, now: Mapping[str, str], first: Mapping[str, str]) -> tuple[Mapping[str, str], str]:
        """Return what the fields are to hold, and what is to be said.

        Parameters
        ----------
        now
            What stands in the fields.
        first
            What stood there before anything was typed.
        """
        if dict(now) != dict(first):
            self._thrown = dict(now)
            return first, THROWN_AWAY
        thrown, self._thrown = self._thrown, None
        return (now, NOTHING_TYPED) if thrown is None else (thrown, BROUGHT_BACK)


class ToRead(StyledOnce, ModalScreen[Answer], Generic[Answer]):
    """Something to read or to answer by a few keys; any other key is told to do nothing here."""

    DEFAULT_CSS = """
    ToRead .wrong { height: auto; color: $warning; }
    """
    HOW: ClassVar[str] = "Esc closes"
    """Which keys do something."""

    def compose(self) -> ComposeResult:
        """Show what there is to read, and below it what is said of a key."""
        with VerticalScroll(classes="dialog"):
            yield from self.lines()
            yield Static("", markup=False, classes="wrong")

    def lines(self) -> Iterator[Static]:
        """Yield what there is to read."""
        raise NotImplementedError

    def on_key(self, event: Key) -> None:
        """Say that a key does nothing here; those that only move go by without a word."""
        if event.key not in self.active_bindings and (event.is_printable or event.key == "enter"):
            self.query_one(".wrong", Static).update(shown_line(f"{_name(event)} does nothing here; {self.HOW}"))
            event.stop()


def _name(key: Key) -> str:
    """Return how a printable key, or Enter, is told."""
    return (key.character or "") if key.is_printable else "Enter"


class KeysHelp(ToRead[None]):
    """Every key of a page with one sentence each."""

    BINDINGS = [  # noqa: RUF012
        Binding("escape,question_mark,f1,q,enter", "dismiss", "close", show=False),
        Binding("n", "names", "names", show=False),
    ]
    DEFAULT_CSS = """
    KeysHelp .name { display: none; color: $faint; }
    KeysHelp.-names .name { display: block; }
    """

    def __init__(self, title: str, lines: Sequence[tuple[str, str, str]]) -> None:
        """Take (keys, sentence, action name) of each action."""
        super().__init__()
        self._heading = title
        self._lines = lines

    def lines(self) -> Iterator[Static]:
        """Yield a line an action: its keys and what it does; below it, once asked for, its name in the settings."""
        width = max((len(held) for held, _, _ in self._lines), default=0)
        yield Static(shown_line(f"Keys: {self._heading}", "bold"), markup=False)
        for held, sentence, name in self._lines:
            yield Static(Content.assemble((held.ljust(width), "bold"), "  ", sentence), markup=False)
            yield Static(f"{' ' * width}  {name}", markup=False, classes="name")
        yield Static("Esc closes. n names what keys of your own may be given to, in settings.toml.", markup=False)

    def action_names(self) -> None:
        """Show the names that actions have in the settings, or hide them."""
        self.toggle_class("-names")


class Words(ToRead[None]):
    """Something to read in full."""

    BINDINGS = [Binding("escape,enter,q", "dismiss", "close", show=False)]  # noqa: RUF012

    def __init__(self, title: str, words: Sequence[str]) -> None:
        super().__init__()
        self._heading = title
        self._words = words

    def lines(self) -> Iterator[Static]:
        """Yield one paragraph after the other."""
        yield Static(shown_line(self._heading, "bold"), markup=False)
        for words in self._words:
            yield Static(shown(f"- {words}"), markup=False)
        yield Static("Esc closes.", markup=False, classes="faint")


class Reasons(StyledOnce, ModalScreen[str]):
    """A short list of reasons with a key each: gives one of them, an empty text for own words, nothing for Esc.

    Parameters
    ----------
    question
        What is asked.
    reasons
        Each reason by its key.
    none
        The reason that stands where none is given; a second - gives it.
    """

    OWN: ClassVar[str] = ""
    """What is given back where the reason is to be typed."""
    DEFAULT_CSS = """
    Reasons .wrong { height: auto; color: $warning; }
    """

    def __init__(self, question: str, reasons: Mapping[str, str], none: str) -> None:
        super().__init__()
        self._question = question
        self._reasons = {**reasons, "-": none}

    def compose(self) -> ComposeResult:
        """Show the question, a line a reason, and how to leave."""
        with VerticalScroll(classes="dialog"):
            yield Static(shown_line(self._question, "bold"), markup=False)
            for key, reason in self._reasons.items():
                yield Static(Content.assemble((key, "bold"), "  ", reason), markup=False)
            yield Static(Content.assemble(("o", "bold"), "  in your own words"), markup=False)
            yield Static("Esc: nothing is recorded", markup=False, classes="faint")
            yield Static("", markup=False, classes="wrong")

    def on_key(self, event: Key) -> None:
        """Give back the reason of a key; a digit is none."""
        if event.key == "escape":
            self.dismiss(None)
        elif event.character == "o":
            self.dismiss(self.OWN)
        elif event.character in self._reasons:
            self.dismiss(self._reasons[event.character])
        elif event.is_printable or event.key == "enter":
            allowed = " ".join([*self._reasons, "o"])
            said = f"{_name(event)} gives no reason, and grades nothing here; {allowed}, or Esc"
            self.query_one(".wrong", Static).update(shown_line(said))
        else:
            return
        event.stop()


class NoteBox(StyledOnce, ModalScreen[str]):
    """A note of any number of lines; Esc keeps it.

    Parameters
    ----------
    title
        What it is a note to.
    text
        What stands there already.
    draft
        Called with the text while it is being written, so that nothing is lost when the program is stopped.
    stands
        What is kept; another `text` is one that was left half-typed.
    """

    BINDINGS = [  # noqa: RUF012
        Binding("escape,f3", "keep", "keep", show=False, priority=True),
        Binding("f7", "anew", "throw away", show=False, priority=True),
    ]

    def __init__(
        self, title: str, text: str, draft: Callable[[str], None] = lambda _: None, stands: str = ""
    ) -> None:
        super().__init__()
        self._heading = title
        self._text = self._first = clean(text)
        self._stands = clean(stands)
        self._draft = draft
        self._anew = Anew()
        self._drafting = Typing(self, self._keep_draft)

    def compose(self) -> ComposeResult:
        """Show the heading, the note, and how to leave."""
        from qcledger.screens.widgets.notes import NoteArea  # here, because a text area is slow to load

        with Vertical(classes="dialog"):
            yield Static(shown_line(self._heading, "bold"), markup=False)
            yield NoteArea(self._text)
            yield Static(LEFT if self._text != self._stands else "", markup=False, classes="said")
            yield Static(NOTE_KEYS, markup=False, classes="faint")

    def on_text_area_changed(self, event: Message) -> None:
        """Keep a draft in a moment."""
        event.stop()
        self._text = clean(str(getattr(event, "text_area").text))  # noqa: B009 - its type is loaded with the area
        self._drafting.typed()

    def _keep_draft(self) -> None:
        if self._text != self._first:
            self._draft(self._text)

    def on_unmount(self) -> None:
        """Keep a draft of what was written last when the program is stopped."""
        self._keep_draft()

    def action_anew(self) -> None:
        """Throw away what is written and its draft: what is kept stands there again; once more brings it back."""
        values, said = self._anew.turn({"": self._text}, {"": self._stands})
        self._text = values[""]
        if self._text == self._stands:
            self._drafting.stop()
            self._draft("")
            self._first = self._text
        setattr(self.query_one("NoteArea"), "text", self._text)  # noqa: B010 - its type is loaded with the area
        self.query_one(".said", Static).update(said)

    def action_keep(self) -> None:
        """Give back what was written; who asked for it drops the draft once it is saved."""
        self._drafting.stop()
        self._keep_draft()
        self._first = self._text
        self.dismiss(self._text)


class Either(ToRead[bool | None]):
    """A question with two answers, outside the normal path: Enter gives True, n gives False, Esc None.

    Parameters
    ----------
    question
        What is asked.
    yes, no
        What Enter and n say.
    """

    BINDINGS = [  # noqa: RUF012
        Binding("enter,y", "dismiss(True)", "yes", show=False),
        Binding("n", "dismiss(False)", "no", show=False),
        Binding("escape", "dismiss(None)", "back", show=False),
    ]
    HOW = "Enter, n or Esc"

    def __init__(self, question: str, yes: str, no: str) -> None:
        super().__init__()
        self._question = question
        self._answers = f"Enter {yes}   n {no}   Esc back"

    def lines(self) -> Iterator[Static]:
        """Yield the question and its answers."""
        yield Static(shown(self._question), markup=False)
        yield Static(shown(self._answers), markup=False, classes="faint")


class Ask(ToRead[bool]):
    """A question whose answer matters, outside the normal path: Enter says yes, Esc says no."""

    BINDINGS = [  # noqa: RUF012
        Binding("enter,y", "dismiss(True)", "yes", show=False),
        Binding("escape,n", "dismiss(False)", "no", show=False),
    ]
    HOW = "Enter yes, Esc no"

    def __init__(self, question: str) -> None:
        super().__init__()
        self._question = question

    def lines(self) -> Iterator[Static]:
        """Yield the question and both answers."""
        yield Static(shown(self._question), markup=False)
        yield Static("Enter yes   Esc no", markup=False, classes="faint")
