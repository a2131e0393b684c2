"""What is put on the paper when a sheet begins, and how long hands are busy with it, as the rubrics say."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from qcledger.bench.runsheet import RunSheet
    from qcledger.rubric import Criterion

EVENING: Final = 180.0
"""Minutes of work that an evening holds (our proposal)."""


@dataclass(frozen=True, slots=True)
class LaidStep:
    """One step of what is put down: for which tests, by their titles, and what the hand does."""

    tests: tuple[str, ...]
    step: str


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
    """Return what is put down for these tests on specimens of these formats, in the order of the rubric.

    A step that several tests share, word for word, is told once, where the first of them needs it.
    """
    here, tests = set(formats), dict[str, list[str]]()
    for criterion in criteria:
        if here & set(criterion.formats):
            for step in criterion.put_down:
                tests.setdefault(step, []).append(criterion.title)
    return tuple(LaidStep(tuple(titles), step) for step, titles in tests.items())


def of_sheet(stages: "Sequence[RunSheet]") -> tuple[LaidStep, ...]:
    """Return what is put down for a sheet at all of its stages, in the order in which the rubric lists the tests."""
    every = {key: one for sheet in stages for key, one in sheet.criteria.items()}
    order = {key: place for place, key in enumerate(stages[0].rubrics)}
    asked = sorted(every, key=lambda key: order.get(key, len(order)))
    formats = {line.specimen.format for line in stages[0].lines}
    return to_put_down((every[key] for key in asked), formats)


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
