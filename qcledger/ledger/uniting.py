"""Which of many names are one: equal spellings unite by themselves, and testers' decisions unite or keep apart.

The rules, each with one answer whatever the order in which daybooks were merged:

- Equal spellings, case and blanks aside, are one, unless a decision keeps just these two apart.
- Of several decisions about one pair the last counts, in the order of the entries; newer decisions are heard before
  older ones, and one that contradicts those heard already is passed over and told.
- A group counts as a member that was never declared the same as another one; of several such, as the smallest id.
- It is called by that member's name, or as the last decision says that it is called now.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from qcledger.records import SameAs
from qcledger.text import same_name
from qcledger.vocab import Sameness

Pair = frozenset[str]


@dataclass(frozen=True, slots=True)
class SpelledRow:
    """A row that has a name.

    Parameters
    ----------
    id, name
        Its id and what it is called.
    within
        What it must share with another to be the same, as a paint its maker.
    maybe
        What it must share where both say it, as a paint's number; None where it says nothing.
    """

    id: str
    name: str
    within: tuple[str, ...] = ()
    maybe: tuple[str | None, ...] = ()


@dataclass(frozen=True, slots=True)
class Decided:
    """A decision that was not undone, and whose it is (`standing.whose`)."""

    row: SameAs
    tester: str

    @property
    def pair(self) -> Pair:
        """Return what it is about; one id for what something is called."""
        return frozenset((self.row.subject, self.row.other or self.row.subject))


@dataclass(frozen=True, slots=True)
class UnitedRows:
    """Rows that count as one.

    Parameters
    ----------
    head
        The id they count as.
    name
        What they are called.
    members
        Every id, the head first.
    names
        Every spelling they ever had, the one shown first.
    """

    head: str
    name: str
    members: tuple[str, ...]
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class United:
    """The groups of one table by the id of each member, those of one member and one name left out.

    `against` holds the decisions that do not count because others, newer ones, say something else.
    """

    groups: Mapping[str, UnitedRows]
    against: tuple[Decided, ...] = ()


@dataclass(slots=True)
class _Sets:
    """Sets of ids that are united two by two (R. E. Tarjan, 1975)."""

    above: dict[str, str] = field(default_factory=dict)

    def of(self, one: str) -> str:
        root = one
        while (up := self.above.get(root, root)) != root:
            root = up
        while (up := self.above.get(one, one)) != root:
            self.above[one], one = root, up
        return root

    def unite(self, one: str, other: str) -> None:
        first, last = sorted((self.of(one), self.of(other)))
        self.above[last] = first

    def pair(self, ids: Iterable[str]) -> Pair:
        return frozenset(map(self.of, ids))


def unite(rows: Sequence[SpelledRow], decided: Sequence[Decided]) -> United:
    """Return which rows of one table are one.

    Parameters
    ----------
    rows
        Every row of the table.
    decided
        The decisions about this table that stand, in the order of the entries. Those about rows that are not there,
        or that could never be one because they are within different things, decide nothing.
    """
    by_id = {row.id: row for row in rows}
    called = [one for one in decided if one.row.kind is Sameness.CALLED and one.row.subject in by_id]
    firm = [one for one in decided if one.row.kind is not Sameness.CALLED and _holds(one.row, by_id)]
    spellings: dict[str, list[str]] = defaultdict(list)
    for one in called:
        spellings[one.row.subject].append(one.row.name or "")
    sets = _Sets()
    _unite_spellings(rows, spellings, _apart(firm), sets)
    same, against = _heard(firm, sets)
    groups = dict(_groups(by_id, sets, same, called))
    return United(groups, (*against, *_renamed_twice(called, groups)))


def _holds(row: SameAs, by_id: Mapping[str, SpelledRow]) -> bool:
    one, other = by_id.get(row.subject), by_id.get(row.other or "")
    return one is not None and other is not None and one.id != other.id and one.within == other.within


def _apart(firm: Iterable[Decided]) -> set[Pair]:
    """Return the pairs whose last decision keeps them apart."""
    last = {one.pair: one.row.kind for one in firm}
    return {pair for pair, kind in last.items() if kind is Sameness.DIFFERENT}


# Equal spellings


def _unite_spellings(
    rows: Iterable[SpelledRow], spellings: Mapping[str, Sequence[str]], apart: set[Pair], sets: _Sets
) -> None:
    alike: dict[tuple[tuple[str, ...], str], list[SpelledRow]] = defaultdict(list)
    for row in rows:
        for form in {same_name(name) for name in (row.name, *spellings.get(row.id, ()))}:
            alike[row.within, form].append(row)
    for _, found in sorted(pair for pair in alike.items() if len(pair[1]) > 1):
        for twins in _twins(found):
            _join(sorted(twins), apart, sets)


def _twins(rows: Sequence[SpelledRow]) -> Iterator[list[str]]:
    """Yield the ids of the rows that are one by what they may share.

    Where a row says nothing, it may be the same as one that does; where it may then be either of two that are not
    the same, it is neither.
    """
    kinds: dict[tuple[str | None, ...], list[str]] = defaultdict(list)
    for row in rows:
        kinds[row.maybe].append(row.id)
    fitting = {one: frozenset(other for other in kinds if _may_be(one, other)) for one in kinds}
    together: dict[frozenset[tuple[str | None, ...]], list[str]] = defaultdict(list)
    for kind, ids in kinds.items():
        together[fitting[kind]] += ids
    yield from together.values()


def _may_be(one: Iterable[str | None], other: Iterable[str | None]) -> bool:
    return all(mine == theirs or mine is None or theirs is None for mine, theirs in zip(one, other, strict=True))


def _join(ids: Sequence[str], apart: set[Pair], sets: _Sets) -> None:
    """Unite the ids but for those kept apart; each goes to the first it may go to."""
    parts: list[list[str]] = []
    for one in ids:
        part = next((part for part in parts if not any(frozenset((one, other)) in apart for other in part)), None)
        if part is None:
            parts.append([one])
        else:
            sets.unite(part[0], one)
            part.append(one)


# Decisions


def _heard(firm: Sequence[Decided], sets: _Sets) -> tuple[list[Decided], list[Decided]]:
    """Unite what was decided to be one; returns the decisions that unite, newest first, and those that do not count.

    One that closes a circle, as of three that are each said to be the next one, unites and names nothing.
    """
    spelled = {one: sets.of(one) for decision in firm for one in decision.pair}
    pair_of = {id(one): frozenset(spelled[side] for side in one.pair) for one in firm}
    order = {id(one): place for place, one in enumerate(firm)}
    last = {pair_of[id(one)]: one for one in firm}
    of_tester = {(pair_of[id(one)], one.tester): one for one in firm}
    against = [one for (pair, _), one in of_tester.items() if not _agree(one, last[pair], spelled)]
    same: list[Decided] = []
    different: list[Pair] = []
    to: dict[str, set[str]] = defaultdict(set)
    for one in sorted(last.values(), key=lambda one: order[id(one)], reverse=True):
        pair = sets.pair(one.pair)
        if one.row.kind is Sameness.DIFFERENT:
            if len(pair) > 1:
                different.append(one.pair)
            else:
                against.append(one)
        elif len(pair) > 1 and pair in map(sets.pair, different):
            against.append(one)
        else:
            sets.unite(*sorted(one.pair))
            subject, other = spelled[one.row.subject], spelled[one.row.other or ""]
            if subject != other and _leads(other, subject, to):
                against.append(one)
            else:
                to[subject].add(other)
                same.append(one)
    return same, sorted(against, key=lambda one: order[id(one)])


def _agree(one: Decided, other: Decided, spelled: Mapping[str, str]) -> bool:
    """Say whether two decisions about one pair say the same, also in which of two names is to be shown."""
    if one.row.kind is not other.row.kind:
        return False
    return one.row.kind is Sameness.DIFFERENT or spelled[one.row.subject] == spelled[other.row.subject]


def _renamed_twice(called: Sequence[Decided], groups: Mapping[str, UnitedRows]) -> Iterator[Decided]:
    """Yield what a tester says something is called now, where another tester's later word counts."""
    last: dict[tuple[str, str], Decided] = {(one.row.subject, one.tester): one for one in called}
    for one in last.values():
        said = {other.row.name for other in last.values() if other.row.subject == one.row.subject}
        group = groups.get(one.row.subject)
        if len(said) > 1 and group is not None and same_name(group.name) != same_name(one.row.name or ""):
            yield one


