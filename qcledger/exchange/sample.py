"""How the first rows of an import look, in a tester's words: money with its currency, times by their own clock."""

from collections.abc import Iterator
from dataclasses import fields
from datetime import datetime, tzinfo
from typing import Any

from qcledger.clock import day_of
from qcledger.exchange.codec import cells
from qcledger.exchange.place import price_text, time
from qcledger.exchange.plan import ImportPlan
from qcledger.ledger import Ledger
from qcledger.records import Observation, Parcel, Record, RubricText, Specimen, Trial, columns
from qcledger.settings import Settings
from qcledger.text import one_line
from qcledger.vocab import Occasion


def samples(ledger: Ledger, plan: ImportPlan, settings: Settings) -> Iterator[str]:
    """Yield the first row of each table in words; a rubric is told by the row that is counted."""
    planned: dict[tuple[str, str], Record] = {(row.TABLE, row.id): row for row in plan.records}

    def get(kind: type[Any], subject: str) -> Any:
        return planned.get((kind.TABLE, subject)) or ledger.get(kind, subject)

    seen, zone = {RubricText.TABLE}, ledger.zone
    for record in plan.records:
        if record.TABLE not in seen:
            seen.add(record.TABLE)
            words = _Words(get, zone, settings.decimal_mark)
            yield f"first {record.TABLE.replace('_', ' ')}: {words.of(record)}"


class _Words:
    """Says rows: without the ids they are made of, and without what they say for want of anything else.

    Parameters
    ----------
    get
        Returns a row by its class and id.
    zone
        Whose clock times are told by.
    mark
        What stands before the decimals of a price.
    """

    def __init__(self, get: Any, zone: tzinfo | None, mark: str) -> None:
        self._get = get
        self._zone = zone
        self._mark = mark

    def of(self, record: Record) -> str:
        """Return what a row says."""
        usual = {field.name: field.default for field in fields(record)}  # type: ignore[arg-type]
        said = (
            self._field(record, column.name, cell)
            for column, cell in zip(columns(type(record)), cells(record), strict=True)
            if cell and column.name != "id" and not column.refers_to
            if getattr(record, column.name) != usual[column.name]
        )
        return ", ".join(said)

    def _field(self, record: Record, name: str, cell: str) -> str:
        value = getattr(record, name)
        if isinstance(record, Specimen) and name == "price_minor":
            return f"price {price_text(record.price_minor, self._get(Parcel, record.parcel).currency, self._mark)}"
        if isinstance(value, datetime):
            return f"{name.replace('_', ' ')} {self._time(record, value)}"
        return f"{name.replace('_', ' ')} {one_line(cell)}"

    def _time(self, record: Record, at: datetime) -> str:
        """Return a time; of older notes only the day, for no more is known of it."""
        trial = self._get(Trial, record.trial) if isinstance(record, Observation) else record
        is_day = isinstance(trial, Trial) and trial.occasion is Occasion.OLDER_NOTES
        return day_of(at, self._zone).isoformat() if is_day else time(at, self._zone)
