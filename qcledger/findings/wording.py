"""Every sentence about a finding. They name counts, lots, sessions, dates and limits, and accuse of nothing more.

`sentence` is the one statement that may be printed, `further` what is folded beneath it. Either may be read aloud to
the maker it is about, and any sentence of them quoted alone: none uses a word of `words.BANNED`, and one that names a
maker carries its count. Tests hold that.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace

from qcledger.findings.finding import Apart, Claim, Finding
from qcledger.findings.lots import faulty_specimens, tally
from qcledger.findings.papers import LeftApart
from qcledger.findings.scope import Scope, scope_of
from qcledger.findings.trail import Recurrence
from qcledger.findings.wording_of_checks import beyond_the_others, fairly, weakness
from qcledger.findings.wording_of_counts import (
    WIDE,
    counts_of,
    fault,
    later,
    of_everybody,
    own_share,
    public_statement,
    specimens,
    statement,
)
from qcledger.findings.wording_of_free import FREE, free_lines, free_of
from qcledger.findings.wording_of_limits import still_allowed
from qcledger.findings.wording_of_settling import passed_over
from qcledger.findings.wording_of_size import how_large
from qcledger.findings.wording_of_trail import (
    came_from,
    later_lots,
    lots_named,
    over_lots,
    seen_openly,
    these_only,
    under_question,
    undried,
)
from qcledger.findings.words import day, how_many, listed, out_of, plural
from qcledger.rubric import PeerGroup
from qcledger.rubric.model import PIGMENTS
from qcledger.thing import worded
from qcledger.vocab import MARKS, Extent, Standing

FAIR = "Fair wording. Ask the maker first; not legal advice."
"""Stands above whatever may be printed."""
HEALTH_FIRST = "For you only until maker, seller and authority were told: it may concern health."
"""Stands there instead where a fault may concern health."""
NOTHING = "Nothing has been graded yet, so there are no findings."
_SETTLED = (Standing.SETTLED, Standing.NONE_FOUND)
_OF_LOTS = (Extent.MAKER, Extent.MAKER_FORMAT, Extent.PAINT)
_THESE_ONLY = "No batch code was found, so this speaks of these specimens only."


def sentence(finding: Finding) -> str:
    """Return the statement about `finding` that may be printed at its standing, of some 40 words at most.

    What is open, being checked or to confirm reads as open, and tells how much was looked at but of no fault.
    """
    return public_statement(finding, scope_of(finding))


def further(finding: Finding) -> tuple[str, ...]:
    """Return what may be printed beneath `sentence`, a line each: sizes, lots, checks, where from, limits."""
    scope = scope_of(finding)
    if finding.standing in _SETTLED:
        return tuple(_lines(finding, scope))
    return tuple(line for line in (came_from(scope.trail), seen_openly(finding, scope.trail)) if line)


def so_far(finding: Finding) -> tuple[str, ...]:
    """Return for its tester what an open finding, or one to confirm, counts so far; empty for what is settled."""
    if finding.standing in _SETTLED:
        return ()
    scope, claim = scope_of(finding), finding.claim
    uncoded = claim is not None and claim.extent is Extent.PARCEL and not claim.lots[0].coded
    return (statement(finding, scope), *([_THESE_ONLY] if uncoded else []), *_lines(finding, scope))


def whole(finding: Finding) -> str:
    """Return everything that may be printed of a finding, as one paragraph."""
    return " ".join((sentence(finding), *further(finding)))


def to_ask(finding: Finding, most: int) -> str:
    """Return the words a maker is asked about, as they would be printed: whole lines, `most` characters at most."""
    told, *lines = so_far(finding) or (sentence(finding), *further(finding))
    for line in lines:
        if len(told) + 1 + len(line) > most:
            break
        told = f"{told} {line}"
    return told


def heading(finding: Finding) -> str:
    """Return what stands above the sentence: how it may be used."""
    told = finding.standing is Standing.SETTLED and finding.claim is not None and finding.claim.critical
    return HEALTH_FIRST if told else FAIR


def _lines(finding: Finding, scope: Scope) -> Iterator[str]:
    """Yield what a statement rests on and what it leaves open."""
    claim = finding.claim
    wide = claim if claim and claim.extent in WIDE and finding.leaning is None else None
    told = (
        how_large(finding, scope),
        own_share(finding, wide) if wide else "",
        beyond_the_others(finding, wide) if wide else explains(finding),
        *free_of(finding),
        *(free_lines(wide) if wide else ()),
        lots_named(finding, scope),
        passed_over(finding, scope),
        again(finding, scope),
        also(finding, scope),
        beside(finding, scope),
        *fairly(finding),
        *(weakness(finding, claim) if claim else ()),
        came_from(scope.trail),
        under_question(finding, scope),
        seen_openly(finding, scope.trail),
        these_only(finding, scope),
        *_open(finding, scope),
    )
    yield from (line for line in told if line)


def again(finding: Finding, scope: Scope) -> str:
    """Return what further grades of the one faulty specimen showed; empty where there are more, or no such grades."""
    claim = finding.claim
    mine = claim.explained if claim and claim.extent is Extent.SPECIMEN else faulty_specimens(scope.lots)
    graded = finding.field.evidence.again(finding.criterion.key, *mine) if len(mine) == 1 else ()
    if len(graded) <= (not mine <= faulty_specimens(scope.lots)):  # one later look may be what the sentence tells of
        return ""
    how = listed([str(reason) for reason in dict.fromkeys(one.reason for one in graded)], "or")
    sound = sum(not one.unit.faulty for one in graded)
    return f"Graded again, {how}, {graded[0].unit.row.sticker} was sound in {out_of(sound, len(graded))}."


def also(finding: Finding, scope: Scope) -> str:
    """Return what the claim leaves over: exceptions that are settled by name, the others by count alone."""
    told = [claim for claim in finding.exceptions if claim.standing is Standing.SETTLED]
    named = [_beyond(claim) for claim in told if not claim.critical]
    first = faulty_specimens(finding.lots)
    if health := [_called(claim, first) for claim in told if claim.critical]:
        named.append(_may_concern_health(finding.claim, health))
    spoken = {specimen for claim in (finding.claim, *told) if claim for specimen in claim.explained}
    if finding.standing is not Standing.SETTLED:
        spoken |= faulty_specimens(scope.lots)  # they were counted already
    left = [lot for lot in finding.lots if faulty_specimens([lot]) - spoken]
    if finding.exceptions and left:
        more = how_many(len(faulty_specimens(left) - spoken), "more faulty specimen")
        named.append(f"Also seen, and open: {more}, of {listed(sorted({lot.row.paint_name for lot in left}))}.")
    return " ".join(named)


def _beyond(claim: Claim) -> str:
    if claim.extent in WIDE:
        makers, counted = of_everybody(claim)
        return f"Common to several makers: {subject(claim)}, {counted} faulty, at {makers}."
    return f"Beyond that: {subject(claim)}, {specimens(tally(claim.lots))} faulty."


def explains(finding: Finding) -> str:
    """Return how many of the faulty specimens the leading claim explains; empty where that is each of them."""
    some, total = finding.explains
    told = finding.claim is not None and finding.leaning is None and some < total
    return f"It explains {out_of(some, total)} faulty ones." if told else ""


def limits(finding: Finding, scope: Scope) -> str:
    """Return what the numbers still leave open, in one paragraph."""
    return " ".join(line for line in _open(finding, scope) if line)


def _open(finding: Finding, scope: Scope) -> Iterator[str]:
    """Yield what the numbers still leave open, a line each; of none found the statement says it where it has room."""
    left = still_allowed(finding, scope)
    if finding.standing is not Standing.NONE_FOUND or scope.counts.faulty or left not in sentence(finding):
        yield left
    yield undried(finding, scope)
    yield later_lots(scope)


def _may_concern_health(first: Claim | None, health: Sequence[str]) -> str:
    """Return what is said of the stickers in `health`, beside the claim that the sentence began with."""
    if first is not None and first.extent is Extent.SPECIMEN and [first.subject[-1]] == list(health):
        return "It may concern health."
    same = first is not None and first.critical
    alone = "It may concern health, so it is said of each specimen by itself:"
    return f"{'The same is said of' if same else alone} {listed(health)}."


def _called(claim: Claim, at_first: frozenset[str]) -> str:
    """Return the sticker of a critical claim, with the day where only a later look showed it."""
    sticker = claim.subject[-1]
    return sticker if claim.explained <= at_first else f"{sticker} ({later(claim)})"


def beside(finding: Finding, scope: Scope) -> str:
    """Return what other makers' paints showed that have the pigments and formats of what the sentence counts."""
    if finding.claim and finding.claim.extent in WIDE:
        return ""
    several = len(scope.formats) > 1
    by = finding.criterion.peers
    if not (peers := finding.field.peers(scope.lots)):
        formats = "these formats" if several else "this format"
        return f"We tested no other maker's {worded('paint')}{_with_these(finding, by)} in {formats}."
    makers = how_many(len({lot.row.maker for lot in peers}), "other maker")
    theirs = [f"{one}s" for one in scope.formats if any(lot.row.format == one for lot in peers)]
    same = "in the same formats" if several else "in the same format"
    formats = same if len(theirs) == max(len(scope.formats), 1) else f"as {listed(theirs)}"
    compared = f"With the same {by.same} {formats}" if any(lot.group for lot in peers) else _by_format(by, formats)
    return f"{compared}, from {makers}: {specimens(tally(peers))} faulty."


