"""The letter to one maker before anything is printed: what is said, what it rests on, and what is not known.

It is private between the two, so it may tell what is still to be confirmed; of other makers it holds counts alone.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from qcledger.findings import Findings
from qcledger.ledger.identity import who_is_who
from qcledger.public import from_findings as told
from qcledger.public.asked import Askings, asking_line
from qcledger.public.gather import LedgerPhotos, rules_of
from qcledger.public.labels import public_labels
from qcledger.public.view import PublicCell, PublicLabel, PublicPhoto, PublicStanding
from qcledger.records import Lot, Maker, Paint, Publication, Specimen
from qcledger.text import same_name
from qcledger.vocab import Source, SpecimenState

if TYPE_CHECKING:
    from collections.abc import Mapping

    from qcledger.ledger import Ledger
    from qcledger.public.photos import ReducedPhoto


@dataclass(frozen=True, slots=True)
class LetterSpecimen:
    """One specimen behind a block: whose words of the scale it got, and whether the maker's name was in view."""

    sticker: str
    paint: str
    format: str
    lot: str
    seller: str
    bought_on: date
    looked_on: date
    in_view: bool
    seen: str
    faulty: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class LetterBlock:
    """One thing a maker is asked about.

    Parameters
    ----------
    title
        What it is about.
    sentence, further
        What would be printed where it is settled, and beneath it; else what was counted so far.
    settled
        Whether it is settled.
    fault_words
        From where on it is a fault, in the scale's words.
    specimens, photos
        What it rests on.
    tried
        What leaving out one thing at a time did to it.
    lots
        Its batch codes.
    """

    title: str
    sentence: str
    further: tuple[str, ...]
    settled: bool
    fault_words: str
    specimens: tuple[LetterSpecimen, ...]
    photos: tuple[PublicPhoto, ...]
    tried: str
    lots: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class AskedBefore:
    """A question that was put earlier: its words, and in a line when that was and what came of it."""

    line: str
    asked: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LetterView:
    """A letter to one maker; faces read this and nothing else.

    `edition` names the newest edition, empty while nothing was published; `answer_by` is the day to answer by.
    `bought` counts the specimens that were bought, sealed ones too, `looked` those that were looked at; `before` are
    the questions that were put earlier, the oldest first.
    """

    maker: str
    by: str
    on: date
    answer_by: date
    edition: str
    bought: int
    looked: int
    before: tuple[AskedBefore, ...]
    formats: tuple[str, ...]
    blocks: tuple[LetterBlock, ...]
    labels: tuple[PublicLabel, ...]
    nothing: tuple[PublicCell, ...]
    sealed: tuple[str, ...]

    @property
    def is_clear(self) -> bool:
        """Whether there is nothing to ask the maker about."""
        return not self.blocks and not self.labels

    @property
    def final(self) -> tuple[LetterBlock, ...]:
        """The blocks whose words would be printed as they stand."""
        return tuple(one for one in self.blocks if one.settled)

    @property
    def early(self) -> tuple[LetterBlock, ...]:
        """The blocks that are still to be confirmed."""
        return tuple(one for one in self.blocks if not one.settled)


@dataclass(frozen=True)
class WrittenLetter:
    """A letter, with the reduced photos it names by their SHA-256, and how much is kept private and not in it."""

    view: LetterView
    copies: "Mapping[str, ReducedPhoto]"
    kept: int


def letter_to(ledger: "Ledger", found: Findings, maker: str, name: str, answer_by: date) -> WrittenLetter:
    """Return the letter to a maker as a ledger stands.

    Parameters
    ----------
    ledger
        An open one.
    found
        Its findings, worked out.
    maker, name
        The maker's id and what it is called now.
    answer_by
        The day to answer by.
    """
    rules, mine, photos = rules_of(ledger), told.of_maker(found, maker), LedgerPhotos(ledger)
    asked = told.to_ask(mine, rules)
    cells = [one for one in told.cells(mine, [], [], rules) if one.standing is PublicStanding.NONE_FOUND]
    seen = told.lots_seen(mine, rules).values()
    specimens = {one for lot in seen for one in lot.specimens}
    view = LetterView(
        maker=name,
        by=ledger.daybook.tester,
        on=ledger.day(),
        answer_by=answer_by,
        edition=_newest(ledger.rows(Publication)),
        bought=len(_bought(ledger, maker) | specimens),
        looked=len(specimens),
        before=tuple(AskedBefore(asking_line(one), one.asked) for one in Askings(ledger).of_maker(maker)),
        formats=tuple(sorted({str(one.lot.row.format) for one in seen})),
        blocks=tuple(_block(one, photos) for one in asked),
        labels=tuple(public_labels(mine, rules, photos.of)),
        nothing=tuple(cells),
        sealed=tuple(_sealed(ledger, asked)),
    )
    return WrittenLetter(view, photos.copies, told.kept_back(mine))


def _bought(ledger: "Ledger", maker: str) -> set[str]:
    """Return the specimens of a maker that were bought, looked at or not."""
    known = who_is_who(ledger)
    paints = {one.id for one in ledger.rows(Paint) if known.one(Maker.TABLE, one.maker) == maker}
    rows = ledger.rows(Specimen, source=Source.RETAIL)
    return {one.id for one in rows if one.paint in paints and one.state is not SpecimenState.UNOPENED}


def _newest(editions: Iterable[Publication]) -> str:
    last = max(editions, key=lambda one: one.number, default=None)
    return f"Edition {last.number}" if last else ""


def _block(one: told.SpokenClaim, photos: LedgerPhotos) -> LetterBlock:
    first, units = one.first, told.faulty_units(one)
    settled = one.claim.standing is told.SETTLED
    said, *further = (told.sentence_of(one), *told.further_of(one)) if settled else told.told_so_far(one)
    lots = dict.fromkeys(lot.row.lot_code for lot in one.claim.lots if lot.row.lot_code)
    return LetterBlock(
        title=told.title_of(one),
        sentence=said,
        further=tuple(further),
        settled=settled,
        fault_words=told.fault_words(first.criterion),
        specimens=tuple(_specimens(one)),
        photos=photos.of(unit.row.observation for unit in units),
        tried=told.tried(one.claim),
        lots=tuple(sorted(lots)),
    )


def _specimens(one: told.SpokenClaim) -> Iterator[LetterSpecimen]:
    for lot in told.lots_shown(one):
        for unit in lot.units:
            row = unit.row
            yield LetterSpecimen(
                sticker=row.sticker,
                paint=row.paint_name,
                format=str(row.format),
                lot=row.lot_code or told.NO_CODE,
                seller=row.seller,
                bought_on=row.bought_on,
                looked_on=row.day,
                in_view=told.in_view(row, one.first.criterion),
                seen="" if unit.grade is None else told.words_of_grade(one.first.criterion, unit.grade),
                faulty=bool(unit.faulty),
            )


def _sealed(ledger: "Ledger", asked: Iterable[told.SpokenClaim]) -> Iterator[str]:
    """Yield the sealed specimens of the lots that are asked about."""
    lots = {lot.row.lot for one in asked for lot in one.claim.lots if lot.row.lot}
    paints = {row.id: row.name for row in ledger.rows(Paint)}
    codes = {id_: row.code for id_, row in ledger.by_id(Lot, lots).items()}
    kept = [one for one in ledger.rows(Specimen, state=SpecimenState.RESERVE) if one.lot in codes]
    for one in sorted(kept, key=lambda row: same_name(row.sticker)):
        yield f"{one.sticker}, {paints.get(one.paint, '')}, {one.format}, lot {codes[one.lot or '']}"
