"""Every sentence about a finding. They name counts, lots, sessions, dates and limits, and accuse of nothing more.

A sentence may be read aloud to the maker it is about. It uses none of the words in `words.BANNED`; a test holds that.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from qcledger.findings.finding import Apart, CheckName, Claim, Finding
from qcledger.findings.lots import Counts, faulty_specimens, tally
from qcledger.findings.papers import LeftApart
from qcledger.findings.scope import Scope, scope_of
from qcledger.findings.trail import Recurrence, Trail, trail_of
from qcledger.findings.wording_of_checks import beyond_the_others, fairly, weakness
from qcledger.findings.wording_of_leading import clears, explains, planned_and_later
from qcledger.findings.wording_of_limits import still_allowed
from qcledger.findings.wording_of_settling import passed_over
from qcledger.findings.words import between, day, how_many, listed, lower_first, number, out_of, plural
from qcledger.rubric.handled import not_blind
from qcledger.vocab import DRY, MARKS, Blinding, Extent, Standing, WhyBought

_BLINDING = {
    Blinding.OTHER_PERSON: "coded by another person",
    Blinding.SHUFFLED: "shuffled by ourselves",
    Blinding.CODED: "coded but not shuffled",
    Blinding.OPEN: "not blind",
}
_POINTS_TO = {
    Extent.PIGMENT: "This points to the pigment",
    Extent.FORMAT: "This points to the format",
    Extent.MAKER: "This points to the maker: it was seen over several of its paints and formats",
    Extent.MAKER_FORMAT: "This points to this maker's {format}s",
    Extent.PAINT: "This points to this paint",
    Extent.LOT: "This points to the lot",
    Extent.PARCEL: "This points to one purchase",
    Extent.SPECIMEN: "This points to a single specimen",
}
_TO_A_MIXTURE = "This points to these pigments together"
_CRITICAL = "This is said of the specimen alone, because it may concern health."
_UNITS_ONLY = "No batch code was found, so this speaks of these units only."
_NOT_SETTLED = "This is not settled."
_LATER = "We have not tested later lots."
_SESSIONS_NAMED = 6
_WIDE = (Extent.PIGMENT, Extent.FORMAT)


def sentence(finding: Finding) -> str:
    """Return what may be published about `finding`, as one paragraph.

    What is still to be confirmed is private: it reads as not settled, with its counts.
    """
    scope = scope_of(finding)
    said = (
        counted(finding, scope),
        passed_over(finding, scope),
        again(finding, scope),
        points_to(finding),
        also(finding, scope),
        beside(finding, scope),
        fairly(finding),
        weakness(finding.claim) if finding.claim else "",
        came_from(scope.trail),
        seen_openly(finding, scope.trail),
        limits(finding, scope),
    )
    return " ".join(part for part in said if part)


def counted(finding: Finding, scope: Scope) -> str:
    """Return who, what and how many: the counts that the rest leans on."""
    formats = listed([str(format_) for format_ in scope.formats]) or str(finding.format)
    who = f"{finding.maker_name} {scope.paints[0]}" if len(scope.paints) == 1 else finding.maker_name
    about = f"{who}, {formats}, {fault(finding)}"
    if not scope.counts.tested:
        later = finding.claim is not None and finding.claim.critical
        return f"{about}: {_at_a_later_look(_claim(finding))}." if later else f"{about}: not tested."
    return f"{about}: {_told(finding, scope)}{planned_and_later(scope)}."


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


def points_to(finding: Finding) -> str:
    """Return how far it reaches, in public words."""
    if finding.standing is Standing.NONE_FOUND:
        return _none_found(finding)
    claim = finding.claim
    if claim and claim.extent is Extent.PARCEL and not claim.lots[0].coded:
        return f"{_NOT_SETTLED} {_UNITS_ONLY}"
    if claim is None or finding.standing is not Standing.HOLDS:
        return _NOT_SETTLED
    if claim.critical:
        return _CRITICAL
    own = beyond_the_others(finding, claim) if claim.extent in _WIDE else ""
    is_mixture = claim.extent is Extent.PIGMENT and len(claim.subject) > 1 and not own
    points = _TO_A_MIXTURE if is_mixture else _POINTS_TO[claim.extent].format(format=finding.format)
    cleared = "" if own else clears(finding, claim)
    return " ".join(part for part in (f"{points}{cleared}.", explains(finding), own) if part)


def _none_found(finding: Finding) -> str:
    """Return what a standing of "none found" comes to: a few faults may be more than at the others, not far more."""
    peers, rate = tally(finding.field.peers(finding.lots)), finding.counts.rate
    usual = peers.rate if peers.tested else finding.field.rate_without(finding.maker)
    if not rate:
        return "None of it was found."
    if usual is None:
        return "Little of it was found."
    told = "No more of it than at other makers was found."
    return told if rate <= usual else "It was not found far more often than at other makers."


def also(finding: Finding, scope: Scope) -> str:
    """Return what the claim leaves over, in public words: exceptions that hold by name, the others by count alone."""
    told = [claim for claim in finding.exceptions if claim.standing is Standing.HOLDS]
    named = [part for claim in told if not claim.critical for part in (_beyond(claim), weakness(claim)) if part]
    first = faulty_specimens(finding.lots)
    if health := [_called(claim, first) for claim in told if claim.critical]:
        named.append(_may_concern_health(finding.claim, health))
    spoken = {specimen for claim in (finding.claim, *told) if claim for specimen in claim.explained}
    if finding.standing is not Standing.HOLDS:
        spoken |= faulty_specimens(scope.lots)  # they were counted already
    left = [lot for lot in finding.lots if faulty_specimens([lot]) - spoken]
    if finding.exceptions and left:
        more = how_many(len(faulty_specimens(left) - spoken), "more faulty specimen")
        named.append(
            f"Also seen, and not settled: {more}, of {listed(sorted({lot.row.paint_name for lot in left}))}."
        )
    return " ".join(named)


def _beyond(claim: Claim) -> str:
    if claim.extent in _WIDE:
        return f"Common to several makers: {subject(claim)}, {_everywhere(claim)}."
    return f"Beyond that: {subject(claim)}, {_of(tally(claim.lots))}."


def _may_concern_health(first: Claim | None, health: Sequence[str]) -> str:
    """Return what is said of the stickers in `health`, beside the claim that the sentence began with."""
    if first is not None and first.extent is Extent.SPECIMEN and [first.subject[-1]] == list(health):
        return "It may concern health."
    same = first is not None and first.critical
    alone = "It may concern health, so it is said of each specimen by itself:"
    return f"{'The same is said of' if same else alone} {listed(health)}."


def beside(finding: Finding, scope: Scope) -> str:
    """Return what other makers' paints showed that have the pigments and formats of what the sentence counts."""
    if finding.claim and finding.claim.extent in _WIDE:
        return ""
    several = len(scope.formats) > 1
    if not (peers := finding.field.peers(scope.lots)):
        formats = "these formats" if several else "this format"
        return f"We tested no other maker's paint with these pigments in {formats}."
    makers = how_many(len({lot.row.maker for lot in peers}), "other maker")
    theirs = [f"{one}s" for one in scope.formats if any(lot.row.format == one for lot in peers)]
    same = "in the same formats" if several else "in the same format"
    formats = same if len(theirs) == max(len(scope.formats), 1) else f"as {listed(theirs)}"
    return f"With the same pigments {formats}, {_of(tally(peers))} from {makers}."


