"""The public view from findings and the facts of a ledger: a pure function, without a database, a clock or a file."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import zip_longest

from qcledger.findings import Findings
from qcledger.findings.evidence import Unit
from qcledger.public import from_findings as told
from qcledger.public.anchors import anchors, slug
from qcledger.public.view import (
    Edition,
    LotStatement,
    PriceSpan,
    PublicAsking,
    PublicCard,
    PublicChange,
    PublicLabel,
    PublicLot,
    PublicMaker,
    PublicMethods,
    PublicMoney,
    PublicPhoto,
    PublicStanding,
    PublicStatement,
    PublicView,
)
from qcledger.text import same_name


@dataclass(frozen=True, kw_only=True)
class LedgerFacts:
    """What a view takes from a ledger beside its findings.

    Parameters
    ----------
    title, question
        Of the comparison.
    edition, methods, money, closing, labels, changes
        As in `PublicView`.
    prices
        Returns what specimens cost, by their ids.
    photos
        Returns reduced copies of photos of observations, by their ids: the first of each, then the second ones.
    copied
        Returns which of these copies show an observation, by their SHA-256.
    cards
        The numbers of supporters' cards, each with the ids of its specimens.
    """

    title: str
    question: str
    edition: Edition
    methods: PublicMethods
    money: PublicMoney
    closing: tuple[tuple[str, int, str], ...]
    labels: tuple[PublicLabel, ...]
    prices: Callable[[Iterable[str]], tuple[PriceSpan, ...]]
    photos: Callable[[Iterable[str]], tuple[PublicPhoto, ...]]
    changes: tuple[PublicChange, ...] = ()
    copied: Callable[[str], tuple[str, ...]] = field(default=lambda _: ())
    cards: tuple[tuple[str, tuple[str, ...]], ...] = ()


def view_of(found: Findings, rules: told.PublicRules, facts: LedgerFacts) -> PublicView:
    """Return what may be said in public; parameters are those of `gather`, with what was decided about publishing."""
    claims = told.claims_told(found, rules)
    statements = [
        _with_photos(one, claim, facts) for claim, one in zip(claims, told.statements(claims, rules), strict=True)
    ]
    seen = told.lots_seen(found, rules)
    return PublicView(
        title=facts.title,
        question=facts.question,
        edition=facts.edition,
        methods=facts.methods,
        money=facts.money,
        makers=tuple(_makers(seen.values(), statements, facts, rules)),
        statements=tuple(statements),
        labels=facts.labels,
        cells=tuple(told.cells(found, claims, statements, rules)),
        lots=tuple(_lots(seen, claims, statements, rules)),
        closing=facts.closing,
        changes=facts.changes,
        cards=tuple(_cards(seen, facts, rules)),
    )


def shown_first(claim: told.SpokenClaim) -> list[str]:
    """Return the observations of what a statement says is faulty, one of each lot in turn."""
    turns = zip_longest(*faulty_of_each(claim))
    return [unit.row.observation for turn in turns for unit in turn if unit is not None]


def faulty_of_each(claim: told.SpokenClaim) -> list[list[Unit]]:
    """Return the specimens of each drawn lot whose fault a statement tells, in the order of the drawing."""
    faulty = {unit.row.specimen for unit in told.faulty_units(claim)}
    lots = told.in_drawn_order(claim)
    return [[unit for unit in lot.units if unit.row.specimen in faulty] for lot in lots]


def _with_photos(one: PublicStatement, claim: told.SpokenClaim, facts: LedgerFacts) -> PublicStatement:
    """Return a statement with its photos, and those of its drawn specimens that have one."""
    photos = facts.photos(shown_first(claim))
    there = {photo.sha256 for photo in photos}

    def shown(units: Iterable[Unit]) -> Iterator[str]:
        for unit in units:
            yield from [one for one in facts.copied(unit.row.observation) if one in there][:1]

    lots = zip(one.drawn, faulty_of_each(claim), strict=True)
    drawn = (replace(lot, photos=tuple(shown(units))) for lot, units in lots)
    return replace(one, photos=photos, drawn=tuple(drawn))


def _makers(
    seen: Iterable[told.SeenLot],
    statements: Sequence[PublicStatement],
    facts: LedgerFacts,
    rules: told.PublicRules,
) -> Iterator[PublicMaker]:
    asked: dict[str, dict[PublicAsking, None]] = defaultdict(dict)
    said = [(one.maker, one.asked) for one in statements if one.maker]
    for whose, told_of in (*said, *((one.maker, one.asked) for one in facts.labels)):
        asked[whose] |= dict.fromkeys(told_of)
    of_maker: dict[str, list[told.SeenLot]] = defaultdict(list)
    for lot in seen:
        of_maker[lot.lot.row.maker_name].append(lot)
    names = sorted(of_maker, key=same_name)
    for name, id_ in zip(names, anchors(f"m-{slug(name)}" for name in names), strict=True):
        lots = of_maker[name]
        if name in asked:  # else nothing is said of it, and that it was asked would tell that something is open
            asked[name] |= dict.fromkeys(rules.in_general(lots[0].lot.row.maker))
        specimens = sorted({one for lot in lots for one in lot.specimens})
        formats = sorted({str(lot.lot.row.format) for lot in lots})
        yield PublicMaker(
            id_, name, len(specimens), tuple(formats), facts.prices(specimens), tuple(asked.get(name, ()))
        )


def _lot_ids(seen: Mapping[told.LotKey, told.SeenLot]) -> list[str]:
    """Return the anchors of lots, in their order."""
    rows = [one.lot.row for one in seen.values()]
    return anchors(
        f"l-{slug(row.maker_name, row.paint_name, str(row.format), row.lot_code or 'no code')}" for row in rows
    )


def _cards(
    seen: Mapping[told.LotKey, told.SeenLot], facts: LedgerFacts, rules: told.PublicRules
) -> Iterator[PublicCard]:
    """Yield supporters' cards with the lots of the page that lie on them."""
    lot_of = {
        specimen: id_
        for id_, lot in zip(_lot_ids(seen), seen.values(), strict=True)
        if lot.lot.row.paint not in rules.kept_paints
        for specimen in lot.specimens
    }
    for code, specimens in facts.cards:
        lots = dict.fromkeys(lot_of[one] for one in specimens if one in lot_of)
        yield PublicCard(code, tuple(lots), sum(one not in lot_of for one in specimens))


