"""How long a hand needs: a save comes when the look is over, and no two looks take the same time."""

from datetime import timedelta
from types import MappingProxyType

import numpy as np

from tests.studio.grading import Seen

_LOOKS = MappingProxyType(
    {
        "rewetting_in_fives": 42.0,
        "laydown_count": 38.0,
        "froth_amount": 9.0,
        "froth_time": 45.0,
        "wash_faintness": 34.0,
        "evenness": 21.0,
        "tinting_ratio": 75.0,
        "wet_spread": 16.0,
        "opacity": 48.0,
        "drying_shift": 52.0,
        "glazing_pick_up": 30.0,
        "rub_off_weighted": 40.0,
        "declared_behaviour": 55.0,
        "name_mismatch": 14.0,
        "pigment_information": 25.0,
        "hazard_information": 22.0,
    }
)
_USUAL_LOOK = 12.0
_STRIP = 11.0
"""Seconds for a strip and its look, every five turns, while the beat stands still."""
_TURNS = 5.0


def _to_ms(seconds: float) -> timedelta:
    return timedelta(milliseconds=round(1000 * seconds))


def some(chance: np.random.Generator, low: float, high: float) -> timedelta:
    """Return a time between `low` and `high` s."""
    return _to_ms(float(chance.uniform(low, high)))


def look_at(key: str, seen: Seen, chance: np.random.Generator) -> timedelta:
    """Return how long a look at a criterion takes, what is timed included: froth that stands is waited for."""
    return _to_ms(_look(key, seen, chance))


def _look(key: str, seen: Seen, chance: np.random.Generator) -> float:
    hand = _LOOKS.get(key, _USUAL_LOOK) * float(np.exp(chance.normal(0, 0.35)))
    if seen.reading is None:
        return hand
    if key == "rewetting_in_fives":
        return hand + seen.reading + _STRIP * seen.reading / _TURNS
    return hand + seen.reading if key == "froth_time" else hand


def between_pieces(chance: np.random.Generator) -> timedelta:
    """Return the time from one piece to the next: rinse, take it up, read its code; now and then somebody rings."""
    rung = float(chance.uniform(150, 560)) if chance.random() < 0.03 else 0.0
    return _to_ms(8 + 26 * float(np.exp(chance.normal(0, 0.4))) + rung)


def rest(chance: np.random.Generator) -> timedelta:
    """Return how long eyes rest after eight pieces."""
    return some(chance, 290, 560)


def unwrapping(chance: np.random.Generator) -> timedelta:
    """Return the time from one piece of a parcel to the next: unwrap, weigh, stick the sticker on, type the label."""
    return _to_ms(35 + 55 * float(np.exp(chance.normal(0, 0.5))))