def came_from(trail: Trail) -> str:
    """Return where the specimens were bought and why, and when and how they were tested."""
    if trail.bought is None or trail.tested is None:
        return ""
    sellers, parcels = how_many(len(trail.sellers), "seller"), how_many(trail.parcels, "parcel")
    bought = f"Bought from {sellers} in {parcels} {between(*trail.bought)}{_reasons(trail)}"
    return f"{bought}; {_tested(trail)} {between(*trail.tested)}."


def limits(finding: Finding, scope: Scope) -> str:
    """Return what the numbers still leave open."""
    if not scope.counts.tested:
        return ""
    return " ".join(part for part in (still_allowed(finding, scope), undried(finding, scope), _LATER) if part)


def undried(finding: Finding, scope: Scope) -> str:
    """Return how many of the tubes it rests on met pans undried; empty for none, and where pans are not judged."""
    claim = finding.claim
    lots = {lot.key: lot for lot in (*scope.lots, *(claim.lots if claim else ()))}
    wet = trail_of(unit for lot in lots.values() for unit in lot.units).undried
    if not wet or DRY.isdisjoint(finding.criterion.formats):
        return ""
    verb = "was" if len(wet) == 1 else "were"
    return f"By our record {how_many(len(wet), 'tube')} {verb} tested beside pans without drying first."


