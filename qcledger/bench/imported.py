"""What was brought in from sheets and folders, and taking one such import back as a whole, which is undone as one.

Nothing is deleted: results are taken back by amendments, pieces and sessions by decisions that they do not count.
What was decided about each import says so; what stands beyond it, because something else needs it, is told.
"""

from collections import Counter
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING

from qcledger.bench.result import Pencil, Result, amend
from qcledger.bench.scales import scales
from qcledger.errors import bad
from qcledger.records import Decision, Import, Observation, Record, RunRow, Session, Specimen, Trial
from qcledger.records.minted import minted
from qcledger.text import one_line, same_name
from qcledger.vocab import TAKEN_BACK, DecisionKind

if TYPE_CHECKING:
    from qcledger.ledger import Ledger


@dataclass(frozen=True, slots=True)
class Imported:
    """One import: the tester's day it came in, and the decision that took it back, if one did."""

    row: Import
    on: date
    out: Decision | None

    @property
    def words(self) -> str:
        """Name, day, rows and whether it was taken back, on one line."""
        rows = "" if self.row.rows is None else f", {self.row.rows} row{'s' * (self.row.rows != 1)}"
        out = f", taken back {self.out.on}: {self.out.reason}" if self.out else ""
        return f"{self.row.name}, brought in {self.on}{rows}{out}"


@dataclass(frozen=True, slots=True)
class Going:
    """What taking an import back does: the results, pieces and sessions that go, and what stays, in words."""

    one: Imported
    results: tuple[Observation, ...]
    pieces: tuple[Specimen, ...]
    sessions: tuple[Session, ...]
    stays: tuple[str, ...]

    def lines(self) -> list[str]:
        """Return what goes and what stays, a line each."""
        stickers = ", ".join(sorted(one.sticker for one in self.pieces)[:8])
        more = ", ..." * (len(self.pieces) > 8)
        said = [f"goes: {_counted(len(self.results), 'result')}, taken back by amendments"]
        said += [f"goes: {_counted(len(self.pieces), 'piece')}: {stickers}{more}"] if self.pieces else []
        said += [f"goes: session {one.code}, void" for one in self.sessions]
        return [*said, *(f"stays: {one}" for one in self.stays)]


def listed(ledger: "Ledger") -> list[Imported]:
    """Return this tester's imports, the first one first."""
    from qcledger.ledger import imports

    own = ledger.own(Import)
    with ledger.reading() as connection:
        out = imports.taken_back(connection)
    rows = {row.id: row for row in ledger.rows(Import) if row.id in own}
    first = {id_: next(iter(ledger.history(Import.TABLE, id_))) for id_ in rows}
    in_order = sorted(first.values(), key=lambda entry: (entry.at, entry.daybook, entry.seq))
    return [
        Imported(rows[one.subject], ledger.day_of(rows[one.subject], one.at), out.get(one.subject))
        for one in in_order
    ]


def find(ledger: "Ledger", wanted: str) -> Imported:
    """Return the last import with a name, or the one at a place of the list, from 1; raises BadInput for neither."""
    found = listed(ledger)
    text = one_line(wanted)
    if text.isascii() and text.isdigit() and 0 < int(text) <= len(found):
        return found[int(text) - 1]
    named = [one for one in found if same_name(text) in _names(one.row) or one.row.id == text]
    if not named:
        raise bad("import", wanted, "; ".join(one.row.name for one in found[-4:]) or "one of your own; there is none")
    return named[-1]


def _names(row: Import) -> tuple[str, str]:
    """Return the name of a sheet with and without its file's ending."""
    return same_name(row.name), same_name(row.name).rpartition(".")[0]


def weigh(ledger: "Ledger", one: Imported) -> Going:
    """Return what taking an import back does to the ledger as it stands.

    Raises
    ------
    BadInput
        When it was taken back already.
    """
    from qcledger.ledger import imports, queries

    if one.out is not None:
        raise bad("import", f"{one.row.name}, taken back {one.out.on}", "one that stands; --undo puts this one back")
    with ledger.reading() as connection:
        entries = imports.brought_in(connection, one.row.id)
        gone = queries.void_rows(connection, Session.TABLE) | queries.void_rows(connection, Specimen.TABLE)
    ids: dict[str, list[str]] = {}
    for entry in entries:
        ids.setdefault(entry.kind, []).append(entry.subject)
    results = _heads(ledger, ids.get(Observation.TABLE, []))
    sessions = [row for row in _rows(ledger, Session, ids) if row.id not in gone]
    pieces, kept = _pieces(ledger, ids, gone)
    tables = {Observation.TABLE, Specimen.TABLE, Session.TABLE}
    others = Counter(entry.kind for entry in entries if entry.kind not in tables)
    stays = [f"piece {row.sticker}, on which something else was done" for row in kept]
    beside = (_counted(count, table.replace("_", " ")) for table, count in others.items())
    stays += [f"{words}, which counts nowhere by itself" for words in beside]
    return Going(one, tuple(results), tuple(pieces), tuple(sessions), tuple(stays))


