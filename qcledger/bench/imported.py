"""What was brought in from sheets and folders, and taking one such import back as a whole, which is undone as one.

Nothing is deleted: results are taken back by amendments, pieces and sessions by decisions that they do not count.
What was decided about each import says so; what stands beyond it, because something else needs it, is told.
"""

from collections import Counter
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, tzinfo
from typing import TYPE_CHECKING, Final

from qcledger.bench.known import latest_labels
from qcledger.bench.result import Pencil, Result, amend, result_of
from qcledger.bench.scales import scales
from qcledger.clock import day_of, local
from qcledger.errors import bad
from qcledger.figures import as_numbered
from qcledger.ledger.progress import Progress, untold
from qcledger.records import (
    Daybook,
    Decision,
    Import,
    LabelVersion,
    Observation,
    Paint,
    Record,
    RunRow,
    Session,
    Specimen,
    Trial,
)
from qcledger.records.minted import minted
from qcledger.text import one_line, same_name
from qcledger.thing import worded
from qcledger.vocab import TAKEN_BACK, DecisionKind

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from qcledger.ledger import Ledger
    from qcledger.ledger.imports import CameIn
    from qcledger.ledger.standing import WrittenEntry

REASONS: Final[Mapping[str, str]] = {
    "m": "columns mixed up",
    "w": "wrong sheet",
    "d": "came in twice",
    "c": "a corrected sheet takes its place",
}
"""Why an import is taken back, by the key that says so."""

LABELS_NAMED: Final = 3
"""Labels that an import leaves in force are named one by one up to so many."""

REASONS_BACK: Final[Mapping[str, str]] = {
    "m": "taken back by mistake",
    "w": "the wrong one was taken back",
}
"""Why it is put back, by the key that says so."""

_PLAIN: Final[Mapping[str, str]] = {"rubric_text": "rubric", "label_version": "label", "run_row": "place"}
"""What a table holds, where its name does not say it plainly."""


@dataclass(frozen=True, slots=True)
class Imported:
    """One import.

    Parameters
    ----------
    row
        What came in: its name, the SHA-256 of its bytes, its rows.
    at, zone
        When, and the time zone its tester was in then; None where it is not known.
    book
        The daybook it is in.
    made_by
        Letters and name of the other tester whose it is; empty for one's own.
    out
        The decision that took it back, if one did.
    """

    row: Import
    at: datetime
    zone: tzinfo | None
    book: Daybook
    made_by: str
    out: Decision | None

    @property
    def on(self) -> date:
        """The day it came in, where its tester was."""
        return day_of(self.at, self.zone)

    @property
    def counted(self) -> str:
        """Its rows in words; empty where they were not counted."""
        return "" if self.row.rows is None else _counted(self.row.rows, "row")

    @property
    def words(self) -> str:
        """Name, day and time, rows, whose it is, and whether it was taken back, on one line."""
        rows = f", {self.counted}" if self.counted else ""
        whose = f", by {self.made_by}" if self.made_by else ""
        out = f", taken back {self.out.on}: {self.out.reason}" if self.out else ""
        return f"{self.row.name}, brought in {self.on} {local(self.at, self.zone):%H:%M}{rows}{whose}{out}"

    def check_own(self) -> None:
        """Refuse another tester's; raises BadInput saying whose it is."""
        if self.made_by:
            raise bad(
                f"import {self.row.name}", f"an import of {self.made_by}", "one of your own: only its tester does"
            )


@dataclass(frozen=True, slots=True)
class Going:
    """What taking an import back does: the results, pieces and sessions that go, and what stays, in words."""

    one: Imported
    results: tuple[Observation, ...]
    pieces: tuple[Specimen, ...]
    sessions: tuple[Session, ...]
    stays: tuple[str, ...]

    @property
    def instead(self) -> dict[str, Result]:
        """What is to stand in place of each result, by its id."""
        return {seen.id: Result(not_testable=TAKEN_BACK) for seen in self.results}

    def lines(self) -> list[str]:
        """Return what goes and what stays, a line each."""
        said = [f"goes: {_counted(len(self.results), 'result')}, taken back by amendments"]
        said += [f"goes: {words}" for words in _pieces_in_words(self.pieces)]
        said += [f"goes: session {one.code}, void" for one in self.sessions]
        return [*said, *(f"stays: {one}" for one in self.stays)]


