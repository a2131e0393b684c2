"""Findings as text for a terminal of 80 columns: what reaches some extent first, then the tables."""

from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import groupby

from qcledger.findings import Claim, Finding, Findings, TraitSummary
from qcledger.findings.checks import percent
from qcledger.findings.evidence import SetAside
from qcledger.findings.together import as_one, together
from qcledger.findings.wording import NOTHING, headline, in_counts, left_out, on_other_paper, recurring
from qcledger.findings.wording_of_counts import fault
from qcledger.findings.wording_of_free import FREE, free_lines
from qcledger.findings.wording_of_sureness import put_to
from qcledger.findings.words import how_many, listed
from qcledger.report.board import drawn_from, extent_words, not_counted, shared_words
from qcledger.report.labels_text import label_section
from qcledger.report.layout import columns, cut, paragraph
from qcledger.report.parts import terms
from qcledger.report.strips import SHADED, Ink, axis, strips, with_mark
from qcledger.vocab import GRADE_NOTE, MARKS, Extent, Standing

_WIDTHS = (12, 8, 6, 7, 9, 31)
_HEAD = ("maker", "format", "faulty", "lots", "95 %", "standing and extent")
_TRAIT_WIDTHS = (12, 8, -4, -7, 9, 33)
_TRAIT_HEAD = ("maker", "format", "n", "median", "from-to", "")
NO_CODE = "no code: no batch code was found, and such specimens count as no lot"
_STRIP = 41
_REACHED = (Standing.SETTLED, Standing.TO_CONFIRM, Standing.CHECKING)
_ASIDE = (SetAside.IMPOSSIBLE, SetAside.SECOND)
_WIDE = (Extent.PIGMENT, Extent.FORMAT)


def findings_text(findings: Findings, *, full: bool = False, ink: Ink = SHADED) -> str:
    """Return the findings as text.

    Parameters
    ----------
    findings
        What to print, in order.
    full
        Whether each cell gets a line and a strip, also where no fault was found; else those are gathered in short.
    ink
        What strips are drawn with.
    """
    if not (findings.findings or findings.traits or findings.label_facts):
        return "\n".join(part for part in (left_out(findings.blind), NOTHING) if part) + "\n"
    parts = [_header(findings)]
    if findings.blind:
        parts[0] += paragraph(left_out(findings.blind))
    if findings.left_apart:
        parts[0] += paragraph(on_other_paper(findings.left_apart))
    if reached := list(_reached(findings.findings)):
        parts.append(["How far faults reach", *reached])
    if any("no code" in _lots_cell(finding) for finding in findings.findings):
        parts[0] += paragraph(NO_CODE)
    parts += _tables(findings.findings, full, ink)
    parts += _traits(findings.traits, full)
    parts.append(_set_aside(findings.findings))
    parts.append(_kept_private(findings.findings))
    parts.append(label_section(findings.label_facts, full=full))
    return "\n\n".join("\n".join(part) for part in parts if part) + "\n"


def short_standing(finding: Finding) -> str:
    """Return mark, standing and extent as a table cell: ``/// settled: lot``, ``-?- open: lot?``."""
    words = f"{MARKS[finding.standing]} {finding.standing}"
    told = f"{words}: {extent}" if (extent := extent_words(finding)) else words
    return f"{told}, private" if finding.said.private else told


def _header(findings: Findings) -> list[str]:
    every = findings.findings
    units = {unit.row.specimen for finding in every for lot in finding.lots for unit in lot.units}
    of_trait = Counter[str]()
    for trait in findings.traits:
        of_trait[trait.criterion.key] += trait.tested
    specimens = max(len(units), *of_trait.values(), 0)
    makers = {finding.maker for finding in every} | {trait.maker for trait in findings.traits}
    criteria = {finding.criterion.key for finding in every} | {trait.criterion.key for trait in findings.traits}
    counts = (
        f"{len(criteria)} criteria" if len(criteria) != 1 else "1 criterion",
        how_many(len(makers), "maker"),
        how_many(specimens, "specimen"),
    )
    private = {Standing.TO_CONFIRM: " (private)"}
    marks = (
        f"{mark} {standing}{private.get(standing, '')}"
        for standing, mark in reversed(MARKS.items())
        if standing is not Standing.CHECKING
    )
    checking = f"{MARKS[Standing.CHECKING]} {Standing.CHECKING}: waits for the pooled model, and passes by itself"
    waits = any(finding.standing is Standing.CHECKING for finding in every)
    return [
        f"Findings: {', '.join(counts)}",
        f"fault grade: {GRADE_NOTE}, on our own scale; a fault from the fault line on",
        "   ".join(marks),
        *paragraph(terms(every)),
        "95 %: limits of the share of faulty ones, counting specimens (Wilson)",
        *([checking] if waits else []),
        *(paragraph(shared_words(every)) if any(finding.extent in _WIDE for finding in every) else []),
    ]


