"""A run sheet that was filled on paper, typed one line a specimen."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from qcledger.bench.result import NO_REASON, Result
from qcledger.errors import BadInput, Problem, bad
from qcledger.figures import as_reading
from qcledger.vocab import Kind

if TYPE_CHECKING:
    from qcledger.rubric import Criterion

SKIPPED: Final = "."
"""Stands for a criterion that was not judged."""
NOT_TESTABLE: Final = "-"
HELP: Final = "0 to 5 each, + or .5 for a half step, . not judged, - not testable, =23 a reading, =>60 above it"

_RUN: Final = re.compile(r"(?:[0-5]\+?|\.|-)+")
_MARK: Final = re.compile(r"[0-5]\+?|\.|-")
_GRADE: Final = re.compile(r"(?P<whole>[0-5])(?:(?P<half>\+|[.,]5))?")


@dataclass(frozen=True, slots=True)
class Mark:
    """What a line says of one criterion."""

    criterion: str
    result: Result


def split(line: str) -> list[str]:
    """Return the marks of a line: parted by blanks or written as one run (``0310.-2+``), both in one line too."""
    marks: list[str] = []
    for word in line.split():
        marks += _MARK.findall(word) if _is_run(word) else [word]
    return marks


def _is_run(word: str) -> bool:
    """Say whether a word is several marks written together; ``3.5`` is a grade and ``3.`` a grade and a gap."""
    return _RUN.fullmatch(word) is not None and _GRADE.fullmatch(word) is None


def read(line: str, criteria: "Sequence[Criterion]", where: str) -> tuple[Mark, ...]:
    """Return what a typed line says, criterion by criterion in the order of the sheet.

    Parameters
    ----------
    line
        Such as ``0 3 1 . 2+ -``; see `HELP`.
    criteria
        What is judged on this specimen, in order.
    where
        The specimen, as problems name it.

    Raises
    ------
    BadInput
        Naming every mark that is not offered, or the number of marks when it is not that of the criteria.
    """
    marks = split(line)
    if len(marks) != len(criteria):
        raise bad(where, f"{len(marks)} marks", f"{len(criteria)}, one a criterion, {SKIPPED} where there is none")
    found: list[Mark] = []
    problems: list[Problem] = []
    for number, (text, criterion) in enumerate(zip(marks, criteria, strict=True), 1):
        place = f"{where}, mark {number}"
        try:
            result = _result(text, criterion, place)
            if not result.is_open:
                result.check(criterion, place)
        except BadInput as error:
            problems += error.problems
        else:
            found.append(Mark(criterion.key, result))
    if problems:
        raise BadInput(problems)
    return tuple(mark for mark in found if not mark.result.is_open)


def _result(text: str, criterion: "Criterion", where: str) -> Result:
    if text == SKIPPED:
        return Result()
    if text == NOT_TESTABLE:
        return Result(not_testable=NO_REASON)
    if text.startswith("=") and (reading := as_reading(text[1:])) is not None:
        value, censored = reading
        return Result(grade=criterion.propose(value, censored), reading=value, censored=censored)
    grade = _GRADE.fullmatch(text)
    if grade is None:
        raise bad(where, text, HELP)
    value = float(grade["whole"]) + (0.5 if grade["half"] else 0.0)
    if criterion.kind is Kind.CHOICE:
        return _choice(value, criterion, where)
    return Result(grade=value)


def _choice(value: float, criterion: "Criterion", where: str) -> Result:
    """Return the choice with this number, counted from 1 in the order of the rubric."""
    choices = list(criterion.choices)
    if value != int(value) or not 1 <= value <= len(choices):
        raise bad(where, f"{value:g}", "1 to " + f"{len(choices)}: {', '.join(choices)}")
    return Result(choice=choices[int(value) - 1])