def take_back(ledger: "Ledger", going: Going, reason: str) -> None:
    """Take an import back as one act.

    Raises
    ------
    BadInput
        When no reason is given, or the ledger refuses it; nothing is then stored.
    """
    words = one_line(reason)
    if not words:
        raise bad("reason", reason, "why the import is taken back")
    act, now = _decided(ledger, going.one.row, DecisionKind.VOID, ledger.new_id(), words), datetime.now(UTC)
    rows: list[Record] = [act]
    by, told = ledger.daybook.tester, f"{TAKEN_BACK} with import {going.one.row.name}: {words}"
    known, nothing = scales(ledger), Result(not_testable=TAKEN_BACK)
    for seen in going.results:
        pencil = Pencil(tester=by, at=now, id=minted(Observation.TABLE, act.id, seen.id))
        rows.append(amend(seen, nothing, criterion=known[seen.rubric, seen.criterion], reason=told, pencil=pencil))
    rows += [
        _decided(ledger, row, DecisionKind.VOID, minted(Decision.TABLE, act.id, row.id), told)
        for row in (*going.pieces, *going.sessions)
    ]
    ledger.append(rows, reason=words)


def put_back(ledger: "Ledger", one: Imported, reason: str = "") -> int:
    """Undo the taking back of an import as one act, and return how many results stand again.

    Raises
    ------
    BadInput
        When it was not taken back, or its pieces came in again since.
    """
    from qcledger.ledger import imports, queries

    if one.out is None:
        raise bad("import", one.row.name, "one that was taken back")
    act, words = one.out, one_line(reason) or "put back"
    with ledger.reading() as connection:
        entries = imports.brought_in(connection, one.row.id)
        void = queries.void_rows(connection, Specimen.TABLE) | queries.void_rows(connection, Session.TABLE)
    back: list[Record] = [_decided(ledger, one.row, DecisionKind.REINSTATE, ledger.new_id(), words)]
    for kind in (Specimen, Session):
        for row in ledger.by_id(kind, [entry.subject for entry in entries if entry.kind == kind.TABLE]).values():
            if ledger.get(Decision, minted(Decision.TABLE, act.id, row.id)) is None:
                continue
            if row.id not in void:
                raise bad(
                    "import",
                    f"{getattr(row, 'sticker', row.id)}, which came in again since",
                    "one whose pieces are still out",
                )
            back.append(_decided(ledger, row, DecisionKind.REINSTATE, ledger.new_id(), words))
    chains = _heads(ledger, [entry.subject for entry in entries if entry.kind == Observation.TABLE], out=True)
    restored = 0
    for head in chains:
        older = ledger.get(Observation, head.supersedes or "")
        if older is not None and head.id == minted(Observation.TABLE, act.id, older.id):
            back.append(replace(older, id=ledger.new_id(), supersedes=head.id, reason=words))
            restored += 1
    ledger.append(back, reason=words)
    return restored


def _heads(ledger: "Ledger", ids: list[str], *, out: bool = False) -> list[Observation]:
    """Return what stands at the end of each chain of amendments: what was taken back if `out`, else the rest."""
    from qcledger.ledger.queries_record import chain

    found: dict[str, Observation] = {}
    with ledger.reading() as connection:
        for id_ in ids:
            links = chain(connection, id_)
            if links:
                found[links[-1].id] = links[-1]
    return [one for one in found.values() if (one.not_testable == TAKEN_BACK) is out]


def _rows(ledger: "Ledger", kind: type[Session], ids: dict[str, list[str]]) -> list[Session]:
    return list(ledger.by_id(kind, ids.get(kind.TABLE, [])).values())


def _pieces(
    ledger: "Ledger", ids: dict[str, list[str]], gone: frozenset[str]
) -> tuple[list[Specimen], list[Specimen]]:
    """Return the pieces that go, and those on which something was done beside this import."""
    ours = {*ids.get(Trial.TABLE, []), *ids.get(RunRow.TABLE, [])}
    going: list[Specimen] = []
    kept: list[Specimen] = []
    for piece in ledger.by_id(Specimen, ids.get(Specimen.TABLE, [])).values():
        if piece.id in gone:
            continue
        used = [*ledger.rows(Trial, specimen=piece.id), *ledger.rows(Trial, mixed_with=piece.id)]
        used = [*used, *ledger.rows(RunRow, specimen=piece.id)]  # type: ignore[list-item]
        others = [row for row in used if row.id not in ours and not _is_empty(ledger, row)]
        (kept if others else going).append(piece)
    return going, kept


def _is_empty(ledger: "Ledger", row: Record) -> bool:
    """Say whether nothing stands in a trial any more, as in those of an import that was taken back before."""
    if not isinstance(row, Trial):
        return False
    seen = [one.id for one in ledger.rows(Observation, trial=row.id)]
    return not _heads(ledger, seen)


def _decided(ledger: "Ledger", row: Record, kind: DecisionKind, id_: str, reason: str) -> Decision:
    return Decision(
        id=id_,
        kind=kind,
        subject_table=row.TABLE,
        subject=row.id,
        by=ledger.daybook.tester,
        on=ledger.day(),
        reason=reason,
    )


def _counted(count: int, thing: str) -> str:
    return f"{count} {thing}" + "s" * (count != 1)
