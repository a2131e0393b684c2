"""Balanced orders: exact Williams squares where nothing else is asked, else the best of a seeded search."""

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, NamedTuple

from qcledger.bench.chance import SeededDraws
from qcledger.vocab import Role

APART: Final = 5
"""Places a hidden repeat stands at least after its specimen (common practice, no source)."""
TURNS: Final = 400
"""Exchanges tried from each start of the search."""
STARTS: Final = 40
"""Starts of the search at most; a sheet of n specimens gets `STARTED` / n, so that all take about as long."""
STARTED: Final = 480


@dataclass(frozen=True, slots=True)
class Item:
    """One specimen as the order knows it.

    Parameters
    ----------
    specimen
        Its id.
    kinds
        What shall be spread evenly, as its maker and format; only whether two are the same counts.
    group
        Groups follow each other in rising order: 0 for the weak colours, 1 for the strong ones.
    """

    specimen: str
    kinds: tuple[str, ...] = ()
    group: int = 0


@dataclass(frozen=True, slots=True)
class OrderAsked:
    """What an order is asked to do.

    Parameters
    ----------
    items
        The specimens, each once.
    control
        What comes first and last on each sheet, if anything.
    repeats
        How many hidden repeats each sheet has.
    sheets
        How many sheets the same specimens come on, each in an order of its own.
    """

    items: tuple[Item, ...]
    control: Item | None = None
    repeats: int = 0
    sheets: int = 1

    @property
    def is_free(self) -> bool:
        """Whether nothing but balance is asked."""
        return not self.control and not self.repeats and len({item.group for item in self.items}) <= 1


class Spot(NamedTuple):
    """One place of an order."""

    item: Item
    role: Role


Order = tuple[Spot, ...]


