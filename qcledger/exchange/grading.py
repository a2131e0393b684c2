"""Old words, scales and measured values of a spreadsheet as results of a rubric's criteria."""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from qcledger.errors import at, bad
from qcledger.exchange.cells import EITHER, number_in, reading_in
from qcledger.exchange.columnmap import ColumnMap, Target
from qcledger.exchange.grid import Cell
from qcledger.exchange.layout import LEAVE_OUT
from qcledger.exchange.scales import EvenScale, Scale
from qcledger.figures import as_number
from qcledger.rubric import Criterion, Rubric, load
from qcledger.settings import rubric_files
from qcledger.text import near

_DIGITS = 9
"""Digits behind which half-way is half-way."""


@dataclass(frozen=True, slots=True)
class Judged:
    """A criterion and the rubric it stands in."""

    criterion: Criterion
    rubric: Rubric


def criteria(names: Sequence[str], beside: Path) -> dict[str, Judged]:
    """Return the criteria of several rubrics by key; the first rubric that has a key wins.

    Parameters
    ----------
    names
        Keys of rubrics that come with the program, or files (names that end in ``.yaml``).
    beside
        The folder that relative file names start from.
    """
    found: dict[str, Judged] = {}
    for name in names:
        rubric = load(_rubric_file(name, beside))
        found = {key: Judged(criterion, rubric) for key, criterion in rubric.criteria.items()} | found
    return found


def gone(kept: Iterable[Rubric], names: Sequence[str]) -> dict[str, Judged]:
    """Return by key the criteria of kept versions of these rubrics: an older map may name one that is gone."""
    return {
        key: Judged(criterion, one) for one in kept if one.key in names for key, criterion in one.criteria.items()
    }


def _rubric_file(name: str, beside: Path) -> Path:
    if name.endswith(".yaml"):
        return beside / name
    known = shipped_rubrics()
    if name not in known:
        raise bad("rubrics", name, f"{', '.join(known)}, or a file that ends in .yaml")
    return known[name]


def shipped_rubrics() -> dict[str, Path]:
    """Return the rubric files that came with the program and the tester's own, by key."""
    return rubric_files()


def check_map(columns: ColumnMap, known: Mapping[str, Judged]) -> None:
    """Raise BadInput for a criterion of the map that no rubric has, or that offers not what the map makes of it."""
    for target in columns.columns.values():
        for key in target.criteria:
            where = at(columns.name, target.line)
            if key not in known:
                raise bad(where, f"criterion {key}", ", ".join(near(key, known) or sorted(known)))
            _check_target(target, key, known[key].criterion, where)


def _check_target(target: Target, key: str, criterion: Criterion, where: str) -> None:
    grades = [grades[key] for grades in target.faults.values() if key in grades]
    for word in (*target.words.values(), *grades):
        if word != LEAVE_OUT:
            criterion.check(**as_grade_or_choice(word), where=where)
    if target.scale is not None and not criterion.anchors:
        raise bad(where, f"a scale for {key}", "words, because it has choices and no grades")
    if target.reading and criterion.reading is None:
        raise bad(where, f"readings for {key}", "words, a scale or grades, because nothing is measured for it")


class Grader:
    """Turns cells into results and keeps count of what had to be converted.

    Parameters
    ----------
    known
        The criteria by key.
    mark
        What stands before the decimals of numbers.
    """

    def __init__(self, known: Mapping[str, Judged], mark: str) -> None:
        self._known = known
        self._mark = mark
        self._converted: Counter[tuple[str, str, str]] = Counter()

    def result(self, column: str, cell: Cell, target: Target, where: str) -> dict[str, Any]:
        """Return the fields of an observation that hold the result in a cell.

        Raises
        ------
        BadInput
            When the cell is no word of the map, no number, or nothing the criterion offers.
        """
        criterion = self._known[target.criterion or ""].criterion
        found = self._fields(column, cell, target, criterion, where)
        criterion.check(**found, where=where)
        return found

    def offers(self, key: str, form: str | None) -> bool:
        """Say whether a criterion is looked at in pieces of this format; None is any."""
        formats = self._known[key].criterion.formats
        return form is None or form in formats

    def conversions(self) -> Iterator[str]:
        """Yield a line for each old mark that became a grade by calculation."""
        for (column, old, new), times in sorted(self._converted.items()):
            yield f"{column}: {old} is taken as {new} ({times} row{'s' * (times != 1)})"

    def _fields(self, column: str, cell: Cell, target: Target, criterion: Criterion, where: str) -> dict[str, Any]:
        word = target.words.get(str(cell).casefold())
        if word is not None:
            return as_grade_or_choice(word)
        if target.reading:
            return self._reading(column, cell, criterion, where)
        if target.scale is not None:
            return {"grade": self._scaled(column, cell, target.scale, criterion, where)}
        if criterion.choices:
            return {"choice": str(cell)}
        if any(word != LEAVE_OUT for word in target.words.values()):
            raise bad(where, str(cell), "words of the map: " + ", ".join(filter(None, target.words)))
        return {"grade": float(number_in(cell, self._mark, where))}

    def _reading(self, column: str, cell: Cell, criterion: Criterion, where: str) -> dict[str, Any]:
        value, censored = reading_in(cell, self._mark, where)
        grade = criterion.propose(value, censored)
        if grade is not None:
            self._converted[column, str(cell), f"grade {grade:g}"] += 1
        return {"reading": value, "censored": censored, "grade": grade}

    def _scaled(self, column: str, cell: Cell, scale: Scale, criterion: Criterion, where: str) -> float:
        if isinstance(scale, EvenScale) and isinstance(cell, str) and as_number(cell) is not None:
            number_in(cell, self._mark, where)  # a number by the mark of this file, or refused
        exact = round(scale.read(cell, None if self._mark == EITHER else self._mark, where), _DIGITS)
        # Half-way between two offered grades the milder one is taken: a doubt is not a fault.
        grade = min(criterion.grades, key=lambda offered: (abs(offered - exact), offered))
        self._converted[column, str(cell), f"grade {grade:g}"] += 1
        return grade


def as_grade_or_choice(word: str) -> dict[str, Any]:
    """Return a word of the map as a grade if it is a number, else as a choice."""
    grade = as_number(word, ".")
    return {"choice": word} if grade is None else {"grade": float(grade)}
