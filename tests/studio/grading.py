"""From what a piece is like to what the tester wrote down."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from math import ceil
from types import MappingProxyType

import numpy as np

from qcledger.records import Observation
from qcledger.rubric import Criterion, Reading
from qcledger.vocab import Censored
from tests.studio import noise, scales, truths
from tests.studio.chance import ident, stream
from tests.studio.diary import NAMES
from tests.studio.nature import NOISELESS, usual_grade, usual_reading
from tests.studio.purchases import Piece

_FIVE = 5
"""Turns between two strips."""
_MISCOUNTED = 0.04
"""How often a strip is drawn a turn or two too early, as the tester notes then."""
_DRAWN = (0.06, 0.07, 0.08, 0.09, 0.10, 0.11, 0.12, 0.135, 0.15, 0.175, 0.20, 0.225, 0.25, 0.29, 0.33)
"""Volumes in ml that a tint is read at: those of the strips, and the middle between two."""


def _turns(value: float, chance: np.random.Generator) -> float:
    """Return the turns noted: of the first strip that matches, a few drawn too early."""
    turns = _FIVE * ceil(value / _FIVE)
    return float(turns - chance.integers(1, 3) if chance.random() < _MISCOUNTED else turns)


def _by_volume(value: float, chance: np.random.Generator) -> float:
    """Return a ratio of two volumes as they are read off strips."""
    usual = float(chance.choice((0.09, 0.10, 0.11)))
    return round(usual / min(_DRAWN, key=lambda volume: abs(volume - usual / value)), 2)


_READ: Mapping[str, Callable[[float, np.random.Generator], float]] = MappingProxyType(
    {
        "rewetting_in_fives": _turns,
        "tinting_ratio": _by_volume,
        "wet_spread": lambda value, _: round(2 * value) / 2,
        "poured_shrinking": lambda value, _: round(2 * value) / 2,
    }
)
"""How a hand reads a value where it is not a plain count: off strips, off a ruler."""


@dataclass(frozen=True, slots=True)
class Seen:
    """A result as written down."""

    grade: float | None
    reading: float | None = None
    censored: Censored = Censored.EXACT
    not_testable: str | None = None


def look(piece: Piece, key: str, occasion: str, first: str | None = None, turn: int = 0) -> Seen:
    """Return what the tester sees on a piece at an `occasion`: a session's code, or anything else at unpacking.

    A hidden repeat scatters from what was written in the session of the piece's own trial, `first`; a control comes
    several times on a sheet, each a `turn` of its own.
    """
    criterion, chance = scales.criterion(key), _chance(piece, key, occasion, first, turn)
    if criterion.reading is not None and criterion.reading.limits:
        return _measured(piece, key, criterion.reading, criterion, chance)
    grade = _before(piece, key, first)
    grade = min(grade + truths.drift(occasion, key, piece.number), 5.0)
    if key not in NOISELESS and (key, piece.number) not in _AS_READ:
        grade = noise.graded(grade, criterion, chance)
    reading, censored = noise.behind(key, grade, chance)
    return Seen(grade, reading, censored)


def _chance(piece: Piece, key: str, occasion: str, first: str | None, turn: int) -> np.random.Generator:
    again = (turn,) if turn else ()
    return stream("look", piece.number, scales.drawn_as(key), occasion, first is not None, *again)


def _before(piece: Piece, key: str, first: str | None) -> float:
    """Return the grade that this look scatters from: the true one, or the first one without its session's drift."""
    if first is not None:
        seen = look(piece, key, first).grade
        return 0.0 if seen is None else max(seen - truths.drift(first, key, piece.number), 0.0)
    true = truths.PLANTED.get((key, piece.number))
    return usual_grade(piece, key) if true is None else true


_AS_READ = frozenset(place for place in truths.PLANTED if place[0] == "declared_behaviour")
"""Judged from the other grades, so without a scatter of its own."""


def _measured(piece: Piece, key: str, reading: Reading, criterion: Criterion, chance: np.random.Generator) -> Seen:
    planted = truths.PLANTED_READINGS.get((key, piece.number))
    true = usual_reading(piece, key) if planted is None else planted
    value = noise.measured(true, chance)
    value = _READ[key](value, chance) if key in _READ else round(value)
    stop = reading.stop_at
    censored = Censored.ABOVE if stop is not None and value > stop else Censored.EXACT
    value = stop if censored is Censored.ABOVE and stop is not None else value
    return Seen(criterion.propose(value, censored), value, censored)


def observation(seen: Seen, trial: str, key: str, tester: str, at: datetime, note: str = "") -> Observation:
    """Return the record of a result; `tester` is the letters of who wrote it."""
    return Observation(
        id=ident("observation", trial, key),
        trial=trial,
        criterion=key,
        rubric=scales.rubric_hash(key),
        tester=NAMES[tester],
        at=at,
        grade=seen.grade,
        reading=seen.reading,
        censored=seen.censored,
        not_testable=seen.not_testable,
        stage=scales.criterion(key).stage,
        note=note,
    )
