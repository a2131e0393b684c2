"""Brings in an exchange folder, or a few tables of one made by hand, as new entries."""

from collections.abc import Iterable, Iterator
from dataclasses import replace
from graphlib import CycleError, TopologicalSorter
from pathlib import Path
from typing import Any

from qcledger.errors import BadInput, Problem, bad
from qcledger.exchange import csvfile, manifest
from qcledger.exchange.brought import NAMELESS, Brought
from qcledger.exchange.codec import own_text
from qcledger.exchange.draft import Draft
from qcledger.exchange.folderrows import FolderRow, FolderRows
from qcledger.exchange.pictures import Pictures
from qcledger.exchange.plan import ImportPlan
from qcledger.exchange.steering import Steering
from qcledger.ledger import Ledger
from qcledger.ledger.chain import sha256
from qcledger.ledger.codec import ONE_LINE
from qcledger.ledger.progress import Progress, untold
from qcledger.ledger.standing import whose
from qcledger.records import (
    SHARED,
    TABLES,
    Daybook,
    Decision,
    Entry,
    Import,
    Photo,
    Record,
    Redaction,
    RubricText,
    Zone,
    columns,
)
from qcledger.text import one_line
from qcledger.vocab import DecisionKind

_OWN = (Daybook, Zone, Redaction)
"""Tables that only a ledger writes: `merge` takes them in with their chain, an import leaves them out."""


def plan_folder(
    ledger: Ledger, folder: Path, *, called: str | None = None, progress: Progress = untold
) -> ImportPlan:
    """Return what importing a folder of tables would add; nothing is written.

    Any of an exchange folder's tables may be there, each with any of its columns. A row's id may be left empty, or be
    a short label of one's own that other rows of the folder refer to; such a row is looked for among those that this
    tester brought in before and that say the same, so that importing the folder again changes nothing. Makers,
    paints, lots, specimens, comparisons and sessions may also be referred to by name.

    Parameters
    ----------
    ledger
        The ledger the rows are for.
    folder
        The folder with the CSV files, and ``photos/`` if there is a ``photo.csv``.
    called
        What the tester calls what is brought in; the folder's name if None.
    progress
        Told which row is at work.

    Raises
    ------
    BadInput
        With one problem for each row that is not allowed.
    """
    problems: list[Problem] = []
    draft, pictures = Draft(ledger), Pictures(folder)
    files, left_out = _files(folder)
    brought = Brought(draft, _import(ledger, folder, called or folder.resolve().name, files.values()))
    # What a folder's row says is all that tells it from others: said by an import of any name, it is the same row.
    brought.before = [*((one.id,) for one in draft.imports), NAMELESS]
    rows = FolderRows(draft, pictures, brought, _of_others(folder, draft.daybook))
    tables: dict[type[Record], list[FolderRow]] = {}
    steering = Steering()
    for kind, name in files.items():
        try:
            tables[kind] = _sources(folder / name, kind)
            _note(steering, tables[kind])
        except BadInput as error:
            problems += error.problems
            rows.give_up(kind)
    left_out += [*_without_redacted(folder, tables), *steering.lines()]
    new = 0
    for kind in (kind for kind in TABLES.values() if kind in tables):
        new += rows.add(kind, tables[kind], progress)
    _settle(draft, problems, tables.values(), progress)
    read = sum(map(len, tables.values()))
    records = draft.records()
    added_photos = {row.sha256: pictures.found[row.sha256] for row in records if isinstance(row, Photo)}
    source, after = replace(brought.record, rows=read), frozenset(one.id for one in draft.imports)
    return ImportPlan(records, added_photos, new, read - new, tuple(left_out), source, planned_after=after)


def _import(ledger: Ledger, folder: Path, name: str, files: Iterable[str]) -> Import:
    """Return the record of bringing in a folder; its hash is that of its tables' names and hashes."""
    hashes = (f"{file} {csvfile.fingerprint(folder / file, csvfile.MAX_TABLE)}\n".encode() for file in sorted(files))
    return Import(id=ledger.new_id(), name=(one_line(name) or "folder")[:ONE_LINE], sha256=sha256(*hashes))


def _settle(draft: Draft, problems: list[Problem], tables: Iterable[list[FolderRow]], progress: Progress) -> None:
    """Raise BadInput with what is wrong with whole files and with rows, the rows in the order of their lines."""
    rows = [source for sources in tables for source in sorted(sources, key=lambda source: source.number)]
    try:
        draft.settle((source.where for source in rows), progress)
    except BadInput as error:
        problems += error.problems
    if problems:
        raise BadInput(problems)


