"""Findings as a board: makers or criteria down, formats across, a strip and a standing in each cell.

The pages and the text of ``qcledger findings`` show the same board.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from qcledger.findings import Counts, Finding, Findings, TraitSummary
from qcledger.findings.checks import percent
from qcledger.findings.evidence import CellKey, SetAside
from qcledger.findings.together import REACHED, told_beside
from qcledger.findings.wording import NOTHING, extent_word, left_out, set_apart
from qcledger.findings.wording_of_free import FREE_SHORT
from qcledger.findings.words import listed, lower_first, out_of, plural
from qcledger.report.strips import FEW, Curve, Ink, Pairs, axis, strips, with_mark
from qcledger.rubric.model import PIGMENTS
from qcledger.thing import worded
from qcledger.vocab import MARKS, Extent, Standing, formats_in_order

T = TypeVar("T")

TRAIT = "trait: median grade, lowest to highest; a position and not a merit"
"""What stands on a board that holds nothing but a trait."""

_SHORT = {
    Extent.MAKER_FORMAT: "maker's format",
    Extent.FORMAT: "shared format",
}
_TOLD = (SetAside.GIFT, SetAside.OLDER_NOTES, SetAside.VOID)
"""What is told beside the counts, of what does not count."""
_SHARED = (
    "shared: four or more makers show it with that {} or in that format, more than are free of it; "
    "none of them is blamed"
)


@dataclass(frozen=True, slots=True)
class BoardCell:
    """What one cell shows.

    Parameters
    ----------
    strip
        The density of its rate; blank when nothing was tested, empty for a trait.
    counts
        Faulty of tested, as ``4/11``.
    standing, mark
        How firmly something may be said, and its mark; None and blank where nothing is to be said.
    extent
        How far it reaches, as ``lot``; what it only points to has a question mark, ``lot?``.
    words
        What stands there instead: ``not tested``, or the grades of a trait.
    private
        Whether the finding is kept private.
    beside
        With which faults it is one thing to say, as ``one lot with foaming``; empty where it is told by itself.
    """

    strip: str = ""
    counts: str = ""
    standing: Standing | None = None
    mark: str = ""
    extent: str = ""
    words: str = ""
    private: bool = False
    beside: str = ""

    @property
    def short(self) -> str:
        """What is said where there is no room for `told`."""
        return "private" if self.private else self.extent or self.words

    @property
    def told(self) -> str:
        """Standing and extent in full: ``open: lot?``; one that is kept private says so first, others follow."""
        if self.standing is None:
            return self.words
        told = f"{self.standing}: {self.extent}" if self.extent else str(self.standing)
        told = f"kept private; {told}" if self.private else told
        return f"{told}; {self.beside}" if self.beside else told


@dataclass(frozen=True, slots=True)
class BoardLine:
    """One line: a criterion at a maker, with a cell for each format; a heading is about all makers and has none."""

    criterion: str
    maker: str | None
    name: str
    cells: tuple[BoardCell, ...]


@dataclass(frozen=True, slots=True)
class Board:
    """A board: its title and what it rests on, the formats across, the lines, and the scale below the strips.

    `busiest` is the place of the format with most faulty specimens, `label` says what the strips are, and that blind
    sessions are left out. A board of a trait has no strips, and no scale. `asked` says on a maker's card what
    the maker was asked and answered.
    """

    title: str
    about: tuple[str, ...]
    formats: tuple[str, ...]
    busiest: int
    lines: tuple[BoardLine, ...]
    axis: str
    label: str
    asked: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class BoardScope:
    """What a board is about: a criterion by its key, a maker by its id, or neither."""

    criterion: str | None = None
    maker: str | None = None


@dataclass(frozen=True, slots=True)
class _Draft:
    """A cell that waits for its strip."""

    cell: BoardCell
    pairs: Pairs | Curve = ()
    rate: float | None = None


def board_of(findings: Findings, asked: BoardScope, width: int, ink: Ink) -> Board:
    """Return what is asked for of `findings`.

    Parameters
    ----------
    findings
        Of one comparison, or of the whole ledger.
    asked
        A criterion: its makers down. A maker: its card, with the criteria down and no sum of them. Neither: each
        criterion with the makers at which a fault was seen.
    width, ink
        Characters of a strip, and what to draw with.
    """
    mine = findings.only(criterion=asked.criterion, maker=asked.maker)
    told: list[Finding | TraitSummary] = [*mine.findings, *(mine.traits if asked != BoardScope() else ())]
    formats = formats_in_order(one.format for one in told)
    drafts = [*_drafts(told, asked, formats, told_beside(findings.findings, REACHED))]
    traits_alone = bool(told) and not mine.findings
    strips_are = ink.label_of(draft.pairs for _, cells in drafts for draft in cells) if drafts else NOTHING
    return Board(
        title=_title(told, asked),
        about=_about(mine, asked),
        formats=formats,
        busiest=_busiest(mine.findings, formats),
        lines=tuple(_drawn(drafts, width, ink)),
        axis="" if traits_alone else axis(width, _rate(mine.findings) if asked.criterion else None, ink),
        label=" ".join(part for part in (left_out(findings.blind), TRAIT if traits_alone else strips_are) if part),
        asked=tuple(findings.of_makers.get(asked.maker, ())) if asked.maker else (),
    )


def criteria_of(findings: Findings) -> list[tuple[str, str]]:
    """Return key and line of each criterion, faults before traits: ``Work-up froth, 4 of 90 specimens``."""
    faults = {
        key: f"{found.criterion.title}, {_in_all(found.all_makers)}"
        for key, (found, *_) in _grouped(findings.findings, lambda one: one.criterion.key)
    }
    traits = {one.criterion.key: f"{one.criterion.title}, a trait" for one in findings.traits}
    return [*faults.items(), *((key, line) for key, line in traits.items() if key not in faults)]


def _in_all(counts: Counts) -> str:
    return f"{counts.faulty} of {counts.tested} specimens" if counts.tested else "nothing that counts yet"


def extent_words(finding: Finding) -> str:
    """Return how far a finding reaches as a cell says it: ``lot``, or ``lot?`` while that is open.

    What holds for a pigment or a format is called shared, so that nobody reads it as a maker's.
    """
    if finding.claim is None:
        return FREE_SHORT if finding.free and finding.standing is Standing.NONE_FOUND else ""
    told = extent_word(finding.claim)
    if finding.leaning in (Extent.PIGMENT, Extent.FORMAT):
        return f"{told}?"
    shared = finding.claim.extent is Extent.PIGMENT
    extent = worded(f"shared {told}" if shared else _SHORT.get(finding.claim.extent, told))
    return f"{extent}{'?' if finding.leaning else ''}"


def shared_words(findings: Iterable[Finding]) -> str:
    """Return what a shared pigment, or whatever else makes peers, or a format is, said where one is shown."""
    claims = [one.claim for one in findings if one.claim and one.extent is Extent.PIGMENT]
    words = dict.fromkeys(claim.group.one for claim in claims) or {PIGMENTS.one: None}
    return _SHARED.format(listed(list(words), "or"))


def not_counted(finding: Finding) -> str:
    """Return what a reader may look for and not find among a finding's counts; empty where there is nothing."""
    apart = [one for one in finding.apart if one.reason in _TOLD]
    told = set_apart(apart, finding.missing, finding.reader_notes)
    return f"{finding.maker_name} {finding.format}, {lower_first(told)}" if told else ""


