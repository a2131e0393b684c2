"""One check for each kind of argument; an error names the argument, what was found and what is allowed."""

from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from qcledger.errors import bad

FloatArray: TypeAlias = NDArray[np.float64]


def numbers(name: str, value: ArrayLike) -> FloatArray:
    """Return `value` as floats of the same shape; refuse what is not a number, NaN and infinities."""
    try:
        array = np.asarray(value, dtype=np.float64)
    except (TypeError, ValueError):
        raise bad(name, value, "numbers") from None
    _refuse(name, array, ~np.isfinite(array), "finite numbers")
    return array


def whole(name: str, value: ArrayLike, least: int = 0) -> FloatArray:
    """Return `value` as floats holding whole numbers of at least `least`."""
    array = numbers(name, value)
    _refuse(name, array, (array < least) | (array != np.floor(array)), f"whole numbers from {least}")
    return array


def share(name: str, value: ArrayLike) -> FloatArray:
    """Return `value` as floats from 0 to 1, both ends allowed."""
    array = numbers(name, value)
    _refuse(name, array, (array < 0) | (array > 1), "numbers from 0 to 1")
    return array


def inner(name: str, value: float) -> float:
    """Return `value` as one number strictly between 0 and 1, such as a level."""
    array = numbers(name, value)
    if array.ndim or not 0 < array < 1:
        raise bad(name, value, "one number between 0 and 1, ends excluded")
    return float(array)


def counts(
    faulty: ArrayLike, tested: ArrayLike, names: tuple[str, str] = ("faulty", "tested")
) -> tuple[FloatArray, FloatArray]:
    """Return `faulty` and `tested` as whole numbers of one common shape, none faulty that was not tested."""
    some, total = whole(names[0], faulty), whole(names[1], tested)
    try:
        some, total = np.broadcast_arrays(some, total)
    except ValueError:
        raise bad(names[0], f"shape {some.shape}", f"the shape of {names[1]}, {total.shape}") from None
    _refuse(names[0], some, some > total, f"at most {names[1]}")
    return some, total


def one_count(faulty: int, tested: int, names: tuple[str, str] = ("faulty", "tested")) -> tuple[float, float]:
    """Return one pair of counts; refuse arrays."""
    some, total = counts(faulty, tested, names)
    if some.ndim:
        raise bad(names[0], f"shape {some.shape}", "one number; the array form takes many")
    return float(some), float(total)


def _refuse(name: str, array: FloatArray, wrong: NDArray[np.bool_], allowed: str) -> None:
    if wrong.any():
        raise bad(name, f"{array[wrong][0]:g}", allowed)