def _reached(findings: Sequence[Finding]) -> Iterator[str]:
    """Yield what reaches some extent, the widest first, each claim once; what is one thing is told as one."""
    for group in together(findings, _REACHED):
        first = group[0]
        titles = listed([fault(one.finding) for one in group])
        yield from paragraph(f"{MARKS[first.claim.standing]} {headline(first.finding, first.claim, titles)}")
        if len(group) > 1:
            yield from paragraph(f"{as_one(first)}.", "    ")
        for told in group:
            named = f"{fault(told.finding)}: " if len(group) > 1 else ""
            yield from _behind(told.finding, told.claim, named)


def _behind(finding: Finding, claim: Claim, named: str) -> Iterator[str]:
    """Yield the counts behind a claim, what it was put to, and how often it came back."""
    yield from paragraph(f"{named}{in_counts(finding, claim)}", "    ")
    if tested := put_to(claim):
        yield from paragraph(tested, "    ")
    for line in free_lines(claim):
        yield from paragraph(f"{FREE.capitalize()}: {line}", "    ")
    leads = claim is finding.claim and claim.extent not in _WIDE
    if leads and finding.recurrence and finding.recurrence.looked > 1:
        whose = f"{finding.maker_name}, {finding.format}"
        yield from paragraph(f"At {whose}, {recurring(finding.recurrence)}.", "    ")


def _tables(findings: Sequence[Finding], full: bool, ink: Ink) -> Iterator[list[str]]:
    """Yield a table for each criterion; without `full`, criteria on which nothing was faulty share one paragraph."""
    sound = []
    for _, group in groupby(findings, lambda finding: finding.criterion.key):
        own = list(group)
        counts = own[0].all_makers
        if not counts.tested and (apart := _not_counted(own)):
            yield [*paragraph(f"{own[0].criterion.title}: nothing that counts yet."), *apart]
        elif not full and not any(finding.tells_of_a_fault for finding in own):
            sound.append(f"{own[0].criterion.title} (none of {counts.tested})")
        else:
            yield [*_table(own, full), *(_strips(own, ink) if full else ())]
    if sound:
        yield paragraph(f"No fault seen: {'; '.join(sound)}.")


def _table(findings: Sequence[Finding], full: bool) -> list[str]:
    first = findings[0]
    told = first.all_makers
    rate = f", {percent(told.rate)}" if told.rate is not None else ""
    title = f"{first.criterion.title} ({first.criterion.severity}); all makers"
    shown = [finding for finding in findings if full or finding.tells_of_a_fault]
    rest = [finding for finding in findings if not (full or finding.tells_of_a_fault)]
    return [
        *paragraph(f"{title}: {told.faulty} of {told.tested} specimens{rate}; {how_many(told.lots, 'lot')}"),
        *columns([_HEAD, *map(_line, shown)], _WIDTHS),
        *_in_short(rest),
        *_not_counted(findings),
    ]


def _strips(findings: Sequence[Finding], ink: Ink) -> list[str]:
    """Return a strip for each cell, and the scale below them."""
    rate = findings[0].all_makers.rate
    cells = [drawn_from(finding) for finding in findings]
    drawn = strips(cells, _STRIP, ink)
    lines = [
        _beside(finding.maker_name, str(finding.format), with_mark(strip, rate, ink), MARKS[finding.standing])
        for finding, strip in zip(findings, drawn, strict=True)
    ]
    return [f"  {ink.label_of(cells)}", *lines, _beside("", "", axis(_STRIP, rate, ink), "")]


