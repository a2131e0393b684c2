"""Sentences about what an accusation was put to: pooled model, fair fields, stress checks. Part of the wording."""

from collections.abc import Iterator

from qcledger.findings.checks import DELTA, EXACT_LEVEL, known, percent
from qcledger.findings.checks import chance as chance_of
from qcledger.findings.finding import Chance, CheckName, Claim, Finding, Stress, Without
from qcledger.findings.lots import TestedLot, tally
from qcledger.findings.pooled import SURE, Fair, Reach
from qcledger.findings.repeats import TESTERS_ERROR
from qcledger.findings.strength import exchange_p
from qcledger.findings.words import how_many, listed, number, out_of, plural
from qcledger.rubric import Criterion, PeerGroup
from qcledger.thing import worded
from qcledger.vocab import Extent, Standing

_LINE = "fault line"
_SIZES = ("half a grade", "a grade", "two grades")
_NAMED = 3
"""Most things named without which a claim does not stand; beyond them a sentence is not read."""


def fairly(finding: Finding) -> tuple[str, ...]:
    """Return of an accusation that is settled whether it is by more than ten points, and what fair fields showed."""
    chance = finding.claim.chance if finding.claim and finding.standing is Standing.SETTLED else None
    if chance is None or chance.fair is None:
        return ()
    fair = chance.fair
    rounds = f"In {fair.fields:,} simulated rounds of these same purchases with no maker worse,"
    told = f"{rounds} {fair.as_strong or 'none'} looked this bad."
    far = chance.reach is not None and chance.reach.far_above >= SURE
    return (f"The share of faulty ones is more than ten points above the other makers'{_theirs(finding)}.", told)[
        not far :
    ]


def _theirs(finding: Finding) -> str:
    """Return what the other makers' paints showed, in brackets; empty without any."""
    claim = finding.claim
    peers = tally(finding.field.peers(claim.lots if claim else finding.lots))
    return f" ({out_of(peers.faulty, peers.tested)})" if peers.tested else ""


def is_above_the_others(finding: Finding, claim: Claim) -> bool:
    """Say whether this maker's share of what a pigment or a format explains is far worse than the others'."""
    own, others = _shares(finding, claim)
    ours, theirs = tally(own), tally(others)
    far = (ours.rate or 0) - (theirs.rate or 0) > DELTA
    return far and exchange_p(own, others, lambda lot: lot.kind) <= EXACT_LEVEL


def beyond_the_others(finding: Finding, claim: Claim) -> str:
    """Return that this maker's share of what a pigment or a format explains is far worse; empty where it is not.

    Then the sentence clears nobody. No maker is accused of it either: within what is shared that is not measured.
    """
    if not is_above_the_others(finding, claim):
        return ""
    ours, theirs = map(tally, _shares(finding, claim))
    counts = f"{out_of(ours.faulty, ours.tested)} here, {out_of(theirs.faulty, theirs.tested)} at the other makers"
    return f"This maker's share of it is the higher ({counts}); whether the maker adds to it is open."


def _shares(finding: Finding, claim: Claim) -> tuple[list[TestedLot], list[TestedLot]]:
    """Return the lots of a shared claim that are this maker's in this format, and those of other makers."""
    own = [lot for lot in claim.lots if (lot.row.maker, lot.row.format) == (finding.maker, finding.format)]
    return own, [lot for lot in claim.lots if lot.row.maker != finding.maker]


def weakness(finding: Finding, claim: Claim) -> tuple[str, ...]:
    """Return without what a settled claim could not be said, a sentence each; empty where it stands throughout.

    Checks that leave too little to tell are no weakness of it. Of a fault line moved one way the nearest says it.
    """
    if claim.standing is not Standing.SETTLED or claim.stress is None:
        return ()
    falls = [one for one in claim.stress.falls if one.kind not in (_LINE, TESTERS_ERROR)]
    named = [_without(one) for one in falls[:_NAMED]]
    more = [f"without {number(len(falls) - _NAMED)} more"] if len(falls) > _NAMED else []
    drawn = [one for one in claim.stress.checks if one.kind == TESTERS_ERROR]
    lost = sum(not one.stands for one in drawn)
    told = (
        f"We could not say this {listed([*named, *more], 'or')}." if named else "",
        *(_if_moved(one, finding.criterion) for one in _nearest(claim.stress)),
        f"In {lost} of {len(drawn)} draws of our own grading error we could not say this." if lost else "",
    )
    return tuple(line for line in told if line)


