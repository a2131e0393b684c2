"""Sentences about what an accusation was put to: pooled model, fair fields, stress checks. Part of the wording."""

from collections.abc import Iterator

from qcledger.findings.checks import DELTA, EXACT_LEVEL, known, percent
from qcledger.findings.checks import chance as chance_of
from qcledger.findings.finding import Chance, Claim, Finding, Stress, Without
from qcledger.findings.lots import tally
from qcledger.findings.pooled import SURE, Fair, Reach
from qcledger.findings.repeats import TESTERS_ERROR
from qcledger.findings.strength import exchange_p
from qcledger.findings.words import how_many, listed, out_of, plural
from qcledger.vocab import Extent, Standing

_LINE = "fault line"
_SIZES = ("half a grade", "a grade", "two grades")
_NAMED = 3
"""Most things named without which a claim does not stand; beyond them a sentence is not read."""


def fairly(finding: Finding) -> str:
    """Return how an accusation that holds compares with fair fields, and whether it is by more than ten points."""
    chance = finding.claim.chance if finding.claim and finding.standing is Standing.HOLDS else None
    if chance is None or chance.fair is None:
        return ""
    fields = f"{as_strong(chance.fair)} fair fields, in which no maker differs,"
    told = f"With the same planned purchases, {fields} came out as strong."
    far = chance.reach is not None and chance.reach.far_above >= SURE
    return f"Its rate is above the field's by more than ten points. {told}" if far else told


def beyond_the_others(finding: Finding, claim: Claim) -> str:
    """Return that this maker's share of what a pigment or a format explains is far worse; empty where it is not.

    Then the sentence clears nobody. No maker is accused of it either: within what is shared that is not measured.
    """
    own = [lot for lot in claim.lots if (lot.row.maker, lot.row.format) == (finding.maker, finding.format)]
    others = [lot for lot in claim.lots if lot.row.maker != finding.maker]
    ours, theirs = tally(own), tally(others)
    if (ours.rate or 0) - (theirs.rate or 0) <= DELTA or exchange_p(own, others, lambda lot: lot.kind) > EXACT_LEVEL:
        return ""
    counts = f"{out_of(ours.faulty, ours.tested)} here, {out_of(theirs.faulty, theirs.tested)} at the other makers"
    return f"This maker's share of it is the higher ({counts}); whether the maker adds to it is not settled."


def weakness(claim: Claim) -> str:
    """Return without what a claim that holds does not stand, as one sentence; empty where it stands throughout.

    Checks that leave too little to tell are no weakness of it. Of a fault line moved one way the nearest says it.
    """
    if claim.standing is not Standing.HOLDS or claim.stress is None:
        return ""
    falls = [one for one in claim.stress.falls if one.kind not in (_LINE, TESTERS_ERROR)]
    named = [_without(one) for one in (*falls, *_nearest(claim.stress))]
    others = len([one for one in claim.stress.falls if one.kind != TESTERS_ERROR]) - _NAMED
    more = [f"in {how_many(others, 'more check')}"] if len(named) > _NAMED else []
    drawn = [one for one in claim.stress.checks if one.kind == TESTERS_ERROR]
    lost = sum(not one.stands for one in drawn)
    error = [f"in {lost} of {len(drawn)} draws of our own grading error"] if lost else []
    told = ", nor ".join([*named[:_NAMED], *more, *error])
    return f"This does not stand {told}." if told else ""


def _nearest(stress: Stress) -> Iterator[Without]:
    """Yield the least shift of the fault line either way with which a claim falls."""
    moved = {one.what: one for one in stress.falls if one.kind == _LINE}
    for way in ("stricter", "milder"):
        yield from [moved[what] for size in _SIZES if (what := f"{size} {way}") in moved][:1]


def pooled_words(reach: Reach) -> tuple[str, ...]:
    """Return the pooled rate, its excess over the field and their probabilities, in words."""
    rate, excess = reach.rate, reach.excess
    told = f"Pooled rate {percent(rate.mean)} ({percent(rate.low)} to {percent(rate.high)}, 95 %)"
    more = "above" if excess.mean >= 0 else "below"
    points = f"{how_many(round(abs(excess.mean) * 100), 'point')} {more} the field"
    span = f"({excess.low * 100:+z.0f} to {excess.high * 100:+z.0f})"  # z: never minus nought
    chances = f"any excess {known(reach.above)}, one of more than ten points {known(reach.far_above)}"
    return f"{told}, {points} {span}.", f"Chance of {chances}."


_ABOVE = {
    Extent.PIGMENT: "above the other pigments",
    Extent.FORMAT: "above the other formats",
    Extent.MAKER: "above the field over its formats",
    Extent.MAKER_FORMAT: "above the field",
    Extent.PAINT: "above what its maker and pigments make it",
    Extent.LOT: "above its paint",
}


def level_words(finding: Finding) -> str:
    """Return for every extent the unit most likely to be the worse, and that chance, in one sentence."""
    told = [f"{one.name} {_ABOVE[one.extent]} {known(one.chance)}" for one in finding.levels]
    return f"Chances by extent, the likeliest of each: {'; '.join(told)}." if told else ""


def checked_words(chance: Chance) -> tuple[str, ...]:
    """Return what an accusation was put to, in words."""
    fair = chance.fair
    drawn = "A fair field with the same planned purchases would show something as strong"
    asked = f"{drawn} in {as_strong(fair)}." if fair else ""
    exact = f"By exchanging lots with its peers, which anyone can redo: {chance_of(chance.exact)}."
    return tuple(part for part in (asked, exact) if part)


def as_strong(fair: Fair) -> str:
    """Return how many of the fair fields were as strong: ``none of 3,250``."""
    return f"{fair.as_strong or 'none'} of {fair.fields:,}"


def stands_in(stress: Stress) -> str:
    """Return in how many stress checks a claim stands, where it does not, and where too little is left to tell."""
    if not stress.checks:
        return "There is nothing that could be left out."
    told = f"It stands in {standing_in(stress)}" if stress.telling else ""
    told += f"; not {listed([_without(one) for one in stress.falls])}" if stress.falls else ""
    return ". ".join(part for part in (told, _untold(stress)) if part) + "."


def standing_in(stress: Stress) -> str:
    """Return in how many of the stress checks that can tell a claim stands: ``38 of 41 stress checks``."""
    which = " that can tell" if stress.untold else ""
    return f"{stress.stands} of {stress.telling} {plural(stress.telling, 'stress check')}{which}"


def in_short(stress: Stress) -> str:
    """Return the outcome of the stress checks in a few words; empty when nothing could be left out."""
    count = len(stress.untold)
    told = f"stands in {standing_in(stress)}" if stress.telling else ""
    what = "more" if told else plural(count, "stress check")
    few = f"{count} {what} {'leave' if count > 1 else 'leaves'} too little to tell" if count else ""
    return "; ".join(part for part in (told, few) if part)


def _untold(stress: Stress) -> str:
    """Return which checks leave too little to tell; empty when each can tell."""
    if not stress.untold:
        return ""
    count = len(stress.untold)
    which = f"{count} more" if stress.telling else f"{count} of its stress checks"
    tell = "tell" if count > 1 else "tells"
    named = listed([_without(one) for one in stress.untold])
    return f"{which} {tell} nothing, for too little is left to say it, whatever that shows: {named}"


def _without(one: Without) -> str:
    before = {_LINE: "with the fault line ", "not blind": "without ", TESTERS_ERROR: "with "}
    return f"{before.get(one.kind, f'without {one.kind} ')}{one.what}"
