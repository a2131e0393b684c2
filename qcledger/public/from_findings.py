"""Findings as the public sees them: the one place of this package that reads findings, and the rules of what is told.

A finding is told as settled only by its settled claims. What is to be confirmed, kept private, or may concern health
and was not released, reads as open. Sentences are those of `findings.wording`, of one claim at a time, so that
nothing unsettled stands in them.
"""

import re
from collections import Counter
from collections.abc import Callable, Collection, Container, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from math import ceil, floor
from typing import Final, NamedTuple

from qcledger.findings import Claim, Finding, Findings, TestedLot
from qcledger.findings.evidence import SetAside, Unit
from qcledger.findings.finding import FreeMaker
from qcledger.findings.lots import faulty_specimens, tally
from qcledger.findings.scope import allowed, scope_of
from qcledger.findings.wording import beside, explains, further, headline, limits, sentence, so_far, subject
from qcledger.findings.wording_of_changes import changed_line
from qcledger.findings.wording_of_checks import fairly
from qcledger.findings.wording_of_checks import in_short as held_up
from qcledger.findings.wording_of_free import free_lines
from qcledger.findings.wording_of_size import how_large
from qcledger.public.anchors import anchors, slug
from qcledger.public.view import (
    IN_HAND,
    IN_VIEW,
    NOT_BLIND,
    OF_CODE,
    UNPACKED,
    DrawnLot,
    GradeSeen,
    PublicAsking,
    PublicCell,
    PublicStanding,
    PublicStatement,
    public_cell,
)
from qcledger.records import TestedRow
from qcledger.records.finding_key import FindingKey
from qcledger.rubric import Criterion
from qcledger.rubric.handled import not_blind
from qcledger.text import one_line, same_name
from qcledger.vocab import Blinding, Extent, Severity, Standing

SETTLED: Final = Standing.SETTLED
TO_CONFIRM: Final = Standing.TO_CONFIRM
WIDE: Final = (Extent.PIGMENT, Extent.FORMAT)
_OF_ONE_PAINT: Final = (Extent.PAINT, Extent.LOT, Extent.PARCEL, Extent.SPECIMEN)
BLINDED: Final[Mapping[Blinding, str]] = {
    Blinding.OTHER_PERSON: "under codes that another person shuffled",
    Blinding.SHUFFLED: "under codes that the tester shuffled",
    Blinding.CODED: "under codes, not shuffled",
    Blinding.OPEN: NOT_BLIND,
}
WAYS: Final = (*(words for words in BLINDED.values() if words != NOT_BLIND), IN_HAND, NOT_BLIND, UNPACKED)
"""Every way in which things are judged, those that hide most first."""
NO_CODE: Final = "without a batch code"
_BARE_NUMBERS: Final = re.compile(r"(?:[\d.,\s]|\b(?:or|more|less|than|up|to|from|over|under|and|between)\b)+", re.I)
"""An anchor that holds numbers and nothing that they count."""
OR_WORSE: Final = "; or worse"
"""Follows the words of the scale from which on something is a fault: they name one rung."""
UNNAMED: Final = "another lot"
"""What a drawn lot is called whose paint is kept private."""
_SELLER: Final = "seller"
"""The kind of stress check that leaves out what one seller sold."""
_ONE_SELLER: Final = "one seller"
LotKey = tuple[str, str, str]


@dataclass(frozen=True)
class PublicRules:
    """What was decided about publishing.

    Parameters
    ----------
    kept_paints
        Ids of the paints that are kept private.
    kept
        Findings that are kept private; those of `Findings` say so themselves, grades of a label do not.
    released
        Findings that may concern health, and may be told: the maker was asked, and somebody said so.
    asked
        What a maker was asked about a finding, and answered, of a claim that speaks of lots with these codes.
    in_general
        What a maker, by its id, was asked without a finding by name, and answered.
    """

    kept_paints: frozenset[str] = frozenset()
    kept: frozenset[FindingKey] = frozenset()
    released: frozenset[FindingKey] = frozenset()
    asked: Callable[[FindingKey, Collection[str]], tuple[PublicAsking, ...]] = field(default=lambda _, codes: ())
    in_general: Callable[[str], tuple[PublicAsking, ...]] = field(default=lambda _: ())


