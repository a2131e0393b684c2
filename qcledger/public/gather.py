"""From a ledger and its findings to the public view: facts of purchases, sheets, labels, photos and answers."""

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import zip_longest
from pathlib import Path
from typing import TYPE_CHECKING, Final, TypeVar

from qcledger.findings import Findings
from qcledger.findings.exchanged import half_up
from qcledger.findings.price_groups import PriceTable, tables
from qcledger.ledger.identity import who_is_who
from qcledger.public import from_findings as told
from qcledger.public.asked import Askings, kept, released
from qcledger.public.assemble import LedgerFacts, shown_first, view_of
from qcledger.public.editions import answered, changes, said_now
from qcledger.public.labels import public_labels
from qcledger.public.methods import methods_of
from qcledger.public.photos import KeptCopies, ReducedPhoto, caption
from qcledger.public.view import (
    Edition,
    PriceSpan,
    PublicMoney,
    PublicPhoto,
    PublicView,
    Spent,
)
from qcledger.records import Card, Comparison, Parcel, Photo, Specimen
from qcledger.report.prices import prices_of
from qcledger.report.said import kept_paints
from qcledger.stats.moved import unheard
from qcledger.vocab import CURRENCY_DIGITS, Source

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

MOST_PHOTOS: Final = 4
"""Most photos beside one statement."""
T = TypeVar("T")
Each = Callable[[str, Sequence[T]], Iterable[T]]
"""Hands on what is worked through, one after another, and may show how far it is; first a word for it."""


def untold(_: str, items: Sequence[T]) -> Iterable[T]:
    """Hand on items, and show nothing."""
    return items


def heard(going_on: Callable[[], None]) -> Each[T]:
    """Return what calls a function before each item; what it raises ends the work."""

    def each(_: str, items: Sequence[T]) -> Iterator[T]:
        for one in items:
            going_on()
            yield one

    return each


@dataclass(frozen=True)
class Gathered:
    """The view, and the photos it names by the SHA-256 of reduced copies: these, and file and kind of the whole."""

    view: PublicView
    copies: Mapping[str, ReducedPhoto]
    files: Mapping[str, tuple[Path, str]]


def rules_of(ledger: "Ledger") -> told.PublicRules:
    """Return what was decided about publishing in a ledger."""
    askings = Askings(ledger)
    return told.PublicRules(
        kept_paints=frozenset(kept_paints(ledger)),
        kept=kept(ledger),
        released=released(ledger, askings.at_all),
        asked=askings.about,
        in_general=askings.in_general,
    )


def gather(
    ledger: "Ledger",
    found: Findings,
    edition: Edition,
    comparison: Comparison | None = None,
    photos: "LedgerPhotos | None" = None,
    each: Each[Photo] = untold,
) -> Gathered:
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
    photos
        The ledger's photos, where they are reduced in a way of their own.
    each
        Shows how far the photos are, which take longest.
    """
    rules, photos = rules_of(ledger), photos or LedgerPhotos(ledger)
    photos.make(found, rules, each)
    bought = _Bought(ledger, {row.specimen for row in told.rows_counted(found)})
    facts = LedgerFacts(
        title=comparison.title if comparison else "What we tested",
        question=comparison.question if comparison else "",
        edition=edition,
        methods=methods_of(ledger, found, comparison),
        money=bought.money(_gifts(ledger, found)),
        closing=tuple((book, *last) for book, last in sorted(ledger.closing_hashes().items())),
        labels=tuple(public_labels(found, rules, photos.of)),
        changes=tuple(changes(ledger, said_now(found, rules), edition.on, rules.kept)),
        prices=bought.prices,
        photos=photos.of,
        copied=photos.copied,
        cards=tuple((one.code, one.specimens) for one in sorted(ledger.rows(Card), key=lambda row: row.code)),
    )
    view = view_of(found, rules, facts)
    view = replace(view, changes=(*view.changes, *answered(ledger, view)))
    return Gathered(view, photos.copies, photos.files)


class LedgerPhotos:
    """The photos of a ledger, reduced when they are asked for the first time, and kept for the next time.

    Parameters
    ----------
    ledger
        An open one.
    going_on
        Called before each photo is reduced; what it raises ends the work.
    """

    def __init__(self, ledger: "Ledger", going_on: Callable[[], None] = unheard) -> None:
        self._file = ledger.photo_path
        self._going_on = going_on
        self._asked: set[str] = set()
        self._kept = KeptCopies()
        self._of: dict[str, list[Photo]] = defaultdict(list)
        for photo in ledger.rows(Photo):
            for row in {photo.observation, photo.label_version} - {None}:
                self._of[str(row)].append(photo)
        self._shown: dict[str, str] = {}
        self.copies: dict[str, ReducedPhoto] = {}
        self.files: dict[str, tuple[Path, str]] = {}

    def make(self, found: Findings, rules: told.PublicRules, each: Each[Photo]) -> None:
        """Make the copies that statements will ask for, so that it is seen how far that is."""
        claims = told.claims_told(found, rules)
        wanted = (photo for one in claims for photo in self.filed(shown_first(one))[:MOST_PHOTOS])
        for photo in each("Photos", list({photo.sha256: photo for photo in wanted}.values())):
            self._copy(photo)

    def filed(self, rows: Iterable[str]) -> list[Photo]:
        """Return the photos of some observations or labels: the first of each, then the second ones, each once."""
        turns = zip_longest(*(self._of.get(row, ()) for row in rows))
        return list({photo.sha256: photo for turn in turns for photo in turn if photo is not None}.values())

    def of(self, rows: Iterable[str]) -> tuple[PublicPhoto, ...]:
        """Return reduced copies of the first photos of some observations or labels."""
        found: dict[str, PublicPhoto] = {}
        for photo in self.filed(rows):
            copy = self._copy(photo) if len(found) < MOST_PHOTOS else None
            if copy is not None:
                self.copies[copy.sha256], self.files[copy.sha256] = copy, (self._file(photo), photo.kind)
                self._shown[photo.sha256] = copy.sha256
                found.setdefault(copy.sha256, PublicPhoto(copy.sha256, caption(photo), copy.width, copy.height))
        return tuple(found.values())

    def copied(self, row: str) -> tuple[str, ...]:
        """Return the SHA-256 of each copy so far that shows an observation, in the order of its photos."""
        return tuple(self._shown[one.sha256] for one in self._of.get(row, ()) if one.sha256 in self._shown)

    def is_there(self, photo: Photo) -> bool:
        """Say whether a photo's file is there and can be reduced."""
        return self._copy(photo) is not None

    def _copy(self, photo: Photo) -> ReducedPhoto | None:
        if photo.sha256 not in self._asked:
            self._asked.add(photo.sha256)
            self._going_on()
        return self.copy(photo, self._file(photo))

    def copy(self, photo: Photo, file: Path) -> ReducedPhoto | None:
        """Return the reduced copy of a photo; None where it cannot be decoded."""
        return self._kept.copy(file, photo.kind)