def _a_sound_gift_alone(finding: Finding) -> bool:
    """Say whether nothing is set apart of a finding but gifts without a fault."""
    told = [one for one in finding.apart if one.reason in _TOLD and one.number]
    gifts = bool(told) and all(one.reason is SetAside.GIFT and not one.faulty for one in told)
    return gifts and not (finding.missing or finding.reader_notes)


def _drafts(
    told: Sequence[Finding | TraitSummary], asked: BoardScope, formats: Sequence[str], beside: Mapping[CellKey, str]
) -> Iterator[tuple[BoardLine, list[_Draft]]]:
    for key, own in _grouped(told, lambda one: one.criterion.key):
        if asked == BoardScope() and isinstance(own[0], Finding):
            yield _heading(key, [one for one in own if isinstance(one, Finding)], formats), []
        for maker, cells in _grouped(own, lambda one: one.maker):
            if asked == BoardScope() and not any(isinstance(one, Finding) and _sums(one)[0] for one in cells):
                continue
            name = own[0].criterion.title if asked.maker else cells[0].maker_name
            yield BoardLine(key, maker, name, ()), _across(cells, formats, beside)
        if not asked.maker:
            among = [one for one in own if isinstance(one, Finding)]
            # Over all criteria a sound gift would be told once for each of them: its own criterion tells it.
            gifts = asked != BoardScope()
            apart = ((one.maker, not_counted(one)) for one in among if gifts or not _a_sound_gift_alone(one))
            yield from ((BoardLine(key, maker, told, ()), []) for maker, told in apart if told)


def _heading(key: str, own: Sequence[Finding], formats: Sequence[str]) -> BoardLine:
    """Return a criterion over all makers, and in which formats it was seen."""
    counts = own[0].all_makers
    if not counts.tested:
        return BoardLine(key, None, f"{own[0].criterion.title}: nothing that counts yet", ())
    rate = f", {percent(counts.rate)}" if counts.rate else ""
    seen = (_seen([one for one in own if one.format == format_]) for format_ in formats)
    where = ", ".join(told for told in seen if told)
    told = f"{own[0].criterion.title}: {out_of(counts.faulty, counts.tested)}{rate}"
    return BoardLine(key, None, f"{told}: {where}" if where else told, ())


def _seen(own: Sequence[Finding]) -> str:
    faulty, tested = (sum(counts) for counts in zip(*map(_sums, own), strict=True)) if own else (0, 0)
    return f"{own[0].format} {faulty}/{tested}" if faulty else ""


def _sums(one: Finding) -> tuple[int, int]:
    """Return the faulty and the tested specimens of a cell."""
    return sum(faulty for faulty, _ in one.lot_counts), sum(tested for _, tested in one.lot_counts)