def in_short(finding: Finding) -> str:
    """Return mark, standing and extent for a table: ``/// holds: lot Kiln Red Q4471``."""
    words = f"{MARKS[finding.standing]} {finding.standing}"
    if finding.claim is None:
        return words
    joined = f"{words}, points to" if finding.leaning else f"{words}:"
    shared = ", shared by several makers and charged to none" if finding.extent in _WIDE else ""
    return f"{joined} {subject(finding.claim)}{shared}"


def headline(finding: Finding, claim: Claim) -> str:
    """Return a claim in one line: ``separated binder: lot A7 of a red, a maker, tube``."""
    whose = "" if claim.extent in (*_WIDE, Extent.MAKER) else f", {finding.maker_name}, {finding.format}"
    return f"{fault(finding)}: {subject(claim)}{whose}"


def in_counts(finding: Finding, claim: Claim) -> str:
    """Return the counts behind a claim that stands, as one sentence."""
    if claim.extent in _WIDE:
        counts = tally(claim.lots)
        showing = next(check.found for check in claim.checks if check.name is CheckName.MAKERS_SHOWING)
        makers = len({lot.row.maker for lot in claim.lots})
        return f"{_specimens(counts)}; {showing} of {makers} makers show it."
    about = replace(finding, claim=claim)
    return f"{_told(about, scope_of(about))}."


def set_apart(apart: Sequence[Apart], missing: int = 0, reader_notes: int = 0) -> str:
    """Return what was not counted, in one sentence; empty when there is nothing."""
    told = [f"{one.number} {one.reason}, {one.faulty or 'none'} faulty" for one in apart if one.number]
    told += [f"{missing} not testable"] if missing else []
    told += [f"{how_many(reader_notes, 'note')} from readers"] if reader_notes else []
    return f"Not counted: {'; '.join(told)}." if told else ""


def subject(claim: Claim) -> str:
    """Return what a claim is about: ``lot Q4471 of Kiln Red``."""
    return _SUBJECT[claim.extent](claim.subject)


def fault(finding: Finding) -> str:
    """Return the criterion's title as it stands within a sentence."""
    return lower_first(finding.criterion.title)


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


def _told(finding: Finding, scope: Scope) -> str:
    told = _COUNTED.get(finding.claim.extent, _plain) if finding.claim else _plain
    return told(finding, scope)


def _plain(_: Finding, scope: Scope) -> str:
    joined = ", in" if scope.counts.faulty else " from"
    return f"{_specimens(scope.counts)}{joined} {_over_lots(scope.counts)}"


def _specimens(counts: Counts) -> str:
    return f"{out_of(counts.faulty, counts.tested)} {plural(counts.tested, 'specimen')}"


def _of(counts: Counts) -> str:
    return out_of(counts.faulty, counts.tested)


def _over_lots(counts: Counts) -> str:
    some = f"{counts.faulty_lots} of {counts.lots}" if counts.faulty else number(counts.lots)
    lots = f"{some} {plural(counts.lots, 'lot')}" if counts.lots else ""
    coded = f"{how_many(counts.uncoded, 'parcel')} without a batch code" if counts.uncoded else ""
    over = f", over {out_of(counts.faulty_paints, counts.paints)} paints"
    paints = "" if counts.paints < 2 else over if counts.faulty else f" of {how_many(counts.paints, 'paint')}"
    return listed([part for part in (lots, coded) if part]) + paints


def _of_pigment(finding: Finding, scope: Scope) -> str:
    claim = _claim(finding)
    mine = tally(lot for lot in claim.lots if lot.row.maker == finding.maker and lot.row.format == finding.format)
    name = " with ".join(claim.subject)
    here = f"{_plain(finding, scope)}; with {name}, {out_of(mine.faulty, mine.tested)}"
    return f"{here} here and {_everywhere(claim)}"


def _of_format(finding: Finding, scope: Scope) -> str:
    return f"{_plain(finding, scope)}; as {finding.format}s, {_everywhere(_claim(finding))}"


def _everywhere(claim: Claim) -> str:
    counts, makers = tally(claim.lots), how_many(len({lot.row.maker for lot in claim.lots}), "maker")
    return f"{out_of(counts.faulty, counts.tested)} over {makers}"


def _of_lot(finding: Finding, scope: Scope) -> str:
    lot = _claim(finding).lots[0]
    others = tally(other for other in scope.lots if other.key != lot.key)
    mine = f"{out_of(lot.faulty, lot.tested)} of lot {lot.row.lot_code}"
    lots = [how_many(others.lots, "other lot")] if others.lots else []
    uncoded = [f"{how_many(others.uncoded, 'parcel')} without a batch code"] if others.uncoded else []
    rest = f" and {out_of(others.faulty, others.tested)} from {listed(lots + uncoded)}" if others.tested else ""
    return f"{_specimens(scope.counts)}, {mine}{rest}"


