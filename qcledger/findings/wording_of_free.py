"""Sentences about a maker that is free of what most others show. Part of the wording.

They stand only where what is common stands: each says at how many makers it shows, what is still possible, and where
older notes differ.
"""

from qcledger.findings.checks import percent
from qcledger.findings.finding import CheckName, Claim, Finding, FreeMaker
from qcledger.findings.lots import tally
from qcledger.findings.scope import allowed
from qcledger.findings.wording_of_trail import over_lots
from qcledger.findings.words import lower_first, out_of, plural
from qcledger.vocab import Extent

FREE = "free of what most others show"
"""What it is called; in full where there is room."""
FREE_SHORT = "others show it"
"""What a cell says of it."""


def common_at(claim: Claim) -> str:
    """Return at how many makers a pigment or a format shows it: ``8 of 9 makers``."""
    makers = len({lot.row.maker for lot in claim.lots})
    found = (check.found for check in claim.checks if check.name is CheckName.MAKERS_SHOWING)
    showing = next(found, str(len({lot.row.maker for lot in claim.lots if lot.faulty})))
    return f"{showing} of {makers} {plural(makers, 'maker')}"


def group_words(claim: Claim) -> str:
    """Return the pigment or the format as a sentence begins with it: ``Half pans``, ``PG18``."""
    if claim.extent is not Extent.PIGMENT:
        return f"{claim.subject[0]}s".capitalize()
    named = claim.group.named(claim.subject)
    return f"{named[:1].upper()}{named[1:]}"


def others_show(finding: Finding) -> str:
    """Return at how many makers its format shows what it is free of; empty where nothing of the kind may be said."""
    found = [one.common for one in finding.free if one.common.extent is Extent.FORMAT]
    return f"{group_words(found[0])} show it at {common_at(found[0])}." if found else ""


def free_words(one: FreeMaker) -> str:
    """Return what is said of one maker beside what is common: counts, where, and what is still possible."""
    counts = tally(one.lots)
    what = one.subject[0] if one.extent is Extent.FORMAT else one.group.named(one.subject)
    told = f"{one.maker_name}, {what}: {out_of(0, counts.tested)} {plural(counts.tested, 'specimen')} faulty"
    could = f"up to {percent(allowed(one.lots).most)} could be (95 %)"
    return f"{told}, from {over_lots(counts)}, in what we tested; {could}."


def free_short(one: FreeMaker) -> str:
    """Return the same for a list: ``MAKER, none of 10, up to 26 % could be (95 %)``."""
    left = allowed(one.lots)
    older = ", older notes differ" if one.older[1] else ""
    return f"{one.maker_name}, {out_of(0, left.counts.tested)}, up to {percent(left.most)} could be (95 %){older}"


def older_differ(one: FreeMaker) -> str:
    """Return that older notes on its specimens showed it; empty where none did."""
    number, faulty = one.older
    return f"Older notes differ: {out_of(faulty, number)} faulty; they are not counted." if faulty else ""


def free_lines(claim: Claim) -> tuple[str, ...]:
    """Return a line for each maker that is free of what a claim says of most others, older notes beside it."""
    earned = (one for one in claim.free if one.earned)
    return tuple(" ".join(part for part in (free_words(one), older_differ(one)) if part) for one in earned)


def free_of(finding: Finding) -> tuple[str, ...]:
    """Return for a finding what it is free of and at how many makers that shows, a line each."""
    told = []
    for common, one in finding.free:
        own = "" if one.extent is Extent.FORMAT else f"{free_words(one)} "
        shown = f"{own}{FREE.capitalize()}: {lower_first(group_words(common))} at {common_at(common)}."
        told += [shown, *([older_differ(one)] if one.older[1] else [])]
    return tuple(told)
