"""What is judged at unpacking: in which rubric it stands, and the one letter of each criterion of a ledger."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

from qcledger.errors import BadInput
from qcledger.settings import rubric_files
from qcledger.vocab import Occasion

if TYPE_CHECKING:
    from qcledger.bench.worked import Worked
    from qcledger.rubric import Criterion, Rubric

FIRST: Final = ("packaging", "label")
"""The rubrics whose criteria come first, and whose letters count before those of any other file."""


@dataclass(frozen=True, slots=True)
class UnpackingScales:
    """What is judged at unpacking on whatever format.

    Parameters
    ----------
    criteria
        Each criterion by its key, in the order of the files; of two files with the same key the first counts.
    rubrics
        The rubric each stands in, by the criterion's key.
    letters
        The letter of each, by the criterion's key; one for which none is left has none here.
    """

    criteria: "Mapping[str, Criterion]"
    rubrics: "Mapping[str, Rubric]"
    letters: Mapping[str, str]

    def of(self, formats: Iterable[str]) -> "dict[str, Criterion]":
        """Return the criteria that are asked of one of these formats."""
        here = set(formats)
        return {key: one for key, one in self.criteria.items() if here.intersection(one.formats)}


def unpacking_scales(work: "Worked | None" = None) -> UnpackingScales:
    """Return what the rubric files at hand say of unpacking; it parses no file a second time.

    On the formats that `work` is about, nothing is asked of a file that is about other things, and nothing that
    follows from declared pigments where labels carry none; without `work` everything is asked. Letters go first to
    what is asked on those formats, so that a letter means one criterion in every format of a ledger.
    A tester's own file that is no rubric is left out: `qcledger rubric FILE` says what is wrong with it.
    """
    from qcledger.rubric.build import parse, read_text

    criteria: dict[str, Criterion] = {}
    rubrics: dict[str, Rubric] = {}
    for path in _in_order(rubric_files()):
        try:
            text = read_text(path)
            if Occasion.UNPACKING not in text:  # most files say nothing of it, and take long to read
                continue
            scale = parse(text, path.name)
        except BadInput:
            continue
        for key, criterion in scale.criteria.items():
            one = criterion if work is None or _is_of(work, scale, criterion) else _elsewhere(work, criterion)
            if one.seen_at is Occasion.UNPACKING and one.formats and key not in criteria:
                criteria[key], rubrics[key] = one, scale
    formats = work.formats if work is not None else frozenset[str]()
    fitting_first = sorted(criteria.values(), key=lambda one: formats.isdisjoint(one.formats))
    return UnpackingScales(criteria, rubrics, letters(fitting_first))


def _is_of(work: "Worked", scale: "Rubric", criterion: "Criterion") -> bool:
    """Say whether a criterion is asked of the things that `work` is about."""
    is_other = scale.tested is not None and scale.key not in work.rubrics
    return not is_other and (work.names_pigments or criterion.proposed_from is None)


def _elsewhere(work: "Worked", criterion: "Criterion") -> "Criterion":
    """Return a criterion as it is asked of formats that `work` is not about."""
    return replace(criterion, formats=tuple(one for one in criterion.formats if one not in work.formats))


def _in_order(files: Mapping[str, Path]) -> list[Path]:
    """Return the files, those of `FIRST` first."""
    first = [files[name] for name in FIRST if name in files]
    return [*first, *(path for name, path in files.items() if name not in FIRST)]


def letters(criteria: "Iterable[Criterion]") -> dict[str, str]:
    """Return the letter of each criterion, by its key.

    What a file fixes counts first, in the order of the criteria; who is left has the first letter of its title that
    is free, else the first free one of the alphabet.
    """
    from qcledger.rubric.model import LETTERS

    every, found = list(criteria), dict[str, str]()
    for one in every:
        if one.letter and one.letter not in found.values():
            found[one.key] = one.letter
    for one in every:
        if one.key not in found:
            wished = [letter for letter in (*one.title.lower(), *LETTERS) if letter in LETTERS]
            free = next((letter for letter in wished if letter not in found.values()), None)
            if free is not None:
                found[one.key] = free
    return found
