"""What to buy next: ways to settle findings, at prices on file, and the plan that a budget buys.

Pure: findings and prices in, errands out. One purchase may answer several questions: a pan is tested on every
criterion. A plan takes one errand at most of those that buy more or less of the same thing.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import NamedTuple

from qcledger.findings.chances import WantedPieces, Way, named_only, ways
from qcledger.findings.finding import Finding
from qcledger.findings.lots import TestedLot
from qcledger.findings.settle import Buy, purchases
from qcledger.records import Piece
from qcledger.stats.budget import Choice, best_choices
from qcledger.vocab import Occasion

PaintOf = tuple[str, str]
"""A paint's id and a format."""
Basket = tuple[WantedPieces, ...]
"""What one way to settle a finding buys."""


class LastPrice(NamedTuple):
    """What one piece cost last at one seller.

    Parameters
    ----------
    minor
        In the smallest coin of the currency that is planned in.
    seller, bought_on
        Where and when.
    paid
        As it was paid, in words: ``7.90 EUR``.
    rate
        The rate it was converted by, in words; empty where it was not.
    """

    minor: int
    seller: str
    bought_on: date
    paid: str
    rate: str = ""


@dataclass(frozen=True, slots=True)
class ErrandLine:
    """So many of one paint at the price of the last one; `other_seller` where none on file will do.

    `alike` is 0, or how many prices of other makers' paints a middle one was taken of; then no paint is named.
    """

    paint: str
    pieces: WantedPieces
    count: int
    price: LastPrice
    other_seller: bool
    alike: int = 0


class Answer(NamedTuple):
    """A question that a purchase may settle, and how."""

    finding: Finding
    way: Way


@dataclass(frozen=True, slots=True)
class Errand:
    """One purchase and what it may settle.

    Parameters
    ----------
    lines
        What is bought.
    answers
        The questions, the likeliest to be settled first.
    """

    lines: tuple[ErrandLine, ...]
    answers: tuple[Answer, ...]

    @property
    def cost(self) -> int:
        """What it costs by the prices on file, in the smallest coin."""
        return sum(line.count * line.price.minor for line in self.lines)

    @property
    def hoped(self) -> float:
        """How many questions it settles on average."""
        return sum(answer.way.chance for answer in self.answers)

    @property
    def pieces(self) -> int:
        """How many pieces are bought."""
        return sum(line.count for line in self.lines)


@dataclass(frozen=True, slots=True)
class Unlooked:
    """Pieces that are here and were not looked at: nothing has to be bought for them."""

    finding: Finding
    pieces: tuple[Piece, ...]


class NotForeseen(NamedTuple):
    """A question whose chance cannot be foreseen, and about what that it asks for costs, in the smallest coin.

    0 where nothing has to be bought; None where a price is not on file, as that of an analysis.
    """

    finding: Finding
    about: int | None


class Together(NamedTuple):
    """What is compared only when it is unpacked within `NEAR` of each other.

    Parameters
    ----------
    format
        Its format.
    makers
        Names of the makers of what the plan buys of it.
    pieces
        Pieces of other makers that are here and were not unpacked for it yet.
    """

    format: str
    makers: tuple[str, ...]
    pieces: tuple[Piece, ...]


@dataclass(frozen=True, slots=True)
class ShoppingPlan:
    """What a budget buys.

    Parameters
    ----------
    budget
        In the smallest coin of the currency planned in.
    look
        What to look at first.
    taken
        The errands that are worth most together within the budget.
    others
        The best errand of each other kind, those that settle most for the money first.
    no_price, not_foreseen
        Questions for whose purchases no price is on file; those for which no chance can be foreseen.
    """

    budget: int
    look: tuple[Unlooked, ...]
    taken: tuple[Errand, ...]
    others: tuple[Errand, ...]
    no_price: tuple[Finding, ...]
    not_foreseen: tuple[NotForeseen, ...]

    @property
    def together(self) -> tuple[Together, ...]:
        """What of the plan is to be unpacked together, and what is here to be unpacked with it."""
        asked = [
            answer.finding
            for errand in self.taken
            for answer in errand.answers
            if answer.finding.criterion.seen_at is Occasion.UNPACKING
        ]
        return tuple(_together(format_, asked) for format_ in dict.fromkeys(str(one.format) for one in asked))

    @property
    def spent(self) -> int:
        """What the plan costs."""
        return sum(errand.cost for errand in self.taken)

    @property
    def hoped(self) -> float:
        """How many questions it settles on average."""
        return sum(errand.hoped for errand in self.taken)


