"""The shot list: for each public statement, in the order of the page, which specimens to show, with which photos.

It is for the tester alone, because it names stickers; nothing of it goes out.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from qcledger.findings import Findings, TestedLot
from qcledger.findings.evidence import Unit
from qcledger.findings.words import out_of
from qcledger.ledger.photos import short
from qcledger.public import from_findings as told
from qcledger.public.assemble import faulty_of_each
from qcledger.public.gather import MOST_PHOTOS, LedgerPhotos
from qcledger.public.view import PublicLabel, PublicStatement, PublicView

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

MISSING: Final = "no photo yet: take one"
GONE: Final = "its photo cannot be read: take another"
BESIDE: Final = "beside it, not faulty"


@dataclass(frozen=True, slots=True)
class SpecimenShot:
    """One specimen to show.

    Parameters
    ----------
    sticker, paint, lot
        Which one; `lot` is its batch code, or that it has none.
    what
        That it is faulty, or stands beside one that is.
    photo
        What is called for: a photo by the beginning of its SHA-256 and its caption, or that there is none.
    is_missing
        Whether a photo has to be taken.
    """

    sticker: str
    paint: str
    lot: str
    what: str
    photo: str
    is_missing: bool


@dataclass(frozen=True, slots=True)
class ShotsOf:
    """What to show of one statement or label, by its anchor on the page and what it says in short."""

    id: str
    title: str
    shots: tuple[SpecimenShot, ...]

    @property
    def missing(self) -> int:
        """How many photos have to be taken."""
        return sum(one.is_missing for one in self.shots)


def shot_list(ledger: "Ledger", found: Findings, rules: told.PublicRules, view: PublicView) -> list[ShotsOf]:
    """Return what to show, in the order of the page.

    Of each statement at most `MOST_PHOTOS` faulty specimens are named, one of each lot in turn, and one that is not
    faulty to hold beside them. Of a label its photo is called for.

    Parameters
    ----------
    ledger, found, rules
        Where photos and stickers are, and what may be told.
    view
        What may be said, of the same findings.
    """
    photos = LedgerPhotos(ledger)
    claims = told.claims_told(found, rules)
    by_id = {one.id: claim for claim, one in zip(claims, view.statements, strict=True)}
    first = [_of_statement(one, by_id[one.id], photos, rules) for one in (*view.of_codes, *view.of_makers)]
    labels = [_of_label(one) for one in view.labels]
    return [*first, *labels, *(_of_statement(one, by_id[one.id], photos, rules) for one in view.common)]


def _of_statement(
    one: PublicStatement, claim: told.SpokenClaim, photos: LedgerPhotos, rules: told.PublicRules
) -> ShotsOf:
    each = faulty_of_each(claim)
    lots = list(zip(told.in_drawn_order(claim), each, strict=True))
    faulty = _in_turn(lots, rules)[:MOST_PHOTOS]
    sound = [(lot, unit) for lot, _ in lots for unit in lot.units if not unit.faulty and _may_show(lot, rules)]
    shots = [_shot(lot, unit, "faulty", photos) for lot, unit in faulty]
    shots += [_shot(lot, unit, BESIDE, photos) for lot, unit in sound[:1]]
    whose = f"{one.maker}: " if one.maker else ""
    return ShotsOf(
        one.id, f"{whose}{one.criterion_title}, {one.subject}: {out_of(one.faulty, one.tested)}", tuple(shots)
    )


def _in_turn(lots: Iterable[tuple[TestedLot, list[Unit]]], rules: told.PublicRules) -> list[tuple[TestedLot, Unit]]:
    """Return faulty specimens, one of each lot in turn; those of paints that are kept private are left out."""
    left = [(lot, list(units)) for lot, units in lots if _may_show(lot, rules)]
    found = []
    while any(units for _, units in left):
        found += [(lot, units.pop(0)) for lot, units in left if units]
    return found


def _may_show(lot: TestedLot, rules: told.PublicRules) -> bool:
    return lot.row.paint not in rules.kept_paints


def _shot(lot: TestedLot, unit: Unit, what: str, photos: LedgerPhotos) -> SpecimenShot:
    filed = photos.filed([unit.row.observation])
    there = next((one for one in filed if photos.is_there(one)), None)
    said = MISSING if not filed else GONE if there is None else f"photo {short(there.sha256)}"
    caption = f', "{there.caption}"' if there and there.caption else ""
    return SpecimenShot(
        sticker=unit.row.sticker,
        paint=f"{lot.row.maker_name} {lot.row.paint_name}, {lot.row.format}",
        lot=f"lot {lot.row.lot_code}" if lot.row.lot_code else told.NO_CODE,
        what=what,
        photo=f"{said}{caption}",
        is_missing=there is None,
    )


def _of_label(one: PublicLabel) -> ShotsOf:
    """Return what to show of a label: whether a photo of it is on the page."""
    there = one.photos[0] if one.photos else None
    caption = f'photo on the page, "{there.caption}"' if there else MISSING
    shot = SpecimenShot("", f"{one.maker} {one.paint}, {one.format}", "", "the label", caption, there is None)
    return ShotsOf(one.id, f"{one.maker}: the label of {one.paint}, {one.format}", (shot,))


def lines_of(shots: Iterable[ShotsOf]) -> Iterator[str]:
    """Yield the list as lines: a statement, and under it each specimen with what is there of it."""
    for place, one in enumerate(shots, 1):
        missing = f" ({one.missing} missing)" if one.missing else ""
        yield f"{place}. {one.title}{missing}"
        for shot in one.shots:
            who = ", ".join(part for part in (shot.sticker, shot.paint, shot.lot, shot.what) if part)
            yield f"- {who}: {shot.photo}"
