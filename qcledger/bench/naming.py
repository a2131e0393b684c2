"""Decisions about who is who: found by name, weighed before they are kept, kept, and taken back."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Final

from qcledger.errors import bad
from qcledger.records import Maker, Paint, Range, Record, SameAs, Seller, Specimen
from qcledger.text import near, one_line, same_name
from qcledger.thing import worded
from qcledger.vocab import Sameness

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.ledger.identity import Identity, KnownName
    from qcledger.ledger.nearby import Near
    from qcledger.ledger.uniting import Decided

KINDS: Final = (Maker.TABLE, Range.TABLE, Paint.TABLE, Seller.TABLE)
"""What decisions may be about."""
REASONS: Final = {
    Sameness.SAME: "two spellings of one",
    Sameness.DIFFERENT: "two of their own",
    Sameness.CALLED: "called so now",
}
"""What is kept as the reason where none is given."""


@dataclass(frozen=True, slots=True)
class NamingSaid:
    """Who decides, on which day, and why."""

    by: str
    on: date
    reason: str


def same(table: str, subject: str, other: str, said: NamingSaid, id: str) -> SameAs:  # noqa: A002 - the field's own name
    """Return the decision that one counts as the other, whose name is shown."""
    return _pair(Sameness.SAME, table, subject, other, said, id)


def different(table: str, subject: str, other: str, said: NamingSaid, id: str) -> SameAs:  # noqa: A002 - as above
    """Return the decision that two are not the same, however they are spelled."""
    return _pair(Sameness.DIFFERENT, table, subject, other, said, id)


def _pair(kind: Sameness, table: str, subject: str, other: str, said: NamingSaid, id_: str) -> SameAs:
    return SameAs(
        id=id_,
        kind=kind,
        subject_table=table,
        subject=subject,
        other=other,
        by=said.by,
        on=said.on,
        reason=said.reason or REASONS[kind],
    )


def called(table: str, subject: str, name: str, said: NamingSaid, id: str) -> SameAs:  # noqa: A002 - as above
    """Return the decision that something is called `name` from now on."""
    return SameAs(
        id=id,
        kind=Sameness.CALLED,
        subject_table=table,
        subject=subject,
        name=name,
        by=said.by,
        on=said.on,
        reason=said.reason or REASONS[Sameness.CALLED],
    )


# By name


def title(known: "Identity", one: "KnownName") -> str:
    """Return what something is called, paints and ranges with their maker."""
    if one.maker is None:
        return one.name
    maker = next(each.name for each in known.all(Maker.TABLE) if each.id == one.maker)
    return " ".join((maker, one.name, *one.numbers[:1]))


@dataclass(frozen=True, slots=True)
class NamedRow:
    """What was named, and the id of the row that was meant: of its own where the id was typed, else of the whole."""

    one: "KnownName"
    id: str


def find(known: "Identity", table: str, text: str, where: str) -> NamedRow:
    """Return what a text names: a name in any of its spellings, of a paint or range with its maker, or a row's id.

    Raises
    ------
    BadInput
        When nothing is called so, or several are; near names are given.
    """
    wanted, every = same_name(text), known.all(table)
    by_id = next((one for one in every if text.strip() in one.members), None)
    if by_id is not None:
        return NamedRow(by_id, text.strip())
    spellings = [(one, same_name(each)) for one in every for each in _spellings(known, one)]
    found = list({one.id: one for one, spelling in spellings if spelling == wanted}.values())
    if len(found) == 1:
        return NamedRow(found[0], found[0].id)
    titles = sorted(title(known, one) for one in found or every)
    if len(set(titles)) < len(found):  # kept apart though spelled alike: only their ids tell them apart
        raise bad(where, one_line(text), f"one of the ids {', '.join(one.id for one in found)}")
    if found:
        raise bad(where, one_line(text), f"one of {', '.join(titles)}")
    offered = near(text, titles) or titles[:4]
    raise bad(where, one_line(text), f"the name of a {table}{', as ' * bool(offered)}{' or '.join(offered)}")


def rows_called(known: "Identity", found: NamedRow, text: str) -> frozenset[str]:
    """Return the ids of the rows that a text means among those that count as one: those written so, else all."""
    if found.id == text.strip():
        return frozenset((found.id,))
    own = {id_: same_name(name) for id_, name in known.own_names(found.one).items()}
    written = frozenset(id_ for id_, name in own.items() if same_name(text).endswith(name))
    return written or frozenset(found.one.members)


def _spellings(known: "Identity", one: "KnownName") -> Iterable[str]:
    """Yield every text by which something may be named: of a paint alone, with its maker, and with its number."""
    makers: Sequence[str] = ()
    if one.maker is not None:
        makers = next(each.names for each in known.all(Maker.TABLE) if each.id == one.maker)
    for name in one.names:
        for text in (name, *(f"{maker} {name}" for maker in makers)):
            yield text
            yield from (f"{text} {number}" for number in one.numbers)


# Before it is kept


@dataclass(frozen=True, slots=True)
class Weighed:
    """What a decision touches: paints, specimens, and findings, each one criterion in one format."""

    paints: int
    specimens: int
    findings: int

    @property
    def words(self) -> str:
        """Say it."""
        counted = ((self.paints, worded("paint")), (self.specimens, "specimen"), (self.findings, "finding"))
        return ", ".join(f"{count} {word}{'' if count == 1 else 's'}" for count, word in counted)


def weigh(ledger: "Ledger", ones: Iterable["KnownName"]) -> Weighed:
    """Return what hangs on some makers, ranges, paints or sellers."""
    from qcledger.ledger.identity import seller_id, who_is_who
    from qcledger.records import Parcel

    known, wanted = who_is_who(ledger), {(one.table, each) for one in ones for each in one.members}
    bought = {row.id for row in ledger.rows(Parcel) if (Seller.TABLE, seller_id(row.seller)) in wanted}
    paints = {
        row.id
        for row in ledger.rows(Paint)
        if {(Paint.TABLE, row.id), (Maker.TABLE, row.maker), (Range.TABLE, row.range)} & wanted
    }
    specimens = [row for row in ledger.rows(Specimen) if row.paint in paints or row.parcel in bought]
    ids = {row.id for row in specimens}
    tested = {(row.criterion, row.maker, row.format) for row in ledger.tested_rows() if row.specimen in ids}
    one_each = {known.one(Paint.TABLE, paint) for paint in paints | {row.paint for row in specimens}}
    return Weighed(len(one_each), len(specimens), len({(criterion, format_) for criterion, _, format_ in tested}))


# Kept, and taken back


@dataclass(frozen=True, slots=True)
class Naming:
    """Decides in one ledger.

    Parameters
    ----------
    ledger
        Open for writing.
    on
        The day.
    new_id
        Makes ids.
    tries
        Whether it is only tried: what cannot be kept is refused, and nothing is written.
    """

    ledger: "Ledger"
    on: date
    new_id: Callable[[], str]
    tries: bool = False

    def _said(self, reason: str) -> NamingSaid:
        return NamingSaid(by=self.ledger.daybook.tester, on=self.on, reason=reason)

    def decide(self, kind: Sameness, one: NamedRow, other: NamedRow, reason: str = "") -> SameAs:
        """Keep that two are the same, or not, and return the decision.

        Raises
        ------
        BadInput
            When both are one already, or cannot be one.
        """
        where, names = one.one.table, f"{one.one.name} and {other.one.name}"
        if one.one.table != other.one.table or one.one.maker != other.one.maker:
            raise bad(where, names, "two of one maker; where their makers are one, unite those first")
        if kind is Sameness.SAME and one.one.id == other.one.id:
            raise bad(where, names, "two that do not count as one already")
        if one.id == other.id:
            raise bad(where, names, f"two; rows that are spelled alike go by their ids: {', '.join(one.one.members)}")
        kept = _pair(kind, where, one.id, other.id, self._said(reason), self.new_id())
        self._keep([*self._rows(one.one), *self._rows(other.one), kept], reason)
        return kept

    def rename(self, one: "KnownName", name: str, reason: str = "") -> SameAs:
        """Keep what something is called from now on, and return the decision.

        Raises
        ------
        BadInput
            When it is called so already, or another one of the kind is.
        """
        from qcledger.ledger.identity import who_is_who

        new = one_line(name)
        if not new:
            raise bad("name", name, "what it is called now")
        if new == one.name:
            raise bad("name", new, f"another name; the {worded(one.table)} is called so already")
        for other in who_is_who(self.ledger).all(one.table):
            if other.id != one.id and other.maker == one.maker and same_name(new) in map(same_name, other.names):
                raise bad("name", new, f"a name that no other {worded(one.table)} has; qcledger same-as unites two")
        kept = called(one.table, one.id, new, self._said(reason), self.new_id())
        self._keep([*self._rows(one), kept], reason)
        return kept

    def _rows(self, one: "KnownName") -> list[Record]:
        """Return the row that gives a seller its id, so that a decision about it is understood whoever reads it."""
        if one.table != Seller.TABLE or self.ledger.get(Seller, one.id) is not None:
            return []
        return [Seller(id=one.id, name=one.name)]

    def _keep(self, records: Sequence[Record], reason: str) -> None:
        if self.tries:
            self.ledger.check(records)
        else:
            self.ledger.append(records, reason=reason)

    def take_back(self, decision: SameAs, reason: str = "") -> None:
        """Let a decision count no more; one that is undone already stays so."""
        standing = self.ledger.get(SameAs, decision.id)
        if standing is not None and not standing.undone:
            self._keep([replace(standing, undone=True)], reason or "taken back")

    def own(self, found: Iterable["Decided"]) -> list[SameAs]:
        """Return those decisions that this tester made, the last first.

        Raises
        ------
        BadInput
            When there are none of this tester's, naming whose there are.
        """
        from qcledger.ledger.standing import whose

        rows, mine = list(found), whose(self.ledger.daybook)
        own = [one.row for one in reversed(rows) if one.tester == mine]
        if own:
            return own
        others = sorted({one.row.by for one in rows})
        if others:
            raise bad("--undo", f"a decision of {', '.join(others)}", "one of your own; a newer one of yours counts")
        raise bad("--undo", "nothing decided", "two that a decision is about; qcledger same-as lists them")


def decisions(ledger: "Ledger") -> list["Decided"]:
    """Return every decision that was not undone, in the order in which they were made."""
    from qcledger.ledger import identity

    with ledger.reading() as connection:
        return identity.decisions(connection)


def about(found: Iterable["Decided"], table: str, ids: Iterable[str], others: Iterable[str]) -> list["Decided"]:
    """Return the decisions about two: one among `ids`, one among `others`."""
    one, other = set(ids), set(others)
    return [
        each
        for each in found
        if each.row.subject_table == table
        and each.row.other is not None
        and ({each.row.subject, each.row.other} & one and {each.row.subject, each.row.other} & other)
    ]


def names_on(ledger: "Ledger", specimen: str) -> dict[str, str]:
    """Return the id of each thing that a specimen has a name of, by table: its maker, paint, range and seller."""
    from qcledger.ledger.identity import seller_id
    from qcledger.records import Parcel

    one = ledger.get(Specimen, specimen)
    paint = ledger.get(Paint, one.paint) if one else None
    parcel = ledger.get(Parcel, one.parcel) if one else None
    if paint is None or parcel is None:
        raise bad("specimen", specimen, "a specimen of this ledger")
    found = {Maker.TABLE: paint.maker, Paint.TABLE: paint.id, Range.TABLE: paint.range}
    return {table: id_ for table, id_ in {**found, Seller.TABLE: seller_id(parcel.seller)}.items() if id_}


@dataclass(frozen=True, slots=True)
class Candidate:
    """Another one of the same kind, and whether its spelling is near or was decided on: near, apart, or nothing."""

    one: "KnownName"
    near: bool
    apart: bool


def candidates(ledger: "Ledger", table: str, subject: str) -> tuple["KnownName", list[Candidate]]:
    """Return what a row counts as, and every other of its kind and maker, those with near spellings first.

    Raises
    ------
    BadInput
        When it is not there any more.
    """
    from qcledger.ledger.identity import who_is_who
    from qcledger.ledger.nearby import may_be_one, nearest

    known = who_is_who(ledger)
    every, head = known.all(table), known.one(table, subject)
    mine = next((one for one in every if one.id == head), None)
    if mine is None:
        raise bad(table, subject, f"a {table} of this ledger")
    others = nearest(mine.name, (one for one in every if one.id != head and one.maker == mine.maker))
    apart = known.apart(table)
    found = [Candidate(one, may_be_one(mine, one), frozenset((mine.id, one.id)) in apart) for one in others]
    return mine, sorted(found, key=lambda each: (each.apart, not each.near))


def renamings(ledger: "Ledger", one: "KnownName") -> list["Decided"]:
    """Return the decisions about what something is called."""
    found = decisions(ledger)
    return [each for each in found if each.row.kind is Sameness.CALLED and each.row.subject in one.members]


def decision_line(known: "Identity", row: SameAs) -> str:
    """Return a decision in one line: about what, who decided it when, and why."""
    names = {id_: name for one in known.all(row.subject_table) for id_, name in known.own_names(one).items()}
    other = row.name if row.kind is Sameness.CALLED else names.get(row.other or "", row.other)
    kind = f"{row.kind} as" if row.kind is Sameness.DIFFERENT else row.kind
    said = f"{row.subject_table} {names.get(row.subject, row.subject)} {kind} {other}"
    return f"{said}: {row.by}, {row.on}, {row.reason}"


def asked(near_: "Near") -> str:
    """Return the question about two near names."""
    maker = f"{near_.maker} " if near_.maker else ""
    return f"Are {worded(f'{near_.one.table}s')} {maker}{near_.one.name} and {maker}{near_.other.name} the same?"


def question(near_: "Near") -> str:
    """Return the question about two near names in one line, with the command that answers it."""
    maker = f"{near_.maker} " if near_.maker else ""
    command = f'qcledger same-as {worded(near_.one.table)} "{maker}{near_.one.name}" "{maker}{near_.other.name}"'
    return f"{asked(near_)} {command}, or with --not"