def plan(
    findings: Iterable[Finding],
    prices: Mapping[PaintOf, Sequence[LastPrice]],
    budget: int,
    go_on: Callable[[], None] = lambda: None,
) -> ShoppingPlan:
    """Return what to look at, what to buy within a budget, and what else there is.

    Parameters
    ----------
    findings
        Of a whole ledger or a comparison.
    prices
        The last price at each seller, the newest first, of each paint and format.
    budget
        What may be spent, in the smallest coin, at least 0.
    go_on
        Asked before each finding; what it raises ends the work.
    """
    asked: list[tuple[Finding, tuple[Way, ...]]] = []
    for finding in findings:
        go_on()
        asked.append((finding, ways(finding)))
    groups = _grouped([(finding, some) for finding, some in asked if some], prices)
    table = [[Choice(max(one.cost, 1), one.hoped) for one in group] for group in groups]
    places = best_choices(table, budget)
    taken = [group[place] for group, place in zip(groups, places, strict=True) if place is not None]
    left = [max(group, key=_worth) for group, place in zip(groups, places, strict=True) if place is None]
    priced = {id(answer.finding) for group in groups for errand in group for answer in errand.answers}
    return ShoppingPlan(
        budget,
        tuple(_look(asked)),
        tuple(sorted(taken, key=_worth, reverse=True)),
        tuple(sorted(left, key=_worth, reverse=True)),
        tuple(finding for finding, some in asked if some and id(finding) not in priced),
        tuple(
            NotForeseen(finding, _about(finding, prices))
            for finding, some in asked
            if not some and named_only(finding)
        ),
    )


def _together(format_: str, asked: Sequence[Finding]) -> Together:
    own = [one for one in asked if str(one.format) == format_]
    makers = {one.maker for one in own}
    here = {
        piece.specimen: piece
        for one in own
        if one.stock
        for piece in one.stock.pieces
        if piece.to_hand
        and piece.format == one.format
        and piece.maker not in makers
        and piece in one.stock.unseen(one.criterion.key, piece.maker, piece.format)
    }
    return Together(format_, tuple(dict.fromkeys(one.maker_name for one in own)), tuple(here.values()))


_OF_OTHERS = (Buy.PEERS, Buy.MORE_MAKERS, Buy.UNPACKED_PEERS)
_NOTHING = (Buy.SESSION, Buy.TOGETHER, Buy.UNPACKED_TOGETHER)


def _about(finding: Finding, prices: Mapping[PaintOf, Sequence[LastPrice]]) -> int | None:
    """Return about what a finding's purchases cost: its own paints at the least, others' at the middle on file."""
    own = _known(finding.lots, finding, prices)
    others = _known(finding.field.peers(finding.lots), finding, prices)
    total = 0
    for one in purchases(finding):
        if one.what in _NOTHING:
            continue
        known = others if one.what in _OF_OTHERS else own
        if one.what is Buy.ANALYSIS or not known or not one.number:
            return None
        price = _middle(known).minor if one.what in _OF_OTHERS else min(each.minor for each in known)
        total += price * one.number * (2 if one.what is Buy.LOTS_OF_PAINT else 1)  # two specimens of each
    return total


def _known(
    lots: Iterable[TestedLot], finding: Finding, prices: Mapping[PaintOf, Sequence[LastPrice]]
) -> list[LastPrice]:
    """Return the last price on file of each paint of some lots in a finding's format."""
    places = dict.fromkeys((lot.row.paint, str(finding.format)) for lot in lots)
    return [prices[place][0] for place in places if prices.get(place)]


