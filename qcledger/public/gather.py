"""From a ledger and its findings to the public view: facts of purchases, sheets, labels, photos and answers."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

from qcledger.findings import Findings
from qcledger.ledger.identity import who_is_who
from qcledger.public import from_findings as told
from qcledger.public.asked import Askings, released
from qcledger.public.labels import public_labels
from qcledger.public.methods import methods_of
from qcledger.public.photos import ReducedPhoto, caption, reduced
from qcledger.public.view import (
    Edition,
    LotStatement,
    PriceSpan,
    PublicAsking,
    PublicLabel,
    PublicLot,
    PublicMaker,
    PublicMoney,
    PublicPhoto,
    PublicStanding,
    PublicStatement,
    PublicView,
    Spent,
)
from qcledger.records import Comparison, Parcel, Photo, RubricText, Specimen
from qcledger.report.said import kept_paints
from qcledger.text import same_name
from qcledger.vocab import CURRENCY_DIGITS, Source

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

LABELS: Final = "label"
"""The key of the rubrics that judge what a label says."""
MOST_PHOTOS: Final = 6
"""Most photos beside one statement."""


@dataclass(frozen=True)
class Gathered:
    """The view, and the photos it names by the SHA-256 of reduced copies: these, and file and kind of the whole."""

    view: PublicView
    copies: Mapping[str, ReducedPhoto]
    files: Mapping[str, tuple[Path, str]]


def rules_of(ledger: "Ledger") -> told.PublicRules:
    """Return what was decided about publishing in a ledger."""
    asked = Askings(ledger).about
    rubrics = (ledger.rubric(row.id) for row in ledger.rows(RubricText, key=LABELS))
    return told.PublicRules(
        labels=frozenset(key for one in rubrics for key in one.criteria),
        kept_paints=frozenset(kept_paints(ledger)),
        released=released(ledger, asked),
        asked=asked,
    )


def gather(ledger: "Ledger", found: Findings, edition: Edition, comparison: Comparison | None = None) -> Gathered:
    """Return what may be said in public as a ledger stands.

    Parameters
    ----------
    ledger
        An open one.
    found
        Its findings, worked out.
    edition
        Which edition it will be.
    comparison
        What the findings are of; None for everything tested.
    """
    rules = rules_of(ledger)
    claims = told.claims_told(found, rules)
    photos = LedgerPhotos(ledger)
    statements = [
        replace(one, photos=photos.of(unit.row.observation for unit in told.faulty_units(claim)))
        for claim, one in zip(claims, told.statements(claims, rules), strict=True)
    ]
    labels = public_labels(ledger, found, rules, photos.of)
    seen = told.lots_seen(found, rules)
    bought = _Bought(ledger, {one for lot in seen.values() for one in lot.specimens})
    view = PublicView(
        title=comparison.title if comparison else "What we tested",
        question=comparison.question if comparison else "",
        edition=edition,
        methods=methods_of(ledger, found, comparison),
        money=bought.money(_gifts(ledger, found)),
        makers=tuple(_makers(seen.values(), bought, statements, labels)),
        statements=tuple(statements),
        labels=tuple(labels),
        cells=tuple(told.cells(found, claims, statements, rules)),
        lots=tuple(_lots(seen, claims, statements, rules, bought)),
        closing=tuple((book, *last) for book, last in sorted(ledger.closing_hashes().items())),
    )
    return Gathered(view, photos.copies, photos.files)


class LedgerPhotos:
    """The photos of a ledger, reduced when they are asked for."""

    def __init__(self, ledger: "Ledger") -> None:
        self._folder = ledger.photos
        self._of: dict[str, list[Photo]] = defaultdict(list)
        for photo in ledger.rows(Photo):
            for row in {photo.observation, photo.label_version} - {None}:
                self._of[str(row)].append(photo)
        self.copies: dict[str, ReducedPhoto] = {}
        self.files: dict[str, tuple[Path, str]] = {}

    def of(self, rows: Iterable[str]) -> tuple[PublicPhoto, ...]:
        """Return reduced copies of the first photos of some observations or labels."""
        from qcledger.ledger.photos import photo_name

        found: list[PublicPhoto] = []
        for photo in (one for row in rows for one in self._of.get(row, ())):
            file = self._folder / photo_name(photo.sha256, photo.kind)
            copy = reduced(file, photo.kind) if len(found) < MOST_PHOTOS else None
            if copy is not None and copy.sha256 not in {one.sha256 for one in found}:
                self.copies[copy.sha256], self.files[copy.sha256] = copy, (file, photo.kind)
                found.append(PublicPhoto(copy.sha256, caption(photo), copy.width, copy.height))
        return tuple(found)


class _Bought:
    """What was paid for the specimens that were tested."""

    def __init__(self, ledger: "Ledger", specimens: set[str]) -> None:
        self.rows = ledger.by_id(Specimen, specimens)
        self.parcels = ledger.by_id(Parcel, {one.parcel for one in self.rows.values()})
        self._known = who_is_who(ledger)

    def parcel(self, specimen: str) -> Parcel:
        """Return the parcel that a specimen came in."""
        return self.parcels[self.rows[specimen].parcel]

    def money(self, gifts: int) -> PublicMoney:
        """Return where they came from, and what was paid."""
        days = [one.bought_on for one in self.parcels.values()]
        spent: Counter[str] = Counter()
        for one in self.rows.values():
            if one.price_minor is not None:
                spent[self.parcels[one.parcel].currency] += one.price_minor
        return PublicMoney(
            bought=len(self.rows),
            gifts=gifts,
            sellers=len({self._known.seller(one.seller) for one in self.parcels.values()}),
            bought_first=min(days, default=None),
            bought_last=max(days, default=None),
            spent=tuple(Spent(code, _whole(minor, code)) for code, minor in sorted(spent.items())),
        )

    def prices(self, specimens: Iterable[str]) -> tuple[PriceSpan, ...]:
        """Return what specimens cost, by format, size and currency."""
        paid: dict[tuple[str, str, str], list[int]] = defaultdict(list)
        for one in (self.rows[id_] for id_ in specimens):
            if one.price_minor is not None and one.pack is None:  # a set has one price for several
                size = f"{one.nominal_ml:g} ml" if one.nominal_ml else ""
                paid[str(one.format), size, self.parcels[one.parcel].currency].append(one.price_minor)
        return tuple(
            PriceSpan(format_, size, code, _whole(min(some), code), _whole(max(some), code), len(some))
            for (format_, size, code), some in sorted(paid.items())
        )


def _whole(minor: int, code: str) -> float:
    digits = CURRENCY_DIGITS.get(code, 2)
    return float(round(minor / 10.0**digits, digits))


def _gifts(ledger: "Ledger", found: Findings) -> int:
    """Return how many gifts were looked at beside what was bought."""
    rows = ledger.tested_rows().where(lambda source: source is Source.GIFT, "source")
    judged = told.criteria_of(found)
    return len({specimen for specimen, key in rows.together("specimen", "criterion") if key in judged})


def _makers(
    seen: Iterable[told.SeenLot],
    bought: _Bought,
    statements: Sequence[PublicStatement],
    labels: Sequence[PublicLabel],
) -> Iterator[PublicMaker]:
    asked: dict[str, dict[PublicAsking, None]] = defaultdict(dict)
    said = [(one.maker or "", one.asked) for one in statements]
    for whose, told_of in (*said, *((one.maker, one.asked) for one in labels)):
        asked[whose] |= dict.fromkeys(told_of)
    of_maker: dict[str, list[told.SeenLot]] = defaultdict(list)
    for lot in seen:
        of_maker[lot.lot.row.maker_name].append(lot)
    names = sorted(of_maker, key=same_name)
    for name, id_ in zip(names, told.anchors(f"m-{told.slug(name)}" for name in names), strict=True):
        lots = of_maker[name]
        specimens = sorted({one for lot in lots for one in lot.specimens})
        formats = sorted({str(lot.lot.row.format) for lot in lots})
        yield PublicMaker(
            id_, name, len(specimens), tuple(formats), bought.prices(specimens), tuple(asked.get(name, ()))
        )


def _lots(
    seen: Mapping[told.LotKey, told.SeenLot],
    claims: Sequence[told.ToldClaim],
    statements: Sequence[PublicStatement],
    rules: told.PublicRules,
    bought: _Bought,
) -> Iterator[PublicLot]:
    every = list(zip(claims, statements, strict=True))
    rows = [one.lot.row for one in seen.values()]
    ids = told.anchors(
        f"l-{told.slug(row.maker_name, row.paint_name, str(row.format), row.lot_code or 'no code')}" for row in rows
    )
    for id_, (key, lot) in zip(ids, seen.items(), strict=True):
        row, days = lot.lot.row, [bought.parcel(one).bought_on for one in lot.specimens]
        standings = {one.criterion.title: told.standing_of(one, rules) for one in lot.of}
        yield PublicLot(
            id=id_,
            maker=row.maker_name,
            paint=row.paint_name,
            format=str(row.format),
            code=row.lot_code or "",
            tested=len(lot.specimens),
            bought_first=min(days),
            bought_last=max(days),
            statements=tuple(_of_lot(key, lot, every)),
            none_found=tuple(t for t, one in standings.items() if one is PublicStanding.NONE_FOUND),
            open=sum(one is PublicStanding.OPEN for one in standings.values()),
        )


def _of_lot(
    key: told.LotKey, lot: told.SeenLot, every: Sequence[tuple[told.ToldClaim, PublicStatement]]
) -> Iterator[LotStatement]:
    for claim, statement in every:
        if statement.is_common:
            if told.is_common_to(claim, lot.lot):
                yield LotStatement(statement.id, statement.criterion_title, None, None)
        elif counted := told.counts_in(claim, key):
            yield LotStatement(statement.id, statement.criterion_title, counted.tested, counted.faulty)
