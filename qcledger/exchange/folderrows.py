"""From the rows of hand-made tables to rows of the ledger: labels resolved, ids minted, names found again."""

import re
from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Any

from qcledger.errors import BadInput, at, bad
from qcledger.exchange import codec
from qcledger.exchange.brought import Brought
from qcledger.exchange.codec import own_text
from qcledger.exchange.draft import Draft
from qcledger.exchange.found import id_by_name, name_key
from qcledger.exchange.grading import shipped_rubrics
from qcledger.exchange.pictures import Pictures
from qcledger.exchange.place import RowPlace
from qcledger.ledger.chain import sha256
from qcledger.ledger.codec import CALLED
from qcledger.ledger.progress import Progress
from qcledger.records import SHARED, TABLES, Comparison, Decision, Photo, Record, RubricText, columns
from qcledger.records.finding_key import table_of
from qcledger.rubric import load
from qcledger.text import near, same_name

_LISTS: Mapping[tuple[type[Record], str], str] = {
    (Comparison, "paints"): "paint",
    (Comparison, "rubrics"): "rubric_text",
}
"""Lists that hold ids, and the table of those."""

_UNSET = "-"
_UUID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")


@dataclass(frozen=True, slots=True)
class FolderRow:
    """One row of a table's file, with the line it begins on."""

    kind: type[Record]
    file: str
    number: int
    cells: Mapping[str, str]

    @property
    def where(self) -> str:
        """File and line, for messages."""
        return at(self.file, self.number)

    @property
    def label(self) -> str:
        """What stands in the id column, or nothing."""
        return own_text(self.cells.get("id", ""))


class _FollowsBadRowError(Exception):
    """A row refers to one that is refused, and is not blamed for it."""


