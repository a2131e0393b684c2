"""One line of a parcel: the paint by a few letters, then lot and price; what the last piece had stands as a hint."""

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from datetime import date
from enum import StrEnum
from functools import partial
from typing import Final

from textual import on
from textual.app import ComposeResult
from textual.containers import Grid
from textual.content import Content
from textual.message import Message

from qcledger.bench import unpacking
from qcledger.bench.known import Known, complete
from qcledger.bench.typed import word
from qcledger.errors import BadInput
from qcledger.figures import money_text, past_day
from qcledger.screens.shown import shown_line
from qcledger.screens.widgets.fields import Check, Field, FieldColumn, FieldWords, labelled, refuse
from qcledger.settings import Settings
from qcledger.text import shorten
from qcledger.thing import worded
from qcledger.vocab import Format, Source, SpecimenState, WhyBought

SHOWN: Final = 4
"""Paints offered at once."""
PAINT: Final = "a few letters of maker and paint; empty: the same again"
NO_CODE: Final = "batch code; or empty"
CHOICES: Final[Mapping[str, type[StrEnum]]] = {"why": WhyBought, "source": Source, "state": SpecimenState}
MORE: Final = (
    ("format", "format", ""),
    ("ml", "ml nominal", "as printed"),
    ("weight", "weight g", "as weighed, full"),
    ("why", "why bought", "planned, or as what to buy says"),
    ("source", "source", "retail"),
    ("state", "state", "unopened"),
    ("advised", "as advised", "yes where what to buy named it"),
    ("note", "note", ""),
    ("opened_on", "opened on", "empty: not known"),
)


def _says_word(words: Callable[[], Iterable[str]], allowed: Callable[[], str] | None = None) -> Check:
    """Return a check that says which word of a list a beginning stands for; for none, what is `allowed`."""

    def said(text: str) -> str:
        try:
            return str(word(text, "", words())) if text.strip() else ""
        except BadInput as refused:
            return allowed() if allowed else refused.problems[0].allowed

    return said


