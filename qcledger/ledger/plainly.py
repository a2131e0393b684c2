"""What a tester calls a row of any table, also of one that does not stand yet: refusals name none by its id alone."""

from collections.abc import Callable, Iterable, Mapping
from datetime import date, datetime
from typing import Any

from sqlalchemy import Connection

from qcledger.ledger.called import Get
from qcledger.ledger.codec import CALLED
from qcledger.ledger.readmodels import decoded, lookup, written_of
from qcledger.records import (
    TABLES,
    Comparison,
    Condition,
    Decision,
    Entry,
    LabelVersion,
    Lot,
    Maker,
    Observation,
    Paint,
    Parcel,
    Photo,
    Preparation,
    Range,
    Record,
    RunRow,
    Session,
    Sheet,
    Specimen,
    Stage,
    Trial,
    columns,
)
from qcledger.text import one_line, shorten

_LABELS = ("name", "title", "code", "finding")
"""Fields by which a row may be told where its table has no words of its own."""
_LONGEST = 80
"""Characters of what a row is called."""


class PlainRows:
    """Looks up rows that stand, and those that come in; see `plainly`.

    Parameters
    ----------
    connection
        The ledger.
    coming
        Entries that come in, in the order of their daybooks.
    """

    def __init__(self, connection: Connection, coming: Iterable[Entry]) -> None:
        self._connection = connection
        self._coming = coming
        self._by_row: dict[tuple[str, str], Entry] | None = None

    def get(self, table: str, id_: str) -> Record | None:
        """Return a row by its table and id, as it stands, else as it comes in; None for neither."""
        found = lookup(self._connection, table, [id_]).get(id_)
        if found is not None:
            return found
        if self._by_row is None:
            self._by_row = {(one.kind, one.subject): one for one in self._coming if one.body is not None}
        entry = self._by_row.get((table, id_))
        return decoded(written_of(entry)) if entry is not None else None


def plainly(row: Record, get: Get) -> str:
    """Return what a tester calls a row, as in ``OV 0147, MAKER Viridian half pan``.

    Of a session that is still blind no sticker is named. What nobody has a name for is told by its table and day.
    """
    name = _NAMES.get(type(row))
    if name is not None:
        return shorten(one_line(name(row, get)), _LONGEST)
    if type(row) in CALLED:
        return shorten(one_line(f"{_table(row.TABLE)} {getattr(row, CALLED[type(row)])}"), _LONGEST)
    told = " ".join((_table(row.TABLE), *filter(None, (_label(row, get), _day(row)))))
    return f"{shorten(one_line(told), _LONGEST)} (id {shorten(one_line(row.id), 40)})"


def row_plainly(table: str, id_: str, get: Get) -> str:
    """Return what a tester calls the row with an id; its table and id where there is none."""
    row = get(table, id_) if table in TABLES else None
    return plainly(row, get) if row is not None else f"{_table(table)} (id {shorten(one_line(id_), 40)})"


def value_plainly(kind: type[Record], field: str, value: Any, get: Get) -> str:
    """Return the value of a field; of one that names a row, what that is called."""
    refers_to = next((column.refers_to for column in columns(kind) if column.name == field), None)
    if refers_to is not None and isinstance(value, str):
        return row_plainly(refers_to, value, get)
    return "nothing" if value in (None, "", ()) else shorten(one_line(_text(value)), 60)


def _text(value: Any) -> str:
    if isinstance(value, datetime):
        return value.isoformat(timespec="minutes")
    if isinstance(value, float):
        return f"{value:g}"
    return ", ".join(map(str, value)) if isinstance(value, tuple) else str(value)


def _table(table: str) -> str:
    return table.replace("_", " ")


def _day(row: Record) -> str:
    """Return the first day that a row tells."""
    told = (getattr(row, column.name) for column in columns(type(row)))
    first = next((value for value in told if isinstance(value, date | datetime)), None)
    return f"of {first:%Y-%m-%d}" if first is not None else ""