class SpokenClaim(NamedTuple):
    """A settled claim that may be told, with the finding it is of, that one first, and others that share it."""

    claim: Claim
    of: tuple[Finding, ...]

    @property
    def first(self) -> Finding:
        """The finding whose words are used."""
        return self.of[0]


def key_of(finding: Finding) -> FindingKey:
    """Return the key under which a finding is asked and decided about."""
    return FindingKey(finding.criterion.key, finding.maker, str(finding.format))


def tested(found: Findings) -> list[Finding]:
    """Return the findings on which anything was tested; A to Z."""
    counted = [one for one in found.findings if one.counts.tested]
    return sorted(counted, key=lambda one: (*map(same_name, (one.maker_name, one.criterion.title)), one.format))


def rows_counted(found: Findings) -> list[TestedRow]:
    """Return every observation that counts towards a finding."""
    return [unit.row for one in found.findings for lot in one.lots for unit in lot.units]


def criteria_of(found: Findings) -> frozenset[str]:
    """Return the keys of the criteria that were judged."""
    return frozenset(found.criteria)


def of_maker(found: Findings, maker: str) -> Findings:
    """Return the findings about a maker by its id."""
    return found.only(maker=maker)


def may_be_told(finding: Finding, rules: PublicRules) -> list[Claim]:
    """Return the settled claims of a finding that may be told in public."""
    if finding.said.private:
        return []
    return [
        claim
        for claim in (finding.claim, *finding.exceptions)
        if claim is not None
        and claim.standing is SETTLED
        and claim.extent is not Extent.SESSION
        and (not _of_health(finding.criterion, claim) or key_of(finding) in rules.released)
        and not _kept(claim, rules)
    ]


def _of_health(criterion: Criterion, claim: Claim) -> bool:
    return claim.critical or criterion.severity is Severity.CRITICAL


def _kept(claim: Claim, rules: PublicRules) -> bool:
    """Say whether a claim speaks of a paint that is kept private."""
    return claim.extent in _OF_ONE_PAINT and not rules.kept_paints.isdisjoint(lot.row.paint for lot in claim.lots)


def standing_of(finding: Finding, rules: PublicRules) -> PublicStanding:
    """Return how firmly a finding is told in public.

    None found means that none was seen, at whatever look: a cell with a fault that nothing settles is open.
    """
    if finding.said.private:
        return PublicStanding.OPEN
    if may_be_told(finding, rules):
        return PublicStanding.SETTLED
    clear = finding.standing is Standing.NONE_FOUND and not finding.tells_of_a_fault
    return PublicStanding.NONE_FOUND if clear and not finding.exceptions else PublicStanding.OPEN


def claims_told(found: Findings, rules: PublicRules) -> list[SpokenClaim]:
    """Return each settled claim that may be told once, however many findings share it."""
    by_claim: dict[tuple[str, Extent, tuple[str, ...], str], list[tuple[Claim, Finding]]] = {}
    for finding in tested(found):
        for claim in may_be_told(finding, rules):
            whose = "" if claim.extent in WIDE else finding.maker
            by_claim.setdefault((finding.criterion.key, claim.extent, claim.subject, whose), []).append(
                (claim, finding)
            )
    sound = {key_of(one) for one in found.findings if standing_of(one, rules) is PublicStanding.NONE_FOUND}
    told = [
        SpokenClaim(_free_told(without_sellers(some[0][0]), some[0][1], sound), tuple(one for _, one in some))
        for some in by_claim.values()
    ]
    return sorted(told, key=_in_order)


def _free_told(claim: Claim, finding: Finding, sound: Container[FindingKey]) -> Claim:
    """Return a claim with those makers that are free of it alone of which the public reads that none was found."""

    def is_told(one: FreeMaker) -> bool:
        formats = {str(lot.row.format) for lot in one.lots}
        return all(FindingKey(finding.criterion.key, one.maker, format_) in sound for format_ in formats)

    return replace(claim, free=tuple(filter(is_told, claim.free)))