class PieceForm(FieldColumn):
    """The fields of one piece; Enter goes on from paint to lot to price, and from there adds the piece.

    The first piece of a paint has no format before it: Enter leads there after the price.
    """

    DEFAULT_CSS = """
    PieceForm { height: auto; max-height: 100%; }
    PieceForm > #offered { height: auto; color: $ink; padding-left: 2; }
    PieceForm > Grid { grid-size: 2; grid-gutter: 0 2; height: auto; grid-rows: auto; }
    .-narrow PieceForm > Grid { grid-size: 1; }
    """

    class Added(Message):
        """The piece is complete, as far as the form can tell."""

    class Touched(Message):
        """Something was typed."""

    class NewPaint(Message):
        """A paint that is not known was typed."""

        def __init__(self, text: str) -> None:
            super().__init__()
            self.text = text

    class Unclear(Message):
        """What is missing before the piece can be added."""

        def __init__(self, words: str) -> None:
            super().__init__()
            self.words = words

    def __init__(self, settings: Settings) -> None:
        super().__init__()
        self._settings = settings
        self._known: Sequence[Known] = ()
        self._formats: Sequence[str] = tuple(Format)
        self._usual: Collection[str] = ()
        self._offered: list[Known] = []
        self._at = 0
        self._last: tuple[Known, str] | None = None
        self.currency = settings.currency
        self.today = date.max
        self._passed: set[str] = set()
        """Fields that Enter has left, whatever stands there: a lot without a code is passed empty."""
        self.chosen: Known | None = None
        self._stands = False
        """Whether the line is one that stands: what is empty in it is not known, whatever another piece had."""

    def compose(self) -> ComposeResult:
        """Lay out the three fields of the usual path, and below them the others."""
        yield Field("paint", worded("paint"), hint=worded(PAINT))
        yield FieldWords(Content(), markup=False, id="offered")
        with Grid():
            yield Field("lot", "lot", hint=NO_CODE)
            yield Field("price", "price")
        with Grid(id="more"):
            checks = {name: _says_word(partial(self._words, name)) for name in ("advised", *CHOICES)}
            checks["format"] = _says_word(partial(self._words, "format"), self._own_formats)
            for name, label, hint in MORE:
                check = checks.get(name)
                yield Field(name, label, check, hint=hint) if check else Field(name, label, hint=hint)

    def on_mount(self) -> None:
        """Offer nothing yet."""
        self.query_one("#offered").display = False

    def field(self, name: str) -> Field:
        """Return a field by name."""
        return next(field for field in self.walk_children(Field) if field.name == name)

    def know(self, known: Sequence[Known], formats: Sequence[str] = (), usual: Collection[str] = ()) -> None:
        """Take the paints that may be offered, the formats a piece may have, and those of the ledger's own things.

        Without formats those known before stay.
        """
        self._known = known
        if formats:
            self._formats, self._usual = formats, usual
        if self.chosen is None:
            self._hint("format", self._format_hint)

    def _own_formats(self) -> str:
        return ", ".join(one for one in self._formats if one in self._usual)

    def _words(self, name: str) -> Iterable[str]:
        """Return what may stand in a field that takes a word of a list."""
        return {"format": self._formats, "advised": unpacking.YES_NO}.get(name) or tuple(CHOICES[name])

    @property
    def _format_hint(self) -> str:
        """How formats are typed: the ledger's own by a letter, or as much of the name as no other begins with."""
        return ", ".join(self._shortest(one) for one in self._formats if one in self._usual)

    def _shortest(self, name: str) -> str:
        """Return the beginning by which a format is typed, and the format."""
        begin = next(name[:n] for n in range(1, len(name) + 1) if n == len(name) or self._is_only(name[:n]))
        return name if begin == name else f"{begin} {name}"

    def _is_only(self, begin: str) -> bool:
        return sum(one.startswith(begin) for one in self._formats) == 1

    # Paint

    @on(Field.Changed)
    def _typed(self, message: Field.Changed) -> None:
        message.stop()
        self.post_message(self.Touched())
        if message.field.name == "paint":
            if self.chosen is not None and message.value != self.chosen.title:
                self._choose(None)
            self._at = 0
            typed = self.chosen is None and message.value.strip()
            self._offered = complete(message.value, self._known)[:SHOWN] if typed else []
            self._show_offered()

    def _show_offered(self) -> None:
        box = self.query_one("#offered", FieldWords)
        box.display = bool(self._offered)
        width = max(self.size.width - 8, 8)
        lines = [
            shown_line(f"{'>' if n == self._at else ' '} {shorten(self._told(one), width)}")
            for n, one in enumerate(self._offered)
        ]
        box.tell(Content("\n").join(lines))

    def _told(self, one: Known) -> str:
        price = self._last_price(one)
        bought = f"   {price} {one.bought.currency}" if price else ""
        return f"{one.title}   {' '.join(one.pigments)}{bought}"

    def _last_price(self, one: Known) -> str:
        minor, code = one.bought.price_minor, one.bought.currency
        return money_text(minor, code, self._settings.decimal_mark) if minor is not None and code else ""

    def step(self, by: int) -> bool:
        """Mark another of the offered paints; False when none are offered."""
        if self._offered:
            self._at = min(max(self._at + by, 0), len(self._offered) - 1)
            self._show_offered()
        return bool(self._offered)

    def take(self, one: Known, lot: str = "") -> None:
        """Take a paint; the fields show what its last piece had, and what is still to be typed is in front."""
        self._choose(one)
        self.field("paint").value = one.title
        self._offered = []
        self._show_offered()
        self.field("lot").value = lot or self.field("lot").value
        self.field("lot" if lot else self._first_open()).focus_input()

    def _first_open(self) -> str:
        """Return the first field of the usual path that is still empty, and the lot when none is."""
        path = ("lot", "price", "format") if self._asks_format else ("lot", "price")
        return next((name for name in path if not self.field(name).value), "lot")

    @property
    def _asks_format(self) -> bool:
        """Whether a paint is chosen that has no piece yet whose format would be taken."""
        return self.chosen is not None and not self.chosen.bought.format

    def _choose(self, one: Known | None) -> None:
        self.chosen = one
        self._passed.clear()
        self.field("paint").need(one is None and self._last is None)
        self.field("format").need(self._asks_format)
        before = self._before()
        price = before.get("price")
        self._hint("price", f"{price} as last time" if price else self.currency)
        self._hint("format", before.get("format") or self._format_hint)
        self._hint("ml", before.get("ml") or MORE[1][2])

    def _before(self) -> dict[str, str]:
        """Return what the last piece of the paint had, for a new line to take where it is left empty."""
        if self.chosen is None or self._stands:
            return {}
        bought = self.chosen.bought
        same = bought.currency == self.currency
        return {
            "format": str(bought.format or ""),
            "price": self._last_price(self.chosen) if same else "",
            "ml": self._last_ml(self.chosen),
        }

    def _last_ml(self, one: Known) -> str:
        ml = one.bought.nominal_ml
        return "" if ml is None else str(ml).replace(".", self._settings.decimal_mark)

    def _hint(self, name: str, hint: str) -> None:
        self.field(name).hint(hint)

    # The line as a whole

    @on(Field.Entered)
    def _entered(self, message: Field.Entered) -> None:
        message.stop()
        name = message.field.name or ""
        self._passed.add(name)
        if name == "paint":
            self._enter_paint(message.value)
        elif name == "lot":
            self.field("price").focus_input()
        elif name == "format" and "lot" not in self._passed and not self.field("lot").value:
            self.field("lot").focus_input()
        elif name == "price" and self._asks_format and not self.field("format").value:
            self.field("format").focus_input()
        elif self.chosen is None:
            self.field("paint").focus_input()
            self.post_message(self.Unclear(worded("which paint? a few letters of maker and paint")))
        else:
            self.post_message(self.Added())

    def _enter_paint(self, text: str) -> None:
        if self.chosen is not None:
            self.field(self._first_open()).focus_input()
        elif self._offered:
            self.take(self._offered[self._at])
        elif text.strip():
            self.post_message(self.NewPaint(text))
        elif self._last is not None:
            self.take(*self._last)
        else:
            self.post_message(self.Unclear(worded("type a few letters of maker and paint; F5 enters a new paint")))

    def begin(self, currency: str, today: date) -> None:
        """Go to the paint, with prices in the parcel's currency; what stands in the line stays.

        After `today` nothing was opened.
        """
        self.currency, self.today = currency, today
        self._choose(self.chosen)
        self.field("paint").focus_input()

    def typed(self) -> dict[str, str]:
        """Return what stands in each field."""
        return {field.name or "": field.value for field in self.query(Field)}

    def take_up(self, values: Mapping[str, str]) -> None:
        """Put a line back that was left half-typed; a paint that is known by its whole name is taken."""
        self._choose(next((one for one in self._known if one.title == values.get("paint")), self.chosen))
        for field in self.query(Field):
            field.value = values.get(field.name or "", field.value)

    def values(self) -> dict[str, str]:
        """Return what was typed, and in a new line, for what was left empty, what the last piece had."""
        typed = {field.name or "": field.value.strip() for field in self.query(Field)}
        before = self._before()
        other = typed["format"] and typed["format"] != before.get("format")
        return {name: value or ("" if other else before.get(name, "")) for name, value in typed.items()}

    def read(self) -> unpacking.Typed:
        """Return the piece; raises BadInput, with the words about each wrong field shown beside it."""
        assert self.chosen is not None
        try:
            mark = self._settings.decimal_mark
            paint = self.chosen.bought.paint
            day = partial(past_day, today=self.today, order=self._settings.dates)
            return unpacking.read_piece(self.values(), paint, self.currency, mark, self._formats, day)
        except BadInput as refused:
            raise tell(self.query(Field), refused) from refused

    def clear(self) -> dict[str, str]:
        """Empty the form for the next piece and return what stood there."""
        stood = self.typed()
        if self.chosen is not None:
            self._last = (self.chosen, stood["lot"])
        for field in self.query(Field):
            field.value = ""
        self._stands = False
        self._choose(None)
        self.field("paint").focus_input()
        return stood

    def forget(self) -> None:
        """Mean nothing by the same again: Enters too many after a corrected line must not add pieces."""
        self._last = None
        self._choose(self.chosen)

    def remember(self, piece: unpacking.Typed) -> None:
        """Take a saved piece as what the same again means, with the price it had."""
        for one in self._known:
            if (one.bought.paint, one.bought.format) == (piece.paint, piece.format):
                self._last = (one, piece.lot_code or "")
                return

    def restore(self, known: Known, values: Mapping[str, str], *, stands: bool) -> None:
        """Put a piece back into the form; of one that `stands`, what is empty is not known."""
        self._stands = stands
        self._choose(known)
        for field in self.query(Field):
            field.value = known.title if field.name == "paint" else values.get(field.name or "", "")
        self.field("lot").focus_input()


def tell(fields: Iterable[Field], refused: BadInput) -> BadInput:
    """Show beside each field what is wrong with it, go to the first, and return it in the words of the form."""
    places = {problem.where: problem for problem in refused.problems}
    every = list(fields)
    wrong = [field for field in every if field.name in places]
    for field in wrong:
        field.speak(places[field.name or ""].allowed)
    if wrong:
        wrong[0].focus_input()
    refuse(every, refused)
    return labelled(every, refused)
