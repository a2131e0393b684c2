"""From what a piece is like to what the tester wrote down."""

from dataclasses import dataclass
from datetime import datetime
from math import ceil

import numpy as np

from qcledger.records import Observation
from qcledger.rubric import Criterion, Reading
from qcledger.vocab import Censored
from tests.studio import noise, scales, truths
from tests.studio.chance import ident, stream
from tests.studio.nature import NOISELESS, usual_grade, usual_reading
from tests.studio.purchases import Piece

_DECIMALS = {"tinting_ratio": 2, "wet_spread": 1}
_BY_STRIPS = {"rewetting_in_fives": 5}
"""What is read only every so many turns: at the first strip that matches."""


@dataclass(frozen=True, slots=True)
class Seen:
    """A result as written down."""

    grade: float | None
    reading: float | None = None
    censored: Censored = Censored.EXACT
    not_testable: str | None = None


def look(piece: Piece, key: str, occasion: str, first: str | None = None) -> Seen:
    """Return what the tester sees on a piece at an `occasion`: a session's code, or anything else at unpacking.

    A hidden repeat scatters from what was written in the session of the piece's own trial, `first`.
    """
    criterion, chance = scales.criterion(key), _chance(piece, key, occasion, first)
    if criterion.reading is not None and criterion.reading.limits:
        return _measured(piece, key, criterion.reading, criterion, chance)
    grade = _before(piece, key, first)
    grade = min(grade + truths.drift(occasion, key, piece.number), 5.0)
    if key not in NOISELESS and (key, piece.number) not in _AS_READ:
        grade = noise.graded(grade, criterion, chance)
    reading, censored = noise.behind(key, grade, chance)
    return Seen(grade, reading, censored)


def _chance(piece: Piece, key: str, occasion: str, first: str | None) -> np.random.Generator:
    return stream("look", piece.number, scales.drawn_as(key), occasion, first is not None)


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
    strip = _BY_STRIPS.get(key)
    value = round(value, _DECIMALS.get(key)) if strip is None else strip * ceil(value / strip)
    stop = reading.stop_at
    censored = Censored.ABOVE if stop is not None and value > stop else Censored.EXACT
    value = stop if censored is Censored.ABOVE and stop is not None else value
    return Seen(criterion.propose(value, censored), value, censored)


def observation(seen: Seen, trial: str, key: str, tester: str, at: datetime, note: str = "") -> Observation:
    """Return the record of a result."""
    return Observation(
        id=ident("observation", trial, key),
        trial=trial,
        criterion=key,
        rubric=scales.rubric_hash(key),
        tester=tester,
        at=at,
        grade=seen.grade,
        reading=seen.reading,
        censored=seen.censored,
        not_testable=seen.not_testable,
        stage=scales.criterion(key).stage,
        note=note,
    )
