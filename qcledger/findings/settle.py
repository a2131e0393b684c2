"""What would settle a finding: the purchases and sessions that its unmet checks ask for."""

from dataclasses import dataclass
from enum import StrEnum

from qcledger.findings.cells import LEVEL
from qcledger.findings.checks import MIN_NONE_LOTS, MIN_NONE_SPECIMENS, MIN_SESSIONS, sound_below
from qcledger.findings.evidence import sitting_of
from qcledger.findings.finding import Check, CheckName, Claim, Finding, Need
from qcledger.findings.lots import units_of
from qcledger.stats.clustered import lot_aware_limits
from qcledger.vocab import Extent, Occasion, Standing

FARTHEST = 60
"""Most further lots that are worth naming; beyond them the answer is "many"."""


class Buy(StrEnum):
    """What to buy, or to test."""

    LOTS_OF_FORMAT = "other lots of the maker's format"
    PAINTS = "other paints of the maker's format"
    PEERS = "the same pigments from other makers"
    MORE_MAKERS = "the same from more makers"
    SESSION = "a session with its peers"
    TOGETHER = "a session with what it is compared with"
    UNPACKED_PEERS = "other makers' specimens unpacked near its own"
    UNPACKED_TOGETHER = "what it is compared with, unpacked near it"
    SELLER = "a parcel from another seller"
    CONFIRM = "specimens to confirm"
    CONFIRM_PAINT = "a new lot of the paint to confirm"
    CONFIRM_LOT = "a further specimen of the lot to confirm"
    LOTS_OF_PAINT = "other lots of the paint"
    OF_THE_LOT = "more specimens of the lot"
    WITH_CODE = "specimens with a batch code"
    ANALYSIS = "what the worst grade asks for"


@dataclass(frozen=True, slots=True)
class Purchase:
    """One thing to buy, and how many; 0 where more than `FARTHEST` would be needed."""

    what: Buy
    number: int


_ASKS: dict[CheckName, Buy] = {
    CheckName.LOTS: Buy.LOTS_OF_FORMAT,
    CheckName.PAINTS: Buy.PAINTS,
    CheckName.OTHER_PAINTS: Buy.PAINTS,
    CheckName.WITHOUT_WORST: Buy.PAINTS,
    CheckName.WITHOUT_PARCEL: Buy.SELLER,
    CheckName.PEERS: Buy.PEERS,
    CheckName.PEERS_SOUND: Buy.PEERS,
    CheckName.EXCESS: Buy.PEERS,
    CheckName.MAKERS: Buy.MORE_MAKERS,
    CheckName.SESSIONS: Buy.SESSION,
    CheckName.TOGETHER: Buy.TOGETHER,
    CheckName.PARCELS: Buy.SELLER,
    CheckName.SOUND_PARCELS: Buy.SELLER,
    CheckName.SOUND_LOTS: Buy.LOTS_OF_PAINT,
    CheckName.SOUND_IN_LOT: Buy.OF_THE_LOT,
    CheckName.CODE: Buy.WITH_CODE,
    CheckName.SHOWN: Buy.ANALYSIS,
}
_BEYOND_CHANCE: dict[Extent, Buy] = {
    Extent.PIGMENT: Buy.MORE_MAKERS,
    Extent.FORMAT: Buy.MORE_MAKERS,
    Extent.PAINT: Buy.LOTS_OF_PAINT,
    Extent.LOT: Buy.LOTS_OF_PAINT,
    Extent.PARCEL: Buy.SELLER,
}
_CONFIRMS: dict[Extent, Buy] = {Extent.PAINT: Buy.CONFIRM_PAINT, Extent.LOT: Buy.CONFIRM_LOT}
"""What confirms a paint and a lot, where two specimens of the maker's would not."""


def purchases(finding: Finding) -> tuple[Purchase, ...]:
    """Return what would settle `finding`, in the order of its checks; empty when it is settled.

    Notes
    -----
    What would settle a finding may also refute it: sound specimens count as much as faulty ones.
    """
    if finding.standing in (Standing.SETTLED, Standing.NONE_FOUND):
        return ()
    if finding.claim is None:
        return (_until_none_found(finding),)
    asked: dict[Buy, int] = {}
    wanted = (one for one in finding.claim.unmet if one.need is not Need.CHECKING)
    for check in (one for one in wanted if not _too_early(one, finding.claim)):
        what = _asks(check.name, finding.claim)
        if what is Buy.WITH_CODE and _is_the_missing_code(finding):
            what = Buy.SELLER
        if finding.criterion.seen_at is Occasion.UNPACKING:
            what = _at_unpacking(what, finding.claim)
        asked[what] = max(asked.get(what, 0), check.missing or 1)
    return tuple(Purchase(what, number) for what, number in asked.items())


def _is_the_missing_code(finding: Finding) -> bool:
    """Say whether faulty are just those without a batch code: that is the fault, and then no code helps."""
    bare = [lot for lot in finding.lots if not lot.row.lot_code]
    coded = [lot for lot in finding.lots if lot.row.lot_code]
    known = bool(coded) and sum(lot.tested for lot in bare) > 1
    return known and all(lot.faulty == lot.tested for lot in bare) and not any(lot.faulty for lot in coded)


def _too_early(check: Check, claim: Claim) -> bool:
    """Say whether a check asks to confirm a paint or a lot that is not even likely yet."""
    settled_twice = claim.extent in _CONFIRMS and claim.standing is Standing.OPEN
    return settled_twice and check.need is Need.CONFIRMATION


def _asks(name: CheckName, claim: Claim) -> Buy:
    if name is CheckName.CONFIRMED:
        return _CONFIRMS.get(claim.extent, Buy.CONFIRM)
    if name in (CheckName.BEYOND_CHANCE, CheckName.LEFT_OUT):
        return _BEYOND_CHANCE.get(claim.extent, Buy.LOTS_OF_FORMAT)
    return _ASKS.get(name, Buy.LOTS_OF_FORMAT)


def _at_unpacking(what: Buy, claim: Claim) -> Buy:
    """Return what is missing where no session is held: another parcel of its own, or others unpacked near it."""
    if what is Buy.TOGETHER:
        return Buy.UNPACKED_TOGETHER
    if what is not Buy.SESSION:
        return what
    faulty = {sitting_of(unit.row) for unit in units_of(claim.lots) if unit.faulty}
    return Buy.UNPACKED_PEERS if len(faulty) >= MIN_SESSIONS else Buy.SELLER


def _until_none_found(finding: Finding) -> Purchase:
    """Return how many further lots, one sound specimen of each, would allow "none found"."""
    tested = [lot.tested for lot in finding.lots]
    faulty = [lot.faulty for lot in finding.lots]
    known, further = len(tested), range(FARTHEST + 1)
    cell = [number for number in further for _ in range(known + number)]
    totals = [value for number in further for value in (*tested, *[1] * number)]
    somes = [value for number in further for value in (*faulty, *[0] * number)]
    upper = lot_aware_limits(somes, totals, cell, len(further), 2 * LEVEL - 1)[1]
    limit = sound_below(finding.usual_rate)
    counts = finding.counts
    least = max(MIN_NONE_LOTS - counts.lots, MIN_NONE_SPECIMENS - counts.tested, 0)
    return Purchase(Buy.LOTS_OF_FORMAT, next((number for number in further[least:] if upper[number] < limit), 0))