def _of_specimen(finding: Finding, scope: Scope) -> str:
    claim = _claim(finding)
    sticker, units = claim.subject[-1], claim.lots[0].row
    if not claim.explained <= faulty_specimens(scope.lots):
        return f"{_plain(finding, scope)} at the first look; {_at_a_later_look(claim)}"
    lot = next(lot for lot in scope.lots if any(unit.row.sticker == sticker for unit in lot.units))
    code = f" {units.lot_code}" if units.lot_code else ""
    sound = how_many(lot.tested - lot.faulty, "sound one")
    alone = f"is the only one of its lot{code} that was looked at for this"
    beside_it = f"beside {sound} of its lot{code}" if lot.tested > 1 else alone
    return f"{_plain(finding, scope)}; {sticker} {beside_it if lot.coded else 'of no printed lot'}"


def _at_a_later_look(claim: Claim) -> str:
    """Return of one specimen when a further look showed what the first, which counts, did not."""
    return f"{claim.subject[-1]} showed it {_later(claim)}"


def _later(claim: Claim) -> str:
    return f"at a later look, on {day(claim.lots[0].units[0].row.day)}"


def _called(claim: Claim, at_first: frozenset[str]) -> str:
    """Return the sticker of a critical claim, with the day where only a later look showed it."""
    sticker = claim.subject[-1]
    return sticker if claim.explained <= at_first else f"{sticker} ({_later(claim)})"


def _claim(finding: Finding) -> Claim:
    assert finding.claim is not None  # only asked where there is one
    return finding.claim


_COUNTED: Mapping[Extent, Callable[[Finding, Scope], str]] = {
    Extent.PIGMENT: _of_pigment,
    Extent.FORMAT: _of_format,
    Extent.LOT: _of_lot,
    Extent.SPECIMEN: _of_specimen,
}

_SUBJECT: Mapping[Extent, Callable[[tuple[str, ...]], str]] = {
    Extent.PIGMENT: lambda names: f"pigment {' with '.join(names)}",
    Extent.FORMAT: lambda names: f"format, {names[0]}",
    Extent.MAKER: lambda names: f"maker {names[0]}",
    Extent.MAKER_FORMAT: lambda names: f"this maker's {names[1]}s",
    Extent.PAINT: lambda names: f"paint {names[0]}",
    Extent.LOT: lambda names: f"lot {names[-1]} of {names[0]}",
    Extent.PARCEL: lambda names: f"parcel bought on {names[-1]} from {names[-2]}",
    Extent.SPECIMEN: lambda names: f"specimen {names[-1]} of {names[0]}",
    Extent.SESSION: lambda names: f"our own session {names[0]}",
}


def _reasons(trail: Trail) -> str:
    bought = {WhyBought.TO_CONFIRM: "bought to confirm", WhyBought.NOTE: "bought because of a reader's note"}
    if trail.why.get(WhyBought.PLANNED):  # then the sentence has counted each by itself
        return ""
    told = [f"{how_many(trail.why[why], 'specimen')} {words}" for why, words in bought.items() if trail.why.get(why)]
    return f", {listed(told)}" if told else ""


def _tested(trail: Trail) -> str:
    if not trail.sessions:
        return "looked at when unpacked"
    named = f" ({', '.join(trail.sessions)})" if len(trail.sessions) <= _SESSIONS_NAMED else ""
    blind = listed([_BLINDING[kind] for kind in trail.blinding])
    unpacked = f", {number(trail.unpacked)} when unpacked" if trail.unpacked else ""
    return f"tested in {how_many(len(trail.sessions), 'session')}{named}, {blind}{unpacked},"


NOTHING = "Nothing has been graded yet, so there are no findings."


NAME_IN_VIEW = "The maker's name was in view when it was unpacked."


def seen_openly(finding: Finding, trail: Trail) -> str:
    """Return why a test was not blind in sessions that were; empty where it was, and where that is plain anyway."""
    if trail.unpacked:
        return NAME_IN_VIEW
    if not set(trail.blinding) - {Blinding.OPEN}:
        return ""
    why = not_blind(finding.criterion, [finding.format])
    return f"This test cannot be blind: {why}." if why else ""


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