def arrange(asked: OrderAsked, chance: SeededDraws, *, turns: int = TURNS) -> tuple[Order, ...]:
    """Return an order for each sheet.

    Several sheets of the same specimens with nothing else asked come from Williams squares: exact whenever their
    number is a multiple of the square's (`williams`), else some of its rows. Otherwise exchanges of two places are
    tried `turns` times from each of a few random starts, and the order with the least `imbalance` is kept.
    """
    if asked.is_free and asked.sheets > 1:
        return _from_squares(asked, chance)
    best = _search(asked, chance, turns)
    for _ in range(1, min(STARTS, STARTED // len(asked.items))):
        if not imbalance(best):
            break
        best = min(best, _search(asked, chance, turns), key=imbalance)
    return best


# Williams squares


def williams(number: int) -> tuple[tuple[int, ...], ...]:
    """Return orders of 0 to `number` - 1 in which each follows each other equally often and has each place equally.

    For an even number as many orders as things, each ordered pair side by side once; for an odd number twice as
    many, each pair twice. Williams 1949, Australian Journal of Scientific Research A 2:149-168: the first row is
    0, 1, k-1, 2, k-2, ...; the others add 1 modulo k; for odd k each row comes reversed too.
    """
    first = [0, *((step + 1) // 2 if step % 2 else number - step // 2 for step in range(1, number))]
    rows = [tuple((one + add) % number for one in first) for add in range(number)]
    return tuple(rows + [row[::-1] for row in rows] if number % 2 else rows)


def _from_squares(asked: OrderAsked, chance: SeededDraws) -> tuple[Order, ...]:
    square = williams(len(asked.items))
    rows: list[tuple[int, ...]] = []
    while len(rows) < asked.sheets:
        rows += chance.shuffled(square)
    names = chance.shuffled(asked.items)
    return tuple(tuple(Spot(names[one], Role.SPECIMEN) for one in row) for row in rows[: asked.sheets])


# Search


def _search(asked: OrderAsked, chance: SeededDraws, turns: int) -> tuple[Order, ...]:
    """Return the best orders that exchanges of two places lead to from one random start."""
    middles = [_start(asked, chance) for _ in range(asked.sheets)]
    best = imbalance(_sheets(asked, middles))
    for _ in range(turns if best else 0):
        middle = middles[chance.below(len(middles))]
        one = chance.below(len(middle))
        own = [place for place, item in enumerate(middle) if item.group == middle[one].group]
        other = own[chance.below(len(own))]
        middle[one], middle[other] = middle[other], middle[one]
        found = imbalance(_sheets(asked, middles)) if _is_apart(middle) else None
        if found is None or found > best:
            middle[one], middle[other] = middle[other], middle[one]
        else:
            best = found
    return _sheets(asked, middles)


def _start(asked: OrderAsked, chance: SeededDraws) -> list[Item]:
    """Return the specimens and repeats of one sheet in random order within their groups, repeats far enough apart."""
    again = _repeated(asked, chance)
    groups = sorted({item.group for item in asked.items})
    own = [[item for item in (*asked.items, *again) if item.group == group] for group in groups]
    while True:
        middle = [item for group in own for item in chance.shuffled(group)]
        if _is_apart(middle):
            return middle


def room_for_repeats(items: Sequence[Item]) -> int:
    """Return how many hidden repeats fit: in each group one for every five specimens."""
    return sum(size // APART for size in Counter(item.group for item in items).values())


def _repeated(asked: OrderAsked, chance: SeededDraws) -> list[Item]:
    """Return which specimens come again, drawn at random, no more of a group than it has room for."""
    room = {group: size // APART for group, size in Counter(item.group for item in asked.items).items()}
    found: list[Item] = []
    for item in chance.shuffled(asked.items):
        if len(found) < asked.repeats and room[item.group]:
            room[item.group] -= 1
            found.append(item)
    return found


def _is_apart(middle: Sequence[Item]) -> bool:
    first: dict[str, int] = {}
    away = (place - first.setdefault(item.specimen, place) for place, item in enumerate(middle))
    return all(places == 0 or places >= APART for places in away)


def _sheets(asked: OrderAsked, middles: Sequence[Sequence[Item]]) -> tuple[Order, ...]:
    return tuple(tuple(_spots(asked, middle)) for middle in middles)


def _spots(asked: OrderAsked, middle: Sequence[Item]) -> Iterator[Spot]:
    """Yield the places of a sheet; of a specimen that comes twice the later place is the repeat."""
    ends = [Spot(asked.control, Role.CONTROL)] if asked.control else []
    yield from ends
    seen: set[str] = set()
    for item in middle:
        yield Spot(item, Role.REPEAT if item.specimen in seen else Role.SPECIMEN)
        seen.add(item.specimen)
    yield from ends


# Balance


def imbalance(orders: Sequence[Order]) -> float:
    """Return how far orders are from an even mix; 0 is even.

    For each kind (maker, format; each specimen too where there are several sheets) the sum of two chi-squares:
    of how often each follows each, against an even mix, and of the sum of each one's distances from the middle of
    its group, against what chance would make of it. A shuffle without care has about as much as there are pairs.
    """
    keys = range(len(orders[0][0].item.kinds)) if orders and orders[0] else ()
    told = [[[spot.item.kinds[key] for spot in order] for order in orders] for key in keys]
    if len(orders) > 1:
        told.append([[spot.item.specimen for spot in order] for order in orders])
    return sum(_following(names) + _placing(names, orders) for names in told)


def _following(sheets: Sequence[Sequence[str]]) -> float:
    """Return the chi-square of how often each follows each."""
    size = Counter(name for sheet in sheets for name in sheet)
    follows = Counter(pair for sheet in sheets for pair in pairwise(sheet))
    both, pairs = sum(size.values()), sum(follows.values())
    if len(size) < 2 or not pairs:
        return 0.0
    even = pairs / (both * (both - 1))
    # Where a pair never follows, its share of the chi-square is what was expected; the sum of all that is `pairs`.
    met = ((seen, even * size[a] * (size[b] - (a == b))) for (a, b), seen in follows.items())
    return sum((seen * seen / expected - 2 * seen) if expected else 0.0 for seen, expected in met) + pairs


def _placing(names: Sequence[Sequence[str]], orders: Sequence[Order]) -> float:
    """Return the chi-square of how far each lies from the middle of its group."""
    away: dict[str, float] = defaultdict(float)
    spread: dict[str, float] = defaultdict(float)
    for sheet, order in zip(names, orders, strict=True):
        for name, (distance, variance) in zip(sheet, _distances(order), strict=True):
            away[name] += distance
            spread[name] += variance
    return sum(away[name] ** 2 / spread[name] for name in away if spread[name])


def _distances(order: Order) -> Iterator[tuple[float, float]]:
    """Yield each place's distance from the middle of its group, and the variance of a random place there."""
    groups = [None if spot.role is Role.CONTROL else spot.item.group for spot in order]
    ends = {group: (groups.index(group), groups.count(group)) for group in groups if group is not None}
    for place, group in enumerate(groups):
        if group is None:
            yield 0.0, 0.0
        else:
            first, size = ends[group]
            yield place - first - (size - 1) / 2, (size * size - 1) / 12


@dataclass(frozen=True, slots=True)
class Balance:
    """How even an order is, in figures that name nothing.

    Parameters
    ----------
    imbalance, shuffled
        That of the order, and the mean of random orders that keep the same rules.
    exact
        Whether each specimen follows each other equally often and has each place equally often.
    side_by_side
        How often a place is followed by one of the same maker.
    """

    imbalance: float
    shuffled: float
    exact: bool
    side_by_side: int


SHUFFLES: Final = 40


def balance(asked: OrderAsked, orders: Sequence[Order], chance: SeededDraws) -> Balance:
    """Return how even orders are, beside random ones that keep the same rules."""
    random = [imbalance(_sheets(asked, [_start(asked, chance) for _ in orders])) for _ in range(SHUFFLES)]
    makers = [[spot.item.kinds[0] for spot in order if spot.item.kinds] for order in orders]
    return Balance(
        imbalance=imbalance(orders),
        shuffled=sum(random) / SHUFFLES,
        exact=asked.is_free and _is_even(orders),
        side_by_side=sum(one == other for sheet in makers for one, other in pairwise(sheet)),
    )


def _is_even(orders: Sequence[Order]) -> bool:
    names = [[spot.item.specimen for spot in order] for order in orders]
    follows = Counter(pair for sheet in names for pair in pairwise(sheet))
    number = len(names[0])
    return len(follows) == number * (number - 1) and len(set(follows.values())) == 1 and len(names) > 1