@dataclass(frozen=True, slots=True)
class Returning:
    """What putting an import back does: the results, pieces and sessions that count again.

    Parameters
    ----------
    one
        The import.
    results
        What says that each result was taken back, and what is to stand in its place again.
    pieces, sessions
        What was taken out with it, and is out still.
    back
        What was taken out with it and was put back by itself since: it is left as it stands.
    out
        What was taken out with it, was put back, and was taken out by itself since: it stays out.
    """

    one: Imported
    results: tuple[tuple[Observation, Observation], ...]
    pieces: tuple[Specimen, ...]
    sessions: tuple[Session, ...]
    back: tuple[Specimen | Session, ...] = ()
    out: tuple[Specimen | Session, ...] = ()

    @property
    def instead(self) -> dict[str, Result]:
        """What is to stand in place of each result that was taken back, by the id of what says so."""
        return {head.id: result_of(older) for head, older in self.results}

    def lines(self) -> list[str]:
        """Return what comes back, a line each."""
        said = [f"comes back: {_counted(len(self.results), 'result')}"]
        said += [f"comes back: {words}" for words in _pieces_in_words(self.pieces)]
        said += [f"comes back: session {one.code}" for one in self.sessions]
        return [*said, *self.left()]

    def left(self) -> list[str]:
        """Return what is left as it stands, a line each."""
        said = [f"stays: {_named(one)}, put back by itself since" for one in self.back]
        return [*said, *(f"stays out: {_named(one)}, taken out by itself since" for one in self.out)]


def listed(ledger: "Ledger", *, everyone: bool = False) -> list[Imported]:
    """Return this tester's imports, or those of everyone in the ledger, the first one first."""
    from qcledger.ledger import imports

    own = ledger.own(Import)
    with ledger.reading() as connection:
        came, out = imports.came_in(connection), imports.taken_back(connection)
    return [_imported(one, own, out) for one in came if everyone or one.row.id in own]


def _imported(one: "CameIn", own: frozenset[str], out: Mapping[str, Decision]) -> Imported:
    made_by = "" if one.row.id in own else one.book.signed
    return Imported(one.row, one.at, one.zone, one.book, made_by, out.get(one.row.id))


def by_id(ledger: "Ledger", id_: str) -> Imported:
    """Return the import with an id, of whichever tester; raises BadInput where there is none."""
    for one in listed(ledger, everyone=True):
        if one.row.id == id_:
            return one
    raise bad("import", id_, "one that is in this ledger")


def brought_with(ledger: "Ledger", observation: str) -> str | None:
    """Return the id of the import that an observation came in with; None for one that was made here."""
    from qcledger.ledger import imports

    with ledger.reading() as connection:
        found = imports.brought_with(connection, [observation]).get(observation)
    return found.row.id if found is not None else None


def observations(ledger: "Ledger", id_: str) -> list[str]:
    """Return the ids of the observations that came with an import, in the order of its rows."""
    from qcledger.ledger import imports

    with ledger.reading() as connection:
        entries = imports.brought_in(connection, id_)
    return [entry.subject for entry in entries if entry.kind == Observation.TABLE]


def find(ledger: "Ledger", wanted: str) -> Imported:
    """Return the last import with a name, or the one at a place of the list, from 1; raises BadInput for neither."""
    found = listed(ledger)
    text = one_line(wanted)
    if (numbered := as_numbered(text, found)) is not None:
        return numbered
    named = [one for one in found if same_name(text) in _names(one.row) or one.row.id == text]
    if not named:
        raise bad("import", wanted, "; ".join(one.row.name for one in found[-4:]) or "one of your own; there is none")
    return named[-1]


def _names(row: Import) -> tuple[str, str]:
    """Return the name of a sheet with and without its file's ending."""
    return same_name(row.name), same_name(row.name).rpartition(".")[0]


# One content in several daybooks