class FolderRows:
    """Plans the rows of a folder, given table by table, each row after those it refers to.

    Parameters
    ----------
    draft
        Where the planned rows are collected.
    pictures
        The folder's pictures.
    brought
        Gives the ids of rows that have none.
    others
        Table and id of the rows that another tester's daybook made: brought in they are this tester's own, under new
        ids, so that the other's daybook can still be merged.
    """

    def __init__(
        self, draft: Draft, pictures: Pictures, brought: Brought, others: Collection[tuple[str, str]] = ()
    ) -> None:
        self._draft = draft
        self._pictures = pictures
        self._brought = brought
        self._ids: dict[tuple[str, str], str | None] = {}
        self._given_up: set[str] = set()
        self._refused_ids: set[str] = set()
        self._refused_names: set[tuple[str, str]] = set()
        self._alike: Counter[tuple[str, ...]] = Counter()
        self._others = others

    def give_up(self, kind: type[Record]) -> None:
        """Blame no row for referring to a table that could not be read."""
        self._given_up.add(kind.TABLE)

    def add(self, kind: type[Record], sources: Sequence[FolderRow], progress: Progress) -> int:
        """Plan the rows of one table, and return how many are new; what is wrong with the others the draft notes."""
        self._fetch(kind, sources)
        made = [(source, self._made(source)) for source in progress(f"Checking {kind.TABLE}.csv", sources)]
        ready = [(source, row) for source, row in made if row is not None]
        self._draft.fetch(kind, [row.id for _, row in ready])
        return sum(self._put(source, row) for source, row in ready)

    def _fetch(self, kind: type[Record], sources: Sequence[FolderRow]) -> None:
        """Look up, in few steps, the rows that these are and those that they refer to."""
        if all(_UUID.fullmatch(source.label) for source in sources):
            self._draft.fetch(kind, {source.label for source in sources})
        else:
            self._draft.all(kind)  # a row without an id may be one that any of the imports before brought in
        for column in columns(kind):
            if column.refers_to:
                texts = {own_text(source.cells.get(column.name, "")) for source in sources}
                unknown = {text for text in texts if text and (column.refers_to, text) not in self._ids}
                self._draft.fetch(TABLES[column.refers_to], unknown)

    def _made(self, source: FolderRow) -> Record | None:
        """Return the row with its id, or None when it, or one it refers to, is refused."""
        key = (source.kind.TABLE, source.label)
        with self._draft.row_at(source.where), suppress(_FollowsBadRowError):
            if source.label and key in self._ids:
                raise bad(f"{source.where}, id", source.label, "an id that no row above has")
            row = self._row(source)
            if source.label:
                self._ids[key] = row.id
            return row
        self._refuse(source)
        return None

    def _put(self, source: FolderRow, row: Record) -> bool:
        links = [getattr(row, column.name) for column in columns(source.kind) if column.refers_to == row.TABLE]
        if not self._refused_ids.isdisjoint(links):
            self._refuse(source, row.id)
            return False
        with self._draft.row_at(source.where):
            return self._draft.put(row, RowPlace(source.where, cells=_typed(source)))
        self._refuse(source, row.id)
        return False

    def _refuse(self, source: FolderRow, subject: str = "") -> None:
        """Remember that a row is refused, so that those which refer to it are not blamed."""
        table = source.kind.TABLE
        if source.label and (subject or (table, source.label) not in self._ids):
            self._ids[table, source.label] = None
        self._refused_ids |= {subject} if subject else set()
        self._refused_names.add((table, same_name(source.cells.get(CALLED.get(source.kind, ""), ""))))

    def _row(self, source: FolderRow) -> Record:
        kind, where = source.kind, source.where
        cells = {**source.cells, "id": _UNSET}
        if kind is Photo:
            cells = self._pictures.described(cells, where)
        values = codec.values(kind, cells, where)
        row = kind(**self._resolved(kind, values, where))
        return replace(row, id=self._id(row, source.label))  # type: ignore[type-var]

    def _resolved(self, kind: type[Record], values: dict[str, Any], where: str) -> dict[str, Any]:
        """Return the values with labels and names turned into ids."""
        for column in columns(kind):
            text = values.get(column.name)
            if column.refers_to and text is not None:
                values[column.name] = self._resolve(column.refers_to, text, f"{where}, {column.name}")
        for (listing, name), table in _LISTS.items():
            if kind is listing:
                texts = values.get(name, ())
                values[name] = tuple(self._resolve(table, text, f"{where}, {name}") for text in texts)
        if kind is Decision and (table := table_of(values["subject_table"])) in TABLES:
            values["subject"] = self._resolve(table, values["subject"], f"{where}, subject")
        return values

    def _resolve(self, table: str, text: str, where: str) -> str:
        """Return the id that a label, id or name stands for."""
        found = self._ids.get((table, text))
        if found is not None:
            return found
        if (table, text) in self._ids or table in self._given_up or (table, same_name(text)) in self._refused_names:
            raise _FollowsBadRowError
        kind = TABLES[table]
        if self._draft.get(kind, text) is not None:
            return text
        called = self._draft.called(kind, text) if kind in CALLED else []
        one = self._draft.one_of(called)
        if one is not None:
            return one.id
        if kind is RubricText and text in shipped_rubrics():
            kept = self._draft.ledger.keep_rubric(load(shipped_rubrics()[text]))
            self._draft.put(kept, RowPlace(where))
            return kept.id
        raise self._unknown(kind, text, len(called), where)

    def _unknown(self, kind: type[Record], text: str, times: int, where: str) -> BadInput:
        if times:
            return bad(where, text, f"an id or label, because {times} rows of {kind.TABLE} are called so")
        names = near(text, self._draft.names(kind)) if kind in CALLED else []
        alike = f", or a name such as {' or '.join(names)}" if names else ""
        return bad(where, text, f"an id or label in {kind.TABLE}.csv, an id in the ledger{alike}")

    def _id(self, row: Record, label: str) -> str:
        """Return the id of a row: its own, that of the row of its name, or one made from what it says."""
        kind = type(row)
        if isinstance(row, RubricText):
            return sha256(row.text.encode())
        if label and (_UUID.fullmatch(label) or self._draft.get(kind, label) is not None):
            if (kind.TABLE, label) not in self._others or self._draft.get(kind, label) is not None:
                return label
            return self._brought.subject(kind, (kind.TABLE, "another tester's", label))
        if kind in CALLED:
            named = self._draft.named_as(row)
            if named:
                return min(one.id for one in named)
            return id_by_name(row) if kind in SHARED else self._brought.subject(kind, name_key(row))
        says = [f"{name}={cell}" for name, cell in _saying(row)]
        self._alike[kind.TABLE, *says] += 1
        times = self._alike[kind.TABLE, *says]
        return self._brought.subject(kind, (kind.TABLE, *says, *([str(times)] if times > 1 else [])))


def _typed(source: FolderRow) -> dict[str, object]:
    """Return what stands in a row's cells, for messages; not the ids and labels of other rows, nor its own."""
    refer = {column.name for column in columns(source.kind) if column.refers_to} | {"id"}
    return {name: text for name, cell in source.cells.items() if name not in refer and (text := own_text(cell))}


def _saying(row: Record) -> Iterator[tuple[str, str]]:
    """Yield the filled cells that make a row what it is; of a photo, not what is read from its picture."""
    read = {"kind", "width", "height", "taken_at", "file_name"} if isinstance(row, Photo) else set()
    for column, cell in zip(columns(type(row)), codec.cells(row), strict=True):
        if cell and column.name not in {"id", *read}:
            yield column.name, cell