# Groups


def _groups(
    by_id: Mapping[str, SpelledRow], sets: _Sets, same: Sequence[Decided], called: Sequence[Decided]
) -> Iterator[tuple[str, UnitedRows]]:
    members: dict[str, set[str]] = defaultdict(set)
    for one in (*sets.above, *(one.row.subject for one in called)):
        members[sets.of(one)] |= {one, sets.of(one)}
    moved: dict[str, list[SameAs]] = defaultdict(list)
    for decided in same:
        moved[sets.of(decided.row.subject)].append(decided.row)
    renamed: dict[str, list[SameAs]] = defaultdict(list)
    for decided in called:
        renamed[sets.of(decided.row.subject)].append(decided.row)
    for root, ids in members.items():
        group = _group({one: by_id[one] for one in sorted(ids)}, moved[root], renamed[root])
        yield from ((one, group) for one in ids)


def _group(rows: Mapping[str, SpelledRow], moved: Sequence[SameAs], renamed: Sequence[SameAs]) -> UnitedRows:
    """Return the group of rows, in the order of their ids; `moved` newest first, `renamed` oldest first."""
    form = {one: same_name(row.name) for one, row in rows.items()}
    links = [(row.subject, row.other or "") for row in moved]
    shown = _unmoved(form.values(), [(form[one], form[other]) for one, other in links])
    ids = [one for one in rows if form[one] in shown]
    staying = _unmoved(ids, [(one, other) for one, other in links if form[one] == form[other]])
    head = min(staying)
    now = [row.name or "" for row in renamed if row.subject in ids]
    name = now[-1] if now else rows[head].name
    earlier = (row.name or "" for row in renamed)
    names = dict.fromkeys((name, rows[head].name, *(row.name for row in rows.values()), *earlier))
    return UnitedRows(head, name, (head, *(one for one in rows if one != head)), tuple(names))


def _unmoved(nodes: Iterable[str], links: Iterable[tuple[str, str]]) -> set[str]:
    """Return the nodes from which no link leads away; a link that would close a circle is none."""
    to: dict[str, set[str]] = defaultdict(set)
    for one, other in links:
        if one != other and not _leads(other, one, to):
            to[one].add(other)
    return {node for node in nodes if not to.get(node)}


def _leads(start: str, goal: str, to: Mapping[str, set[str]]) -> bool:
    seen, wanted = set(), [start]
    while wanted:
        one = wanted.pop()
        if one == goal:
            return True
        if one not in seen:
            seen.add(one)
            wanted += to.get(one, ())
    return False