def without_sellers(claim: Claim) -> Claim:
    """Return a claim that names no seller: what is said is about what was bought, and sellers were not tested."""
    if claim.extent is Extent.PARCEL:
        claim = replace(claim, subject=(*claim.subject[:-2], _ONE_SELLER, claim.subject[-1]))
    if claim.stress is None:
        return claim
    names = sorted({one.what for one in claim.stress.checks if one.kind == _SELLER})
    letters = dict(zip(names, map(str, range(1, len(names) + 1)), strict=True))
    checks = (one._replace(what=letters[one.what]) if one.kind == _SELLER else one for one in claim.stress.checks)
    return replace(claim, stress=replace(claim.stress, checks=tuple(checks)))


def _in_order(told: SpokenClaim) -> tuple[str, ...]:
    first = told.first
    whose = "" if told.claim.extent in WIDE else first.maker_name
    return (same_name(whose), same_name(first.criterion.title), same_name(subject(told.claim)))


def statements(told: list[SpokenClaim], rules: PublicRules) -> list[PublicStatement]:
    """Return what is settled, a statement a claim, in the order of the claims."""
    ids = anchors(_name(one) for one in told)
    return [_statement(one, id_, rules) for one, id_ in zip(told, ids, strict=True)]


def _name(told: SpokenClaim) -> str:
    whose = () if told.claim.extent in WIDE else (told.first.maker_name,)
    narrow = told.claim.extent in (*_OF_ONE_PAINT, Extent.MAKER_FORMAT, *WIDE)
    return f"s-{slug(*whose, told.first.criterion.title, *(told.claim.subject if narrow else ()))}"


def _about(told: SpokenClaim) -> Finding:
    """Return the finding as if it held this claim alone."""
    return replace(told.first, claim=told.claim, standing=told.claim.standing, exceptions=())


def sentence_of(told: SpokenClaim) -> str:
    """Return what is said of a settled claim."""
    return sentence(_about(told))


def further_of(told: SpokenClaim) -> tuple[str, ...]:
    """Return what is folded beneath the sentence of a settled claim, a line each.

    No line counts faults that the claim does not explain, nor those of one other maker; of what is common to makers
    none singles one out.
    """
    about = _about(told)
    scope = scope_of(about)
    size = how_large(about, scope)
    if told.claim.extent in WIDE:
        return tuple(line for line in (size, limits(about, scope), *free_lines(told.claim)) if line)
    withheld = {explains(about)}
    if len({lot.row.maker for lot in about.field.peers(scope.lots)}) == 1:
        withheld |= {size, beside(about, scope), *fairly(about)}
    return tuple(line for line in further(about) if line not in withheld)


def told_so_far(told: SpokenClaim) -> tuple[str, ...]:
    """Return for its maker what a claim that is to be confirmed counts so far, a line each; the counts come first."""
    return so_far(_about(told))


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _statement(told: SpokenClaim, id_: str, rules: PublicRules) -> PublicStatement:
    claim, first = told.claim, told.first
    wide, counts = claim.extent in WIDE, tally(_counted(told))
    left = None if claim.extent in OF_CODE else allowed(claim.lots).interval  # there the sentence says what is left
    asked = () if wide else _asked(told, rules)
    return PublicStatement(
        id=id_,
        extent=claim.extent,
        maker=None if wide else first.maker_name,
        criterion=first.criterion.key,
        criterion_title=first.criterion.title,
        subject=subject(claim),
        sentence=sentence_of(told),
        further=tuple(line for line in further_of(told) if not _names_kept(line, told, rules)),
        tested=counts.tested,
        faulty=counts.faulty,
        low=left.low if left else None,
        high=left.high if left else None,
        lots=counts.lots,
        fault_words=fault_words(first.criterion),
        grades=grades_seen(claim.lots, first.criterion),
        drawn=tuple(_drawn(told, rules)),
        held_up=tried(claim),
        judged=ways_judged(claim.lots, first.criterion),
        asked=asked,
        changed=tuple(_changed(told, asked)),
        gifts=sum(_apart(one, SetAside.GIFT) for one in told.of),
        older_notes=sum(_apart(one, SetAside.OLDER_NOTES) for one in told.of),
        reader_notes=sum(one.reader_notes for one in told.of),
    )


def _counted(told: SpokenClaim) -> tuple[TestedLot, ...]:
    """Return the lots that a statement counts: its claim's; of one specimen its lot, where the first look tells."""
    claim, keys = told.claim, {lot.key for lot in told.claim.lots}
    whole = tuple(lot for lot in told.first.lots if lot.key in keys)
    first = claim.extent is Extent.SPECIMEN and claim.explained <= faulty_specimens(whole)
    return whole if first else claim.lots


