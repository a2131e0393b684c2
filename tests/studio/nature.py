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
    "poured_cracking": lambda chance: float(chance.choice([0.0, 0.0, 0.0, 1.0, 1.0, 2.0])),
    "poured_stickiness": lambda chance: float(chance.choice([0.0, 1.0, 1.0, 2.0])),
}
_WHERE_CODED = (0.0,) * 7 + (1.0, 1.0, 3.0)
"""Where a batch code that was found stood: on the item, legible in part, on the box only."""
NOISELESS = frozenset({"name_mismatch", "batch_code", "pigment_information", "hazard_information"})
"""What is read, not judged by eye."""


def _own(piece: Piece, key: str) -> np.random.Generator:
    return stream("piece", piece.number, drawn_as(key))


_LEANS = (-1.0, -0.5, -0.5, 0.0, 0.0, 0.5, 0.5, 1.0)


def _leaning(piece: Piece, key: str) -> np.random.Generator:
    """Return the random numbers of a maker's own paint of a pigment: what all its pieces share."""
    return stream("paint", piece.colour.maker, piece.colour.pigment, key)


def _grinds(piece: Piece, key: str) -> float:
    """Return by how much a maker's paint differs from others of its pigment, in grades of a trait."""
    colour = piece.colour
    if colour.pigment in ONLY_ONE or colour.behaves or (key == "opacity" and colour.opacity is not None):
        return 0.0
    lean = float(_leaning(piece, key).choice(_LEANS))
    return lean / 2 if key == "evenness" else lean


ONLY_ONE = frozenset({"PB29", "PG17", "PG26"})
"""Pigments that one maker sells: nobody is there to differ from, and the controls are of them."""


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
        return float(np.clip(by_pigment[key] + _grinds(piece, key), 0, 5))
    if key == "froth_amount":
        return float(chance.integers(0, 2))
    if key == "wash_faintness":
        return float(chance.random() < _leaning(piece, key).uniform(0.15, 0.55))
    if key == "batch_code":
        return 5.0 if piece.lot is None else float(chance.choice(_WHERE_CODED))
    if key == "pigment_information":
        return float(piece.colour.maker in {"Drumlaw", "Maslenne"})
    if key in NOISELESS or key == "declared_behaviour":
        return 0.0
    return _USUAL[key](chance)


def usual_reading(piece: Piece, key: str) -> float:
    """Return the true value of a piece on a criterion with a measured scale, if nothing was planted."""
    chance = _own(piece, key)
    if key == "rewetting_in_fives":
        return float(piece.colour.traits.turns * binder(piece) * np.exp(np.clip(chance.normal(0, 0.2), -0.4, 0.4)))
    if key == "tinting_ratio":
        return float(np.clip(_leaning(piece, key).normal(1.0, 0.03) + chance.normal(0, 0.06), 0.86, 1.15))
    if key == "laydown_count":
        return 2.0 * _mostly_none(0.3)(chance)
    if key == "froth_time":
        return float(chance.uniform(0, 9)) * _mostly_none(0.5)(chance)
    if key == "wet_spread":
        return float(_leaning(piece, key).uniform(4, 9) * np.exp(chance.normal(0, 0.15)))
    if key == "poured_shrinking":
        return float(chance.uniform(0, 2))
    raise KeyError(key)


def binder(piece: Piece) -> float:
    """Return how much longer than usual a maker's paint of a pigment takes to wet again, as a factor near 1."""
    return float(np.exp(np.clip(_leaning(piece, "binder").normal(0, 0.25), -0.45, 0.45)))
