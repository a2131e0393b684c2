"""The one statement of a finding: who or what, how many, what was seen, and how far it reaches. Part of the wording.

It has `MOST_WORDS` words or fewer where names are short, and each sentence in it that names a maker carries its count
and `WHERE`: whoever quotes one of them alone accuses of no more than the whole does.
"""

from collections.abc import Callable, Iterable, Mapping

from qcledger.findings.bought import by_reason
from qcledger.findings.finding import Claim, Finding
from qcledger.findings.lots import Counts, TestedLot, faulty_specimens, tally, units_of
from qcledger.findings.scope import Scope
from qcledger.findings.wording_of_checks import is_above_the_others
from qcledger.findings.wording_of_free import common_at, group_words, others_show
from qcledger.findings.wording_of_limits import still_allowed
from qcledger.findings.wording_of_size import seen
from qcledger.findings.wording_of_trail import over_lots
from qcledger.findings.words import day, how_many, listed, lower_first, out_of, plural
from qcledger.thing import worded
from qcledger.vocab import Extent, Standing, WhyBought

MOST_WORDS = 40
"""Most words of a statement; the rest is folded beneath."""
WHERE = "in what we tested"
IS_OPEN = "No judgement is published: this is open."
_WHY = "Why, we do not know."
_POINTS_TO: Mapping[Extent, tuple[str, str]] = {
    Extent.MAKER: ("This points to the maker; why, we do not know.", _WHY),
    Extent.MAKER_FORMAT: ("This points to this maker's {format}s; why, we do not know.", _WHY),
    Extent.PAINT: ("This points to this paint, not to the maker's others.", "This points to the paint."),
    Extent.LOT: ("This points to the lot, not to the maker.", "This points to the lot."),
    Extent.PARCEL: ("This points to one parcel, not to the maker.", "This points to one parcel."),
    Extent.SPECIMEN: (
        "This points to a single specimen, not to its lot or its maker.",
        "This points to a single specimen.",
    ),
}
"""How far it reaches, in words; and in fewer, where there are too many or nobody is cleared."""
_COMMON = "Common to several makers; none is blamed."
_COMMON_BUT = "Common to several makers."
_TOGETHER = "Common to several makers in these {} together; none is blamed."
_CRITICAL = "It may concern health, so it is said of each specimen by itself."
_HEALTH = "It may concern health."
WIDE = (Extent.PIGMENT, Extent.FORMAT)


def fitted(first: str, shown: str, last: str, shorter: str = "") -> str:
    """Return the parts in order: `last` shorter, or `shown` or both left out, where they would be too many words."""
    for parts in ((first, shown, last), (first, shown, shorter), (first, last), (first, shorter)):
        told = " ".join(part for part in parts if part)
        if len(told.split()) <= MOST_WORDS:
            return told
    return first


def public_statement(finding: Finding, scope: Scope) -> str:
    """Return what may be printed at the finding's standing; unless it is settled, only how much was looked at."""
    if finding.standing is Standing.SETTLED:
        return statement(finding, scope)
    if finding.standing is Standing.NONE_FOUND:
        beside = others_show(finding) or _usual(finding)
        return fitted(f"{about(finding, scope)}: {plain(scope)}, {WHERE}.", beside, still_allowed(finding, scope))
    looked = f"{how_many(scope.counts.tested, 'specimen')} from {over_lots(scope.counts, faulty=False)}"
    if not scope.counts.tested:
        looked = "no specimen could be judged"
    return f"{about(finding, scope)}: {looked}, {WHERE}. {IS_OPEN}"


def statement(finding: Finding, scope: Scope) -> str:
    """Return counts, what was seen and how far it reaches, as if it were settled; of what is open counts alone."""
    claim = finding.claim
    if claim is None or finding.leaning is not None:
        told = f"{about(finding, scope)}: {plain(scope)}, {WHERE}."
        return fitted(told, seen(finding, scope.lots), "")
    if claim.critical:
        told = f"{about(finding, scope)}: {_of_specimen(finding, scope, claim)}, {WHERE}."
        return fitted(told, "", _CRITICAL, _HEALTH)
    if claim.extent in WIDE:
        return fitted(_shared(finding, claim), seen(finding, claim.lots), _common(finding, claim))
    counted = f"{about(finding, scope)}: {counts_of(finding, scope, claim)}, {WHERE}."
    long, short = map(worded, _POINTS_TO[claim.extent])
    clears = finding.clears or claim.extent in (Extent.MAKER, Extent.MAKER_FORMAT)
    points = long.format(format=finding.format) if clears else short
    return fitted(counted, seen(finding, claim.lots, claim), points, short)


def about(finding: Finding, scope: Scope) -> str:
    """Return who, in which formats, and which fault: ``A maker Red, half pan, froth``."""
    formats = listed([str(format_) for format_ in scope.formats]) or str(finding.format)
    who = f"{finding.maker_name} {scope.paints[0]}" if len(scope.paints) == 1 else finding.maker_name
    return f"{who}, {formats}, {fault(finding)}"


def fault(finding: Finding) -> str:
    """Return the criterion's title as it stands within a sentence."""
    return lower_first(finding.criterion.title)


def counts_of(finding: Finding, scope: Scope, claim: Claim) -> str:
    """Return the counts behind a claim about a maker or anything narrower, without who it is."""
    told = _COUNTED.get(claim.extent)
    return told(finding, scope, claim) if told else as_bought(scope.lots)


