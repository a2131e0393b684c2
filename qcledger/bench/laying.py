"""What is put on the paper and looked at, in the order of the hand, and how long that takes, as the rubrics say."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from qcledger.bench.runsheet import RunSheet
    from qcledger.rubric import Criterion

EVENING: Final = 180.0
"""Minutes of work that an evening holds (our proposal)."""


ACROSS: Final = 3
DOWN: Final = 8
"""Cells of the printed sheet to swatch in, side by side and below each other; the places fill it row by row."""


class LaidWhen(StrEnum):
    """When a step is done, in the order of the hand."""

    DAY_BEFORE = "the day before"
    AT_ONCE = "when the sheet begins"
    ONCE_DRY = "once that is dry"


SAID_WHEN: Final = {
    LaidWhen.DAY_BEFORE: re.compile(r"\bthe day before\b", re.IGNORECASE),
    LaidWhen.ONCE_DRY: re.compile(r"^when (?:it|that) is dry\b", re.IGNORECASE),
}
"""The words by which a step says that it is not done when the sheet begins."""
SPAN: Final = re.compile(r"\b(?:at|for|wait|within) (\d+|a|five|ten|twenty|thirty) (s|min)(?:ec|ut|\b)", re.I)
"""A time that a step asks to be kept, as in "at 30 s" or "for ten minutes"."""
NUMBERS: Final = {"a": 1, "five": 5, "ten": 10, "twenty": 20, "thirty": 30}


@dataclass(frozen=True, slots=True)
class LaidStep:
    """One step of what is put down: for which tests, by their titles, and what the hand does."""

    tests: tuple[str, ...]
    step: str

    @property
    def when(self) -> LaidWhen:
        """When it is done, as its own words say."""
        return next((when for when, said in SAID_WHEN.items() if said.search(self.step)), LaidWhen.AT_ONCE)

    @property
    def seconds(self) -> int | None:
        """The first time that the step asks to be kept, in seconds; None where it asks for none."""
        if (found := SPAN.search(self.step)) is None:
            return None
        number, unit = found.group(1).lower(), found.group(2).lower()
        return (NUMBERS.get(number) or int(number)) * (60 if unit == "min" else 1)


@dataclass(frozen=True, slots=True)
class LookedAt:
    """What is looked at in one test, by its title, and how."""

    test: str
    look: str


@dataclass(frozen=True, slots=True)
class Workload:
    """How long hands are busy with a sheet, over all its stages.

    Parameters
    ----------
    minutes
        Of all places and tests together, from 0 up.
    longest
        The title of the test that takes most of them, and its minutes; None where no test says any.
    untold
        Titles of the tests whose rubric does not say how long they take.
    """

    minutes: float
    longest: tuple[str, float] | None
    untold: tuple[str, ...]

    @property
    def evenings(self) -> float:
        """How many evenings of `EVENING` minutes that is."""
        return self.minutes / EVENING


def to_put_down(criteria: "Iterable[Criterion]", formats: Iterable[str]) -> tuple[LaidStep, ...]:
    """Return what is put down for these tests on specimens of these formats, in the order of the hand.

    What is done the day before comes first, and last what waits until something is dry; between them the steps stand
    as in the rubric. A step that several tests share, word for word, is told once, where the first of them needs it.
    """
    here, tests = set(formats), dict[str, list[str]]()
    for criterion in criteria:
        if here & set(criterion.formats):
            for step in criterion.put_down:
                tests.setdefault(step, []).append(criterion.title)
    order = list(LaidWhen)
    steps = (LaidStep(tuple(titles), step) for step, titles in tests.items())
    return tuple(sorted(steps, key=lambda one: order.index(one.when)))


def of_sheet(stages: "Sequence[RunSheet]") -> tuple[LaidStep, ...]:
    """Return what is put down for a sheet at all of its stages, as `to_put_down` orders it."""
    every = {key: one for sheet in stages for key, one in sheet.criteria.items()}
    order = {key: place for place, key in enumerate(stages[0].rubrics)}
    asked = sorted(every, key=lambda key: order.get(key, len(order)))
    formats = {line.specimen.format for line in stages[0].lines}
    return to_put_down((every[key] for key in asked), formats)


def on_cells(place: int) -> str:
    """Return in words where a place, by its number from 0, lies on the printed cells."""
    row, column = divmod(place, ACROSS)
    page = f" of page {row // DOWN + 1}" if row >= DOWN else ""
    return f"row {row % DOWN + 1}, cell {column + 1}{page}"


def looked_at(stages: "Sequence[RunSheet]") -> tuple[tuple[str, tuple[LookedAt, ...]], ...]:
    """Return each stage at which something on the sheet is looked at, and what, in the order of the rubric."""
    found = []
    for sheet in stages:
        here = {line.specimen.format for line in sheet.lines}
        asked = (one for one in sheet.criteria.values() if here & set(one.formats))
        if looks := tuple(LookedAt(one.title, one.look or one.how) for one in asked):
            found.append((sheet.stage, looks))
    return tuple(found)


def workload(criteria: "Iterable[Criterion]", formats: Sequence[str]) -> Workload:
    """Return how long hands are busy with these tests.

    Parameters
    ----------
    criteria
        What is judged on the sheet.
    formats
        The format of each place, repeats and controls among them.
    """
    taken, untold = dict[str, float](), []
    for criterion in criteria:
        places = sum(format_ in criterion.formats for format_ in formats)
        if places and criterion.minutes is None:
            untold.append(criterion.title)
        elif places and criterion.minutes is not None:
            taken[criterion.title] = taken.get(criterion.title, 0.0) + places * criterion.minutes
    longest = max(taken.items(), key=lambda one: one[1], default=None)
    return Workload(sum(taken.values()), longest, tuple(untold))
