"""What each piece is like where nothing was planted: sound goods with small differences, before any scatter."""

from collections.abc import Callable

import numpy as np

from tests.studio.chance import stream
from tests.studio.purchases import Piece
from tests.studio.scales import drawn_as

Draw = Callable[[np.random.Generator], float]


def _mostly_none(one: float) -> Draw:
    """Return a draw that is 0, and 1 in a share `one` of pieces."""
    return lambda chance: float(chance.random() < one)


# Grade before scatter, for each criterion that does not follow from the pigment.
_USUAL: dict[str, Draw] = {
    "wash_faintness": _mostly_none(0.35),
    "gradation_steps": _mostly_none(0.5),
    "rub_off_weighted": _mostly_none(0.3),
    "glazing_pick_up": _mostly_none(0.4),
    "salt": lambda chance: float(chance.integers(1, 4)),
    "backruns": lambda chance: float(chance.integers(1, 4)),
    "drying_shift": lambda chance: float(chance.choice([1.0, 1.5, 2.0])),
    "separation": _mostly_none(0.1),
    "cracked": _mostly_none(0.04),
    "wrapper_adhesion": _mostly_none(0.12),
    "soft_face": _mostly_none(0.03),
    "loose_in_pan": _mostly_none(0.05),
    "stiff_tube": _mostly_none(0.04),
    "parted_binder": _mostly_none(0.06),
    "leak": _mostly_none(0.06),
}
NOISELESS = frozenset({"name_mismatch", "batch_code", "pigment_information", "hazard_information"})
"""What is read, not judged by eye."""


def _own(piece: Piece, key: str) -> np.random.Generator:
    return stream("piece", piece.number, drawn_as(key))


def usual_grade(piece: Piece, key: str) -> float:
    """Return the grade a piece deserves on a criterion without a measured scale, if nothing was planted."""
    chance, traits = _own(piece, key), piece.colour.traits
    shift = float(chance.choice([-0.5, 0.0, 0.0, 0.5]))
    by_pigment = {
        "granulation": traits.granulation + shift,
        "staining": traits.staining + shift,
        "opacity": (traits.opacity if piece.colour.opacity is None else piece.colour.opacity) + shift,
        "evenness": traits.masstone + shift,
    }
    if key in by_pigment:
        return float(np.clip(by_pigment[key], 0, 5))
    if key == "froth_amount":
        return float(chance.integers(0, 2))
    if key == "pigment_information":
        return float(piece.colour.maker in {"Drumlaw", "Maslenne"})
    if key in NOISELESS or key == "declared_behaviour":
        return 0.0
    return _USUAL[key](chance)


def usual_reading(piece: Piece, key: str) -> float:
    """Return the true value of a piece on a criterion with a measured scale, if nothing was planted."""
    chance = _own(piece, key)
    if key == "rewetting_in_fives":
        return float(piece.colour.traits.turns * np.exp(np.clip(chance.normal(0, 0.2), -0.4, 0.4)))
    if key == "tinting_ratio":
        return float(np.clip(chance.normal(1.0, 0.07), 0.86, 1.15))
    if key == "laydown_count":
        return 2.0 * _mostly_none(0.3)(chance)
    if key == "froth_time":
        return float(chance.uniform(0, 9)) * _mostly_none(0.5)(chance)
    if key == "wet_spread":
        return float(chance.uniform(2.5, 11))
    raise KeyError(key)