def _if_moved(one: Without, criterion: Criterion) -> str:
    """Return what the claim would come to with the fault line moved, told by the grade from which it would count."""
    size, _, way = one.what.rpartition(" ")
    shift = {"half a grade": 0.5, "a grade": 1.0}.get(size)
    if shift is None or criterion.fault_line is None:
        return f"With the fault line {one.what} we could not say this."
    line = criterion.fault_line + (shift if way == "milder" else -shift)
    worse = "" if line >= max(criterion.grades, default=5.0) else " and worse"
    only = "only " if way == "milder" else ""
    return f"If {only}grade {line:g}{worse} counted, we could not say this."


def _nearest(stress: Stress) -> Iterator[Without]:
    """Yield the least shift of the fault line either way with which a claim falls."""
    moved = {one.what: one for one in stress.falls if one.kind == _LINE}
    for way in ("stricter", "milder"):
        yield from [moved[what] for size in _SIZES if (what := f"{size} {way}") in moved][:1]


def pooled_words(reach: Reach) -> tuple[str, ...]:
    """Return the pooled rate, its excess over the field and their probabilities, in words."""
    rate, excess = reach.rate, reach.excess
    told = f"Pooled share {percent(rate.mean)} ({percent(rate.low)} to {percent(rate.high)}, 95 %)"
    more = "above" if excess.mean >= 0 else "below"
    points = f"{how_many(round(abs(excess.mean) * 100), 'point')} {more} an ordinary maker's"
    span = f"({excess.low * 100:+z.0f} to {excess.high * 100:+z.0f})"  # z: never minus nought
    chances = f"any excess {known(reach.above)}, one of more than ten points {known(reach.far_above)}"
    return f"{told}, {points} {span}.", f"Chance of {chances}."


_ABOVE = {
    Extent.PIGMENT: "above the other {many}",
    Extent.FORMAT: "above the other formats",
    Extent.MAKER: "above the other makers over its formats",
    Extent.MAKER_FORMAT: "above the other makers in this format",
    Extent.PAINT: "above what its maker and {same} make it",
    Extent.LOT: "above its paint",
}
HOW_LIKELY = "How likely each explanation is; of each extent the likeliest."
"""Stands above the table of chances."""


def level_rows(finding: Finding) -> tuple[tuple[str, str, str], ...]:
    """Return for every extent the unit most likely to be the worse: its name, above what, and the chance."""
    by = finding.criterion.peers
    above = {extent: worded(words.format(many=by.many, same=by.same)) for extent, words in _ABOVE.items()}
    return tuple((one.name, above[one.extent], known(one.chance)) for one in finding.levels)


def check_words(name: CheckName, by: PeerGroup) -> str:
    """Return a check's name with what the rubric takes to make peers, where it says pigment."""
    told = _OF_PEERS.get(name)
    return worded(told.format(one=by.one, many=by.many) if told else name)


_OF_PEERS = {
    CheckName.FAULTY_PIGMENTS: "{many} with a fault",
    CheckName.PEERS: "{many} with peers",
    CheckName.PEERS_SOUND: "peers of the {one}",
}


def checked_words(chance: Chance) -> tuple[str, ...]:
    """Return what an accusation was put to, in words."""
    fair = chance.fair
    rounds = "Of the simulated rounds of these same purchases with no maker worse,"
    asked = f"{rounds} {as_strong(fair)} looked this bad." if fair else ""
    exact = f"By exchanging lots with its peers, which anyone can redo: {chance_of(chance.exact)}."
    return tuple(part for part in (asked, exact) if part)


def as_strong(fair: Fair) -> str:
    """Return how many of the simulated fair rounds were as strong: ``none of 3,250``."""
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
    few = f"{count} {what} cannot tell: too little is left" if count else ""
    return "; ".join(part for part in (told, few) if part)


def _untold(stress: Stress) -> str:
    """Return which checks leave too little to tell; empty when each can tell."""
    if not stress.untold:
        return ""
    count = len(stress.untold)
    which = f"{count} more" if stress.telling else f"{count} of its stress checks"
    named = listed([_without(one) for one in stress.untold])
    return f"{which} cannot tell, because too little is left: {named}"


def _without(one: Without) -> str:
    before = {_LINE: "with the fault line ", "not blind": "without ", TESTERS_ERROR: "with "}
    return f"{before.get(one.kind, f'without {one.kind} ')}{one.what}"
