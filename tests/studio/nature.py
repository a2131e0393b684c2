"""What each piece is like where nothing was planted: sound goods with small differences, before any scatter."""

from collections.abc import Callable

import numpy as np

from tests.studio.chance import stream
from tests.studio.makers import TRADITIONAL
from tests.studio.purchases import Piece

Draw = Callable[[np.random.Generator], float]


def _mostly_none(one: float) -> Draw:
    """Return a draw that is 0, and 1 in a share `one` of pieces."""
    return lambda chance: float(chance.random() < one)


# Grade before scatter, for each criterion that does not follow from the pigment.
_USUAL: dict[str, Draw] = {
    "laydown_bubbles": _mostly_none(0.3),
    "faintness": _mostly_none(0.35),
    "gradation": _mostly_none(0.5),
    "dry_rub_off": _mostly_none(0.3),
    "glazing": _mostly_none(0.4),
    "salt": lambda chance: float(chance.integers(1, 4)),
    "backruns": lambda chance: float(chance.integers(1, 4)),
    "drying_shift": lambda chance: float(chance.choice([1.0, 1.5, 2.0])),
    "separation": _mostly_none(0.1),
    "cracked": _mostly_none(0.04),
    "wrapper_adhesion": _mostly_none(0.12),
    "over_soft": _mostly_none(0.03),
    "loose_in_tray": _mostly_none(0.05),
    "dried_tube": _mostly_none(0.04),
    "separated_binder": _mostly_none(0.06),
    "leaking_cap": _mostly_none(0.06),
}
NOISELESS = frozenset({"label_mismatch", "batch_code", "pigment_information", "hazard_information"})
"""What is read, not judged by eye."""


def _own(piece: Piece, key: str) -> np.random.Generator:
    return stream("piece", piece.number, key)


def usual_grade(piece: Piece, key: str) -> float:
    """Return the grade a piece deserves on a criterion without a measured scale, if nothing was planted."""
    chance, traits = _own(piece, key), piece.colour.traits
    shift = float(chance.choice([-0.5, 0.0, 0.0, 0.5]))
    by_pigment = {
        "granulation": traits.granulation + shift,
        "staining": traits.staining + shift,
        "opacity": (traits.opacity if piece.colour.opacity is None else piece.colour.opacity) + shift,
        "masstone": traits.masstone + shift,
    }
    if key in by_pigment:
        return float(np.clip(by_pigment[key], 0, 5))
    if key == "workup_froth":
        return float(chance.integers(0, 2))
    if key == "label_mismatch":
        return float(piece.colour.name not in TRADITIONAL)
    if key == "pigment_information":
        return float(piece.colour.maker in {"Drumlaw", "Maslenne"})
    if key in NOISELESS or key == "declared_behaviour":
        return 0.0
    return _USUAL[key](chance)


def usual_reading(piece: Piece, key: str) -> float:
    """Return the true value of a piece on a criterion with a measured scale, if nothing was planted."""
    chance = _own(piece, key)
    if key == "rewetting":
        return float(piece.colour.traits.turns * np.exp(np.clip(chance.normal(0, 0.2), -0.4, 0.4)))
    if key == "tinting_strength":
        return float(np.clip(chance.normal(1.0, 0.07), 0.86, 1.15))
    if key == "wet_spread":
        return float(chance.uniform(2.5, 11))
    raise KeyError(key)