def _beside(maker: str, format_: str, strip: str, mark: str) -> str:
    return f"  {cut(maker, 12)} {cut(format_, 8)} {strip} {mark}".rstrip()


def _line(finding: Finding) -> tuple[str, ...]:
    counts = finding.counts
    return (
        finding.maker_name,
        str(finding.format),
        f"{counts.faulty}/{counts.tested}",
        _lots_cell(finding),
        f"{finding.wilson.low * 100:.0f}-{finding.wilson.high * 100:.0f} %" if counts.tested else "",
        short_standing(finding),
    )


def _lots_cell(finding: Finding) -> str:
    """Return the lots with a fault and the lots, or that no batch code was found."""
    counts = finding.counts
    return "no code" if counts.uncoded and not counts.lots else f"{counts.faulty_lots}/{counts.lots}"


def _in_short(findings: Sequence[Finding]) -> list[str]:
    """Return the cells without a fault: those that are sound by name, the others by number."""
    sound = [finding for finding in findings if finding.standing is Standing.NONE_FOUND]
    told = []
    if sound:
        cells = (f"{one.maker_name} {one.format} 0/{one.counts.tested}{_free(one)}" for one in sound)
        told.append(f"{MARKS[Standing.NONE_FOUND]} {Standing.NONE_FOUND}: {'; '.join(cells)}")
    if open_ := [finding.counts.tested for finding in findings if finding not in sound]:
        least, most = min(open_), max(open_)
        span = f"0/{least}" if least == most else f"0/{least} to 0/{most}"
        told.append(f"{MARKS[Standing.OPEN]} {Standing.OPEN}: {len(open_)} without a fault, {span} tested")
    return [line for one in told for line in paragraph(one, "  ")]


def _free(finding: Finding) -> str:
    return f" ({FREE})" if finding.free else ""


def _not_counted(findings: Sequence[Finding]) -> list[str]:
    """Return what a reader may look for and not find among the counts."""
    return [line for told in map(not_counted, findings) if told for line in paragraph(told, "  ")]


def _set_aside(findings: Sequence[Finding]) -> list[str]:
    """Return in one sentence how much was set aside and where it is seen; nothing when nothing was."""
    count = sum(one.number for finding in findings for one in finding.apart if one.reason in _ASIDE)
    if not count:
        return []
    why = "cannot have been so, or one too many for its trial"
    told = f"Set aside and not counted ({why}): {how_many(count, 'result')}"
    return paragraph(f"{told}; `qcledger verify` says why and of which specimens.")


def _kept_private(findings: Sequence[Finding]) -> list[str]:
    """Return what its tester keeps private, each with the reason; nothing when nothing is."""
    kept = [one for one in findings if one.said.private]
    told = ((f"{one.maker_name}, {one.format}, {one.criterion.title}", one.said.private) for one in kept)
    lines = [line for what, why in told for line in paragraph(f"{what}, kept private: {why}", "    ")]
    return ["Kept private, for you only", *lines] if lines else []


def _traits(traits: Sequence[TraitSummary], full: bool) -> Iterator[list[str]]:
    """Yield the traits: a table for each if `full`, else one paragraph."""
    if not full:
        titles = dict.fromkeys(trait.criterion.title for trait in traits)
        if titles:
            yield paragraph(f"Traits, a position and not a merit (--criterion shows one): {'; '.join(titles)}.")
        return
    for _, group in groupby(traits, lambda trait: trait.criterion.key):
        own = list(group)
        yield [
            f"{own[0].criterion.title}: a trait, a position and not a merit",
            *columns([_TRAIT_HEAD, *map(_trait_line, own)], _TRAIT_WIDTHS),
        ]


def _trait_line(trait: TraitSummary) -> tuple[str, ...]:
    grades = trait.grades
    missing = f"{trait.missing} not testable" if trait.missing else ""
    choices = ", ".join(f"{choice} {number}" for choice, number in sorted(trait.choices.items()))
    return (
        trait.maker_name,
        str(trait.format),
        str(trait.tested),
        f"{grades.median:g}" if grades else "",
        f"{grades.lowest:g}-{grades.highest:g}" if grades else "",
        "; ".join(part for part in (choices, missing) if part),
    )
