"""Then and now: how a row of the record was written, each time with its day and reason."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields
from datetime import date
from typing import TYPE_CHECKING

from qcledger.errors import bad
from qcledger.ledger.codec import decode
from qcledger.records import Record

if TYPE_CHECKING:
    from qcledger.ledger import Ledger


@dataclass(frozen=True, slots=True)
class SaidVersion:
    """A row as an entry wrote it; `record` is None where that was taken out of the entry."""

    on: date
    reason: str
    record: Record | None


def versions(ledger: "Ledger", kind: type[Record], id: str) -> list[SaidVersion]:  # noqa: A002 - the field's own name
    """Return how a row was written, the oldest first."""
    found = []
    for entry in ledger.history(kind.TABLE, id):
        record, reason = decode(entry.kind, entry.body, f"{kind.TABLE} {id}") if entry.body else (None, "taken out")
        found.append(SaidVersion(ledger.day(entry.at), reason, record))
    return found


def changes(before: Record | None, now: Record) -> None:
    """Refuse an amendment that says what stands already."""
    if before == now:
        raise bad("amendment", "nothing that was changed", "a change; Esc leaves what stands")


def told(found: list[SaidVersion], called: Callable[[str], str] = str) -> Iterator[str]:
    """Yield a line for each version: the first as it was, the later ones by what they changed, then and now.

    `called` gives the name of a maker by its id.
    """
    before: Record | None = None
    for number, one in enumerate(found):
        why = f" because: {one.reason}" if one.reason and number else ""
        if one.record is None:
            yield f"{one.on}: its words were taken out"
        elif before is None:
            yield f"{one.on}: {'; '.join(_values(one.record))}"
        else:
            changed = "; ".join(_changed(before, one.record, called)) or "nothing changed"
            yield f"{one.on}, amended{why}: {changed}"
        before = one.record or before


def _values(row: Record) -> Iterator[str]:
    for name in _names(row):
        if (value := getattr(row, name)) not in (None, "", ()):
            yield f"{name.replace('_', ' ')} {_plain(value)}"


def _changed(then: Record, now: Record, called: Callable[[str], str]) -> Iterator[str]:
    makers = [getattr(one, "maker", "") for one in (then, now)]
    if makers[0] != makers[1]:
        yield f"maker: then {called(makers[0])}, now {called(makers[1])}"
    for name in _names(now):
        was, is_ = getattr(then, name), getattr(now, name)
        if was != is_:
            yield f"{name.replace('_', ' ')}: then {_plain(was) or 'nothing'}, now {_plain(is_) or 'nothing'}"


def _names(row: Record) -> list[str]:
    """Return the fields that say something to a reader: ids of rows say nothing."""
    hidden = ("id", "maker", "question", "paint", "subject", "findings")
    return [one.name for one in fields(row) if one.name not in hidden]  # type: ignore[arg-type]


def _plain(value: object) -> str:
    if isinstance(value, tuple):
        return " ".join(map(str, value))
    return "" if value is None else str(value)