def _middle(known: Sequence[LastPrice]) -> LastPrice:
    """Return the middle one of some prices, the lower of two."""
    return sorted(known, key=lambda one: one.minor)[(len(known) - 1) // 2]


def best_errand(finding: Finding, prices: Mapping[PaintOf, Sequence[LastPrice]]) -> Errand | None:
    """Return the errand that is likeliest to settle one finding for the money; None where none can be foreseen."""
    groups = _grouped([(finding, ways(finding))], prices)
    return max((errand for group in groups for errand in group), key=_worth, default=None)


def _worth(errand: Errand) -> float:
    """Return how many questions an errand settles for a coin."""
    return errand.hoped / max(errand.cost, 1)


def _grouped(
    asked: Iterable[tuple[Finding, Sequence[Way]]], prices: Mapping[PaintOf, Sequence[LastPrice]]
) -> list[list[Errand]]:
    """Return errands in groups of those that buy more or less of the same thing; each question is in one group."""
    baskets: dict[frozenset[object], dict[Basket, list[Answer]]] = defaultdict(lambda: defaultdict(list))
    lines: dict[Basket, tuple[ErrandLine, ...]] = {}
    for finding, some in asked:
        for way in some:
            if way.pieces not in lines:
                lines[way.pieces] = _lines(way.pieces, prices)
        priced = [way for way in some if lines[way.pieces]]
        if not priced:
            continue
        best = max(priced, key=lambda way: _worth(Errand(lines[way.pieces], (Answer(finding, way),))))
        kind = _kind(best.pieces)
        for way in priced:
            if _kind(way.pieces) == kind:
                baskets[kind][way.pieces].append(Answer(finding, way))
    return [
        [
            Errand(lines[pieces], tuple(sorted(answers, key=_chance, reverse=True)))
            for pieces, answers in group.items()
        ]
        for group in baskets.values()
    ]


def _chance(answer: Answer) -> float:
    return answer.way.chance


def _kind(pieces: Iterable[WantedPieces]) -> frozenset[object]:
    return frozenset((one.paints, one.format, one.confirms, one.lot, one.not_from, one.alike) for one in pieces)


def _lines(basket: Sequence[WantedPieces], prices: Mapping[PaintOf, Sequence[LastPrice]]) -> tuple[ErrandLine, ...]:
    """Return what a basket is bought as; empty where a price is missing."""
    found: list[ErrandLine] = []
    for pieces in basket:
        if pieces.alike:
            found += _of_others(pieces, prices)
            continue
        known = [line for paint in pieces.paints if (line := _cheapest(paint, pieces, prices)) is not None]
        if not known:
            return ()
        known.sort(key=lambda line: (line.other_seller, line.price.minor, line.paint))
        times, rest = divmod(pieces.count, len(known))
        counted = [replace(line, count=times + (place < rest)) for place, line in enumerate(known)]
        found += [line for line in counted if line.count]
    return tuple(found) if all(any(line.pieces is one for line in found) for one in basket) else ()


def _of_others(pieces: WantedPieces, prices: Mapping[PaintOf, Sequence[LastPrice]]) -> list[ErrandLine]:
    """Return pieces of other makers at the middle of the last prices of what is alike, the lower of two."""
    known = [prices[paint, pieces.format][0] for paint in pieces.alike if prices.get((paint, pieces.format))]
    if not known:
        return []
    return [ErrandLine("", pieces, pieces.count, _middle(known), False, len(known))]


def _cheapest(paint: str, pieces: WantedPieces, prices: Mapping[PaintOf, Sequence[LastPrice]]) -> ErrandLine | None:
    """Return the least of the last prices at sellers that will do, else at any: another one's is not known."""
    known = prices.get((paint, pieces.format), ())
    allowed = [one for one in known if one.seller not in pieces.not_from]
    if not known:
        return None
    return ErrandLine(paint, pieces, 1, min(allowed or known, key=lambda one: one.minor), not allowed)


def _look(asked: Iterable[tuple[Finding, Sequence[Way]]]) -> Iterable[Unlooked]:
    """Yield what is here and was not looked at, for each finding that it could settle."""
    for finding, some in asked:
        lots = {one.lot for way in some for one in way.pieces}
        codes = {lot.row.lot: lot.row.lot_code for lot in finding.lots} if some else {}
        here = [one for one in finding.unseen if one.to_hand and (None in lots or codes.get(one.lot) in lots)]
        if some and here:
            yield Unlooked(finding, tuple(here))
