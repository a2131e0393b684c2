"""What has to be so before an extent may be said: the limits, and how checks add up to a standing."""

from collections.abc import Collection, Iterable, Iterator
from functools import lru_cache

from qcledger.findings.evidence import NEAR, Sitting, Unit, side_by_side
from qcledger.findings.finding import Check, CheckName, Need
from qcledger.findings.words import plural
from qcledger.vocab import Standing

DELTA = 0.10
"""A difference in fault rates that matters to a painter, as a share of specimens."""

FIELD_CAP = 0.20
"""Highest rate of the other makers that may stand for sound: a field with more faults is no yardstick."""

EXACT_LEVEL, WIDE_LEVEL = 0.05, 0.1
"""Levels of exact tests: behind a lot that is still to be confirmed, and behind a pigment or a format; each for all
of a criterion together that could have told anything. A pigment's is wider because a pattern is asked for as well: of
fields in which pigments are all alike about one in 25 has one named, by the calibration of the guide."""

SCORECARD = 0.02
"""Chance that a scorecard says anything at all of somebody who is innocent, over all its criteria."""

NARROW_SHARE = 0.003
"""What is left of it, beside the line of the fair-field check, for each of four: paints, paints beyond what is
shared, parcels, and lots that are said without a further specimen; each divided among the criteria that could say
one."""

SPREAD_LEVEL = 0.01
"""Level of the exact test of what a maker shows without its worst paint, or a parcel that stands apart. A maker and
its formats are asked, so that with 0.02 a wholly bad paint made a maker in 15 of 600 small fields; 0.01 loses one in
60 of the bad formats that were found."""

MOST = 0.5
"""Share of a maker's specimens, or of makers, from which one says most."""

MIN_FIELD_MAKERS = 4
"""Makers that must show it before a pigment or a format is named, and peers of something that may be a trait."""

MIN_PEER_MAKERS, MIN_PEER_PIGMENTS = 3, 3
"""Other makers with the same pigment in the same format, and pigments of the suspect that have as many."""

MIN_PAINTS, MIN_LOTS, MIN_FAULTY, MIN_SESSIONS, MIN_PARCELS = 3, 3, 2, 2, 2
"""Minimum evidence against a maker or its format; `MIN_FAULTY` is for paints, lots and parcels with a fault."""

MIN_SOUND_LOTS, MIN_SOUND_IN_LOT = 2, 3
"""Sound lots of the paint beside a bad lot; sound specimens of the lot beside a bad specimen, and of the maker's
other paints beside a stray fault."""

MIN_TO_CONFIRM = 2
"""Faulty specimens among those bought to confirm."""

HABIT = 3
"""Times a maker's excess where faults are rare that the same habit may add where half of the specimens are faulty: a
step on the logit scale that is a point there is up to three here."""

ALIKE = 0.5
"""Lot concentration of what is bought to confirm: that of the hardest rows of the calibration. Two faulty of two from
one lot are then no two specimens."""

MIN_NONE_SPECIMENS, MIN_NONE_LOTS = 5, 2
"""Specimens and lots of a cell before "none found" is said of it."""

MIN_TO_CLEAR = 3
"""Specimens from which none faulty says something: of a format for a maker-wide extent, of a maker for a pigment."""

_FOLLOWS = (
    (Need.PATTERN, None),
    (Need.EVIDENCE, Standing.OPEN),
    (Need.CHECKING, Standing.CHECKING),
    (Need.CONFIRMATION, Standing.TO_CONFIRM),
)


def standing_of(checks: Iterable[Check]) -> Standing | None:
    """Return what `checks` add up to; None when the pattern itself is not there."""
    lacking = {check.need for check in checks if not check.met}
    return next((standing for need, standing in _FOLLOWS if need in lacking), Standing.SETTLED)


def if_pattern(asked: Iterable[Check]) -> tuple[Check, ...]:
    """Return the checks if the pattern is there, else nothing; what comes after an unmet one is never asked."""
    found = []
    for check in asked:
        if check.need is Need.PATTERN and not check.met:
            return ()
        found.append(check)
    return tuple(found)


@lru_cache(maxsize=1024)
def at_least(name: CheckName, found: int, needed: int, need: Need = Need.EVIDENCE) -> Check:
    """Return the check that there are at least `needed` of something."""
    return Check(name, found >= needed, str(found), f"{needed} or more", need, max(needed - found, 0))


def percent(rate: float) -> str:
    """Return a share in whole per cent: 0.384 is ``38 %``."""
    return f"{rate * 100:z.0f} %"  # z: never minus nought


def chance(p: float) -> str:
    """Return a probability to two digits: ``p 0.0032``."""
    return f"p {p:.2g}" if p >= 1e-4 else "p below 0.0001"


def known(value: float) -> str:
    """Return a probability that comes from draws: ``0.982``, and ``over 0.999`` where none says otherwise."""
    return "over 0.999" if value > 0.999 else "below 0.001" if value < 0.001 else f"{value:.3f}"


def share_of(criteria: int) -> float:
    """Return the level at which one of so many criteria may name a paint, a parcel, or a lot by itself."""
    return NARROW_SHARE / max(criteria, 1)


def beyond_chance(p: float, corrected: float, method: str, among: int, level: float) -> Check:
    """Return the check that chance would show as much at any one of so many with a probability of at most `level`."""
    after = f", {chance(corrected)[2:]} after {method}'s correction over {among}" if among > 1 else ""
    found = f"{chance(p)}{after}"
    return Check(CheckName.BEYOND_CHANCE, corrected <= level, found, f"{level:.2g} or less")


def beyond_all(p: float, among: int, level: float) -> Check:
    """Return that check for one of so many that could have told anything."""
    return beyond_chance(p, min(p * among, 1.0), "Tarone", among, level)


def together(inside: Iterable[Unit], beside: Iterable[Unit]) -> Iterator[Check]:
    """Yield the check that some of the faulty ones inside were tested in a session with sound ones to compare with.

    Else a session in which everything reads worse looks like a fault of whatever was tested in it. Where nothing is
    there to compare with, other checks ask for it.
    """
    theirs = list(beside)
    if not theirs:
        return
    yield in_sittings(side_by_side((one for one in inside if one.faulty), (one for one in theirs if not one.faulty)))


def in_sittings(shared: Collection[Sitting]) -> Check:
    """Return the check that there is a session, or sitting of unpacking, with faulty and sound ones beside."""
    needed = (
        f"1 session or more that holds both it and sound ones beside, at unpacking {NEAR.days} days at most between"
    )
    return Check(CheckName.TOGETHER, bool(shared), sittings(shared), needed)


def sittings(some: Collection[Sitting]) -> str:
    """Return how many sessions and sittings of unpacking there are: ``2 sessions``, ``1 sitting of unpacking``."""
    at_bench = sum(one.at_bench for one in some)
    told = ((at_bench, "session", ""), (len(some) - at_bench, "sitting", " of unpacking"))
    return ", ".join(f"{count} {plural(count, what)}{rest}" for count, what, rest in told if count) or "0 sessions"


def sound_below(usual_rate: float) -> float:
    """Return the limit that a cell's own upper limit must stay below for "none found"."""
    return min(usual_rate, FIELD_CAP) + 2 * DELTA
