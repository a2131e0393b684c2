"""Draws that a seed repeats on every machine."""

import random
from collections.abc import Sequence
from typing import TypeVar

T = TypeVar("T")


class SeededDraws:
    """A sequence of draws that its seed repeats.

    Parameters
    ----------
    seed
        A whole number from 0 up.

    Notes
    -----
    Only `random.Random.random` is drawn from: its sequence is what the documentation of the `random` module ("Notes
    on Reproducibility") promises to keep over versions of Python, and a run sheet must be rebuilt years later.
    """

    def __init__(self, seed: int) -> None:
        self._random = random.Random(seed)  # noqa: S311 - balance and repeatability are wanted, not secrecy

    def below(self, number: int) -> int:
        """Return a whole number from 0 to `number` - 1."""
        return int(self._random.random() * number)

    def shuffled(self, items: Sequence[T]) -> list[T]:
        """Return the items in random order (Fisher and Yates)."""
        mixed = list(items)
        for last in range(len(mixed) - 1, 0, -1):
            other = self.below(last + 1)
            mixed[last], mixed[other] = mixed[other], mixed[last]
        return mixed