def _with_these(finding: Finding, by: PeerGroup) -> str:
    """Return what a peer would have in common beside the format; empty where that is nothing."""
    if by == PIGMENTS:
        return f" with these {by.many}"
    return f" with the same {by.same}" if any(lot.group for lot in finding.lots) else ""


def _by_format(by: PeerGroup, formats: str) -> str:
    """Return that labels say nothing of what makes peers, so that formats alone are compared."""
    told = f"{formats[:1].upper()}{formats[1:]}"
    return told if by.part is None else f"{told}, not compared by {by.one}"


def in_short(finding: Finding) -> str:
    """Return mark, standing and extent for a table: ``/// settled: lot Kiln Red Q4471``."""
    words = f"{MARKS[finding.standing]} {finding.standing}"
    if finding.claim is None:
        return f"{words}; {FREE}" if finding.free else words
    joined = f"{words}, points to" if finding.leaning else f"{words}:"
    shared = ", common to several makers; none is blamed" if finding.extent in WIDE else ""
    return f"{joined} {subject(finding.claim)}{shared}"


def headline(finding: Finding, claim: Claim, faults: str = "") -> str:
    """Return a claim in one line: ``separated binder: lot A7 of a red, a maker, tube``; `faults` names several."""
    whose = "" if claim.extent in (*WIDE, Extent.MAKER) else f", {finding.maker_name}, {finding.format}"
    return f"{faults or fault(finding)}: {subject(claim)}{whose}"


