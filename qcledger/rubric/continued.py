"""Which older criterion counts together with the one that took its place: a new key, and the same fault."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from math import floor

from qcledger.rubric.model import Criterion, Rubric

Scale = tuple[str, str]
"""Hash of a rubric and key of a criterion."""


def follows(newer: Criterion, older: Criterion) -> bool:
    """Say whether both mean the same by a fault, so that what was graded with either may be counted together.

    Kind, nature and place must be the same, and so must the fault line and the sentence that fixes it; of a trait,
    which has no line, every sentence. Grades on either side of the line may have been told apart more finely since.
    """
    return all(
        getattr(newer, name) == getattr(older, name) for name in ("kind", "nature", "seen_at", "fault_line")
    ) and _meant(newer) == _meant(older)


def _meant(criterion: Criterion) -> list[tuple[object, str]]:
    """Return the sentences that decide what counts, each with its grade or choice."""
    if criterion.fault_line is None:
        return [*criterion.anchors.items(), *criterion.choices.items()]
    line = floor(criterion.fault_line)
    return [(grade, sentence) for grade, sentence in criterion.anchors.items() if grade == line]


def continued(rubrics: Iterable[Rubric]) -> dict[Scale, str]:
    """Return the older scales that count under a newer key, by the rubric's hash and the key they were graded with.

    Only versions of one file continue one another, and only where `follows` bears it out. An older criterion that
    two newer ones lay claim to is continued by neither.
    """
    kept = tuple(rubrics)
    steps = _steps(kept)
    found = {}
    for one in kept:
        for key, criterion in one.criteria.items():
            latest, scale = _last(steps, one.key, criterion), (one.hash, key)
            if latest != key:
                found[scale] = latest
    return found


def _steps(kept: Iterable[Rubric]) -> dict[tuple[str, str], list[Criterion]]:
    """Return by file and older key the criteria that say they continue it."""
    steps: dict[tuple[str, str], list[Criterion]] = defaultdict(list)
    for one in kept:
        for criterion in one.criteria.values():
            if criterion.continues is not None:
                steps[one.key, criterion.continues].append(criterion)
    return steps


def _last(steps: Mapping[tuple[str, str], list[Criterion]], file: str, criterion: Criterion) -> str:
    """Follow a criterion from key to key for as long as it is plain which one comes next."""
    seen = {criterion.key}
    while True:
        after = steps.get((file, criterion.key), [])
        nexts = [one for one in after if follows(one, criterion)]
        if len({one.key for one in after}) != 1 or not nexts or nexts[0].key in seen:
            return criterion.key
        criterion = nexts[0]
        seen.add(criterion.key)
