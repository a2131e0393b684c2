"""Three-digit codes that stand for specimens while a session is blind."""

from collections.abc import Collection
from typing import Final

from qcledger.bench.chance import SeededDraws

_TURNED: Final = {"0": "0", "1": "1", "6": "9", "8": "8", "9": "6"}
"""Digits that can be read when a swatch lies upside down, and what they are read as."""


def alike(code: str) -> frozenset[str]:
    """Return what a code may be taken for: itself, its digits swapped end for end, and itself upside down."""
    turned = "".join(_TURNED.get(digit, "?") for digit in reversed(code))
    return frozenset({code, code[::-1], turned} if "?" not in turned else {code, code[::-1]})


def draw(count: int, chance: SeededDraws, taken: Collection[str] = ()) -> tuple[str, ...]:
    """Return codes from 100 to 999 in random order, none of which can be taken for another.

    Parameters
    ----------
    count
        How many, at most 300.
    chance
        Draws them; what they will stand for plays no part in it.
    taken
        Codes in use, which are avoided too.
    """
    used = {other for code in taken for other in alike(code)}
    found: list[str] = []
    while len(found) < count:
        code = str(100 + chance.below(900))
        if used.isdisjoint(alike(code)):
            found.append(code)
            used |= alike(code)
    return tuple(found)
