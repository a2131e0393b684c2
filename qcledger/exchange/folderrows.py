"""From the rows of hand-made tables to rows of the ledger: labels resolved, ids minted, names found again."""

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from qcledger.errors import BadInput, Problem, bad
from qcledger.exchange import codec
from qcledger.exchange.codec import own_text
from qcledger.exchange.draft import CALLED, Draft, id_by_name, minted, near, one_problem
from qcledger.exchange.grading import shipped_rubrics
from qcledger.exchange.pictures import Pictures
from qcledger.exchange.progress import Progress
from qcledger.ledger.chain import sha256
from qcledger.records import TABLES, Comparison, Decision, Photo, Record, RubricText, columns
from qcledger.rubric import load
from qcledger.rubric.strict_yaml import at

_LISTS: Mapping[tuple[type[Record], str], str] = {
    (Comparison, "paints"): "paint",
    (Comparison, "rubrics"): "rubric_text",
}
"""Lists that hold ids, and the table of those."""

_UNSET = "-"
_UUID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")


@dataclass(frozen=True, slots=True)
class Source:
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
    """

    def __init__(self, draft: Draft, pictures: Pictures) -> None:
        self._draft = draft
        self._pictures = pictures
        self._ids: dict[tuple[str, str], str | None] = {}
        self._given_up: set[str] = set()
        self._alike: Counter[tuple[str, ...]] = Counter()

    def give_up(self, kind: type[Record]) -> None:
        """Blame no row for referring to a table that could not be read."""
        self._given_up.add(kind.TABLE)

    def add(self, kind: type[Record], sources: Sequence[Source], progress: Progress) -> tuple[int, list[Problem]]:
        """Plan the rows of one table; returns how many are new, and what is wrong with the others."""
        problems: list[Problem] = []
        self._fetch(kind, sources)
        made = [self._made(source, problems) for source in progress(f"Checking {kind.TABLE}.csv", sources)]
        ready = [(source, row) for source, row in zip(sources, made, strict=True) if row is not None]
        self._draft.fetch(kind, [row.id for _, row in ready])
        new = 0
        for source, row in ready:
            try:
                new += self._draft.put(row, source.where)
            except BadInput as error:
                problems.append(one_problem(error.problems))
                self._ids[kind.TABLE, source.label] = None
        return new, problems

    def _fetch(self, kind: type[Record], sources: Sequence[Source]) -> None:
        """Look up, in few steps, the rows that these are and those that they refer to."""
        self._draft.fetch(kind, {source.label for source in sources if source.label})
        for column in columns(kind):
            if column.refers_to:
                texts = {own_text(source.cells.get(column.name, "")) for source in sources}
                unknown = {text for text in texts if text and (column.refers_to, text) not in self._ids}
                self._draft.fetch(TABLES[column.refers_to], unknown)

    def _made(self, source: Source, problems: list[Problem]) -> Record | None:
        """Return the row with its id, or None when it, or one it refers to, is refused."""
        key = (source.kind.TABLE, source.label)
        try:
            if source.label and key in self._ids:
                raise bad(f"{source.where}, id", source.label, "an id that no row above has")
            row = self._row(source)
        except (BadInput, _FollowsBadRowError) as error:
            problems += [one_problem(error.problems)] if isinstance(error, BadInput) else []
            self._ids.setdefault(key, None)
            return None
        self._ids[key] = row.id
        return row

    def _row(self, source: Source) -> Record:
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
        if kind is Decision and values["subject_table"] in TABLES:
            values["subject"] = self._resolve(values["subject_table"], values["subject"], f"{where}, subject")
        return values

    def _resolve(self, table: str, text: str, where: str) -> str:
        """Return the id that a label, id or name stands for."""
        if (table, text) in self._ids or table in self._given_up:
            found = self._ids.get((table, text))
            if found is None:
                raise _FollowsBadRowError
            return found
        kind = TABLES[table]
        if self._draft.get(kind, text) is not None:
            return text
        called = self._draft.called(kind, text) if kind in CALLED else []
        if len(called) == 1:
            return called[0].id
        if kind is RubricText and text in shipped_rubrics():
            kept = self._draft.ledger.keep_rubric(load(shipped_rubrics()[text]))
            self._draft.put(kept, where)
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
            return label
        if kind in CALLED:
            named = self._draft.named_as(row)
            return named[0].id if named else id_by_name(row)
        says = [f"{name}={cell}" for name, cell in _saying(row)]
        self._alike[kind.TABLE, *says] += 1
        times = self._alike[kind.TABLE, *says]
        return minted(kind.TABLE, *says, *([str(times)] if times > 1 else []))


def _saying(row: Record) -> Iterator[tuple[str, str]]:
    """Yield the filled cells that make a row what it is; of a photo, not what is read from its picture."""
    read = {"kind", "width", "height", "taken_at", "file_name"} if isinstance(row, Photo) else set()
    for column, cell in zip(columns(type(row)), codec.cells(row), strict=True):
        if cell and column.name not in {"id", *read}:
            yield column.name, cell