def plain(scope: Scope) -> str:
    """Return the counts of what a sentence counts: ``2 of 3 specimens faulty, in 1 of 2 lots``."""
    if not scope.counts.tested:
        return "no specimen could be judged"
    joined = ", in" if scope.counts.faulty else " from"
    return f"{specimens(scope.counts)} faulty{joined} {over_lots(scope.counts)}"


def specimens(counts: Counts) -> str:
    """Return a count of specimens: ``3 of 9 specimens``."""
    return f"{out_of(counts.faulty, counts.tested)} {plural(counts.tested, 'specimen')}"


def as_bought(lots: Iterable[TestedLot]) -> str:
    """Return the counts, those bought as planned apart from those bought later."""
    first, *later = ((why, counts) for why, counts in by_reason(lots).items() if counts.tested)
    why, counts = first
    specimen = plural(counts.tested, "specimen")
    if why is not WhyBought.PLANNED:
        counted = f"{out_of(*counts)} {specimen} {_LATER[why]} faulty"
    else:
        counted = f"{out_of(*counts)} {'planned ' if later else ''}{specimen} faulty"
    return ", ".join([counted, *(f"{out_of(*some)} {_LATER[reason]}" for reason, some in later)])


_LATER = {
    WhyBought.TO_CONFIRM: "bought to confirm",
    WhyBought.NOTE: "bought because of a reader's note",
}


def of_everybody(claim: Claim) -> tuple[str, str]:
    """Return at how many makers a pigment or a format shows it, and its specimens, in words."""
    return common_at(claim), specimens(tally(claim.lots))


def _shared(finding: Finding, claim: Claim) -> str:
    makers, counted = of_everybody(claim)
    return f"{group_words(claim)}, at {makers} {WHERE}, {fault(finding)}: {counted} faulty."


def _common(finding: Finding, claim: Claim) -> str:
    if not finding.clears or is_above_the_others(finding, claim):
        return _COMMON_BUT
    several = claim.extent is Extent.PIGMENT and len(claim.subject) > 1
    return _TOGETHER.format(claim.group.many) if several else _COMMON


def own_share(finding: Finding, claim: Claim) -> str:
    """Return this maker's own counts of what several makers share, and how many of its faults that explains."""
    mine = tally(lot for lot in claim.lots if (lot.row.maker, lot.row.format) == (finding.maker, finding.format))
    some, total = finding.explains
    explains = f"; that explains {some} of its {total} faulty ones" if some < total else ""
    here = f"{finding.maker_name}, {finding.format}: {specimens(finding.counts)} faulty"
    named = claim.group.named(claim.subject)
    those = f", {out_of(mine.faulty, mine.tested)} with {named}" if claim.extent is Extent.PIGMENT else ""
    return f"{here}{those}, {WHERE}{explains}."


def _usual(finding: Finding) -> str:
    """Return what a standing of "none found" comes to where some were faulty; empty where none was."""
    peers, rate = tally(finding.field.peers(finding.lots)), finding.counts.rate
    usual = peers.rate if peers.tested else finding.field.rate_without(finding.maker)
    if not rate:
        return ""
    if usual is None:
        return "Little of it was found."
    told = "No more of it than at other makers was found."
    return told if rate <= usual else "It was not found far more often than at other makers."


def _of_lot(_: Finding, scope: Scope, claim: Claim) -> str:
    lot = claim.lots[0]
    others = tally(other for other in scope.lots if other.key != lot.key)
    mine = f"{out_of(lot.faulty, lot.tested)} {plural(lot.tested, 'specimen')} of lot {lot.row.lot_code} faulty"
    lots = [how_many(others.lots, "other lot")] if others.lots else []
    uncoded = [f"{how_many(others.uncoded, 'parcel')} without a batch code"] if others.uncoded else []
    rest = f", {out_of(others.faulty, others.tested)} from {listed(lots + uncoded)}" if others.tested else ""
    return f"{mine}{rest}"


def _of_parcel(_: Finding, scope: Scope, claim: Claim) -> str:
    own = {unit.row.specimen for unit in units_of(claim.lots)}
    rest = [bool(unit.faulty) for unit in units_of(scope.lots) if unit.row.specimen not in own]
    mine = f"{specimens(tally(claim.lots))} of one parcel faulty"
    return f"{mine}, {out_of(sum(rest), len(rest))} from other parcels" if rest else mine


def _of_specimen(_: Finding, scope: Scope, claim: Claim) -> str:
    sticker, row = claim.subject[-1], claim.lots[0].row
    if not claim.explained <= faulty_specimens(scope.lots):
        before = f"{plain(scope)} at the first look; " if scope.counts.tested else ""
        return f"{before}{at_a_later_look(claim)}"
    lot = next(lot for lot in scope.lots if any(unit.row.sticker == sticker for unit in lot.units))
    code = f" {row.lot_code}" if row.lot_code else ""
    sound = how_many(lot.tested - lot.faulty, "sound one")
    alone = f"the only one of its lot{code} that was looked at for this"
    beside_it = f"beside {sound} of its lot{code}" if lot.tested > 1 else alone
    return f"{specimens(scope.counts)} faulty: {sticker}, {beside_it if lot.coded else 'without a batch code'}"


def at_a_later_look(claim: Claim) -> str:
    """Return of one specimen when a further look showed what the first, which counts, did not."""
    return f"{claim.subject[-1]} showed it {later(claim)}"


def later(claim: Claim) -> str:
    """Return when a later look was."""
    return f"at a later look, on {day(claim.lots[0].units[0].row.day)}"


_COUNTED: Mapping[Extent, Callable[[Finding, Scope, Claim], str]] = {
    Extent.LOT: _of_lot,
    Extent.PARCEL: _of_parcel,
    Extent.SPECIMEN: _of_specimen,
}
