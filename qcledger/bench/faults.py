"""What is seen when a parcel is opened: pack, contents and label of its pieces, judged criterion by criterion."""

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, ClassVar, Final, Self

from qcledger.bench import opening
from qcledger.bench.atunpacking import UnpackingScales, unpacking_scales
from qcledger.bench.record import WrittenGrade
from qcledger.bench.result import Pencil, Result
from qcledger.bench.runsheet import SheetSquare, ToGrade, UnderTest
from qcledger.bench.worked import of_ledger
from qcledger.errors import bad
from qcledger.records import LabelVersion, Observation, Paint, Record, RubricText, Specimen, Trial
from qcledger.settings import reference_files
from qcledger.vocab import TAKEN_BACK, Kind, Occasion, ProposedFrom, SoundIf, SpecimenState

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.rubric import Criterion
    from qcledger.rubric.proposal import Proposal
    from qcledger.rubric.reference import Reference

REGRADED: Final = "regraded at unpacking"
_IS_ENTERED: Final[Mapping[SoundIf, Callable[[Specimen], bool]]] = {
    SoundIf.BATCH_CODE: lambda piece: piece.lot is not None,
}
Propose = Callable[[LabelVersion, str, "Reference"], "Mapping[ProposedFrom, Proposal]"]
"""Returns grades that follow from a label, its paint's name and our references, by what of the label tells them."""


def nothing(label: LabelVersion, paint_name: str, reference: "Reference") -> "Mapping[ProposedFrom, Proposal]":
    """Propose nothing."""
    return {}


@dataclass(frozen=True, slots=True, kw_only=True)
class UnpackedPiece(UnderTest):
    """A piece as it came out of its parcel; `title` is its maker, paint and format."""

    title: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Unpacked(ToGrade):
    """The pieces of a parcel as they came out of it, one of them or all.

    Parameters
    ----------
    lines
        The pieces, by sticker.
    letters
        The letter of each criterion, the same in every format, by its key.
    texts
        The rubrics, by their hashes.
    scales
        The scale that what stands was graded with, by place.
    proposed
        Grades that follow from the text of a label, each with its reason, by place.
    rules
        What is to be minded at every criterion of the rubrics, each once.
    """

    REGRADED: ClassVar[str] = REGRADED

    lines: tuple[UnpackedPiece, ...]
    letters: Mapping[str, str]
    texts: Mapping[str, RubricText]
    scales: "Mapping[SheetSquare, Criterion]"
    proposed: "Mapping[SheetSquare, Proposal]" = field(default_factory=dict)
    rules: tuple[str, ...] = ()
    stage: None = None

    def scale(self, place: SheetSquare) -> "Criterion":
        """Return the scale that what stands at a place was graded with, whatever became of the rubric since."""
        return self.scales.get(place, self.criteria[place.criterion])

    def proposes(self, place: SheetSquare) -> float | None:
        """Return the grade that follows from the text of its label."""
        found = self.proposed.get(place)
        return found.grade if found else None

    def why(self, place: SheetSquare) -> str:
        """Return in words which grade follows from the label's text, and why; empty where none does."""
        found = self.proposed.get(place)
        return f"~ {found.grade:g} from the label's text: {found.because}" if found else ""

    def trial(self, line: int, pencil: Pencil, new_id: Callable[[], str]) -> Trial:
        """Return the trial of a piece's unpacking."""
        found = self.lines[line]
        return Trial(
            id=found.trial or new_id(), specimen=found.specimen.id, occasion=Occasion.UNPACKING, at=pencil.at
        )

    def before(self, place: SheetSquare, pencil: Pencil, new_id: Callable[[], str]) -> tuple[Record, ...]:
        """Return the rubric of a criterion; to write it again changes nothing."""
        return (self.texts[self.rubrics[place.criterion]],)

    def is_open(self, place: SheetSquare) -> bool:
        """Say whether nothing stands at a place that can be judged now."""
        return not self.is_shut(place) and ToGrade.is_open(self, place)

    def with_pieces(self, rows: Iterable[Specimen]) -> Self:
        """Return this once the rows of some of its pieces are on disk."""
        newer = {row.id: row for row in rows}
        lines = (replace(one, specimen=newer.get(one.specimen.id, one.specimen)) for one in self.lines)
        return replace(self, lines=tuple(lines))

    def line_of(self, specimen: str) -> int:
        """Return the number of a piece's line, from 0."""
        return next(n for n, line in enumerate(self.lines) if line.specimen.id == specimen)

    def sound(self, place: SheetSquare) -> Result | None:
        """Return what stands at a place of a sound piece; None where that is to be looked at.

        A grade that follows from the label's text goes before 0; one that is a fault is not taken unseen. Nor is what
        a piece `lacks` called sound: nobody has seen it.
        """
        if self.lacks(place) is not None:
            return None
        one, proposed = self.criteria[place.criterion], self.proposes(place)
        if proposed is not None:
            return None if one.is_fault(proposed) else Result(grade=proposed)
        if one.sound is not None:
            return Result(choice=one.sound) if one.sound in one.choices else Result(not_testable=one.sound)
        return None if one.kind is Kind.CHOICE else Result(grade=0.0)

    def lacks(self, place: SheetSquare) -> SoundIf | None:
        """Return what was not entered of a piece, and would have to be for it to be sound on a criterion."""
        needed = self.criteria[place.criterion].sound_if
        return needed if needed and not _IS_ENTERED[needed](self.lines[place.line].specimen) else None

    def is_shut(self, place: SheetSquare) -> bool:
        """Say whether a place can be judged only once its piece is opened, and that is kept sealed."""
        is_sealed = self.lines[place.line].specimen.state is SpecimenState.RESERVE
        return is_sealed and not self.criteria[place.criterion].unopened