def came_twice(ledger: "Ledger") -> list[tuple[Imported, ...]]:
    """Return the imports of one content that stand in several daybooks, so that their pieces stand there twice."""
    from qcledger.ledger import imports

    own = ledger.own(Import)
    with ledger.reading() as connection:
        return [tuple(_imported(one, own, {}) for one in some) for some in imports.came_twice(connection)]


def twice_in_words(some: Sequence[Imported], numbers: Mapping[str, int]) -> str:
    """Return that one content came in several times, and how one of them is taken back.

    Parameters
    ----------
    some
        The imports.
    numbers
        The place of each of this tester's own in `listed`, from 1, by its id.
    """
    times = {2: "twice"}.get(len(some), f"{len(some)} times")
    who = " and ".join(f"{one.row.name} of {one.book.signed} ({one.on})" for one in some)
    said = f"one sheet came in {times}, byte for byte: {who}; each of its specimens stands {times}. "
    own = [one for one in some if not one.made_by]
    if not own:
        return f"{said}One of these testers takes it back, in a ledger of their own."
    ways = " or ".join(f"qcledger imports {numbers[one.row.id]} --take-back" for one in own)
    return f"{said}If they are the same specimens, take yours back: i in Record, or {ways}."


def told_twice(ledger: "Ledger") -> dict[str, str]:
    """Return what is said of each import whose content stands in several daybooks, by its id."""
    found = came_twice(ledger)
    places = numbers(ledger) if found else {}
    return {one.row.id: twice_in_words(some, places) for some in found for one in some}


def numbers(ledger: "Ledger") -> dict[str, int]:
    """Return the place of each of this tester's imports in the list, from 1, by its id."""
    return {one.row.id: number for number, one in enumerate(listed(ledger), 1)}


# Taking back


def weigh(ledger: "Ledger", one: Imported, *, keeping: Collection[str] = ()) -> Going:
    """Return what taking an import back does to the ledger as it stands; the rows `keeping` names by id stay.

    Raises
    ------
    BadInput
        When it was taken back already, or is another tester's.
    """
    from qcledger.ledger import imports, queries

    one.check_own()
    if one.out is not None:
        raise bad("import", f"{one.row.name}, taken back {one.out.on}", "one that stands; --undo puts this one back")
    with ledger.reading() as connection:
        entries = imports.brought_in(connection, one.row.id)
        gone = queries.void_rows(connection, Session.TABLE) | queries.void_rows(connection, Specimen.TABLE)
        gone |= set(keeping)
        ids = _by_table(entries)
        heads = imports.standing(connection, ids.get(Observation.TABLE, []))
    results = {seen.id: seen for seen in heads.values() if seen.not_testable != TAKEN_BACK}
    sessions = [row for row in ledger.by_id(Session, ids.get(Session.TABLE, [])).values() if row.id not in gone]
    pieces, kept = _pieces(ledger, ids, gone)
    tables = {Observation.TABLE, Specimen.TABLE, Session.TABLE, LabelVersion.TABLE}
    others = Counter(entry.kind for entry in entries if entry.kind not in tables)
    stays = [f"specimen {row.sticker}, on which something else was done" for row in kept]
    beside = [_counted(count, _PLAIN.get(table, table.replace("_", " "))) for table, count in others.items()]
    stays += _labels(ledger, ids.get(LabelVersion.TABLE, []))
    stays += [f"{', '.join(beside)}, which count nowhere by themselves"] if beside else []
    return Going(one, tuple(results.values()), tuple(pieces), tuple(sessions), tuple(stays))