def _of_others(folder: Path, own: Daybook) -> set[tuple[str, str]]:
    """Return table and id of each row in an exported folder that belongs to another tester's daybook."""
    if not all((folder / name).is_file() for name in (manifest.ENTRIES, f"{Daybook.TABLE}.csv")):
        return set()
    mine = whose(own)
    books = {
        row["id"]
        for _, row in _rows_of(folder / f"{Daybook.TABLE}.csv", Daybook)
        if whose(Daybook(id=row["id"], letters=row["letters"], tester=row["tester"])) != mine
    }
    shared = {kind.TABLE for kind in SHARED}
    first: dict[bool, set[tuple[str, str]]] = {True: set(), False: set()}
    for _, row in _rows_of(folder / manifest.ENTRIES, Entry) if books else ():
        if not row.get("replaces") and row["kind"] not in shared:
            first[row["daybook"] in books].add((row["kind"], row["subject"]))
    return first[True] - first[False]


def _rows_of(path: Path, kind: type[Any]) -> Iterator[tuple[int, dict[str, str]]]:
    lines = csvfile.read_lines(path, csvfile.MAX_TABLE)
    return csvfile.named_rows(lines, path.name, [column.name for column in columns(kind)])


def _files(folder: Path) -> tuple[dict[type[Record], str], list[str]]:
    """Return the folder's tables, and what is left out of it; refuses a folder without tables."""
    if not folder.is_dir():
        raise bad(str(folder), "no folder", "a folder with tables such as maker.csv")
    names = sorted(path.name for path in folder.iterdir() if path.suffix.lower() == ".csv")
    strange = [name for name in names if not manifest.is_table(name) and name != manifest.ENTRIES]
    if strange:
        raise BadInput(bad(name, name, ", ".join(f"{table}.csv" for table in TABLES)).problems[0] for name in strange)
    own = {f"{kind.TABLE}.csv" for kind in _OWN} | {manifest.ENTRIES}
    files = {kind: f"{table}.csv" for table, kind in TABLES.items() if f"{table}.csv" in set(names) - own}
    if not files:
        raise bad(str(folder), "no tables", "a folder with tables such as maker.csv")
    return files, [f"{name} is left out; `qcledger merge` takes daybooks" for name in names if name in own]


def _without_redacted(folder: Path, tables: dict[type[Record], list[FolderRow]]) -> list[str]:
    """Leave out the photos whose pictures were taken out for a reason, and what was decided about redactions.

    Returns a line that says so.
    """
    path, decided = folder / f"{Redaction.TABLE}.csv", tables.get(Decision, [])
    about = [source for source in decided if source.cells.get("subject_table") == Redaction.TABLE]
    if about:
        tables[Decision] = [source for source in decided if source not in about]
    if Photo not in tables or not path.is_file():
        return []
    filed_again = {source.cells.get("subject") for source in about if source.cells.get("kind") == DecisionKind.VOID}
    redacted = [source.cells for source in _sources(path, Redaction)]
    gone = {cells.get("photo") for cells in redacted if cells.get("id") not in filed_again}
    kept = [source for source in tables[Photo] if source.cells.get("sha256") not in gone - {""}]
    times, tables[Photo] = len(tables[Photo]) - len(kept), kept
    return [f"{times} rows of photo.csv are left out; their pictures were redacted"] if times else []


def _sources(path: Path, kind: type[Record]) -> list[FolderRow]:
    text = csvfile.read_lines(path, csvfile.MAX_TABLE)
    rows = csvfile.named_rows(text, path.name, [column.name for column in columns(kind)])
    return _older_first(kind, [FolderRow(kind, path.name, number, cells) for number, cells in rows])


def _note(steering: Steering, sources: list[FolderRow]) -> None:
    """Count what cleaning leaves out; a rubric's text is kept as it stands, or refused."""
    for source in sources:
        for name, cell in source.cells.items():
            if (source.kind, name) != (RubricText, "text"):
                steering.note(cell, source.where)


def _older_first(kind: type[Record], sources: list[FolderRow]) -> list[FolderRow]:
    """Return rows so that each comes after those of its own table that it refers to."""
    links = [column.name for column in columns(kind) if column.refers_to == kind.TABLE]
    if not any(source.cells.get(link) for source in sources for link in links):
        return sources
    places = {own_text(source.cells["id"]): place for place, source in enumerate(sources) if source.cells.get("id")}
    sorter: TopologicalSorter[int] = TopologicalSorter()
    for place, source in enumerate(sources):
        named = (places.get(own_text(source.cells.get(link, ""))) for link in links)
        sorter.add(place, *(other for other in named if other is not None))
    try:
        return [sources[place] for place in sorter.static_order()]
    except CycleError as error:
        where = sources[error.args[1][0]].where
        raise bad(where, "a row that supersedes itself in the end", "rows that refer to older ones") from None
