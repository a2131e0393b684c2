"""Facts of many things as columns of numbers from 0, so that whole ledgers are counted without looking at each."""

from collections import defaultdict
from collections.abc import Hashable, Iterable
from dataclasses import dataclass
from functools import cached_property
from itertools import count, pairwise
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.intp]
K = TypeVar("K", bound=Hashable)


def codes(values: Iterable[K]) -> tuple[Ints, list[K]]:
    """Return values as numbers from 0 in order of appearance, and what each number stands for."""
    known: defaultdict[K, int] = defaultdict(count().__next__)
    numbers = np.fromiter(map(known.__getitem__, values), np.intp)
    return numbers, list(known)


def is_first(number: Ints) -> NDArray[np.bool_]:
    """Return for each place whether its number stands there for the first time."""
    first = np.empty(number.max(initial=-1) + 1, np.intp)
    first[number[::-1]] = np.arange(len(number))[::-1]
    new: NDArray[np.bool_] = first[number] == np.arange(len(number))
    return new


def distinct(number: Ints) -> list[int]:
    """Return the different ones of some numbers, rising."""
    there: list[int] = np.flatnonzero(np.bincount(number)).tolist()
    return there


def in_order(number: Ints) -> tuple[Ints, Ints]:
    """Return where each number first stands, and the numbers counted anew in that order."""
    first = np.flatnonzero(is_first(number))
    anew = np.empty(number.max(initial=-1) + 1, np.intp)
    anew[number[first]] = np.arange(len(first))
    return first, anew[number]


def places_of(number: Ints, numbers: int) -> list[Ints]:
    """Return for each number below `numbers` the places that have it, in order."""
    # numpy sorts small integers by counting.
    order = np.argsort(number.astype(np.min_scalar_type(numbers)), kind="stable")
    ends = np.cumsum(np.bincount(number, minlength=numbers)).tolist()
    return [order[begin:end] for begin, end in pairwise((0, *ends))]


@dataclass(frozen=True, eq=False)
class LotFact:
    """One fact of every lot.

    Parameters
    ----------
    of_lot
        For each lot a number from 0.
    names
        What each number stands for.
    """

    of_lot: Ints
    names: list[Any]

    @cached_property
    def number(self) -> dict[Hashable, int]:
        """The number of each name."""
        return {name: place for place, name in enumerate(self.names)}

    @cached_property
    def lots(self) -> list[Ints]:
        """For each number the lots that have it, in order."""
        return places_of(self.of_lot, len(self.names))

    def sums(self, values: NDArray[Any]) -> Ints:
        """Return for each number the sum of `values`, one a lot, over its lots."""
        return np.bincount(self.of_lot, values, len(self.names)).astype(np.intp)


@dataclass(frozen=True, eq=False)
class FactPairs:
    """Two facts of every lot taken together.

    Parameters
    ----------
    of_lot
        For each lot the number of its pair.
    first, second
        For each pair its numbers in the two columns.
    """

    of_lot: Ints
    first: Ints
    second: Ints

    @classmethod
    def of(cls, one: LotFact, other: LotFact) -> "FactPairs":
        """Return the pairs of two columns, in order of appearance."""
        first, of_lot = in_order(one.of_lot * len(other.names) + other.of_lot)
        return cls(of_lot, one.of_lot[first], other.of_lot[first])

    def among(self, lots: NDArray[np.bool_]) -> Ints:
        """Return the pairs that some of the `lots` set have."""
        return np.flatnonzero(np.bincount(self.of_lot[lots], minlength=len(self.first)))


def both(one: LotFact, other: LotFact) -> LotFact:
    """Return two facts of every lot as one, whose names are the pairs of theirs."""
    pairs = FactPairs.of(one, other)
    names = zip(pairs.first.tolist(), pairs.second.tolist(), strict=True)
    return LotFact(pairs.of_lot, [(one.names[first], other.names[second]) for first, second in names])
