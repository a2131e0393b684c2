"""How what the label of a piece declares became another: each time then and now, by whom, when, and why."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import groupby
from typing import TYPE_CHECKING, Final

from qcledger.bench.correcting import WORDS, text_of
from qcledger.bench.known import labels_back
from qcledger.bench.labelling import RETYPED_LABEL
from qcledger.bench.mending import Differ, FactChange
from qcledger.records import LabelVersion, Paint, Specimen
from qcledger.vocab import TAKEN_BACK

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.ledger.identity import Identity
    from qcledger.ledger.versions import Version

PIGMENTS: Final = "pigments on the label"
"""What a change of facts calls them; here every field of the label is told."""
NOTHING: Final = "nothing"


def differing(then: LabelVersion, now: LabelVersion) -> tuple[Differ, ...]:
    """Return each field in which two labels differ, and the day they were seen where they are two labels."""
    found = [
        Differ(f"label, {word}", text_of(then, name) or NOTHING, text_of(now, name) or NOTHING)
        for name, word in WORDS.items()
        if getattr(then, name) != getattr(now, name)
    ]
    if found and then.id != now.id and then.seen_on != now.seen_on:
        found.append(Differ("label, seen on", then.seen_on, now.seen_on))
    return tuple(found)


def with_label(ledger: "Ledger", specimen: str, changes: Iterable[FactChange]) -> tuple[FactChange, ...]:
    """Return the changes of a piece's facts with those of its label among them, in order of time."""
    others = (
        replace(one, differ=tuple(differ for differ in one.differ if differ.fact != PIGMENTS)) for one in changes
    )
    found = [*(one for one in others if one.differ), *label_changes(ledger, specimen)]
    return tuple(sorted(found, key=lambda one: one.at))


def label_changes(ledger: "Ledger", specimen: str) -> Iterator[FactChange]:
    """Yield each time that the label a piece carries became another, or says something else since.

    A piece that names no label carries the latest of its paint.
    """
    from qcledger.ledger.identity import who_is_who
    from qcledger.ledger.versions import versions

    heads = who_is_who(ledger)
    with ledger.reading() as connection:
        pieces = versions(connection, Specimen, specimen)
    paints = {each for one in pieces for each in heads.members(Paint.TABLE, one.record.paint)}
    ids = {row.id for paint in sorted(paints) for row in ledger.rows(LabelVersion, paint=paint)}
    with ledger.reading() as connection:
        labels = [one for id_ in sorted(ids) for one in versions(connection, LabelVersion, id_)]
    yield from _changes(ledger, heads, pieces, labels)


def _changes(
    ledger: "Ledger",
    heads: "Identity",
    pieces: "Sequence[Version[Specimen]]",
    labels: "Sequence[Version[LabelVersion]]",
) -> Iterator[FactChange]:
    moments: list[Version[Specimen] | Version[LabelVersion]] = [*pieces, *labels]
    gone = labels_back(ledger)
    piece: Specimen | None = None
    known: dict[str, LabelVersion] = {}
    before: LabelVersion | None = None
    for at, written in groupby(sorted(moments, key=lambda one: one.at), key=lambda one: one.at):  # one save, one time
        last: Version[Specimen] | Version[LabelVersion] | None = None
        for one in written:
            if isinstance(one.record, Specimen):
                if piece is not None and piece.paint != one.record.paint:
                    before = None  # another paint, which is told as a fact of the piece
                piece = one.record
            elif one.record.id in gone and one.reason == TAKEN_BACK:
                known.pop(one.record.id, None)  # from here on it is nobody's latest
            else:
                known[one.record.id] = one.record
            last = last if last is not None and last.reason else one
        now = _carried(heads, piece, known)
        if now is not None and before is not None and last is not None and (found := differing(before, now)):
            yield FactChange(at=at, day=ledger.day_of(last.record, at), by=last.by, reason=last.reason, differ=found)
        before = now or before


def _carried(heads: "Identity", piece: Specimen | None, known: Mapping[str, LabelVersion]) -> LabelVersion | None:
    """Return the label a piece carries among those known by then."""
    if piece is None:
        return None
    members = heads.members(Paint.TABLE, piece.paint)
    of_paint = [row for row in known.values() if row.paint in members]
    return known.get(piece.label_version or "") or max(of_paint, key=_in_time, default=None)


def _in_time(row: LabelVersion) -> tuple[date, str]:
    return row.seen_on, row.id


# Every label that was put right


@dataclass(frozen=True, slots=True)
class PutRight:
    """One time that a label was put right, or another one was made of it.

    Parameters
    ----------
    label
        As it was written then.
    daybook
        Whose entry it is.
    change
        What became another, when, by whom, and why.
    """

    label: LabelVersion
    daybook: str
    change: FactChange


def put_right(ledger: "Ledger") -> Iterator[PutRight]:
    """Yield each time that a label which was kept was put right, or made anew with a reason, in order of the entries.

    A label that is first transcribed, or seen again and typed as it is by then, is no such one.
    """
    from qcledger.ledger.codec import decode
    from qcledger.ledger.identity import who_is_who
    from qcledger.ledger.readmodels import entries_of, testers

    with ledger.reading() as connection:
        entries, whose = list(entries_of(connection, LabelVersion.TABLE)), testers(connection)
    heads, stands, gone = who_is_who(ledger), dict[str, dict[str, LabelVersion]](), labels_back(ledger)
    for entry in sorted((one for one in entries if one.body), key=lambda one: one.at):
        row, reason = decode(entry.kind, entry.body or "", f"{entry.kind} {entry.subject}")
        assert isinstance(row, LabelVersion)
        of_paint = stands.setdefault(heads.one(Paint.TABLE, row.paint), {})
        latest = max(of_paint.values(), key=_in_time, default=None)
        before = of_paint.get(row.id) or (latest if reason and reason != RETYPED_LABEL else None)
        if before is not None and (found := differing(before, row)):
            day, by = ledger.day_of(row, entry.at), whose.name(entry.daybook)
            change = FactChange(at=entry.at, day=day, by=by, reason=reason, differ=found)
            yield PutRight(row, entry.daybook, change)
        of_paint[row.id] = row
        if row.id in gone and reason == TAKEN_BACK:
            del of_paint[row.id]