def _lots(
    seen: Mapping[told.LotKey, told.SeenLot],
    claims: Sequence[told.SpokenClaim],
    statements: Sequence[PublicStatement],
    rules: told.PublicRules,
) -> Iterator[PublicLot]:
    every = list(zip(claims, statements, strict=True))
    standing = {told.key_of(one): told.standing_of(one, rules) for lot in seen.values() for one in lot.of}
    open_ = {(key.maker, key.format) for key, one in standing.items() if one is PublicStanding.OPEN}
    for id_, (key, lot) in zip(_lot_ids(seen), seen.items(), strict=True):
        row = lot.lot.row
        if row.paint in rules.kept_paints:
            continue
        standings = {one.criterion.title: standing[told.key_of(one)] for one in lot.of}
        yield PublicLot(
            id=id_,
            maker=row.maker_name,
            paint=row.paint_name,
            format=str(row.format),
            code=row.lot_code or "",
            tested=len(lot.specimens),
            bought_first=min(lot.bought),
            bought_last=max(lot.bought),
            statements=tuple(_of_lot(key, lot, every)),
            none_found=tuple(t for t, one in standings.items() if one is PublicStanding.NONE_FOUND),
            open=(row.maker, str(row.format)) in open_,
        )


def _of_lot(
    key: told.LotKey, lot: told.SeenLot, every: Sequence[tuple[told.SpokenClaim, PublicStatement]]
) -> Iterator[LotStatement]:
    for claim, statement in every:
        if statement.is_common:
            if told.is_common_to(claim, lot.lot):
                yield LotStatement(statement.id, statement.criterion_title, None, None)
        elif counted := told.counts_in(claim, key):
            yield LotStatement(statement.id, statement.criterion_title, counted.tested, counted.faulty)