def load(ledger: "Ledger", specimen: str, propose: Propose = nothing) -> Unpacked:
    """Return a specimen with what was seen at its unpacking, and what `propose` makes of its label.

    Raises
    ------
    BadInput
        When there is no such specimen.
    """
    return _loaded(ledger, [_known(ledger, specimen)], propose)


def load_parcel(ledger: "Ledger", specimen: str, propose: Propose = nothing) -> Unpacked:
    """Return every piece of a specimen's parcel that is in stock, and it itself, as `load` returns one.

    Raises
    ------
    BadInput
        When there is no such specimen.
    """
    from qcledger.ledger.queries import void_rows

    one = _known(ledger, specimen)
    with ledger.reading() as connection:
        out = void_rows(connection, Specimen.TABLE)
    there = [row for row in ledger.rows(Specimen, parcel=one.parcel) if row.id == specimen or row.id not in out]
    return _loaded(ledger, sorted(there, key=lambda row: (row.sticker, row.id)), propose)


def load_pieces(ledger: "Ledger", specimens: Sequence[str], propose: Propose = nothing) -> Unpacked:
    """Return some specimens in the order they are given, as `load` returns one."""
    found = ledger.by_id(Specimen, set(specimens))
    return _loaded(ledger, [found[one] for one in specimens], propose)


def _known(ledger: "Ledger", specimen: str) -> Specimen:
    one = ledger.get(Specimen, specimen)
    if one is None:
        raise bad("specimen", specimen, "a specimen of this ledger")
    return one


def _loaded(ledger: "Ledger", pieces: Sequence[Specimen], propose: Propose) -> Unpacked:
    from qcledger.ledger.queries_stock import unpacked

    scales = unpacking_scales(of_ledger(ledger))
    criteria = scales.of(one.format for one in pieces)
    with ledger.reading() as connection:
        stands = [unpacked(connection, one.id) for one in pieces]
    seen = {
        SheetSquare(n, one.criterion): one
        for n, (_, found) in enumerate(stands)
        for one in found
        if one.criterion in criteria and pieces[n].format in criteria[one.criterion].formats
    }
    rubrics = {key: scales.rubrics[key] for key in criteria}
    return Unpacked(
        lines=tuple(
            UnpackedPiece(specimen=one, trial=trial, title=title_of(ledger, one))
            for one, (trial, _) in zip(pieces, stands, strict=True)
        ),
        criteria=criteria,
        letters=scales.letters,
        rubrics={key: rubric.hash for key, rubric in rubrics.items()},
        texts={rubric.hash: ledger.keep_rubric(rubric) for rubric in rubrics.values()},
        scales={place: ledger.rubric(one.rubric).criteria[place.criterion] for place, one in seen.items()},
        seen=seen,
        proposed=_proposed(ledger, pieces, scales, propose),
        rules=tuple(dict.fromkeys(one.text for rubric in rubrics.values() for one in rubric.cautions)),
    )


def title_of(ledger: "Ledger", specimen: Specimen) -> str:
    """Return maker, paint and format of a specimen, as they are called now."""
    from qcledger.ledger.identity import who_is_who
    from qcledger.records import Maker

    known, paint = who_is_who(ledger), ledger.get(Paint, specimen.paint)
    maker = ledger.get(Maker, paint.maker) if paint else None
    names = (
        maker and known.name(Maker.TABLE, maker.id, maker.name),
        paint and known.name(Paint.TABLE, paint.id, paint.name),
        specimen.format,
    )
    return " ".join(part for part in names if part)


