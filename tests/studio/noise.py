"""The tester's scatter: a repeat grade is equal in 75 %, one grade off in 23 %, two off in 2 %; readings +-12 %.

The shares are this project's own starting values, not a measurement of anybody.
"""

import numpy as np

from qcledger.rubric import Criterion
from qcledger.vocab import Censored

_STEPS = (-2, -1, 0, 1, 2)
_SHARES = (0.01, 0.115, 0.75, 0.115, 0.01)
READING_SPREAD = 0.05
READING_LIMIT = 0.12
"""A reading scatters by 5 % (standard deviation) and never by more than 12 %."""


def nearest(value: float, offered: tuple[float, ...]) -> float:
    """Return the offered grade next to `value`."""
    return min(offered, key=lambda grade: (abs(grade - value), grade))


def graded(truth: float, criterion: Criterion, chance: np.random.Generator) -> float:
    """Return `truth` as a tester grades it: whole grades off, or whole anchors where not all are offered."""
    step = int(chance.choice(_STEPS, p=_SHARES))
    seen = nearest(truth, criterion.grades)
    if criterion.half_steps:
        return float(np.clip(seen + step, 0, 5))
    anchors = tuple(criterion.anchors)
    return anchors[int(np.clip(anchors.index(seen) + step, 0, len(anchors) - 1))]


def measured(truth: float, chance: np.random.Generator) -> float:
    """Return a reading of a true value."""
    return truth * (1 + float(np.clip(chance.normal(0, READING_SPREAD), -READING_LIMIT, READING_LIMIT)))


# What a tester would have counted or timed behind a whole grade, from where to where.
_BEHIND = {
    "wash_faintness": ((1, 1), (1, 1), (1, 1), (2, 2), (3, 3), (3, 3)),
    "opacity": ((0, 0.3), (0.4, 1.0), (1.2, 3.0), (3.2, 7.0), (7.5, 14), (15, 24)),
    "drying_shift": ((0, 0.6), (0.8, 1.8), (2.0, 3.6), (3.8, 6.0), (6.2, 9.0), (9.0, 14)),
}
_DIGITS = {"wash_faintness": 0, "opacity": 1, "drying_shift": 1}
_STOPPED = {"wash_faintness": 3.0}


def behind(key: str, grade: float, chance: np.random.Generator) -> tuple[float | None, Censored]:
    """Return the reading that stands behind a grade, if the criterion takes one, and whether it lies beyond."""
    if key not in _BEHIND:
        return None, Censored.EXACT
    if grade >= 5 and key in _STOPPED:
        return _STOPPED[key], Censored.ABOVE
    low, high = _BEHIND[key][int(grade)]
    return round(float(chance.uniform(low, high)), _DIGITS[key]), Censored.EXACT