class NamedPhotos(LedgerPhotos):
    """The photos of a ledger by their names alone, none of them reduced: for what would be said, not for a page."""

    def copy(self, photo: Photo, file: Path) -> ReducedPhoto | None:
        """Return a stand-in without pixels; None where the photo is gone."""
        return ReducedPhoto(b"", photo.sha256, 0, 0) if file.is_file() else None


class _Bought:
    """What was paid for the specimens that were tested."""

    def __init__(self, ledger: "Ledger", specimens: set[str]) -> None:
        self.rows = ledger.by_id(Specimen, specimens)
        self.parcels = ledger.by_id(Parcel, {one.parcel for one in self.rows.values()})
        self._known = who_is_who(ledger)
        self._priced = prices_of(ledger).only(lambda one: one.specimen in self.rows)

    def money(self, gifts: int) -> PublicMoney:
        """Return where they came from, and what was paid."""
        days = [one.bought_on for one in self.parcels.values()]
        spent: Counter[str] = Counter()
        for one in self._priced.pieces:
            spent[one.currency] += one.minor or 0
        return PublicMoney(
            bought=len(self.rows),
            gifts=gifts,
            sellers=len({self._known.seller(one.seller) for one in self.parcels.values()}),
            bought_first=min(days, default=None),
            bought_last=max(days, default=None),
            spent=tuple(Spent(code, _whole(minor, code)) for code, minor in sorted(spent.items())),
        )

    def prices(self, specimens: Iterable[str]) -> tuple[PriceSpan, ...]:
        """Return what specimens cost, by what may be compared."""
        wanted = frozenset(specimens)
        priced = (one for one in self._priced.pieces if one.piece.specimen in wanted and one.minor is not None)
        return tuple(_span(table) for table in tables(priced))


def _span(table: PriceTable) -> PriceSpan:
    of, found = table.of, table.whole
    assert found.low is not None  # of pieces without a price there is no table here
    assert found.high is not None
    low_ml, high_ml = map(half_up, found.per_ml) if found.per_ml else (None, None)
    return PriceSpan(
        format=of.format,
        nominal="" if of.nominal_ml is None else f"{of.nominal_ml:f} ml",
        currency=of.currency,
        low=_whole(found.low, of.currency),
        high=_whole(found.high, of.currency),
        count=found.priced,
        tax=str(of.tax),
        sold=str(of.sold),
        minor_digits=CURRENCY_DIGITS.get(of.currency, 2),
        low_minor=found.low,
        high_minor=found.high,
        low_per_ml_minor=low_ml,
        high_per_ml_minor=high_ml,
    )


def _whole(minor: int, code: str) -> float:
    digits = CURRENCY_DIGITS.get(code, 2)
    return float(round(minor / 10.0**digits, digits))


def _gifts(ledger: "Ledger", found: Findings) -> int:
    """Return how many gifts were looked at beside what was bought."""
    rows = ledger.tested_rows().where(lambda source: source is Source.GIFT, "source")
    judged = told.criteria_of(found)
    return len({specimen for specimen, key in rows.together("specimen", "criterion") if key in judged})