def in_counts(finding: Finding, claim: Claim) -> str:
    """Return the counts behind a claim that stands, as one sentence."""
    if claim.extent in WIDE:
        makers, counted = of_everybody(claim)
        return f"{counted} faulty; {makers} show it."
    own = replace(finding, claim=claim)
    scope = scope_of(own)
    lots = f", in {over_lots(scope.counts)}" if claim.extent in _OF_LOTS else ""
    told = f"{counts_of(own, scope, claim)}{lots}"
    return f"{told[:1].upper()}{told[1:]}."


def set_apart(apart: Sequence[Apart], missing: int = 0, reader_notes: int = 0) -> str:
    """Return what was not counted, in one sentence; empty when there is nothing."""
    told = [f"{one.number} {one.reason}, {one.faulty or 'none'} faulty" for one in apart if one.number]
    told += [f"{missing} not testable"] if missing else []
    told += [how_many(reader_notes, "reader's note")] if reader_notes == 1 else []
    told += [f"{reader_notes} readers' notes"] if reader_notes > 1 else []
    return f"Not counted: {'; '.join(told)}." if told else ""


def extent_word(claim: Claim) -> str:
    """Return how far a claim reaches in a word: its extent or, for *pigment*, what the rubric takes to make peers."""
    return claim.group.one if claim.extent is Extent.PIGMENT else str(claim.extent)


def subject(claim: Claim) -> str:
    """Return what a claim is about: ``lot Q4471 of Kiln Red``."""
    if claim.extent is Extent.PIGMENT:
        return f"{claim.group.one} {' with '.join(claim.subject)}"
    return subject_words(claim.extent, claim.subject)


def subject_words(extent: Extent, about: tuple[str, ...]) -> str:
    """Return the subject of a claim of an extent in words."""
    return _SUBJECT[extent](about)


def over_formats(finding: Finding) -> str:
    """Return that the sentence counts other formats or fewer paints than the finding; empty where it does not."""
    scope = scope_of(finding)
    counted = [f"{one}s" for one in scope.formats] if len(scope.formats) > 1 else []
    fewer = scope.counts.tested < finding.counts.tested
    named = counted or ([f"{one} alone" for one in scope.paints] if fewer else [])
    return f"The sentence counts {listed(named)}; what follows is of the {finding.format}s." if named else ""


def recurring(recurrence: Recurrence) -> str:
    """Return in how many comparisons or parcels it was seen: ``seen in 3 of 4 parcels since 4 March 2026``."""
    seen = out_of(recurrence.seen, recurrence.looked)
    return f"seen in {seen} {plural(recurrence.looked, recurrence.over)} since {day(recurrence.since)}"


_SUBJECT: Mapping[Extent, Callable[[tuple[str, ...]], str]] = {
    Extent.FORMAT: lambda names: f"format, {names[0]}",
    Extent.MAKER: lambda names: f"maker {names[0]}",
    Extent.MAKER_FORMAT: lambda names: f"this maker's {names[1]}s",
    Extent.PAINT: lambda names: f"{worded('paint')} {names[0]}",
    Extent.LOT: lambda names: f"lot {names[-1]} of {names[0]}",
    Extent.PARCEL: lambda names: f"parcel bought on {names[-1]} from {names[-2]}",
    Extent.SPECIMEN: lambda names: f"specimen {names[-1]} of {names[0]}",
    Extent.SESSION: lambda names: f"our own session {names[0]}",
}


def on_other_paper(found: Sequence[LeftApart]) -> str:
    """Return how much was left apart because of its paper, and why; empty for nothing."""
    told = (
        f"{how_many(one.results, 'result')} of {listed(one.sessions)} on {one.papers.other}: "
        f"findings stay on {one.papers.reference}"
        for one in found
    )
    joined = "; ".join(told)
    return f"Left apart, on other paper: {joined}." if joined else ""


def left_out(sessions: Sequence[str]) -> str:
    """Return a sentence about sessions that are still blind; empty for none."""
    if not sessions:
        return ""
    several = len(sessions) > 1
    verb = "s {} are left out until they are" if several else " {} is left out until it is"
    return f"Blind session{verb} closed.".format(listed(sessions))
