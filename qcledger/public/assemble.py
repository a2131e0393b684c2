"""The public view from findings and the facts of a ledger: a pure function, without a database, a clock or a file."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from qcledger.findings import Findings
from qcledger.public import from_findings as told
from qcledger.public.anchors import anchors, slug
from qcledger.public.view import (
    Edition,
    LotStatement,
    PriceSpan,
    PublicAsking,
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
        Returns reduced copies of photos of observations, by their ids.
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


def view_of(found: Findings, rules: told.PublicRules, facts: LedgerFacts) -> PublicView:
    """Return what may be said in public; parameters are those of `gather`, with what was decided about publishing."""
    claims = told.claims_told(found, rules)
    statements = [
        replace(one, photos=facts.photos(unit.row.observation for unit in told.faulty_units(claim)))
        for claim, one in zip(claims, told.statements(claims, rules), strict=True)
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
    )


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


def _lots(
    seen: Mapping[told.LotKey, told.SeenLot],
    claims: Sequence[told.SpokenClaim],
    statements: Sequence[PublicStatement],
    rules: told.PublicRules,
) -> Iterator[PublicLot]:
    every = list(zip(claims, statements, strict=True))
    rows = [one.lot.row for one in seen.values()]
    ids = anchors(
        f"l-{slug(row.maker_name, row.paint_name, str(row.format), row.lot_code or 'no code')}" for row in rows
    )
    standing = {told.key_of(one): told.standing_of(one, rules) for lot in seen.values() for one in lot.of}
    open_ = {(key.maker, key.format) for key, one in standing.items() if one is PublicStanding.OPEN}
    for id_, (key, lot) in zip(ids, seen.items(), strict=True):
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
