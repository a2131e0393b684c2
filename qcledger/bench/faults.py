"""What is seen when a parcel is opened: pack, contents and label of one specimen, judged criterion by criterion."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import TYPE_CHECKING, Final

from qcledger.bench.result import Pencil, Result, amend, observe, result_of, take_back
from qcledger.errors import bad
from qcledger.records import LabelVersion, Observation, Paint, Record, Specimen, Trial
from qcledger.settings import reference_files, shipped
from qcledger.vocab import Occasion

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.rubric import Criterion, Rubric
    from qcledger.rubric.proposal import Proposal
    from qcledger.rubric.reference import Reference

RUBRICS: Final = ("packaging", "label")
"""The rubrics of what is judged at unpacking."""
REGRADED: Final = "regraded at unpacking"
Propose = Callable[[LabelVersion, str, "Reference"], "Mapping[str, Proposal]"]
"""Returns grades that follow from a label, its paint's name and our references, by criterion."""


def nothing(label: LabelVersion, paint_name: str, reference: "Reference") -> "Mapping[str, Proposal]":
    """Propose nothing."""
    return {}


@dataclass(frozen=True, slots=True, kw_only=True)
class Unpacked:
    """One specimen as it came out of its parcel.

    Parameters
    ----------
    specimen
        The specimen.
    title
        Maker, paint and format.
    criteria, rubrics
        What is judged on its format at unpacking, and the rubric that holds each.
    seen
        What stands, by criterion.
    proposed
        Grades that follow from the text of its label, each with its reason.
    trial
        The id of its trial at unpacking; None before anything was seen.
    """

    specimen: Specimen
    title: str
    criteria: "Mapping[str, Criterion]"
    rubrics: "Mapping[str, Rubric]"
    seen: Mapping[str, Observation]
    proposed: "Mapping[str, Proposal]" = field(default_factory=dict)
    trial: str | None = None

    def result(self, criterion: str) -> Result:
        """Return what stands for a criterion."""
        return result_of(self.seen.get(criterion))

    def follows(self, criterion: str) -> float | None:
        """Return the grade that follows from the label's text for a criterion."""
        found = self.proposed.get(criterion)
        return found.grade if found else None

    def why(self, criterion: str) -> str:
        """Return in words which grade follows from the label's text, and why; empty where none does."""
        found = self.proposed.get(criterion)
        return f"~ {found.grade:g} from the label's text: {found.because}" if found else ""

    def with_seen(self, observation: Observation) -> "Unpacked":
        """Return the specimen with one more observation."""
        seen = {**self.seen, observation.criterion: observation}
        return replace(self, seen=seen, trial=observation.trial)


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
    return Unpacked(
        specimen=one,
        title=title_of(ledger, one),
        criteria=criteria,
        rubrics=rubrics,
        seen={seen.criterion: seen for seen in stands if seen.criterion in criteria},
        proposed=_proposed(ledger, one, propose),
        trial=trial,
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


def _proposed(ledger: "Ledger", specimen: Specimen, propose: Propose) -> "Mapping[str, Proposal]":
    from qcledger.bench.known import latest_labels
    from qcledger.rubric import reference

    label = ledger.get(LabelVersion, specimen.label_version) if specimen.label_version else None
    label = label or latest_labels(ledger).get(specimen.paint)
    paint = ledger.get(Paint, specimen.paint)
    if label is None or paint is None:
        return {}
    return propose(label, paint.name, reference.load(reference_files()))


@dataclass(frozen=True, slots=True)
class Written:
    """What one key writes: an observation, after the rubric and the trial it stands on."""

    records: tuple[Record, ...]
    observation: Observation


@dataclass(frozen=True, slots=True)
class Hand:
    """Who writes, when, and what makes ids."""

    tester: str
    now: Callable[[], datetime]
    new_id: Callable[[], str]

    def pencil(self) -> Pencil:
        """Return what an observation is written with."""
        return Pencil(id=self.new_id(), tester=self.tester, at=self.now())


def write(ledger: "Ledger", unpacked: Unpacked, criterion: str, result: Result, hand: Hand) -> Written:
    """Return what to write for a result; what stands is superseded.

    Raises
    ------
    BadInput
        When the criterion does not offer this result.
    """
    judged, pencil = unpacked.criteria[criterion], hand.pencil()
    standing = unpacked.seen.get(criterion)
    if standing is not None:
        scale = ledger.rubric(standing.rubric).criteria[criterion]
        seen = amend(standing, result, criterion=scale, reason=REGRADED, pencil=pencil)
        return Written((seen,), seen)
    rubric = ledger.keep_rubric(unpacked.rubrics[criterion])
    trial = Trial(
        id=unpacked.trial or hand.new_id(),
        specimen=unpacked.specimen.id,
        occasion=Occasion.UNPACKING,
        at=pencil.at,
    )
    seen = observe(result, trial=trial.id, criterion=judged, rubric=rubric.id, stage=None, pencil=pencil)
    return Written((rubric, *([] if unpacked.trial else [trial]), seen), seen)


def write_back(ledger: "Ledger", newest: Observation, before: Observation | None, hand: Hand) -> Written:
    """Return what to write to take back an observation: what stood before it, or that nothing stands."""
    scale = ledger.rubric(newest.rubric).criteria[newest.criterion]
    seen = take_back(newest, before, criterion=scale, pencil=hand.pencil())
    return Written((seen,), seen)
