"""What settles that a pigment or a format is like that: the same from more makers, put to the rule of findings.

Makers are asked who were tested on it with other things and not with this: a maker shows it only beside its own other
paints. A specimen of each is foreseen faulty or sound, and findings are read again with it.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import NamedTuple
from weakref import WeakKeyDictionary

import numpy as np

from qcledger.findings.columns import LotFact
from qcledger.findings.evidence import gather
from qcledger.findings.extent import Case
from qcledger.findings.field import CriterionField, fields
from qcledger.findings.finding import CheckName, Claim, Finding
from qcledger.findings.lots import TestedLot
from qcledger.findings.strength import by_exchanging_lots
from qcledger.records import TestedRow
from qcledger.stats.further import Betas, beta_of, further_faulty, rates_of
from qcledger.vocab import Extent, Standing

MOST_MAKERS = 6
"""Most further makers that are looked at."""
Subject = tuple[Extent, tuple[str, ...]]


class MoreMakers(NamedTuple):
    """So many further makers, who could be asked, and how likely their specimens settle it.

    Parameters
    ----------
    number
        Makers, one specimen of each.
    makers
        Names of those on file that could be bought from, `number` or more.
    chance
        Probability that it is settled then.
    """

    number: int
    makers: tuple[str, ...]
    chance: float


_KNOWN: WeakKeyDictionary[CriterionField, dict[Subject, tuple[MoreMakers, ...]]] = WeakKeyDictionary()


def more_makers(finding: Finding, claim: Claim) -> tuple[MoreMakers, ...]:
    """Return the numbers of further makers that may settle a claim about a pigment or a format, the fewest first.

    Empty where it lacks anything but makers, or too few others are on file. Worked out once for all makers in it.
    """
    lacking = {check.name for check in claim.unmet}
    if not lacking <= {CheckName.MAKERS, CheckName.BEYOND_CHANCE}:
        return ()
    known = _KNOWN.setdefault(finding.field, {})
    subject = claim.extent, claim.subject
    if subject not in known:
        known[subject] = tuple(_foreseen(finding, claim))
    return known[subject]


def _foreseen(finding: Finding, claim: Claim) -> Iterator[MoreMakers]:
    field, inside = finding.field, {lot.row.maker for lot in claim.lots}
    others = {lot.row.maker: lot for lot in field.lots if lot.row.maker not in inside}
    templates = _templates(field, claim)
    if not others or templates is None:
        return
    least = max((check.missing for check in claim.unmet), default=1) or 1
    rate, names = _rate(finding, claim), tuple(lot.row.maker_name for lot in others.values())
    rows = [unit.row for lot in field.lots for unit in lot.units]
    for count in range(least, min(len(others), MOST_MAKERS) + 1):
        chances = further_faulty(count, *rate).tolist()
        bought = [_bought(claim, lot, number) for number, lot in enumerate(list(others.values())[:count])]
        met = sum(
            chance
            for faulty, chance in enumerate(chances)
            if _settled(field, claim, [*rows, *_graded(bought, templates, faulty)])
        )
        yield MoreMakers(count, names, min(float(met), 1.0))


def _templates(field: CriterionField, claim: Claim) -> tuple[TestedRow, TestedRow] | None:
    """Return the row of a faulty specimen of the claim, and that of a sound one; None without one."""
    faulty = next((unit.row for lot in claim.lots for unit in lot.units if unit.faulty), None)
    sound = next((unit.row for lot in field.lots for unit in lot.units if not unit.faulty), None)
    return (faulty, sound) if faulty and sound else None


def _rate(finding: Finding, claim: Claim) -> tuple[float, float] | Betas:
    """Return what is known of the rate of another maker's specimens: by the pooled model, else by counts.

    By counts each maker is one, by its share of faulty specimens; that of this pigment among all pigments.
    """
    pooled = finding.pooled
    levels = (pooled.pigments if claim.extent is Extent.PIGMENT else pooled.formats) if pooled else {}
    level = levels.get(claim.subject)
    if level is not None:
        return beta_of(level.rate.mean, level.rate.sd)
    field = finding.field
    column = field.shelf.group if claim.extent is Extent.PIGMENT else field.shelf.format
    return rates_of(_shares(field, column)).after(*_share_of(claim.lots))


def _shares(field: CriterionField, column: LotFact) -> Iterator[tuple[float, int]]:
    for number in range(len(column.names)):
        lots = field.some(np.flatnonzero((column.of_lot == number) & (field.tested > 0)))
        if lots:
            yield _share_of(lots)


def _share_of(lots: Sequence[TestedLot]) -> tuple[float, int]:
    """Return the makers' shares of faulty specimens, added, and how many makers there are."""
    makers = {lot.row.maker for lot in lots}
    each = ([lot for lot in lots if lot.row.maker == maker] for maker in makers)
    return sum(sum(lot.faulty for lot in own) / sum(lot.tested for lot in own) for own in each), len(makers)


def _bought(claim: Claim, other: TestedLot, number: int) -> TestedRow:
    """Return a specimen of another maker as the claim is about: of its pigment, or a paint on file in its format."""
    like, own = claim.lots[0].row, other.row
    same_paint = claim.extent is Extent.FORMAT
    new = f"foreseen {number}"
    return replace(
        own,
        pigments=own.pigments if same_paint else claim.subject,
        paint=own.paint if same_paint else new,
        paint_name=own.paint_name if same_paint else new,
        format=like.format,
        lot=new, lot_code=new, parcel=new, specimen=new, sticker=new, trial=new, observation=new,
    )  # fmt: skip


def _graded(bought: Sequence[TestedRow], templates: tuple[TestedRow, TestedRow], faulty: int) -> Iterator[TestedRow]:
    """Yield specimens as if they had been tested beside those on file, the first `faulty` of them at fault."""
    for number, row in enumerate(bought):
        like = templates[number >= faulty]
        yield replace(
            like,
            **{
                name: getattr(row, name)
                for name in (
                    "maker", "maker_name", "pigments", "paint", "paint_name", "format", "lot", "lot_code", "parcel",
                    "seller", "bought_on", "specimen", "sticker", "trial", "observation",
                )
            },
        )  # fmt: skip


def _settled(field: CriterionField, claim: Claim, rows: Sequence[TestedRow]) -> bool:
    """Say whether findings call a claim settled in these rows."""
    key = field.criterion.key
    found = fields(gather(rows, lambda *_: field.criterion)).get(key)
    if found is None:
        return False
    claims = (one for some in Case(found, by_exchanging_lots).common for one in some)
    return any(
        (one.extent, one.subject) == (claim.extent, claim.subject) and one.standing is Standing.SETTLED
        for one in claims
    )
