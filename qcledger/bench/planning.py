"""From what a tester asks to a run sheet: codes, a balanced order, control, hidden repeats and due stages."""

import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, tzinfo
from typing import TYPE_CHECKING, Final

from qcledger.bench import codes
from qcledger.bench.begin import MOST_LINES, SheetPlan, session_of, sheet_of, stages_of
from qcledger.bench.chance import SeededDraws
from qcledger.bench.orders import TURNS, Balance, Item, Order, OrderAsked, Spot, arrange, balance, room_for_repeats
from qcledger.bench.poured import why_not_dried
from qcledger.clock import day_of
from qcledger.errors import bad
from qcledger.records import Preparation, Record, RunRow, Session, Specimen
from qcledger.vocab import USUALLY_BOUGHT, Blinding, BoughtAs, Role, Strength

if TYPE_CHECKING:
    from qcledger.rubric.pigments import Pigments
    from qcledger.rubric.working import Pouring

ONE_IN: Final = 10
"""One hidden repeat for every so many specimens (common practice, no source)."""
REST_EVERY: Final = 8
"""Places after which the eyes rest (common practice, no source)."""
REST_MINUTES: Final = 5
SEEDS: Final = 10**12
MOST_CODES: Final = 300
"""Codes of one plan, over its sheets; so many that none can be taken for another are always there."""
RULE: Final = 1
"""The version of the rules in `orders` and `codes`; a sheet is rebuilt only by those it was made with."""
_WEAK: Final = frozenset({Strength.VERY_SLIGHT, Strength.SLIGHT})


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """What is asked of a run sheet beyond a plain one.

    Parameters
    ----------
    plan
        What a plain sheet has; its specimens without the control.
    blinding
        How far the tester is kept from knowing; open sheets have no codes.
    criteria
        Keys of what is judged; none for everything.
    control
        The specimen that comes first and last.
    repeats
        Hidden repeats; None for one in ten.
    groups
        By specimen's id its place in the order of groups, weak colours first; empty where that is not asked.
    kinds
        By specimen's id what is spread evenly: its maker and format.
    testers
        Whose sheets they are, one for each; the same specimens come on every sheet.
    prepared
        By specimen's id its latest preparation.
    how_bought
        By format how it is bought.
    drying_days
        How long what was poured must have dried before it meets what is bought dry.
    pouring
        How the rubrics have things made ready so; None where they ask for nothing.
    although
        Why what has not dried is tested all the same.
    start
        When the first stage begins.
    zone
        The time zone the tester works in; None is this machine's.
    """

    plan: SheetPlan
    blinding: Blinding
    criteria: tuple[str, ...] = ()
    control: Specimen | None = None
    repeats: int | None = None
    groups: Mapping[str, int]
    kinds: Mapping[str, tuple[str, ...]]
    testers: tuple[str, ...]
    prepared: Mapping[str, Preparation]
    how_bought: Mapping[str, BoughtAs] = field(default_factory=lambda: USUALLY_BOUGHT)
    drying_days: int
    pouring: "Pouring | None" = None
    although: str = ""
    start: datetime
    zone: tzinfo | None = None

    @property
    def asked(self) -> OrderAsked:
        """What the order is asked to do."""
        items = tuple(self._item(one) for one in self.plan.specimens)
        control = self._item(self.control) if self.control else None
        return OrderAsked(items, control, self._repeats(items), len(self.testers))

    def _item(self, one: Specimen) -> Item:
        return Item(one.id, self.kinds.get(one.id, ()), self.groups.get(one.id, 0))

    def _repeats(self, items: Sequence[Item]) -> int:
        wanted = -(-len(items) // ONE_IN) if self.repeats is None else self.repeats
        return min(wanted, room_for_repeats(items))


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidOut:
    """A run sheet, or several, ready to be written.

    Parameters
    ----------
    records, reason
        What to append together, and the reason the entries carry.
    sessions
        The sessions among them.
    orders, balance
        The order of each sheet, and how even they are; None where nothing was drawn.
    """

    records: tuple[Record, ...]
    reason: str
    sessions: tuple[Session, ...]
    orders: tuple[Order, ...]
    balance: Balance | None


def as_given(wish: Wish, *, at: datetime, new_id: Callable[[], str]) -> LaidOut:
    """Return the records of the plain sheet of a wish that asks for nothing else: open, in the order of its plan.

    Nothing is drawn, so that it has no seed; its stages are due at no hour.

    Raises
    ------
    BadInput
        When what would meet dry ones has not dried and no reason is given.
    """
    reason = _dried(wish)
    session = replace(session_of(wish.plan, new_id(), at), note=reason)
    order = tuple(Spot(item, Role.SPECIMEN) for item in wish.asked.items)
    rows = _rows(wish, session, order, [""] * len(order), {}, new_id)
    records = (wish.plan.comparison, session, *rows)
    return LaidOut(records=records, reason=reason, sessions=(session,), orders=(order,), balance=None)


def lay_out(wish: Wish, *, seed: int, at: datetime, new_id: Callable[[], str]) -> LaidOut:
    """Return the records of the run sheets that answer a wish.

    Parameters
    ----------
    wish
        What is asked.
    seed
        Which of the sheets that answer it; from 0 up, below `SEEDS`.
    at
        When it is laid out (UTC).
    new_id
        Makes ids.

    Raises
    ------
    BadInput
        When there are too many places, the control is among the specimens, or a tube that would meet pans has not
        dried and no reason is given.
    """
    asked = wish.asked
    _check_size(asked)
    reason = _dried(wish)
    arranged, coded = made(asked, seed)
    records: list[Record] = [wish.plan.comparison]
    sessions = []
    for number, (order, names) in enumerate(zip(arranged, coded, strict=True)):
        session = _session(wish, number, new_id(), at, seed=seed, note=reason)
        sessions.append(session)
        due = {name: wish.start + after for name, after in wish.plan.due.items()}
        records += [session, *_rows(wish, session, order, names, due, new_id)]
    even = balance(asked, arranged, SeededDraws(seed + 1))
    return LaidOut(records=tuple(records), reason=reason, sessions=tuple(sessions), orders=arranged, balance=even)


def most_specimens(control: bool) -> int:
    """Return how many specimens a sheet takes beside its control and hidden repeats."""
    room = MOST_LINES - (2 if control else 0)
    return max(number for number in range(room + 1) if number + -(-number // ONE_IN) <= room)


def _check_size(asked: OrderAsked) -> None:
    places = _places(asked)
    if places > MOST_LINES:
        most = f"{MOST_LINES} places; {most_specimens(asked.control is not None)} specimens leave room for the rest"
        raise bad("specimens", f"{places} places with control and repeats", most)
    if asked.control and asked.control.specimen in {item.specimen for item in asked.items}:
        raise bad("control", "one of the specimens", "a specimen that is not judged on this sheet")
    if places * asked.sheets > MOST_CODES:
        raise bad("testers", f"{asked.sheets} sheets of {places} places", f"at most {MOST_CODES} places in all")


def _places(asked: OrderAsked) -> int:
    return len(asked.items) + asked.repeats + (2 if asked.control else 0)


def _dried(wish: Wish) -> str:
    """Return the reason why what has not dried is tested; empty where nothing such is."""
    on_sheet = [*wish.plan.specimens, *([wish.control] if wish.control else [])]
    day = day_of(wish.start, wish.zone)
    return why_not_dried(on_sheet, wish.prepared, day, wish.drying_days, wish.pouring, wish.although, wish.how_bought)


def _session(wish: Wish, number: int, id_: str, at: datetime, *, seed: int, note: str) -> Session:
    several = len(wish.testers) > 1
    code = f"{wish.plan.code}.{number + 1}" if several else wish.plan.code
    plan = replace(wish.plan, code=code, tester=wish.testers[number])
    return replace(
        session_of(plan, id_, at),
        blinding=wish.blinding,
        note=note,
        criteria=wish.criteria,
        seed=seed,
        plan=_kept(wish.asked, number),
    )


def _rows(
    wish: Wish,
    session: Session,
    order: Order,
    names: Sequence[str],
    due: Mapping[str, datetime],
    new_id: Callable[[], str],
) -> list[Record]:
    sheet = sheet_of(wish.plan, new_id(), session)
    rows = []
    for position, (spot, name) in enumerate(zip(order, names, strict=True), 1):
        prepared = wish.prepared.get(spot.item.specimen)
        rows.append(
            RunRow(
                id=new_id(),
                session=session.id,
                sheet=sheet.id,
                position=position,
                specimen=spot.item.specimen,
                preparation=prepared.id if prepared else None,
                code=name if wish.blinding is not Blinding.OPEN else None,
                role=spot.role,
            )
        )
    return [sheet, *stages_of(wish.plan, session, new_id, due), *rows]


# The seed rebuilds the sheet


def made(asked: OrderAsked, seed: int, *, turns: int = TURNS) -> tuple[tuple[Order, ...], list[tuple[str, ...]]]:
    """Return the orders and codes of a seed; what the codes stand for plays no part in drawing them."""
    chance = SeededDraws(seed)
    names = list(codes.draw(asked.sheets * _places(asked), chance))
    arranged = arrange(asked, chance, turns=turns)
    return arranged, [tuple(names.pop() for _ in order) for order in arranged]


def _kept(asked: OrderAsked, number: int) -> str:
    """Return what was asked, and which of its sheets this is, as one line of JSON."""
    return json.dumps(
        {
            "rule": RULE,
            "items": [[item.specimen, list(item.kinds), item.group] for item in asked.items],
            "control": [asked.control.specimen, list(asked.control.kinds)] if asked.control else None,
            "repeats": asked.repeats,
            "sheets": asked.sheets,
            "sheet": number,
        },
        separators=(",", ":"),
    )


@dataclass(frozen=True, slots=True)
class Rebuilt:
    """A run sheet made anew from its session's seed and plan."""

    asked: OrderAsked
    orders: tuple[Order, ...]
    sheet: int
    codes: tuple[str, ...]

    def agrees(self, rows: Iterable[RunRow]) -> bool:
        """Say whether a session's rows are as rebuilt: specimen, role and code at each place."""
        made = [
            (place, spot.item.specimen, spot.role, code)
            for place, (spot, code) in enumerate(zip(self.orders[self.sheet], self.codes, strict=True), 1)
        ]
        found = sorted((row.position, row.specimen, row.role, row.code) for row in rows)
        bare = all(row[3] is None for row in found)  # an open sheet has no codes
        return found == sorted((*row[:3], None) if bare else row for row in made)


def rebuild(session: Session) -> Rebuilt:
    """Return a session's run sheet, made anew from its seed.

    Raises
    ------
    BadInput
        When it was not planned, or by other rules than this version's.
    """
    if session.seed is None:
        raise bad(f"session {session.code}", "no seed", "a session that was planned")
    kept = json.loads(session.plan)
    if kept["rule"] != RULE:
        raise bad(f"session {session.code}", f"rule {kept['rule']}", f"a sheet made by rule {RULE} of this version")
    control = Item(kept["control"][0], tuple(kept["control"][1])) if kept["control"] else None
    items = tuple(Item(specimen, tuple(kinds), group) for specimen, kinds, group in kept["items"])
    asked = OrderAsked(items, control, kept["repeats"], kept["sheets"])
    arranged, coded = made(asked, session.seed)
    return Rebuilt(asked, arranged, kept["sheet"], coded[kept["sheet"]])


def balance_of(session: Session) -> Balance | None:
    """Return how even the order of a session's sheet is; None when it was not planned."""
    if session.seed is None:
        return None
    rebuilt = rebuild(session)
    return balance(rebuilt.asked, rebuilt.orders, SeededDraws(session.seed + 1))


# Weak colours first


def group_of(index_names: Iterable[str], reference: "Pigments") -> int:
    """Return 0 for a paint whose pigments all tint weakly by the reference, else 1; so for one nobody knows.

    A paint of unknown strength comes with the strong ones: among the weak ones it could spoil those after it.
    """
    found = [reference.find(name) for name in index_names]
    weak = [pigment is not None and bool(pigment.strength) and set(pigment.strength) <= _WEAK for pigment in found]
    return 0 if weak and all(weak) else 1


def rests(places: int) -> tuple[int, ...]:
    """Return the places after which the eyes rest."""
    return tuple(range(REST_EVERY, places, REST_EVERY))