def _across(
    cells: Iterable[Finding | TraitSummary], formats: Sequence[str], beside: Mapping[CellKey, str]
) -> list[_Draft]:
    there = {one.format: one for one in cells}
    return [
        _cell(there[format_], beside) if format_ in there else _Draft(BoardCell(words="not tested"))
        for format_ in formats
    ]


def _cell(one: Finding | TraitSummary, beside: Mapping[CellKey, str]) -> _Draft:
    if isinstance(one, TraitSummary):
        return _Draft(BoardCell(counts=str(one.tested), words=_grades(one)))
    faulty, tested = _sums(one)
    if not tested:
        return _Draft(BoardCell(words="not testable" if one.missing else "not tested"))
    cell = BoardCell(
        counts=f"{faulty}/{tested}",
        standing=one.standing,
        mark=MARKS[one.standing],
        extent=extent_words(one),
        private=bool(one.said.private),
        beside=beside.get(CellKey(one.criterion.key, one.maker, one.format), ""),
    )
    return _Draft(cell, drawn_from(one), one.all_makers.rate)


def drawn_from(finding: Finding) -> Pairs | Curve:
    """Return what a finding's strip is drawn from: its pooled posterior, or its lots.

    Its lots until that is worked out, and where it has fewer than `FEW` specimens of its own: what is pooled would
    then be borrowed from other makers and look as certain as they are.
    """
    few = _sums(finding)[1] < FEW
    return Curve(finding.reach.curve) if finding.reach and not few else finding.lot_counts


def _grades(trait: TraitSummary) -> str:
    """Return a trait's grades, a position and not a merit."""
    if trait.grades is None:
        return ", ".join(f"{choice} {number}" for choice, number in sorted(trait.choices.items()))
    return f"median {trait.grades.median:g}, range {trait.grades.lowest:g} to {trait.grades.highest:g}"


def _drawn(drafts: Sequence[tuple[BoardLine, list[_Draft]]], width: int, ink: Ink) -> Iterator[BoardLine]:
    """Draw the strips of the whole board in one go, and yield its lines."""
    drawn = iter(strips([draft.pairs for _, cells in drafts for draft in cells], width, ink))
    for line, cells in drafts:
        done = (replace(draft.cell, strip=with_mark(next(drawn), draft.rate, ink)) for draft in cells)
        yield replace(line, cells=tuple(done))


def _title(told: Sequence[Finding | TraitSummary], asked: BoardScope) -> str:
    if asked == BoardScope() or not told:
        return "all criteria"
    return told[0].maker_name if asked.maker else told[0].criterion.title


def _about(mine: Findings, asked: BoardScope) -> tuple[str, ...]:
    """Return what the board rests on, the most telling first."""
    found = mine.findings
    makers = {one.maker for one in found} | {one.maker for one in mine.traits}
    if mine.traits and not found:  # over the traits of a maker's card there is no sum
        specimens = _count(sum(one.tested for one in mine.traits), "specimen")
        return () if asked.maker else (_count(len(makers), "maker"), specimens)
    number, lots = _specimens_and_lots(found, asked)
    apart = mine.left_apart if asked == BoardScope() else [one for finding in found for one in finding.left_apart]
    results = sum(one.results for one in apart)
    rate = _rate(found)
    return (
        f"all makers {percent(rate)} at the mark" if asked.criterion and rate is not None else "",
        "" if asked.maker else _count(len(makers), "maker"),
        _count(number, "specimen"),
        _count(lots, "lot"),
        f"{_count(results, 'result')} left apart: other paper" if results else "",
    )


def about_all(findings: Findings) -> tuple[str, ...]:
    """Return what all findings together rest on: makers, specimens, lots, and what was left apart."""
    return _about(findings, BoardScope())


def _specimens_and_lots(found: Sequence[Finding], asked: BoardScope) -> tuple[int, int]:
    """Return how many specimens and lots `found` rest on; over several criteria each counts once."""
    if not found:
        return 0, 0
    everything = found[0].field
    if asked.maker:
        lots = {lot.key: lot for one in found for lot in one.lots}
        specimens = {unit.row.specimen for one in found for lot in one.lots for unit in lot.units}
        return len(specimens), sum(lot.coded for lot in lots.values())
    if asked.criterion:
        return everything.counts.tested, everything.counts.lots
    return len({row.specimen for row in everything.evidence.rows}), int(everything.shelf.coded.sum())


def _count(number: int, thing: str) -> str:
    return f"{number} {plural(number, thing)}"


def _rate(found: Sequence[Finding]) -> float | None:
    return found[0].all_makers.rate if found else None


def _busiest(found: Sequence[Finding], formats: Sequence[str]) -> int:
    """Return the place of the format with the most faulty specimens, to be shown first where one fits."""
    faulty = [sum(_sums(one)[0] for one in found if one.format == format_) for format_ in formats]
    return faulty.index(max(faulty)) if faulty else 0


def _grouped(told: Iterable[T], key: Callable[[T], str]) -> list[tuple[str, list[T]]]:
    """Return `told` by a key, groups in the order of their first one."""
    groups: dict[str, list[T]] = {}
    for one in told:
        groups.setdefault(key(one), []).append(one)
    return list(groups.items())
