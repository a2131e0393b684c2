"""The one row builder: a finding as named values, the same for every face.

The names are stable: a file written today is read by the same names tomorrow. Rates are shares from 0 to 1, days are
dates, an empty value means that there is none.
"""

from collections.abc import Mapping
from datetime import date

from qcledger.findings.evidence import SetAside
from qcledger.findings.finding import Check, Claim, Finding, TraitSummary
from qcledger.findings.lots import TestedLot, faulty_specimens, tally
from qcledger.findings.pooled import Estimate
from qcledger.findings.together import REACHED, statement_of
from qcledger.findings.trail import Over, Recurrence
from qcledger.findings.wording import extent_word, further, sentence, subject
from qcledger.findings.wording_of_checks import check_words
from qcledger.findings.wording_of_settling import would_settle
from qcledger.rubric import PeerGroup
from qcledger.vocab import Extent, WhyBought

Value = str | int | float | date | None
Row = Mapping[str, Value]
_BOUGHT = {WhyBought.PLANNED: "planned", WhyBought.TO_CONFIRM: "to_confirm", WhyBought.NOTE: "because_of_note"}


def finding_row(finding: Finding) -> Row:
    """Return one finding as named values."""
    return {
        "criterion": finding.criterion.key,
        "criterion_title": finding.criterion.title,
        "severity": finding.criterion.severity and str(finding.criterion.severity),
        "maker": finding.maker_name,
        "format": str(finding.format),
        **_counts(finding),
        **_reach(finding),
        **_beside(finding),
        **_pooled(finding),
        **_trail(finding),
        **_apart(finding),
        "sentence": sentence(finding),
        "further": " ".join(further(finding)) or None,
        "would_settle": would_settle(finding) or None,
        **_said(finding),
    }


def check_row(check: Check, by: PeerGroup) -> Row:
    """Return one check as named values."""
    return {
        "check": check_words(check.name, by),
        "met": int(check.met),
        "found": check.found,
        "needed": check.needed,
        "for": str(check.need),
    }


def lot_row(lot: TestedLot) -> Row:
    """Return one lot as named values; without a batch code, it is one paint of a parcel."""
    rows = [unit.row for unit in lot.units]
    return {
        "paint": lot.row.paint_name,
        "pigments": " ".join(sorted(lot.row.pigments)),
        "lot": lot.row.lot_code,
        "specimens": lot.tested,
        "faulty": lot.faulty,
        "stickers": ", ".join(row.sticker for row in rows),
        "faulty_stickers": ", ".join(unit.row.sticker for unit in lot.units if unit.faulty),
        "sellers": ", ".join(sorted({row.seller for row in rows})),
        "sessions": ", ".join(sorted({row.session_code for row in rows if row.session_code})),
        "why": ", ".join(sorted({str(row.why) for row in rows})),
    }


def claim_row(claim: Claim) -> Row:
    """Return one claim as named values."""
    counts = tally(claim.lots)
    return {
        "extent": extent_word(claim),
        "subject": subject(claim),
        "standing": claim.standing.name_for_files,
        "specimens": counts.tested,
        "faulty": counts.faulty,
        **_chance(claim),
    }


def trait_row(trait: TraitSummary) -> Row:
    """Return one trait summary as named values."""
    grades = trait.grades
    return {
        "criterion": trait.criterion.key,
        "criterion_title": trait.criterion.title,
        "maker": trait.maker_name,
        "format": str(trait.format),
        "specimens": trait.tested,
        "median": grades.median if grades else None,
        "lowest": grades.lowest if grades else None,
        "highest": grades.highest if grades else None,
        "choices": ", ".join(f"{choice} {number}" for choice, number in sorted(trait.choices.items())),
        "not_testable": trait.missing,
    }


def _counts(finding: Finding) -> Row:
    counts, grades = finding.counts, finding.grades
    return {
        "specimens": counts.tested,
        "faulty": counts.faulty,
        "lots": counts.lots,
        "lots_with_fault": counts.faulty_lots,
        "parcels_without_code": counts.uncoded,
        "paints": counts.paints,
        "paints_with_fault": counts.faulty_paints,
        **_by_reason(finding),
        "rate": counts.rate,
        "wilson_low": finding.wilson.low,
        "wilson_high": finding.wilson.high,
        "lot_aware_low": finding.lot_aware.low,
        "lot_aware_high": finding.lot_aware.high,
        "still_allowed": finding.still_allowed,
        "median_grade": grades.median if grades else None,
        "not_testable": finding.missing,
        "not_testable_because": "; ".join(finding.missing_because),
    }


def _by_reason(finding: Finding) -> Row:
    """Return the counts of what was bought as planned and of what was bought later, each by itself."""
    bought = finding.bought
    return {
        name: count
        for why, words in _BOUGHT.items()
        for name, count in ((words, bought[why].tested), (f"{words}_faulty", bought[why].faulty))
    }


def _exceptions(finding: Finding) -> str:
    """Return the claims beside the leading one, as in ``holds: lot Q2 of Red, 3 of 13``, out of its faults."""
    mine = faulty_specimens(finding.lots)
    told = (
        f"{claim.standing}: {subject(claim)}, {len(claim.explained & mine)} of {len(mine)}"
        for claim in finding.exceptions
    )
    return "; ".join(told)