def _asked(told: SpokenClaim, rules: PublicRules) -> tuple[PublicAsking, ...]:
    codes = frozenset(lot.row.lot_code for lot in told.claim.lots if lot.row.lot_code)
    every = [asking for one in told.of for asking in rules.asked(key_of(one), codes)]
    return tuple(dict.fromkeys(sorted(every, key=lambda one: one.asked_on)))


def _changed(told: SpokenClaim, asked: Iterable[PublicAsking]) -> Iterator[str]:
    """Yield what was counted before and after each change that the maker spoke of."""
    for one in asked:
        if one.changed_on or one.changed_lot:
            line = changed_line(_counted(told), one.changed_on, one.changed_lot)
            if line:
                yield line


def way_judged(row: TestedRow, criterion: Criterion) -> str:
    """Return how something was judged: under which codes, in spite of them in view, or with the maker's name in view.

    Codes hide nothing where the criterion is judged on the piece itself, whatever the session was planned as.
    """
    if row.session is None or row.blinding is None:
        return UNPACKED
    hidden = row.blinding is not Blinding.OPEN
    return IN_HAND if hidden and not_blind(criterion, [row.format]) else BLINDED[row.blinding]


def ways_judged(lots: Iterable[TestedLot], criterion: Criterion) -> tuple[str, ...]:
    """Return how the specimens of some lots were judged on a criterion, each way once."""
    found = {way_judged(unit.row, criterion) for lot in lots for unit in lot.units}
    return tuple(one for one in WAYS if one in found)


def _apart(finding: Finding, reason: SetAside) -> int:
    return sum(one.number for one in finding.apart if one.reason is reason)


def fault_words(criterion: Criterion) -> str:
    """Return the words of the scale from which on something is a fault; empty for a trait.

    A fault is what these words say, or worse, unless they are the last of the scale.
    """
    line = criterion.fault_line
    words = "" if line is None else _with_unit(criterion, criterion.anchors.get(float(ceil(line)), ""))
    worse = line is not None and any(grade > ceil(line) for grade in criterion.anchors)
    return f"{words.removesuffix('.')}{OR_WORSE}" if words and worse else words


def _with_unit(criterion: Criterion, words: str) -> str:
    """Return an anchor with what its numbers count, where it holds numbers alone: others of its scale say it."""
    bare = criterion.reading is not None and _BARE_NUMBERS.fullmatch(words)
    return f"{words.removesuffix('.')} {criterion.reading.unit}." if criterion.reading and bare else words


def words_of_grade(criterion: Criterion, grade: float) -> str:
    """Return the scale's words for a grade; of a half step those it lies between."""
    low, high = (_with_unit(criterion, criterion.anchors.get(float(one), "")) for one in (floor(grade), ceil(grade)))
    return one_line(low if low == high else f"between: {low} / {high}")


def grades_seen(lots: Iterable[TestedLot], criterion: Criterion) -> tuple[GradeSeen, ...]:
    """Return how many specimens of some lots had which grade, the least first."""
    seen = Counter(unit.grade for lot in lots for unit in lot.units if unit.grade is not None)
    return tuple(GradeSeen(grade, words_of_grade(criterion, grade), seen[grade]) for grade in sorted(seen))


def lots_shown(told: SpokenClaim) -> tuple[TestedLot, ...]:
    """Return the lots that a statement is drawn with: its own, and those its sentence holds them against."""
    about = _about(told)
    return told.claim.lots if told.claim.extent in WIDE else scope_of(about).lots


def _drawn(told: SpokenClaim, rules: PublicRules) -> Iterator[DrawnLot]:
    """Yield the lots of a statement; of one that is common to makers without a name, in no maker's order."""
    meant = {lot.key for lot in told.claim.lots}
    for lot in in_drawn_order(told):
        name = "" if told.claim.extent in WIDE else _drawn_name(lot, rules)
        yield DrawnLot(name, str(lot.row.format), lot.tested, lot.faulty, lot.key in meant)


def in_drawn_order(told: SpokenClaim) -> list[TestedLot]:
    """Return the lots that a statement is drawn with, in the order of the drawing."""
    return sorted(lots_shown(told), key=_by_size if told.claim.extent in WIDE else _by_name)