def take_back(ledger: "Ledger", going: Going, reason: str, *, act: str = "", progress: Progress = untold) -> None:
    """Take an import back as one act.

    Parameters
    ----------
    going
        What goes, as it was weighed.
    reason
        Why.
    act
        The id of the decision, by which a save that was not confirmed is known; a new one if empty.
    progress
        Told what is at work.

    Raises
    ------
    BadInput
        When no reason is given, or the ledger refuses it; nothing is then stored.
    """
    words = one_line(reason)
    if not words:
        raise bad("reason", reason, "why the import is taken back")
    void, now = _decides(ledger, DecisionKind.VOID), datetime.now(UTC)
    out = void(going.one.row, act or ledger.new_id(), words)
    rows: list[Record] = [out]
    by, told = out.by, f"{TAKEN_BACK} with import {going.one.row.name}: {words}"
    known, nothing = scales(ledger), Result(not_testable=TAKEN_BACK)
    for seen in progress("Taking results back", going.results):
        pencil = Pencil(tester=by, at=now, id=minted(Observation.TABLE, out.id, seen.id))
        rows.append(amend(seen, nothing, criterion=known[seen.rubric, seen.criterion], reason=told, pencil=pencil))
    rows += [void(row, minted(Decision.TABLE, out.id, row.id), told) for row in (*going.pieces, *going.sessions)]
    ledger.append(rows, reason=words, progress=progress)


def weigh_back(ledger: "Ledger", one: Imported) -> Returning:
    """Return what putting an import back does to the ledger as it stands.

    Raises
    ------
    BadInput
        When it was not taken back, is another tester's, or its pieces came in again with an import that stands.
    """
    from qcledger.ledger import imports, queries

    one.check_own()
    if one.out is None:
        raise bad("import", one.row.name, "one that was taken back")
    act = one.out.id
    with ledger.reading() as connection:
        ids = _by_table(imports.brought_in(connection, one.row.id))
        void = queries.void_rows(connection, Specimen.TABLE) | queries.void_rows(connection, Session.TABLE)
        with_it, alone = _taken_with(connection, one.row.id)
        again = imports.brought_again(connection, one.row.id, ids.get(Specimen.TABLE, []))
        heads = {seen.id: seen for seen in imports.standing(connection, ids.get(Observation.TABLE, [])).values()}
    rows: list[Specimen | Session] = [*ledger.by_id(Specimen, ids.get(Specimen.TABLE, [])).values()]
    rows += ledger.by_id(Session, ids.get(Session.TABLE, [])).values()
    taken = [row for row in rows if row.id in with_it]
    for row in taken:
        if row.id in again:
            other = f"import {numbers(ledger)[again[row.id].id]}, {again[row.id].name}"
            found = f"{_named(row)}, which came in again with {other}"
            raise bad("import", found, f"first taking back {other}; then this one is put back")
    back = [row for row in taken if row.id in void and row.id not in alone]
    before = ledger.by_id(Observation, [seen.supersedes for seen in heads.values() if seen.supersedes])
    results = (
        (head, before[head.supersedes])
        for head in heads.values()
        if head.supersedes in before and head.id == minted(Observation.TABLE, act, head.supersedes or "")
    )
    pieces = tuple(row for row in back if isinstance(row, Specimen))
    sessions, left = (row for row in back if isinstance(row, Session)), (row for row in taken if row.id not in void)
    stays_out = (row for row in taken if row.id in void and row.id in alone)
    return Returning(one, tuple(results), pieces, tuple(sessions), tuple(left), tuple(stays_out))


def _taken_with(connection: "Connection", import_: str) -> tuple[set[str], set[str]]:
    """Return what was taken out with an import and not put back with it since, and what was last taken out by itself.

    What was put back by itself, and taken out again because that was undone, went with its import.
    """
    from qcledger.ledger.decided import decisions

    acts = [one.id for one in decisions(connection, Import.TABLE, subject=import_)]
    with_it, alone = set[str](), set[str]()
    kinds = (DecisionKind.VOID, DecisionKind.REINSTATE)
    for table in (Specimen.TABLE, Session.TABLE):
        for one in decisions(connection, table, kinds=kinds):
            goes = one.kind is DecisionKind.VOID
            if one.id in {minted(Decision.TABLE, act, one.subject) for act in acts}:
                (with_it.add if goes else with_it.discard)(one.subject)
            if goes:
                (alone.add if one.reason == TAKEN_BACK else alone.discard)(one.subject)
    return with_it, alone


