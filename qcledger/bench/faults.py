"""What is seen when a parcel is opened: pack, contents and label of one specimen, judged criterion by criterion."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, ClassVar, Final

from qcledger.bench.record import WrittenGrade
from qcledger.bench.result import Pencil
from qcledger.bench.runsheet import SheetSquare, ToGrade, UnderTest
from qcledger.errors import bad
from qcledger.records import LabelVersion, Observation, Paint, Record, RubricText, Specimen, Trial
from qcledger.settings import reference_files, shipped
from qcledger.vocab import Occasion, ProposedFrom

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.rubric import Criterion, Rubric
    from qcledger.rubric.proposal import Proposal
    from qcledger.rubric.reference import Reference

RUBRICS: Final = ("packaging", "label")
"""The rubrics of what is judged at unpacking."""
REGRADED: Final = "regraded at unpacking"
Propose = Callable[[LabelVersion, str, "Reference"], "Mapping[ProposedFrom, Proposal]"]
"""Returns grades that follow from a label, its paint's name and our references, by what of the label tells them."""


def nothing(label: LabelVersion, paint_name: str, reference: "Reference") -> "Mapping[ProposedFrom, Proposal]":
    """Propose nothing."""
    return {}


@dataclass(frozen=True, slots=True, kw_only=True)
class Unpacked(ToGrade):
    """One specimen as it came out of its parcel; each criterion is asked for when its key is pressed.

    Parameters
    ----------
    title
        Maker, paint and format.
    texts
        The rubrics, by their hashes.
    scales
        The scale that what stands was graded with, by criterion.
    proposed
        Grades that follow from the text of its label, each with its reason, by criterion.
    """

    GOES_ON: ClassVar[bool] = False
    REGRADED: ClassVar[str] = REGRADED

    title: str
    texts: Mapping[str, RubricText]
    scales: "Mapping[str, Criterion]"
    proposed: "Mapping[str, Proposal]" = field(default_factory=dict)
    stage: None = None

    @property
    def specimen(self) -> Specimen:
        """The specimen."""
        return self.lines[0].specimen

    def scale(self, place: SheetSquare) -> "Criterion":
        """Return the scale that what stands at a place was graded with, whatever became of the rubric since."""
        return self.scales.get(place.criterion, self.criteria[place.criterion])

    def proposes(self, place: SheetSquare) -> float | None:
        """Return the grade that follows from the text of its label."""
        found = self.proposed.get(place.criterion)
        return found.grade if found else None

    def why(self, criterion: str) -> str:
        """Return in words which grade follows from the label's text, and why; empty where none does."""
        found = self.proposed.get(criterion)
        return f"~ {found.grade:g} from the label's text: {found.because}" if found else ""

    def trial(self, line: int, pencil: Pencil, new_id: Callable[[], str]) -> Trial:
        """Return the trial of its unpacking."""
        found = self.lines[line]
        return Trial(
            id=found.trial or new_id(), specimen=found.specimen.id, occasion=Occasion.UNPACKING, at=pencil.at
        )

    def before(self, place: SheetSquare, pencil: Pencil, new_id: Callable[[], str]) -> tuple[Record, ...]:
        """Return the rubric of a criterion; to write it again changes nothing."""
        return (self.texts[self.rubrics[place.criterion]],)


def load(ledger: "Ledger", specimen: str, propose: Propose = nothing) -> Unpacked:
    """Return a specimen with what was seen at its unpacking, and what `propose` makes of its label.

    Raises
    ------
    BadInput
        When there is no such specimen.
    """
    from qcledger.ledger.queries_stock import unpacked

    one = ledger.get(Specimen, specimen)
    if one is None:
        raise bad("specimen", specimen, "a specimen of this ledger")
    criteria, rubrics = _judged(one)
    with ledger.reading() as connection:
        trial, stands = unpacked(connection, specimen)
    seen = {one.criterion: one for one in stands if one.criterion in criteria}
    return Unpacked(
        lines=(UnderTest(specimen=one, trial=trial),),
        title=title_of(ledger, one),
        criteria=criteria,
        rubrics={key: rubric.hash for key, rubric in rubrics.items()},
        texts={rubric.hash: ledger.keep_rubric(rubric) for rubric in rubrics.values()},
        scales={key: ledger.rubric(one.rubric).criteria[key] for key, one in seen.items()},
        seen={SheetSquare(0, key): one for key, one in seen.items()},
        proposed=_proposed(ledger, one, criteria, propose),
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


def _judged(specimen: Specimen) -> "tuple[dict[str, Criterion], dict[str, Rubric]]":
    """Return what is judged at unpacking on a specimen's format, and in which rubric it stands."""
    from qcledger import rubric

    criteria, rubrics = {}, {}
    for name in RUBRICS:
        scale = rubric.load(shipped("rubrics") / f"{name}.yaml")
        for key, criterion in scale.criteria.items():
            if criterion.seen_at is Occasion.UNPACKING and specimen.format in criterion.formats:
                criteria[key], rubrics[key] = criterion, scale
    return criteria, rubrics


def _proposed(
    ledger: "Ledger", specimen: Specimen, criteria: "Mapping[str, Criterion]", propose: Propose
) -> "Mapping[str, Proposal]":
    """Return by criterion the grade that follows from the label, where its rubric says so and offers it."""
    from qcledger.bench.known import latest_labels
    from qcledger.rubric import reference

    label = ledger.get(LabelVersion, specimen.label_version) if specimen.label_version else None
    label = label or latest_labels(ledger).get(specimen.paint)
    paint = ledger.get(Paint, specimen.paint)
    if label is None or paint is None:
        return {}
    found = propose(label, paint.name, reference.load(reference_files()))
    return {
        key: told
        for key, one in criteria.items()
        if one.proposed_from and (told := found.get(one.proposed_from)) and told.grade in one.grades
    }


def keep(ledger: "Ledger", written: Sequence[WrittenGrade[Unpacked]]) -> bool:
    """Write together what was graded, on what stands in the ledger by now.

    Nothing is written, and False returned, where it was to stand on a grade of this window that was not saved: that
    one has told why.

    Raises
    ------
    BadInput
        When another window has graded the piece meanwhile: a second trial of one unpacking would stand beside the
        first, and a grade would give way unseen. Also when the piece was taken out of stock meanwhile.
    """
    from qcledger.bench.unpacking import check_in_stock

    for specimen in {one.stood.specimen.id: one.stood.specimen for one in written}.values():
        check_in_stock(ledger, specimen)
    if not all(_is_founded(ledger, one) for one in written):
        return False
    for one in written:
        then, now = one.stood.seen.get(one.place), load(ledger, one.stood.specimen.id)
        stands = now.seen.get(one.place)
        known = {one.observation.id, then.id if then else None}
        if now.lines[0].trial not in (None, one.observation.trial) or (stands and stands.id not in known):
            where = f"{one.stood.criteria[one.place.criterion].title}, {one.stood.specimen.sticker}"
            raise bad(where, "a grade from another window", "the same key again, on what stands now")
    ledger.append([record for one in written for record in one.records])
    return True


def _is_founded(ledger: "Ledger", one: WrittenGrade[Unpacked]) -> bool:
    """Say whether what an observation supersedes, and its trial, are in the ledger or come with it."""
    then = one.stood.seen.get(one.place)
    if then is not None and ledger.get(Observation, then.id) is None:
        return False
    trial = one.observation.trial
    return any(record.id == trial for record in one.records) or ledger.get(Trial, trial) is not None
