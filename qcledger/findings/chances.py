"""How likely a purchase is to settle a finding: further specimens are foreseen, and the rule of settling is asked.

What a finding still lacks is known from its checks. Where the rule of what is lacking can be asked of counts alone,
every number of faulty ones among the further specimens is put to it, and its chances are added. Where it would take
the pooled model, or peers that nobody has seen, no way is offered; `settle.purchases` still says what is lacking.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from qcledger.findings import checks, foreseen
from qcledger.findings.among import among
from qcledger.findings.cells import LEVEL
from qcledger.findings.checks import sound_below
from qcledger.findings.finding import CheckName, Claim, Finding, Need
from qcledger.findings.lots import TestedLot, sums
from qcledger.findings.maker import bears_out, bought_to_confirm, by_lot, usual_of_peers
from qcledger.findings.pooled import Estimate
from qcledger.findings.settle import Buy, purchases
from qcledger.findings.spread import worst_paints
from qcledger.findings.strength import exact_p
from qcledger.findings.widening import more_makers
from qcledger.stats.clustered import lot_aware_limits
from qcledger.stats.further import Betas, beta_of, further_faulty
from qcledger.vocab import Extent, Standing

MOST_PIECES = 6
"""Most pieces of one kind that are advised for one question; a longer way is said, not planned."""
Rate = tuple[float, float] | Betas
"""What is known of a rate: a beta, or several, each with its chance."""
_CONFIRM_UP_TO = 3
"""Most further specimens of a lot, or new lots of a paint, that are looked at."""


@dataclass(frozen=True, slots=True)
class WantedPieces:
    """Some pieces to buy.

    Parameters
    ----------
    paints
        Ids of the paints that will do, any of them.
    format, count
        What and how many.
    confirms
        Whether they are bought to confirm; the others are planned.
    lot
        The batch code they must carry; None where each is to be of another lot.
    not_from
        Sellers that will not do.
    alike
        Where they are to be of other makers: paints, by id, whose prices stand in for what those cost.
    makers
        Names of the makers that they may be of then.
    """

    paints: tuple[str, ...]
    format: str
    count: int
    confirms: bool = False
    lot: str | None = None
    not_from: frozenset[str] = frozenset()
    alike: tuple[str, ...] = ()
    makers: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Way:
    """One way to settle a finding, and how likely it does.

    Parameters
    ----------
    what
        Its kind.
    pieces
        What is to be bought for it.
    chance
        Probability that the finding's rule is met after that.
    settles
        What would be said then.
    """

    what: Buy
    pieces: tuple[WantedPieces, ...]
    chance: float
    settles: str


def ways(finding: Finding) -> tuple[Way, ...]:
    """Return the ways to settle a finding for which a chance can be foreseen, in the order of their sizes.

    Notes
    -----
    Empty for what is settled, shows no fault, or lacks what no purchase of known paints, or from known makers, gives.
    "None found" is no way where a lot or a paint is pointed to: sound lots beside it make that the firmer.
    """
    if finding.standing not in (Standing.OPEN, Standing.TO_CONFIRM) or not finding.counts.faulty or finding.pending:
        return ()
    claim = finding.claim
    found = list(_of_claim(finding, claim)) if claim else []
    if finding.standing is Standing.OPEN and not (claim and claim.extent in (Extent.LOT, Extent.PAINT)):
        found += _until_none_found(finding)
    return tuple(_likelier(found))


def _likelier(found: Iterable[Way]) -> Iterator[Way]:
    """Yield each way that is likelier than each smaller one to the same end."""
    best: dict[str, float] = {}
    for way in found:
        if way.chance > best.get(way.settles, 0.0):
            best[way.settles] = way.chance
            yield way


def _of_claim(finding: Finding, claim: Claim) -> Iterator[Way]:
    lacking = {check.name for check in claim.unmet}
    evidence = {check.name for check in claim.unmet if check.need is Need.EVIDENCE}
    if CheckName.LEFT_OUT in lacking:
        return
    if claim.extent is Extent.LOT and evidence <= {CheckName.SOUND_LOTS, CheckName.BEYOND_CHANCE}:
        yield from _bad_lot(finding, claim, confirmed_only=not evidence)
    elif claim.extent is Extent.SPECIMEN and lacking == {CheckName.SOUND_IN_LOT}:
        yield from _one_specimen(finding, claim)
    elif claim.extent is Extent.PAINT and lacking == {CheckName.CONFIRMED}:
        yield from _bad_paint(finding, claim)
    elif claim.extent in (Extent.MAKER, Extent.MAKER_FORMAT) and lacking == {CheckName.CONFIRMED}:
        yield from _maker(finding, claim)
    elif claim.extent in (Extent.PIGMENT, Extent.FORMAT):
        yield from _shared(finding, claim)


def _shared(finding: Finding, claim: Claim) -> Iterator[Way]:
    """Yield the same pigment, or format, from makers who were not tested with it, a specimen of each."""
    alike = tuple(dict.fromkeys(lot.row.paint for lot in claim.lots if lot.row.format == finding.format))
    what = " and ".join(claim.subject) if claim.extent is Extent.PIGMENT else f"{claim.subject[0]}s"
    for one in more_makers(finding, claim) if alike else ():
        pieces = WantedPieces((), str(finding.format), one.number, alike=alike, makers=one.makers)
        yield Way(Buy.MORE_MAKERS, (pieces,), one.chance, f"{what} settled, at most makers")


def _bad_lot(finding: Finding, claim: Claim, *, confirmed_only: bool) -> Iterator[Way]:
    """Yield further specimens of a bad lot to confirm, with other lots of the paint where these are too few."""
    lot, field = claim.lots[0], finding.rest
    code, paint, format_ = lot.row.lot_code, lot.row.paint, str(finding.format)
    said = f"lot {code} of {lot.row.paint_name} settled"
    rate = _rate(_of_lot(finding, lot), foreseen.of_specimens(field, lot))
    others = [one for one in finding.lots if one.row.paint == paint and one.coded and one.key != lot.key]
    corrected = among(field, checks.EXACT_LEVEL).lots

    def before(more: int, faulty: int) -> bool:
        """Say whether two sound specimens each of so many more lots are contrast enough; some may be faulty."""
        some, tested = sums(others)
        sound = sum(not one.faulty for one in others) + more - faulty
        p = exact_p(lot.faulty, lot.tested, some + faulty, tested + 2 * more)
        return sound >= checks.MIN_SOUND_LOTS and p * corrected <= checks.EXACT_LEVEL

    more = 0 if confirmed_only else next((n for n in range(1, MOST_PIECES // 2 + 1) if before(n, 0)), None)
    if more is None:
        return
    other = foreseen.of_pairs(field, finding.lots)  # two of each are bought
    contrast = 1.0 if not more else _chance(more, other, lambda y: before(more, y))
    for count in range(1, _CONFIRM_UP_TO + 1):
        chance = contrast * _chance(count, rate, lambda y, n=count: y >= checks.MOST * n)  # type: ignore[misc]
        planned = (WantedPieces((paint,), format_, 2 * more),) if more else ()
        what = Buy.LOTS_OF_PAINT if more else Buy.CONFIRM_LOT
        yield Way(what, (*planned, WantedPieces((paint,), format_, count, True, code)), chance, said)


def _one_specimen(finding: Finding, claim: Claim) -> Iterator[Way]:
    """Yield more specimens of the lot: one bad specimen is settled beside sound ones alone."""
    lot = claim.lots[0]
    count = next(one.missing for one in claim.unmet if one.name is CheckName.SOUND_IN_LOT)
    rate = _rate(_of_lot(finding, lot), foreseen.of_specimens(finding.rest, lot))
    pieces = WantedPieces((lot.row.paint,), str(finding.format), count, lot=lot.row.lot_code)
    said = f"{claim.subject[-1]} settled as one specimen"
    yield Way(Buy.OF_THE_LOT, (pieces,), _chance(count, rate, lambda faulty: not faulty), said)


def _bad_paint(finding: Finding, claim: Claim) -> Iterator[Way]:
    """Yield new lots of the paint, a specimen each, from another seller: half of them or more are to show it."""
    row, pooled = claim.lots[0].row, finding.pooled
    level = pooled.paints.get((row.paint, str(finding.format))) if pooled else None
    rate = _rate(level.rate if level else None, foreseen.of_paint(finding.rest, claim.lots))
    said, not_from = f"{row.paint_name} settled", _faulty_sellers(claim.lots)
    for count in range(1, _CONFIRM_UP_TO + 1):
        chance = _chance(count, rate, lambda y, n=count: y >= checks.MOST * n)  # type: ignore[misc]
        yield Way(Buy.CONFIRM_PAINT, (_confirming((row.paint,), finding, count, not_from),), chance, said)


def _maker(finding: Finding, claim: Claim) -> Iterator[Way]:
    """Yield lots of other paints from another seller: faults among them are to be beyond what the peers show."""
    planned = finding.rest.as_planned
    numbers = np.array([planned.shelf.key.number[lot.key] for lot in claim.lots], np.intp)
    worst = worst_paints(claim.lots)
    known = bought_to_confirm(claim.lots, worst[0] if len(worst) == 1 else None)
    usual = usual_of_peers(planned, numbers[planned.tested[numbers] > 0])
    others = [lot for lot in finding.lots if len(worst) > 1 or lot.row.paint not in worst]
    paints = tuple(dict.fromkeys(lot.row.paint for lot in others))
    rate = _rate(finding.reach.rate if finding.reach else None, foreseen.of_cell(finding.rest, others))
    not_from, before = _faulty_sellers(claim.lots), by_lot(known)
    said = "the maker settled" if claim.extent is Extent.MAKER else f"its {finding.format}s settled"
    for count in range(1, MOST_PIECES + 1) if paints else ():

        def met(faulty: int, n: int = count) -> bool:
            return bears_out((*before, *[(1, 1)] * faulty, *[(0, 1)] * (n - faulty)), usual)

        yield Way(Buy.CONFIRM, (_confirming(paints, finding, count, not_from),), _chance(count, rate, met), said)


def _until_none_found(finding: Finding) -> list[Way]:
    """Return the numbers of further lots after which "none found" may be said, where some faults are allowed."""
    tested, faulty = ([getattr(lot, name) for lot in finding.lots] for name in ("tested", "faulty"))
    counts, limit = finding.counts, sound_below(finding.usual_rate)
    least = max(checks.MIN_NONE_LOTS - counts.lots, checks.MIN_NONE_SPECIMENS - counts.tested, 1)
    rate = _rate(finding.reach.rate if finding.reach else None, foreseen.of_cell(finding.rest, finding.lots))
    paints = tuple(dict.fromkeys(lot.row.paint for lot in finding.lots))
    found = []
    for count in range(least, MOST_PIECES + 1):

        def met(more: int, n: int = count) -> bool:
            some, totals = [*faulty, *[1] * more, *[0] * (n - more)], [*tested, *[1] * n]
            return bool(lot_aware_limits(some, totals, [0] * len(totals), 1, 2 * LEVEL - 1)[1][0] < limit)

        pieces = WantedPieces(paints, str(finding.format), count)
        if met(0):
            found.append(Way(Buy.LOTS_OF_FORMAT, (pieces,), _chance(count, rate, met), "none found"))
    return found


def _confirming(paints: tuple[str, ...], finding: Finding, count: int, not_from: frozenset[str]) -> WantedPieces:
    return WantedPieces(paints, str(finding.format), count, True, None, not_from)


def _faulty_sellers(lots: Sequence[TestedLot]) -> frozenset[str]:
    return frozenset(unit.row.seller for lot in lots for unit in lot.units if unit.faulty)


def _of_lot(finding: Finding, lot: TestedLot) -> Estimate | None:
    level = finding.pooled.lots.get(tuple(map(str, lot.key))) if finding.pooled else None
    return level.rate if level else None


def _rate(pooled: Estimate | None, counted: Betas) -> Rate:
    """Return what is known of a rate: what the pooled model says, else what counts say."""
    return beta_of(pooled.mean, pooled.sd) if pooled else counted


def _chance(count: int, rate: Rate, met: Callable[[int], bool]) -> float:
    """Return the chance that the number of faulty ones among `count` further ones meets a rule."""
    chances = further_faulty(count, *rate).tolist()
    return min(float(sum(one for faulty, one in enumerate(chances) if met(faulty))), 1.0)


def named_only(finding: Finding) -> bool:
    """Say whether a finding for which there are no ways asks for purchases all the same."""
    return finding.counts.faulty > 0 and bool(purchases(finding))
