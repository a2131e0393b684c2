"""The words of formats, stages and labels: the trade's own, and those that a rubric declares.

A rubric is known to a ledger once its text is kept there. One that lies at hand, as it came with the program or in
the tester's own folder, may lend a word too; its text is then written with the row that uses the word, so that
whoever takes that row in has it as well.
"""

from collections.abc import Iterable, Iterator, Mapping
from functools import lru_cache
from pathlib import Path

from sqlalchemy import Connection, select

from qcledger import rubric
from qcledger.errors import BadInput, bad
from qcledger.ledger.codec import named, tidy
from qcledger.ledger.known import KnownRows
from qcledger.ledger.tables import TABLE
from qcledger.records import LabelVersion, Lot, ReaderNote, Record, RubricText, Specimen, Stage
from qcledger.rubric import Declared
from qcledger.rubric.model import USUAL_LABEL
from qcledger.settings import rubric_files
from qcledger.vocab import USUALLY_BOUGHT, BoughtAs, Format, StageName, formats_in_order, stages_in_order

_USUAL: Mapping[str, tuple[str, ...]] = {"formats": tuple(Format), "stages": tuple(StageName), "label": ()}
"""The words that need no rubric, by the list of a rubric that adds to them."""

_FIELDS: Mapping[type[Record], Mapping[str, str]] = {
    Specimen: {"format": "formats"},
    Lot: {"format": "formats"},
    LabelVersion: {"format": "formats", "facts": "label"},
    ReaderNote: {"format": "formats"},
    Stage: {"name": "stages"},
}
"""The fields that hold such words, and the list that says which there are."""

_TOLD: Mapping[str, str] = {
    "formats": "one of {}",
    "stages": "one of {}",
    "label": "one of {}, then a colon and what is printed",
}

_NOTHING = Declared((), (), ())


@lru_cache(maxsize=256)
def _declared(text: str) -> Declared:
    """Return what a rubric's text declares; nothing where this version cannot read it."""
    try:
        return rubric.declared(text, "rubric")
    except BadInput:
        return _NOTHING


def _listed(declared: Declared, kind: str) -> tuple[str, ...]:
    if kind == "stages":
        return tuple(stage.name for stage in declared.stages)
    return (
        declared.formats
        if kind == "formats"
        else tuple(part.key for part in declared.label if part not in USUAL_LABEL)
    )


@lru_cache(maxsize=64)
def _read(path: Path, _changed: int, _size: int) -> str:
    """Return the text of a file as it was when last written; nothing for one that cannot be read."""
    try:
        return rubric.build.read_text(path).replace("\r\n", "\n")
    except BadInput:
        return ""


def _at_hand() -> Iterator[str]:
    """Yield the texts of the rubrics at hand; a file is read again when it was changed."""
    for path in rubric_files().values():
        try:
            state = path.stat()
        except OSError:  # gone meanwhile
            continue
        yield _read(path, state.st_mtime_ns, state.st_size)


def _own(record: Record) -> Iterator[tuple[str, str, str]]:
    """Yield field, list and word for each word of a record that a rubric must declare."""
    for field, kind in _FIELDS.get(type(record), {}).items():
        value = getattr(record, field)
        for text in value if isinstance(value, tuple) else (value,):
            if text is not None and text not in _USUAL[kind]:
                yield field, kind, _what(text) if kind == "label" else text


def _what(fact: str) -> str:
    """Return which part of a label a fact such as ``cone: 04`` is about; one without its text is about none."""
    what, _, printed = fact.partition(": ")
    return what if printed.strip() else f"{what}:"


def _has(texts: Iterable[str], kind: str, word: str) -> bool:
    return any(word in _listed(_declared(text), kind) for text in texts)


def check_words(record: Record, known: KnownRows) -> None:
    """Refuse a record whose format, stage or label says a word that neither the trade nor a rubric has.

    Raises
    ------
    BadInput
        Naming the row and field, what was found and what is allowed.
    """
    for field, kind, word in _own(record):
        kept = [row.text for row in known.rubrics()]
        if not _has(kept, kind, word) and _lending(kind, word) is None:
            allowed = ", ".join(_words([*kept, *_at_hand()], kind))
            told = _TOLD[kind].format(allowed) if allowed else "nothing, as no rubric here asks a label for more"
            raise bad(f"{named(record)} {field}", word, told)


def lent(records: Iterable[Record], known: KnownRows) -> list[RubricText]:
    """Return the rubrics at hand whose words these records use and that the ledger does not keep yet."""
    records = list(records)
    found = {row.id: row for row in records if isinstance(row, RubricText)}
    coming = set(found)
    for record in records:
        for _, kind, word in _own(record):
            kept = [row.text for row in (*known.rubrics(), *found.values())]
            if not _has(kept, kind, word) and (row := _lending(kind, word)) is not None:
                found[row.id] = row
    return [row for row in found.values() if row.id not in coming]


def _lending(kind: str, word: str) -> RubricText | None:
    """Return the record of the first rubric at hand that has a word; one that cannot be read as a whole has none."""
    found = (_record(text) for text in _at_hand() if _has([text], kind, word))
    return next((one for one in found if one is not None), None)


@lru_cache(maxsize=16)
def _record(text: str) -> RubricText | None:
    try:
        read = rubric.parse(text, "rubric")
    except BadInput:
        return None
    return tidy(RubricText(id=read.hash, key=read.key, text=read.text))


def _words(texts: Iterable[str], kind: str) -> tuple[str, ...]:
    found = [*_USUAL[kind], *(word for text in texts for word in _listed(_declared(text), kind))]
    in_order = {"formats": formats_in_order, "stages": stages_in_order}
    return in_order[kind](found) if kind in in_order else tuple(dict.fromkeys(found))


def bought(connection: Connection) -> Mapping[str, BoughtAs]:
    """Return how formats are bought: as the rubrics kept in a ledger say, else as is usual; two that differ: moist.

    Only what is kept counts, so that whoever takes a ledger in finds the same in it.
    """
    kept = connection.execute(select(TABLE[RubricText.TABLE].c.text)).scalars()
    said = [_declared(text).bought for text in kept]
    pairs = sorted((how, name) for one in said for name, how in one.items())  # dry before moist
    return {**USUALLY_BOUGHT, **{name: how for how, name in pairs}}


def formats(connection: Connection) -> tuple[str, ...]:
    """Return the formats a specimen of a ledger may have: the trade's, then those of rubrics kept and at hand."""
    table = TABLE[RubricText.TABLE]
    return _words([*connection.execute(select(table.c.text)).scalars(), *_at_hand()], "formats")
