"""Facts of labels: what one print says, quoted beside a reference; a fact of that label and no sample of anything."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from qcledger.findings.evidence import Unit
from qcledger.findings.said import NOTHING_SAID, SaidBeside
from qcledger.rubric import Criterion
from qcledger.vocab import LabelFactKind, SaidLevel


class QuotedWords(NamedTuple):
    """A field of a label by its key and its name, and what is printed there."""

    field: str
    title: str
    printed: str


class LabelReference(NamedTuple):
    """A fact of a reference that something rests on, and where that was read."""

    fact: str
    source: str


@dataclass(frozen=True, slots=True)
class LabelStatement:
    """Something said about a label.

    Parameters
    ----------
    quoted
        The field it speaks of, with what is printed there; empty where nothing is.
    level
        How far it goes.
    words
        What is said.
    references
        What of our reference it rests on; empty where the label's own text tells.
    held_back
        Whether it would go further, were our reference founded better.
    kind
        What it is about: words of safety go to maker, seller and authority before anybody else.
    """

    quoted: QuotedWords
    level: SaidLevel
    words: str
    references: tuple[LabelReference, ...] = ()
    held_back: bool = False
    kind: LabelFactKind = LabelFactKind.WORDS


@dataclass(frozen=True, slots=True)
class LabelGrade:
    """A grade that the tester gave to one print of a label, and the specimens it was read on."""

    criterion: Criterion
    grade: float
    units: tuple[Unit, ...]

    @property
    def against(self) -> bool:
        """Whether it is at or past the fault line it was graded with."""
        return any(unit.faulty for unit in self.units)

    @property
    def days(self) -> tuple[date, date]:
        """First and last day on which it was read."""
        days = [unit.row.day for unit in self.units]
        return min(days), max(days)


@dataclass(frozen=True, slots=True)
class ClaimBeside:
    """A claim of a label beside what was seen of the specimens that carry it.

    Parameters
    ----------
    claim
        As printed.
    criterion
        What it speaks of.
    graded, unlike
        Specimens graded on it, and those whose grade is not what the claim says.
    grades
        Lowest and highest grade seen.
    """

    claim: str
    criterion: Criterion
    graded: int
    unlike: int
    grades: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelFact:
    """What one print of a label says on one format.

    Parameters
    ----------
    label
        Id of the label as transcribed; None where only grades are on file.
    maker, maker_name, paint, paint_name, format
        Whose it is, and what it was read on.
    since
        Day it was first seen; None where it was not transcribed.
    read_on
        Where it was read, as the tube or its wrapper; empty where that is not said.
    stickers
        Specimens that carry it, gifts left out.
    quotes
        Everything printed that was transcribed.
    statements
        What is said of it, the farthest first.
    grades
        The tester's own grades of it.
    claims
        Its claims beside what was seen.
    photos
        Ids of its photos.
    said
        What was asked, told and decided about it.
    """

    label: str | None
    maker: str
    maker_name: str
    paint: str
    paint_name: str
    format: str
    since: date | None
    read_on: str
    stickers: tuple[str, ...]
    quotes: tuple[QuotedWords, ...] = ()
    statements: tuple[LabelStatement, ...] = ()
    grades: tuple[LabelGrade, ...] = ()
    claims: tuple[ClaimBeside, ...] = ()
    photos: tuple[str, ...] = ()
    said: SaidBeside = NOTHING_SAID

    @property
    def level(self) -> SaidLevel | None:
        """How far the farthest statement goes; None where there is nothing to say."""
        return max((one.level for one in self.statements), default=None)

    @property
    def against(self) -> bool:
        """Whether something is held against the label: by our reference, or by the tester's own grade."""
        return (self.level or 0) > SaidLevel.REMARK or any(one.against for one in self.grades)

    @property
    def key(self) -> "LabelKey":
        """What tells it from others."""
        return LabelKey(self.label, self.paint, self.format)


class LabelKey(NamedTuple):
    """One print of a label: its id, or none where it was not transcribed; its paint and format."""

    label: str | None
    paint: str
    format: str


class LabelTally(NamedTuple):
    """How many of a maker's labels something is held against: a count of labels, and nothing more."""

    maker_name: str
    against: int
    labels: int


def tallies(facts: Iterable[LabelFact]) -> Iterator[LabelTally]:
    """Yield the count of each maker's labels, by name; one print on two formats is one label for each."""
    makers: dict[str, list[LabelFact]] = {}
    for fact in facts:
        makers.setdefault(fact.maker, []).append(fact)
    for own in sorted(makers.values(), key=lambda own: (own[0].maker_name.casefold(), own[0].maker)):
        yield LabelTally(own[0].maker_name, sum(fact.against for fact in own), len(own))


def grades_of_label(units: Iterable[Unit], criteria: Mapping[str, Criterion]) -> tuple[LabelGrade, ...]:
    """Return the grades given to one print, those at or past their fault line first; no grade is left out."""
    found: dict[tuple[str, float], list[Unit]] = {}
    for unit in units:
        if unit.grade is not None:
            found.setdefault((unit.row.criterion, unit.grade), []).append(unit)
    grades = (LabelGrade(criteria[key], grade, tuple(own)) for (key, grade), own in found.items())
    return tuple(sorted(grades, key=lambda one: (not one.against, one.criterion.key, -one.grade)))
