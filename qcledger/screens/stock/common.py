"""What is common to every piece of a parcel, as fields."""

from collections.abc import Mapping
from datetime import date
from functools import partial
from typing import Final

from textual import on
from textual.app import ComposeResult
from textual.message import Message
from textual.widgets import Static

from qcledger import figures
from qcledger.bench.unpacking import parcel_values
from qcledger.errors import BadInput
from qcledger.records import Parcel
from qcledger.screens.shown import shown_date
from qcledger.screens.widgets.fields import NEEDED, Field, FieldColumn, nothing_to_say
from qcledger.settings import Settings

COMMON: Final = (
    ("seller", "seller", "as on the receipt; the right arrow takes one seen before"),
    ("bought_on", "bought on", "2026-03-09"),
    ("currency", "currency", "EUR"),
    ("shipping", "shipping", "for the whole parcel; empty: not known"),
    ("received_on", "received on", "empty: not noted"),
    ("note", "note", ""),
)
DAYS: Final = frozenset({"bought_on", "received_on"})
"""Fields that hold a day; beside them stands which one was understood."""
MUST: Final = frozenset({"seller", "bought_on", "currency"})
"""Fields without which there is no parcel."""


class CommonFields(FieldColumn):
    """The common fields; Enter goes from one to the next."""

    DEFAULT_CSS = """
    CommonFields { height: auto; max-height: 100%; display: none; }
    """

    class Done(Message):
        """Enter was pressed in the last field."""

    class Touched(Message):
        """Something was typed."""

    def __init__(self, settings: Settings) -> None:
        super().__init__()
        self._settings = settings
        self.proposed: Mapping[str, str] = {}
        """What stands there before anything is typed."""

    def compose(self) -> ComposeResult:
        """Lay out the fields."""
        for name, label, hint in COMMON:
            check = self._day_words if name in DAYS else nothing_to_say
            yield Field(name, label, check, hint=hint, needed=name in MUST)
        yield Static(NEEDED, markup=False, classes="faint")

    def _day_words(self, text: str) -> str:
        """Return the day that was understood, with its month in letters; nothing where it is none yet."""
        try:
            return f"{figures.day(text, '', self._settings.dates):%-d %B %Y}"
        except BadInput:
            return ""

    def field(self, name: str) -> Field:
        """Return a field by name."""
        return next(field for field in self.walk_children(Field) if field.name == name)

    def values(self) -> dict[str, str]:
        """Return what stands in each field."""
        return {field.name or "": field.value for field in self.query(Field)}

    def take(self, values: Mapping[str, str]) -> None:
        """Put values into the fields they name."""
        for field in self.query(Field):
            field.value = values.get(field.name or "", field.value)

    def propose(self, today: date) -> None:
        """Propose today and the currency of the settings."""
        self.take({"bought_on": shown_date(today, self._settings), "currency": self._settings.currency})
        self.proposed = self.values()

    def show(self, parcel: Parcel) -> None:
        """Show a parcel as it would have been typed."""
        settings = self._settings
        self.take(parcel_values(parcel, settings.decimal_mark, partial(shown_date, settings=settings)))

    @on(Field.Changed)
    def _typed(self, message: Field.Changed) -> None:
        message.stop()
        self.post_message(self.Touched())

    @on(Field.Entered)
    def _entered(self, message: Field.Entered) -> None:
        message.stop()
        names = [name for name, _, _ in COMMON]
        place = names.index(message.field.name or "")
        if place + 1 < len(names):
            self.field(names[place + 1]).focus_input()
        else:
            self.post_message(self.Done())