def _label(row: Record, get: Get) -> str:
    """Return what of a row's fields people would tell it by: a name, else the maker that it is about."""
    named = next((getattr(row, field) for field in _LABELS if getattr(row, field, None)), "")
    return named or (_of(Maker, maker, get) if isinstance(maker := getattr(row, "maker", None), str) else "")


def _of(kind: type[Record], id_: str | None, get: Get) -> str:
    """Return the name of a row that another one names, bare of its table where it has a name."""
    row = get(kind.TABLE, id_) if id_ is not None else None
    if row is None:
        return f"a {_table(kind.TABLE)} that is not there"
    return str(getattr(row, CALLED[kind])) if kind in CALLED and kind not in _NAMES else plainly(row, get)


def _paint(row: Paint, get: Get) -> str:
    return f"{_of(Maker, row.maker, get)} {row.name}"


def _specimen(row: Specimen, get: Get) -> str:
    return f"{row.sticker}, {_of(Paint, row.paint, get)} {row.format}"


def _session(row: Session, get: Get) -> str:
    return f"session {row.code} of {_of(Comparison, row.comparison, get)}"


def _trial(row: Trial, get: Get) -> str:
    """Name a trial by its specimen and where it was; in a blind session by that alone."""
    session = get(Session.TABLE, row.session) if row.session is not None else None
    at = f"session {session.code}" if isinstance(session, Session) else str(row.occasion)
    if row.session is not None and (not isinstance(session, Session) or session.is_blind):
        return f"a specimen in {at}"
    specimen = get(Specimen.TABLE, row.specimen)
    return f"{specimen.sticker if isinstance(specimen, Specimen) else 'a specimen that is not there'} ({at})"


def _observation(row: Observation, get: Get) -> str:
    trial = get(Trial.TABLE, row.trial)
    on = _trial(trial, get) if isinstance(trial, Trial) else "a test that is not there"
    return f"{row.criterion.replace('_', ' ')} on {on}, {row.at:%Y-%m-%d}"


def _photo(row: Photo, get: Get) -> str:
    seen = get(Observation.TABLE, row.observation) if row.observation is not None else None
    specimen = get(Specimen.TABLE, row.specimen) if row.specimen is not None else None
    of = _observation(seen, get) if isinstance(seen, Observation) else ""
    of = of or (specimen.sticker if isinstance(specimen, Specimen) else "")
    return f"photo {row.file_name or row.sha256[:12]}{f' of {of}' if of else ''}"


def _decision(row: Decision, get: Get) -> str:
    about = row_plainly(row.subject_table, row.subject, get) if row.subject_table in TABLES else "a finding"
    return f"decision {row.kind} of {row.on} on {about}"


_NAMES: Mapping[type[Record], Callable[[Any, Get], str]] = {
    Range: lambda row, get: f"range {row.name} of {_of(Maker, row.maker, get)}",
    Paint: _paint,
    Lot: lambda row, get: f"lot {row.code} of {_of(Paint, row.paint, get)} {row.format}",
    LabelVersion: lambda row, get: f"label of {_of(Paint, row.paint, get)} seen on {row.seen_on}",
    Parcel: lambda row, get: f"parcel from {row.seller}, {row.bought_on}",
    Specimen: _specimen,
    Preparation: lambda row, get: f"preparation of {_of(Specimen, row.specimen, get)} on {row.on}",
    Session: _session,
    Stage: lambda row, get: f"stage {row.name} of {_of(Session, row.session, get)}",
    Condition: lambda row, get: f"{row.name} at {_of(Stage, row.stage, get)}",
    Sheet: lambda row, get: f"sheet {row.number} of {_of(Session, row.session, get)}",
    RunRow: lambda row, get: f"place {row.position} of {_of(Session, row.session, get)}",
    Trial: lambda row, get: f"test of {_trial(row, get)}",
    Observation: _observation,
    Photo: _photo,
    Decision: _decision,
}
"""What a tester calls a row of each table whose own field does not say it."""
