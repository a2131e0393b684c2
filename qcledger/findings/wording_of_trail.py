"""Sentences about where specimens came from, how they were tested, and what follows. Part of the wording."""

from qcledger.findings.finding import Finding, Without
from qcledger.findings.lots import Counts, faulty_parcels, units_of
from qcledger.findings.said import DoubtedSession
from qcledger.findings.scope import Scope
from qcledger.findings.trail import Trail, trail_of
from qcledger.findings.words import between, how_many, listed, number, out_of, plural
from qcledger.rubric.handled import not_blind
from qcledger.thing import worded
from qcledger.vocab import Blinding, Extent, Occasion, WhyBought

_BLINDING = {
    Blinding.OTHER_PERSON: "under codes another person gave",
    Blinding.SHUFFLED: "under codes we shuffled ourselves",
    Blinding.CODED: "under codes that were not shuffled",
    Blinding.OPEN: "not blind",
}
IN_VIEW = "the maker's name in view"
_SESSIONS_NAMED = 6
_LOTS_NAMED = 5
_NARROW = (Extent.PAINT, Extent.LOT, Extent.PARCEL, Extent.SPECIMEN)
_LATER = "We have not tested later lots."


def came_from(trail: Trail) -> str:
    """Return where the specimens were bought and why, and when and how they were tested, in two sentences."""
    if trail.bought is None or trail.tested is None:
        return ""
    sellers, parcels = how_many(len(trail.sellers), "seller"), how_many(trail.parcels, "parcel")
    bought = f"Bought from {sellers} in {parcels} {between(*trail.bought)}{_reasons(trail)}."
    return f"{bought} {_tested(trail)} {between(*trail.tested)}."


def _reasons(trail: Trail) -> str:
    bought = {WhyBought.TO_CONFIRM: "bought to confirm", WhyBought.NOTE: "bought because of a reader's note"}
    told = [f"{how_many(trail.why[why], 'specimen')} {words}" for why, words in bought.items() if trail.why.get(why)]
    return f", {listed(told)}" if told else ""


def _tested(trail: Trail) -> str:
    if not trail.sessions:
        return f"Looked at when unpacked, {IN_VIEW},"
    named = f" ({', '.join(trail.sessions)})" if len(trail.sessions) <= _SESSIONS_NAMED else ""
    blind = listed([_BLINDING[kind] for kind in trail.blinding])
    unpacked = f", {number(trail.unpacked)} when unpacked, {IN_VIEW}" if trail.unpacked else ""
    return f"Tested in {how_many(len(trail.sessions), 'session')}{named}, {blind}{unpacked},"


def over_lots(counts: Counts, *, faulty: bool = True) -> str:
    """Return lots, parcels without a code, and paints; how many of them with a fault, unless that is not told."""
    bad = counts.faulty if faulty else 0
    some = f"{counts.faulty_lots} of {counts.lots}" if bad else number(counts.lots)
    lots = f"{some} {plural(counts.lots, 'lot')}" if counts.lots else ""
    coded = f"{how_many(counts.uncoded, 'parcel')} without a batch code" if counts.uncoded else ""
    over = f", over {out_of(counts.faulty_paints, counts.paints)} {worded('paints')}"
    paints = "" if counts.paints < 2 else over if bad else f" of {how_many(counts.paints, 'paint')}"
    return listed([part for part in (lots, coded) if part]) + paints


def lots_named(finding: Finding, scope: Scope) -> str:
    """Return how many lots show it and their batch codes, as many as are read; empty where the statement names it."""
    bad = [lot for lot in scope.lots if lot.faulty and lot.row.lot_code]
    if not bad or (finding.claim and finding.claim.extent in (Extent.LOT, Extent.SPECIMEN)):
        return ""
    several = len(scope.paints) > 1
    told = [f"{lot.row.paint_name} {lot.row.lot_code}" if several else f"{lot.row.lot_code}" for lot in bad]
    more = len(told) - _LOTS_NAMED
    named = [*told[:_LOTS_NAMED], *([f"{more} more"] if more > 0 else [])]
    return f"Faulty in {over_lots(scope.counts)}: {listed(named)}."


def seen_openly(finding: Finding, trail: Trail) -> str:
    """Return why a test was not blind in sessions that were; empty where it was, and where that is plain anyway."""
    if not set(trail.blinding) - {Blinding.OPEN} or finding.criterion.seen_at is Occasion.UNPACKING:
        return ""
    why = not_blind(finding.criterion, [finding.format])
    return f"This was not blind: {why}." if why else ""


def these_only(finding: Finding, scope: Scope) -> str:
    """Return that nothing but these specimens is spoken of, and that the way they came is not ruled out; or nothing.

    It is said of whatever reaches less far than a maker's format, and wherever the faulty ones came one way.
    """
    if not scope.counts.faulty:
        return ""
    bad = [unit.row for unit in units_of(scope.lots) if unit.faulty]
    one_seller = len({row.seller for row in bad}) == 1
    way = "in one parcel" if len(faulty_parcels(scope.lots)) == 1 else "from one seller" if one_seller else ""
    shipped = f"The faulty {_came(len(bad))} {way}, so the way there is not ruled out." if way else ""
    narrow = finding.claim is not None and finding.claim.extent in _NARROW
    only = "This speaks of these specimens only." if narrow or way else ""
    return " ".join(part for part in (only, shipped) if part)


def _came(count: int) -> str:
    return "one came" if count == 1 else "ones came"


def undried(finding: Finding, scope: Scope) -> str:
    """Return how many met dry ones undried; empty for none, and where nothing that is bought dry is judged."""
    claim = finding.claim
    lots = {lot.key: lot for lot in (*scope.lots, *(claim.lots if claim else ()))}
    wet = trail_of(unit for lot in lots.values() for unit in lot.units).undried
    if not wet or not finding.criterion.judges_dry:
        return ""
    verb = "was" if len(wet) == 1 else "were"
    return f"By our record {how_many(len(wet), 'specimen')} {verb} tested beside dry ones without drying first."


def later_lots(scope: Scope) -> str:
    """Return that later lots were not tested; empty where nothing was."""
    return _LATER if scope.counts.tested else ""


def under_question(finding: Finding, scope: Scope) -> str:
    """Return which of its sessions control and repeats speak against, undecided, and what stands without each."""
    there = set(scope.trail.sessions)
    stress = finding.claim.stress if finding.claim else None
    checks = {one.what: one for one in stress.checks if one.kind == "session"} if stress else {}
    return " ".join(
        f"{_doubted(one)}; {_without(checks.get(one.code))}." for one in finding.said.doubted if one.code in there
    )


def _doubted(one: DoubtedSession) -> str:
    moved = f"control moved on {listed(one.moved)}" if one.moved else "control and repeats moved"
    return f"{one.code} is under question ({moved})"


def _without(check: Without | None) -> str:
    if check is None or check.too_little:
        return "it is counted here"
    return "without it this still stands" if check.stands else "without it we could not say this"
