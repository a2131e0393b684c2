"""Readers' notes: what a reader says of a paint; self-selected, shown beside findings, never counted."""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Final

from qcledger import figures
from qcledger.bench import naming, typed
from qcledger.bench.public.makers import maker_called, name_of
from qcledger.errors import bad
from qcledger.ledger.identity import who_is_who
from qcledger.ledger.words import formats
from qcledger.records import Paint, ReaderNote, RubricText, Specimen
from qcledger.settings import Settings
from qcledger.text import clean, same_name
from qcledger.thing import worded

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

NO_NAMES: Final = "no names or addresses of readers: write down what was seen, not who saw it"
"""Said on the form."""
_MAIL: Final = re.compile(r"[^\s@]+@[^\s@]+\.[^\s@]+")
_PHONE: Final = re.compile(r"(?<![\w.,])\+?\(?\d[\d\s()/.-]{6,}\d")
_DAY: Final = re.compile(r"\d{4}-\d{1,2}-\d{1,2}|\d{1,2}[./]\d{1,2}[./]\d{4}", re.ASCII)
_FEWEST: Final = 8
"""Fewest digits of what may be a telephone number."""
FIELDS: Final = ("maker", "paint", "format", "lot", "seller", "fault", "told_on", "note")


@dataclass(frozen=True, slots=True)
class NoteWords:
    """What the words of a note may be taken from: formats, and criteria by title and key."""

    formats: tuple[str, ...]
    faults: Mapping[str, str]


def words_of(ledger: "Ledger") -> NoteWords:
    """Return the formats and criteria that a ledger knows."""
    faults: dict[str, str] = {}
    for kept in ledger.rows(RubricText):
        faults |= {one.title: key for key, one in ledger.rubric(kept.id).criteria.items()}
    with ledger.reading() as connection:
        return NoteWords(tuple(formats(connection)), faults)


def may_name(text: str) -> str:
    """Return what in a text looks like an e-mail address or a telephone number; empty where nothing does."""
    if found := _MAIL.search(text):
        return f"'{found[0]}' looks like an e-mail address"
    for number in _PHONE.finditer(_DAY.sub(" ", text)):
        if sum(char.isdigit() for char in number[0]) >= _FEWEST:
            return f"'{number[0].strip()}' looks like a telephone number"
    return ""


def warned(values: Mapping[str, str]) -> str:
    """Return what a typed note may name, field by field; empty where nothing looks like it."""
    return next((said for name in FIELDS if name != "told_on" and (said := may_name(values.get(name, "")))), "")


def read_note(
    ledger: "Ledger",
    values: Mapping[str, str],
    today: date,
    settings: Settings,
    *,
    new_id: Callable[[], str],
    before: ReaderNote | None = None,
) -> ReaderNote:
    """Return the note that a form says.

    Parameters
    ----------
    ledger
        For the maker, its paint and the words it knows.
    values
        What was typed, by the names of `FIELDS`.
    today, settings
        For the day it was told.
    new_id
        Makes the id of a new note.
    before
        The note that this one amends.

    Raises
    ------
    BadInput
        With each field that cannot be read.
    """
    form, known = typed.FormReader(values), words_of(ledger)
    maker = form.must("maker", lambda text, where: maker_called(ledger, text, where), default=None)
    paint = None
    if maker is not None:
        paint = form.read("paint", lambda text, where: _paint(ledger, maker.id, text, where), default=None)
    format_ = form.read("format", lambda text, where: typed.word(text, where, known.formats), default=None)
    lot = form.read("lot", typed.name, default=None)
    seller = form.read("seller", typed.name, default=None)
    fault = form.must("fault", lambda text, where: _fault(known, text, where), default="-")
    told_on = form.read(
        "told_on", lambda text, where: figures.past_day(text, where, today, settings.dates), default=today
    )
    form.done()
    assert maker is not None  # else `done` has refused it
    keeps = before is not None and before.maker in maker.members
    row = ReaderNote(
        id=before.id if before else new_id(),
        maker=before.maker if before and keeps else maker.id,
        told_on=told_on,
        fault=fault,
    )
    return replace(row, paint=paint, format=format_, lot_code=lot, seller=seller, note=clean(form.text("note")))


def _paint(ledger: "Ledger", maker: str, text: str, where: str) -> str:
    """Return the id of a maker's paint by its name; raises BadInput where the maker has none of that name."""
    known = who_is_who(ledger)
    own = [one for one in known.all(Paint.TABLE) if one.maker == maker]
    found = [one for one in own if same_name(text) in map(same_name, one.names)]
    if len(found) != 1:
        near = ", ".join(one.name for one in own[:6]) or "none is in this ledger; leave it empty, say it in the note"
        raise bad(where, text, f"{worded('a paint')} of this maker: {near}")
    return naming.find(known, Paint.TABLE, found[0].id, where).id


def _fault(known: NoteWords, text: str, where: str) -> str:
    """Return the key of the criterion that a text names by title or key; other words stay as they are."""
    by_name = {same_name(name): key for title, key in known.faults.items() for name in (title, key)}
    return by_name.get(same_name(text)) or typed.name(text, where)


def of_specimen(ledger: "Ledger", specimen: str) -> dict[str, str]:
    """Return what the form of a note begins with at a specimen: its maker, paint, format; nothing without one."""
    row = ledger.get(Specimen, specimen) if specimen else None
    paint = ledger.get(Paint, row.paint) if row else None
    if row is None or paint is None:
        return {}
    known = who_is_who(ledger)
    maker = name_of(ledger, known, paint.maker)
    return {"maker": maker, "paint": known.name(Paint.TABLE, paint.id, paint.name), "format": row.format}