def _names_kept(line: str, told: SpokenClaim, rules: PublicRules) -> bool:
    """Say whether a line beneath a statement names a paint that is kept private; its lots are counted alone."""
    return any(lot.row.paint in rules.kept_paints and lot.row.paint_name in line for lot in lots_shown(told))


def _drawn_name(lot: TestedLot, rules: PublicRules) -> str:
    """Return what a drawn lot is called; one of a paint that is kept private is counted, and not named."""
    return UNNAMED if lot.row.paint in rules.kept_paints else f"{lot.row.paint_name} {lot.row.lot_code or NO_CODE}"


def _by_name(lot: TestedLot) -> tuple[str, ...]:
    return (same_name(lot.row.paint_name), str(lot.row.format), lot.row.lot_code or "", *lot.key)


def _by_size(lot: TestedLot) -> tuple[str, int, int]:
    return (str(lot.row.format), lot.tested, lot.faulty)


def cells(
    found: Findings, told: list[SpokenClaim], said: list[PublicStatement], rules: PublicRules
) -> list[PublicCell]:
    """Return each maker's format on each criterion, as the public sees it."""
    of_cell: dict[FindingKey, list[str]] = {}
    for claim, statement in zip(told, said, strict=True):
        for finding in claim.of:
            of_cell.setdefault(key_of(finding), []).append(statement.id)
    return [_cell(one, of_cell.get(key_of(one), ()), rules) for one in tested(found)]


def _cell(one: Finding, ids: Iterable[str], rules: PublicRules) -> PublicCell:
    counts, trail = one.counts, one.trail
    bought, looked = trail.bought or (None, None), trail.tested or (None, None)
    standing = standing_of(one, rules)
    return public_cell(
        standing,
        maker=one.maker_name,
        criterion=one.criterion.key,
        criterion_title=one.criterion.title,
        format=str(one.format),
        tested=counts.tested,
        lots=counts.lots,
        without_code=counts.uncoded,
        paints=counts.paints,
        sellers=len(trail.sellers),
        bought_first=bought[0],
        bought_last=bought[1],
        tested_first=looked[0],
        tested_last=looked[1],
        blinding=ways_judged(one.lots, one.criterion),
        faulty=sum(lot.faulty for lot in _told_lots(one, rules)),
        sentence=sentence(one) if standing is PublicStanding.NONE_FOUND else "",
        still_allowed=one.still_allowed,
        drawn=tuple(
            DrawnLot(_drawn_name(lot, rules), str(lot.row.format), lot.tested, lot.faulty)
            for lot in sorted(one.lots, key=_by_name)
        ),
        statements=tuple(ids),
        gifts=_apart(one, SetAside.GIFT),
        older_notes=_apart(one, SetAside.OLDER_NOTES),
        reader_notes=one.reader_notes,
    )


def _told_lots(finding: Finding, rules: PublicRules) -> list[TestedLot]:
    """Return the lots of a finding that its settled claims speak of: only those have faults that may be counted."""
    keys = {lot.key for claim in may_be_told(finding, rules) for lot in claim.lots}
    return [lot for lot in finding.lots if lot.key in keys]


class SeenLot(NamedTuple):
    """A lot that was looked at: the first of its rows, which specimens, on which findings, and when it was bought."""

    lot: TestedLot
    specimens: frozenset[str]
    of: tuple[Finding, ...]
    bought: frozenset[date]


def lots_seen(found: Findings, rules: PublicRules) -> dict[LotKey, SeenLot]:
    """Return every lot that anything was counted of, labels left out, by what tells it from others; A to Z."""
    seen: dict[LotKey, SeenLot] = {}
    for finding in tested(found):
        for lot in finding.lots:
            before = seen.get(lot.key) or SeenLot(lot, frozenset(), (), frozenset())
            mine = frozenset(unit.row.specimen for unit in lot.units)
            days = before.bought | {unit.row.bought_on for unit in lot.units}
            seen[lot.key] = SeenLot(before.lot, before.specimens | mine, (*before.of, finding), days)
    order = sorted(seen, key=lambda key: (same_name(seen[key].lot.row.maker_name), *_by_name(seen[key].lot)))
    return {key: seen[key] for key in order}


