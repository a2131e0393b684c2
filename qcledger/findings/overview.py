"""Evidence in, findings out."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType

from qcledger.findings.among import may_name
from qcledger.findings.cells import Cell, Numbers, all_numbers, cells_of, summary
from qcledger.findings.evidence import CellKey, CriterionOf, Evidence, gather
from qcledger.findings.extent import Case, Scorecard, decide
from qcledger.findings.field import CriterionField, empty_field, fields
from qcledger.findings.finding import Claim, Finding, TraitSummary
from qcledger.findings.labelfact import LabelFact
from qcledger.findings.maker import may_accuse
from qcledger.findings.papers import LeftApart, Papers, left_apart
from qcledger.findings.pool import Pool
from qcledger.findings.pooled import line_for
from qcledger.findings.said import concerns
from qcledger.findings.stock import BoughtPieces
from qcledger.findings.strength import StrengthCheck, by_exchanging_lots
from qcledger.findings.trail import PaintKey, Recurrence, recurrence
from qcledger.ledger.collector import resting
from qcledger.records import Piece, ReaderNote, TestedRow
from qcledger.rubric import Criterion
from qcledger.vocab import Extent, Standing

_REACHED = (Standing.TO_CONFIRM, Standing.SETTLED)
_OF_A_PAINT = (Extent.PAINT, Extent.LOT, Extent.PARCEL, Extent.SPECIMEN)


@dataclass(frozen=True, slots=True)
class Findings:
    """What the evidence says, fault by fault.

    Parameters
    ----------
    findings
        One for each criterion, maker and format where faults were judged or should have been; in the order of the
        criteria, then of the makers' names and the formats.
    traits
        Summaries of traits, which accuse nobody.
    criteria
        Every criterion met, by key.
    blind
        Codes of the sessions that are left out because they are still blind.
    left_apart
        What was graded on other paper than its comparison's, of whatever criterion.
    of_makers
        By a maker's id, lines about what it was asked and answered; makers that were not asked are left out.
    label_facts
        What labels say, each print and format by itself; empty until it is asked for.
    """

    findings: tuple[Finding, ...]
    traits: tuple[TraitSummary, ...]
    criteria: Mapping[str, Criterion]
    blind: tuple[str, ...] = ()
    left_apart: tuple[LeftApart, ...] = ()
    of_makers: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    label_facts: tuple[LabelFact, ...] = ()

    def only(
        self,
        *,
        criterion: str | None = None,
        maker: str | None = None,
        format: str | None = None,  # noqa: A002 - the field's own name
    ) -> "Findings":
        """Return what concerns a criterion's key, a maker's id and a format; None stands for any."""

        def wanted(one: Finding | TraitSummary) -> bool:
            asked = ((criterion, one.criterion.key), (maker, one.maker), (format, one.format))
            return all(want in (None, found) for want, found in asked)

        return replace(
            self,
            findings=tuple(finding for finding in self.findings if wanted(finding)),
            traits=tuple(trait for trait in self.traits if wanted(trait)),
            label_facts=tuple(
                fact
                for fact in self.label_facts
                if criterion in (None, *(grade.criterion.key for grade in fact.grades))
                and maker in (None, fact.maker)
                and format in (None, fact.format)
            ),
        )


def read(
    rows: Iterable[TestedRow],
    criterion_of: CriterionOf,
    *,
    everything: Iterable[TestedRow] | None = None,
    reader_notes: Sequence[ReaderNote] = (),
    strength: StrengthCheck = by_exchanging_lots,
    pieces: Iterable[Piece] | None = None,
) -> Findings:
    """Return the findings in `rows`; see `find`.

    Parameters
    ----------
    rows
        Current observations: those of one comparison, or of the whole ledger.
    criterion_of
        Looks up a criterion by its rubric's hash and its own key.
    everything
        Current observations of the whole ledger, which recurrence is counted over; None: `rows`.
    reader_notes, strength
        As for `find`.
    pieces
        What was bought, looked at or not; None where that is not known.
    """
    evidence = gather(rows, criterion_of)
    whole = evidence if everything is None else gather(everything, criterion_of)
    stock = None if pieces is None else BoughtPieces(tuple(pieces), whole)
    return find(evidence, recurring=recurrence(whole), reader_notes=reader_notes, strength=strength, stock=stock)


@resting()
def find(
    evidence: Evidence,
    *,
    recurring: Mapping[CellKey | PaintKey, Recurrence] | None = None,
    reader_notes: Sequence[ReaderNote] = (),
    strength: StrengthCheck = by_exchanging_lots,
    pool: Pool | None = None,
    stock: BoughtPieces | None = None,
    papers: Mapping[str, Papers] = MappingProxyType({}),
    among: Collection[str] | None = None,
) -> Findings:
    """Return a finding for each criterion, maker and format on which faults were judged.

    Parameters
    ----------
    evidence
        One unit for each specimen and criterion.
    recurring
        In how many comparisons each fault was looked for and seen.
    reader_notes
        What readers told; counted beside the findings, never in them.
    strength
        What says whether a maker's excess is beyond chance, where there is no `pool`.
    pool
        Answers of the pooled model and stress checks, as far as they are known; what is not is noted there.
    stock
        What was bought, looked at or not; None where that is not known.
    papers
        By a session's id the papers of a sheet that is kept apart.
    among
        Only these criteria, by key; None for every one.
    """
    judged = fields(evidence)
    criteria, narrow = (sum(map(may, judged.values())) for may in (may_accuse, may_name))
    scorecard = Scorecard()
    cases = {
        key: Case(judged.get(key) or empty_field(one, evidence), pool or strength, criteria, narrow, scorecard)
        for key, one in evidence.criteria.items()
    }
    scorecard.cases = tuple(cases.values())
    cells = [cell for cell in cells_of(evidence, judged) if among is None or cell.key.criterion in among]
    traits = [cell for cell in cells if evidence.criteria[cell.key.criterion].fault_line is None]
    faults = [cell for cell in cells if evidence.criteria[cell.key.criterion].fault_line is not None]
    found = (
        _finding(cell, numbers, cases[cell.key.criterion], reader_notes, recurring or {}, pool)
        for cell, numbers in zip(faults, all_numbers(faults, judged), strict=True)
    )
    if pool is not None:
        found = (_with_model(one, cases[one.criterion.key], pool) for one in found)
    if papers:
        found = (
            replace(one, left_apart=left_apart(cell.aside, papers)) for one, cell in zip(found, faults, strict=True)
        )
    if stock is not None:
        found = (replace(one, stock=stock) for one in found)
    told = (_summary(cell, cases[cell.key.criterion].field) for cell in traits)
    known = {**evidence.criteria, **(evidence.labels.criteria if evidence.labels else {})}
    return Findings(tuple(found), tuple(told), known, left_apart=left_apart(evidence.aside, papers))


def _summary(cell: Cell, field: CriterionField) -> TraitSummary:
    return summary(cell, field.evidence, field.criterion, field.of_cell(cell.key.maker, cell.key.format))


def _finding(
    cell: Cell,
    numbers: Numbers,
    case: Case,
    notes: Sequence[ReaderNote],
    recurring: Mapping[CellKey | PaintKey, Recurrence],
    pool: Pool | None,
) -> Finding:
    known = pool.answer(case) if pool else None
    outcome = decide(case, cell.key.maker, cell.key.format, numbers.lots_allow, known)
    return Finding(
        maker=cell.key.maker,
        maker_name=cell.row.maker_name,
        format=cell.key.format,
        field=case.field,
        rest=case.rest,
        wilson=numbers.wilson,
        lot_aware=numbers.lot_aware,
        still_allowed=numbers.still_allowed,
        claim=outcome.claim,
        exceptions=outcome.exceptions,
        standing=outcome.standing,
        checks=outcome.checks,
        clears=outcome.clears,
        # Graded while the rubric drew no fault line yet: not judged.
        missing=len(cell.missing) + len(cell.places),
        missing_because=tuple(sorted({unit.row.why_not for unit in cell.missing if unit.row.why_not})),
        apart=cell.apart,
        reader_notes=sum(concerns(note, cell.key.maker, cell.key.format, case.field.criterion) for note in notes),
        recurrence=_recurrence(cell.key, outcome.claim, recurring),
        free=case.free_of(cell.key.maker, cell.key.format),
    )


def _recurrence(
    cell: CellKey, claim: Claim | None, known: Mapping[CellKey | PaintKey, Recurrence]
) -> Recurrence | None:
    """Return how often a fault came back: of a claim about one paint, where that paint was looked at."""
    paints = {lot.row.paint for lot in claim.lots} if claim and claim.extent in _OF_A_PAINT else set()
    (key,) = (PaintKey(*cell, paint) for paint in paints) if len(paints) == 1 else (cell,)
    return known.get(key)


def _with_model(finding: Finding, case: Case, pool: Pool) -> Finding:
    """Return a finding with what the pooled model and the stress checks say, as far as that is known."""
    told = pool.answer(case)
    worried = [
        pool.worries.about(claim, case, line_for(case.criteria)) if claim.standing in _REACHED else claim
        for claim in (finding.claim, *finding.exceptions)
        if claim
    ]
    first = worried.pop(0) if finding.claim else None
    pending = told is None and bool(case.field.counts.tested)
    if first is not None and finding.standing in _REACHED:
        finding = replace(finding, standing=first.standing, checks=first.checks)
    return replace(finding, pooled=told, pending=pending, claim=first, exceptions=tuple(worried))