def _reach(finding: Finding) -> Row:
    return {
        "standing": finding.standing.name_for_files,
        "extent": extent_word(finding.claim) if finding.claim and finding.extent else None,
        "points_to": extent_word(finding.claim) if finding.claim and finding.leaning else None,
        "subject": subject(finding.claim) if finding.claim else None,
        "statement": _statement(finding),
        "explains": finding.explains[0] if finding.claim else None,
        "exceptions": _exceptions(finding) or None,
        "free_of": "; ".join(subject(one.common) for one in finding.free) or None,
        "shared_by_makers": int(finding.extent in (Extent.PIGMENT, Extent.FORMAT)),
    }


def _statement(finding: Finding) -> str | None:
    claim = finding.claim
    return statement_of(finding, claim) if claim is not None and claim.standing in REACHED else None


def _beside(finding: Finding) -> Row:
    return {
        "peer_makers": finding.peers.makers,
        "peer_specimens": finding.peers.counts.tested,
        "peer_faulty": finding.peers.counts.faulty,
        "all_specimens": finding.all_makers.tested,
        "all_faulty": finding.all_makers.faulty,
        "usual_rate": finding.usual_rate,
    }


def _pooled(finding: Finding) -> Row:
    reach, none = finding.reach, Estimate(None, None, None, None)  # type: ignore[arg-type]
    rate, excess = (reach.rate, reach.excess) if reach else (none, none)
    return {
        "pooled": "awaited" if finding.pending else "yes" if reach else "no",
        "pooled_rate": rate.mean,
        "pooled_low": rate.low,
        "pooled_high": rate.high,
        "pooled_excess": excess.mean,
        "pooled_excess_low": excess.low,
        "pooled_excess_high": excess.high,
        "chance_of_excess": reach.above if reach else None,
        "chance_of_ten_points": reach.far_above if reach else None,
        **_levels(finding),
        **_chance(finding.claim),
    }


def _levels(finding: Finding) -> Row:
    """Return the chance that its format, and its maker over all formats, is the worse; and the likeliest narrower."""
    known = {one.extent: one for one in finding.levels}
    chances = {extent: one.chance for extent, one in known.items()}
    names = {extent: one.name for extent, one in known.items()}
    return {
        "chance_of_format": chances.get(Extent.FORMAT),
        "chance_of_maker": chances.get(Extent.MAKER),
        "likeliest_pigment": names.get(Extent.PIGMENT),
        "chance_of_pigment": chances.get(Extent.PIGMENT),
        "likeliest_paint": names.get(Extent.PAINT),
        "chance_of_paint": chances.get(Extent.PAINT),
        "likeliest_lot": names.get(Extent.LOT),
        "chance_of_lot": chances.get(Extent.LOT),
    }


def _chance(claim: Claim | None) -> Row:
    """Return what an accusation was put to."""
    chance, stress = (claim.chance, claim.stress) if claim else (None, None)
    fair = chance.fair if chance else None
    return {
        "exchange_p": chance.exact if chance else None,
        "fair_fields_as_strong": fair.as_strong if fair else None,
        "fair_fields": fair.fields if fair else None,
        "stress_stands": stress.stands if stress else None,
        "stress_checks": len(stress.checks) if stress else None,
        "stress_too_little": len(stress.untold) if stress else None,
    }


def _trail(finding: Finding) -> Row:
    trail, recurrence = finding.trail, finding.recurrence
    bought, tested = trail.bought or (None, None), trail.tested or (None, None)
    return {
        "sellers": len(trail.sellers),
        "parcels": trail.parcels,
        "sessions": ", ".join(trail.sessions),
        "blinding": ", ".join(trail.blinding),
        "bought_first": bought[0],
        "bought_last": bought[1],
        "tested_first": tested[0],
        "tested_last": tested[1],
        **_recurring(Over.COMPARISONS, recurrence),
        **_recurring(Over.PARCELS, recurrence),
    }


def _recurring(over: Over, found: Recurrence | None) -> Row:
    """Return how often a fault came back in comparisons or in parcels; empty where it is counted over the other."""
    seen, looked, since = (found.seen, found.looked, found.since) if found and found.over is over else (None,) * 3
    return {f"{over}s_seen": seen, f"{over}s_looked": looked, f"{over}s_since": since}


def _apart(finding: Finding) -> Row:
    apart = {one.reason: one for one in finding.apart}
    gifts, older = apart.get(SetAside.GIFT), apart.get(SetAside.OLDER_NOTES)
    return {
        "gifts": gifts.number if gifts else 0,
        "gifts_faulty": gifts.faulty if gifts else 0,
        "older_notes": older.number if older else 0,
        "older_notes_faulty": older.faulty if older else 0,
        "in_void_sessions": apart[SetAside.VOID].number if SetAside.VOID in apart else 0,
        "on_other_paper": apart[SetAside.OTHER_PAPER].number if SetAside.OTHER_PAPER in apart else 0,
        "reader_notes": finding.reader_notes,
    }


def _said(finding: Finding) -> Row:
    said = finding.said
    return {
        "kept_private": said.private or None,
        "asked_and_answered": " ".join(said.asked) or None,
        "decided": " ".join(said.decided) or None,
    }