def put_back(
    ledger: "Ledger", back: Returning, reason: str = "", *, act: str = "", progress: Progress = untold
) -> int:
    """Undo the taking back of an import as one act, and return how many results stand again.

    Parameters
    ----------
    back
        What comes back, as it was weighed.
    reason
        Why; "put back" if empty.
    act
        The id of the decision, by which a save that was not confirmed is known; a new one if empty.
    progress
        Told what is at work.
    """
    words, reinstate = one_line(reason) or "put back", _decides(ledger, DecisionKind.REINSTATE)
    again = reinstate(back.one.row, act or ledger.new_id(), words)
    rows: list[Record] = [again]
    rows += [
        reinstate(row, minted(Decision.TABLE, again.id, row.id), words) for row in (*back.pieces, *back.sessions)
    ]
    rows += [
        replace(older, id=minted(Observation.TABLE, again.id, head.id), supersedes=head.id, reason=words)
        for head, older in back.results
    ]
    ledger.append(rows, reason=words, progress=progress)
    return len(back.results)


def _labels(ledger: "Ledger", ids: Sequence[str]) -> list[str]:
    """Return in words the labels that came in and are still their paints' latest: new pieces begin with them."""
    latest = latest_labels(ledger)
    stand = [row for row in ledger.by_id(LabelVersion, ids).values() if latest[row.paint].id == row.id]
    if len(stand) > LABELS_NAMED:
        each = worded("each its paint's latest; b in Stock puts one right")
        return [f"{len(stand)} labels, {each}"]
    said = (f"{_called(ledger, row.paint)} as {' '.join(row.index_names) or 'without pigments'}" for row in stand)
    return [f"the label of {one}; b in Stock puts it right" for one in said]


def _called(ledger: "Ledger", paint: str) -> str:
    row = ledger.get(Paint, paint)
    return row.name if row is not None else paint


def _by_table(entries: Sequence["WrittenEntry"]) -> dict[str, list[str]]:
    """Return the ids of what entries are about, by table."""
    ids: dict[str, list[str]] = {}
    for entry in entries:
        ids.setdefault(entry.kind, []).append(entry.subject)
    return ids


def _pieces(
    ledger: "Ledger", ids: Mapping[str, Sequence[str]], gone: frozenset[str]
) -> tuple[list[Specimen], list[Specimen]]:
    """Return the pieces that go, and those on which something was done beside this import."""
    from qcledger.ledger import imports

    ours = {*ids.get(Trial.TABLE, []), *ids.get(RunRow.TABLE, [])}
    pieces = [one for one in ledger.by_id(Specimen, ids.get(Specimen.TABLE, [])).values() if one.id not in gone]
    with ledger.reading() as connection:
        others = [(piece, row) for piece, row in imports.used(connection, {one.id for one in pieces})]
        others = [(piece, row) for piece, row in others if row.id not in ours]
        seen = imports.seen_in(connection, {row.id for _, row in others if isinstance(row, Trial)})
        stands = imports.standing(connection, [id_ for some in seen.values() for id_ in some])
    # Nothing stands any more in a trial of an import that was taken back before.
    empty = {
        row.id
        for _, row in others
        if isinstance(row, Trial) and all(stands[id_].not_testable == TAKEN_BACK for id_ in seen.get(row.id, ()))
    }
    used = {piece for piece, row in others if row.id not in empty}
    return [one for one in pieces if one.id not in used], [one for one in pieces if one.id in used]


def _decides(ledger: "Ledger", kind: DecisionKind) -> Callable[[Record, str, str], Decision]:
    """Return what makes decisions of one kind, by this tester and of today, from a row, an id and a reason."""
    by, on = ledger.daybook.tester, ledger.day()

    def decided(row: Record, id_: str, reason: str) -> Decision:
        return Decision(id=id_, kind=kind, subject_table=row.TABLE, subject=row.id, by=by, on=on, reason=reason)

    return decided


def _named(row: Specimen | Session) -> str:
    return f"specimen {row.sticker}" if isinstance(row, Specimen) else f"session {row.code}"


def _pieces_in_words(pieces: Sequence[Specimen]) -> list[str]:
    stickers = ", ".join(sorted(one.sticker for one in pieces)[:8])
    return [f"{_counted(len(pieces), 'specimen')}: {stickers}{', ...' * (len(pieces) > 8)}"] if pieces else []


def _counted(count: int, thing: str) -> str:
    return f"{count} {thing}" + "s" * (count != 1)