def counts_in(told: SpokenClaim, key: LotKey) -> TestedLot | None:
    """Return a lot as a statement counts it; None where the statement is not about it, or blames no maker."""
    return next((lot for lot in lots_shown(told) if lot.key == key), None)


def is_common_to(told: SpokenClaim, lot: TestedLot) -> bool:
    """Say whether what is common to makers is told of a lot: its maker shows it, and it has pigments or format."""
    if (lot.row.maker, str(lot.row.format)) not in {(one.maker, str(one.format)) for one in told.of}:
        return False
    if told.claim.extent is Extent.PIGMENT:
        return set(told.claim.subject) <= set(lot.group)
    return told.claim.extent is Extent.FORMAT and told.claim.subject[0] == lot.row.format


def faulty_units(told: SpokenClaim) -> list[Unit]:
    """Return the specimens whose fault a claim explains, of findings that are not kept private alone."""
    ours = {(one.maker, str(one.format)) for one in told.of}
    units = (unit for lot in told.claim.lots for unit in lot.units)
    return [
        unit
        for unit in units
        if unit.faulty and unit.row.specimen in told.claim.explained and (unit.row.maker, unit.row.format) in ours
    ]


class StatementKey(NamedTuple):
    """What a statement is about, in the terms that the record keeps it under from one edition to the next.

    `finding` is the text of a `FindingKey`, `maker` the id of its maker or None, `extent` what it reaches.
    """

    finding: str
    maker: str | None
    extent: str


def statement_key(told: SpokenClaim) -> StatementKey:
    """Return under what a statement is kept; what is common to makers is kept under none of them."""
    key, claim = key_of(told.first), told.claim
    extent = " | ".join((claim.extent, *claim.subject))[:200]
    if claim.extent in WIDE:
        return StatementKey(replace(key, maker="-", format="-").text, None, extent)
    return StatementKey(key.text, key.maker, extent)


def health_waiting(found: Findings, rules: PublicRules) -> list[tuple[FindingKey, str]]:
    """Return the settled findings that may concern health and are not released, each with its title; A to Z."""
    held: dict[FindingKey, str] = {}
    for one in tested(found):
        for claim in (one.claim, *one.exceptions):
            if claim and claim.standing is SETTLED and _of_health(one.criterion, claim):
                held[key_of(one)] = f"{one.maker_name}, {one.format}, {one.criterion.title}"
    return [(key, title) for key, title in held.items() if key not in rules.released]


# What is asked of one maker


def to_ask(mine: Findings, rules: PublicRules) -> list[SpokenClaim]:
    """Return what a maker is asked about: its settled claims and those to confirm, of nothing that is kept private.

    What is common to makers is not asked of one of them. What may concern health is: it goes to the maker first.
    """
    found: dict[tuple[str, Extent, tuple[str, ...]], list[tuple[Claim, Finding]]] = {}
    for finding in tested(mine):
        for claim in () if finding.said.private else (finding.claim, *finding.exceptions):
            if claim and claim.standing in (SETTLED, TO_CONFIRM) and claim.extent not in (*WIDE, Extent.SESSION):
                key = (finding.criterion.key, claim.extent, claim.subject)
                found.setdefault(key, []).append((claim, finding))
    asked = [SpokenClaim(without_sellers(some[0][0]), tuple(one for _, one in some)) for some in found.values()]
    return sorted((one for one in asked if not _kept(one.claim, rules)), key=_in_order)


def kept_back(mine: Findings) -> int:
    """Return how many findings are kept private of those with something to ask about."""
    firm = (SETTLED, TO_CONFIRM)
    return sum(
        bool(one.said.private) and any(claim and claim.standing in firm for claim in (one.claim, *one.exceptions))
        for one in mine.findings
    )


def title_of(told: SpokenClaim) -> str:
    """Return what a claim is about, in a line."""
    return _capital(headline(told.first, told.claim))


def tried(claim: Claim) -> str:
    """Return what leaving out one thing at a time did to a claim; empty where nothing can be left out."""
    return held_up(claim.stress) if claim.stress is not None and claim.stress.checks else ""


def in_view(row: TestedRow, criterion: Criterion) -> bool:
    """Say whether the piece or its maker's name was in view when something was graded."""
    return way_judged(row, criterion) in IN_VIEW