def _proposed(
    ledger: "Ledger", pieces: Sequence[Specimen], scales: UnpackingScales, propose: Propose
) -> "Mapping[SheetSquare, Proposal]":
    """Return by place the grade that follows from a label, where its rubric says so and offers it."""
    from qcledger.bench.known import latest_labels
    from qcledger.rubric import reference

    if propose is nothing:
        return {}
    latest, known = latest_labels(ledger), reference.load(reference_files())
    carried = ledger.by_id(LabelVersion, {one.label_version for one in pieces if one.label_version})
    paints = ledger.by_id(Paint, {one.paint for one in pieces})
    found: dict[SheetSquare, Proposal] = {}
    for n, one in enumerate(pieces):
        label = carried.get(one.label_version or "") or latest.get(one.paint)
        told = propose(label, paints[one.paint].name, known) if label is not None and one.paint in paints else {}
        for key, criterion in scales.of([one.format]).items():
            follows = told.get(criterion.proposed_from) if criterion.proposed_from else None
            if follows is not None and follows.grade in criterion.grades:
                found[SheetSquare(n, key)] = follows
    return found


def keep(ledger: "Ledger", written: Sequence[WrittenGrade[Unpacked]]) -> Sequence[Specimen] | None:
    """Write together what was graded, on what stands in the ledger by now; return the pieces whose state changed.

    Who judges what only an opened piece shows has opened it; when that is taken back, it is as it was before. Nothing
    is written, and None returned, where a grade was to stand on one of this window that was not saved: that one has
    told why.

    Raises
    ------
    BadInput
        When another window has graded the piece meanwhile: a second trial of one unpacking would stand beside the
        first, and a grade would give way unseen. Also when the piece was taken out of stock meanwhile.
    """
    from qcledger.bench.unpacking import check_in_stock
    from qcledger.ledger.queries_stock import unpacked

    pieces = {one.stood.lines[one.place.line].specimen.id: one.stood.lines[one.place.line] for one in written}
    for line in pieces.values():
        check_in_stock(ledger, line.specimen)
    coming = {record.id for one in written for record in one.records}
    if not all(_is_founded(ledger, one, coming) for one in written):
        return None
    with ledger.reading() as connection:
        stands = {specimen: unpacked(connection, specimen) for specimen in pieces}
    for one in written:
        _check_alone(one, *stands[one.stood.lines[one.place.line].specimen.id])
    records = [record for one in written for record in one.records]
    changed = [row for specimen in pieces for row in _as_opened(ledger, specimen, written, stands[specimen][1])]
    taken_back = all(one.observation.reason == TAKEN_BACK for one in written)
    ledger.append([*records, *changed], reason=opening.why(changed, taken_back=taken_back))
    return changed


def _check_alone(one: WrittenGrade[Unpacked], trial: str | None, stands: Iterable[Observation]) -> None:
    """Refuse a grade at a place that another window has graded, or whose trial that has begun."""
    then = one.stood.seen.get(one.place)
    there = next((seen for seen in stands if seen.criterion == one.place.criterion), None)
    known = {one.observation.id, then.id if then else None}
    if trial not in (None, one.observation.trial) or (there and there.id not in known):
        where = f"{one.stood.criteria[one.place.criterion].title}, {one.stood.label(one.place.line)}"
        raise bad(where, "a grade from another window", "the same key again, on what stands now")


def _as_opened(
    ledger: "Ledger", specimen: str, written: Sequence[WrittenGrade[Unpacked]], stands: Iterable[Observation]
) -> Iterable[Specimen]:
    """Yield a piece's row where what is written opens it, or takes back what had opened it."""
    of_it = [one for one in written if one.stood.lines[one.place.line].specimen.id == specimen]
    now = {seen.criterion: seen for seen in stands} | {one.place.criterion: one.observation for one in of_it}
    inside = [seen for key, seen in now.items() if (one := of_it[0].stood.criteria.get(key)) and not one.unopened]
    is_inside = any(seen.not_testable is None for seen in inside)
    at = of_it[-1].observation.at
    row = opening.opened(ledger, specimen, at) if is_inside else opening.closed(ledger, specimen)
    if row is not None:
        yield row


def _is_founded(ledger: "Ledger", one: WrittenGrade[Unpacked], coming: Collection[str]) -> bool:
    """Say whether what an observation supersedes, and its trial, are in the ledger or come with it."""
    then = one.stood.seen.get(one.place)
    if then is not None and ledger.get(Observation, then.id) is None:
        return False
    trial = one.observation.trial
    return trial in coming or ledger.get(Trial, trial) is not None
