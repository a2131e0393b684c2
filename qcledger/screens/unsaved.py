"""Saves that did not reach the ledger: noted as they are made, kept as plain values, and made again later."""

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from qcledger.errors import BadInput
from qcledger.text import one_line

if TYPE_CHECKING:
    from concurrent.futures import Future

    from qcledger.ledger import Ledger
    from qcledger.records import Entry, Observation, Photo, Record


@dataclass(frozen=True, slots=True)
class Appending:
    """Records that are to be written together, with what `Ledger.append` is told beside them."""

    records: "Sequence[Record]"
    reason: str = ""
    numbered: Collection[str] = ()

    def plain(self) -> dict[str, Any]:
        """Return it as JSON knows it."""
        from qcledger.ledger.codec import encode, tidy  # loaded long before: the pages ask the ledger

        bodies = [[record.TABLE, encode(tidy(record), self.reason)] for record in self.records]
        return {"records": bodies, "reason": self.reason, "numbered": sorted(self.numbered)}


@dataclass(frozen=True, slots=True)
class Filing:
    """A picture that is to be filed, and what it shows."""

    source: Path
    shows: Mapping[str, Any]

    def plain(self) -> dict[str, Any]:
        """Return it as JSON knows it."""
        return {"photo": str(self.source.absolute()), "shows": dict(self.shows)}


Note = Appending | Filing


@dataclass(eq=False, slots=True)
class Save:
    """One save that a page asked for.

    Parameters
    ----------
    job
        What makes it in the ledger it is given.
    at
        When it was asked for, as text.
    records
        What it writes, where that is known before it is made.
    asked
        Its answer, once it was asked for.
    notes
        What it was about to write and was not told to be written.
    error
        Why it failed after nobody was left to be told, if it did.
    is_kept
        Whether it is kept for the next start where it does not reach the ledger. One that can be asked for again as
        it was, from a file that stands, is not: it may hold thousands of rows.
    """

    job: "Callable[[Ledger], Any]"
    at: str
    records: "Sequence[Record]" = ()
    asked: "Future[Any] | None" = None
    notes: list[Note] = field(default_factory=list)
    error: BaseException | None = None
    is_kept: bool = True

    def make(self, ledger: "Ledger") -> Any:
        """Make it, noting what is about to be written until it is."""
        self.notes.clear()
        if not self.is_kept:
            return self.job(ledger)
        return self.job(cast("Ledger", _Noting(ledger, self.notes, live=True)))

    @property
    def is_known(self) -> bool:
        """Whether it is known what it writes, or is to be, without asking a ledger."""
        return bool(self.notes or self.records) or not self.is_kept

    def note(self, ledger: "Ledger") -> None:
        """Find out what it would write, without writing it; it was never made."""
        if not self.is_known:
            self.job(cast("Ledger", _Noting(ledger, self.notes, live=False)))

    def kept(self) -> dict[str, Any] | None:
        """Return it as it is kept; None when it is not known what it writes, or no ledger would take it."""
        notes = list(self.notes) or ([Appending(self.records)] if self.records else [])
        try:
            return {"at": self.at, "notes": [note.plain() for note in notes]} if notes else None
        except BadInput:
            return None


class _Noting:
    """A ledger that notes what is to be written before it is; one that is not live writes nothing."""

    def __init__(self, ledger: "Ledger", notes: list[Note], *, live: bool) -> None:
        self._ledger = ledger
        self._notes = notes
        self._live = live

    def __getattr__(self, name: str) -> Any:
        return getattr(self._ledger, name)

    def append(self, records: "Sequence[Record]", **how: Any) -> "tuple[Entry, ...]":
        note = Appending(records, how.get("reason", ""), how.get("numbered", ()))
        return cast("tuple[Entry, ...]", self._noted(note, lambda: self._ledger.append(records, **how), ()))

    def add_photo(self, source: Path, **shows: Any) -> "Photo | None":
        filing = Filing(source, shows)
        return cast("Photo | None", self._noted(filing, lambda: self._ledger.add_photo(source, **shows), None))

    def _noted(self, note: Note, write: Callable[[], Any], instead: Any) -> Any:
        self._notes.append(note)
        if not self._live:
            return instead
        made = write()
        self._notes.remove(note)
        return made


def make_again(ledger: "Ledger", save: Mapping[str, Any]) -> None:
    """Make a kept save; what stands already exactly so is passed over.

    Raises
    ------
    BadInput
        When the ledger refuses it, or a picture is no longer where it was.
    NotConfirmed, LedgerUnavailable
        When it still cannot be saved.
    """
    for note in save["notes"]:
        if "photo" in note:
            ledger.add_photo(Path(note["photo"]), **note["shows"])
        else:
            records = [record for record, _ in _decoded(note)]
            ledger.append(records, reason=note["reason"], numbered=note["numbered"])


def words(save: Mapping[str, Any]) -> str:
    """Return what a kept save is, on one line: ``edge 1``, ``photo p.jpg``."""
    try:
        return one_line(", ".join(_parts(save)))
    except BadInput as error:
        return error.line()


def _parts(save: Mapping[str, Any]) -> list[str]:
    from qcledger.ledger.codec import named
    from qcledger.records import Observation

    parts: list[str] = []
    for note in save["notes"]:
        if "photo" in note:
            parts.append(f"photo {Path(note['photo']).name}")
            continue
        records = [record for record, _ in _decoded(note)]
        seen = [_seen(record) for record in records if isinstance(record, Observation)]
        parts += seen or [named(record) for record in records]
    return parts


def _seen(row: "Observation") -> str:
    value = row.grade if row.grade is not None else row.reading
    what = f"{value:g}" if value is not None else row.choice or row.not_testable or ""
    return f"{row.criterion} {what}, {row.note}" if row.note else f"{row.criterion} {what}"


def _decoded(note: Mapping[str, Any]) -> "list[tuple[Record, str]]":
    from qcledger.ledger.codec import decode

    return [decode(kind, body, "what was kept unsaved") for kind, body in note["records"]]
