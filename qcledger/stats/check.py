"""One check for each kind of argument; an error names the argument, what was found and what is allowed."""

from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from qcledger.errors import bad

FloatArray: TypeAlias = NDArray[np.float64]

LOT_NAMES = ("faulty_by_lot", "tested_by_lot")


def numbers(name: str, value: ArrayLike) -> FloatArray:
    """Return `value` as floats of the same shape; refuse texts that look like numbers, NaN and infinities."""
    try:
        given = np.asarray(value)
        array = given.astype(np.float64)
    except (TypeError, ValueError):
        raise bad(name, value, "numbers") from None
    if given.dtype.kind not in "biufO":
        raise bad(name, value, "numbers")
    _refuse(name, array, ~np.isfinite(array), "finite numbers")
    return array


def whole(name: str, value: ArrayLike, least: int = 0) -> FloatArray:
    """Return `value` as floats holding whole numbers of at least `least`."""
    array = numbers(name, value)
    _refuse(name, array, (array < least) | (array != np.floor(array)), f"whole numbers from {least}")
    return array


def one_whole(name: str, value: int, least: int = 0) -> int:
    """Return `value` as one whole number of at least `least`."""
    array = whole(name, value, least)
    if array.ndim:
        raise bad(name, f"shape {array.shape}", "one whole number")
    return int(array)


def one_number(name: str, value: float) -> float:
    """Return `value` as one finite number."""
    array = numbers(name, value)
    if array.ndim:
        raise bad(name, f"shape {array.shape}", "one number")
    return float(array)


def share(name: str, value: ArrayLike) -> FloatArray:
    """Return `value` as floats from 0 to 1, both ends allowed."""
    array = numbers(name, value)
    _refuse(name, array, (array < 0) | (array > 1), "numbers from 0 to 1")
    return array


def one_share(name: str, value: float) -> float:
    """Return `value` as one number from 0 to 1, both ends allowed."""
    return float(share(name, one_number(name, value)))


def inner(name: str, value: float) -> float:
    """Return `value` as one number strictly between 0 and 1, such as a level."""
    number = one_number(name, value)
    if not 0 < number < 1:
        raise bad(name, number, "one number between 0 and 1, ends excluded")
    return number


def counts(
    faulty: ArrayLike, tested: ArrayLike, names: tuple[str, str] = ("faulty", "tested")
) -> tuple[FloatArray, FloatArray]:
    """Return `faulty` and `tested` as whole numbers of one common shape, none faulty that was not tested."""
    some, total = same_shape(names[0], whole(names[0], faulty), whole(names[1], tested))
    _refuse(names[0], some, some > total, f"at most {names[1]}")
    return some, total


def same_shape(name: str, *arrays: FloatArray) -> tuple[FloatArray, ...]:
    """Return `arrays` broadcast to one shape; when they do not fit, `name` is blamed."""
    try:
        return tuple(np.broadcast_arrays(*arrays))
    except ValueError:
        shapes = " and ".join(dict.fromkeys(str(array.shape) for array in arrays))
        raise bad(name, f"shapes {shapes}", "arrays of one shape") from None


def one_count(faulty: int, tested: int, names: tuple[str, str] = ("faulty", "tested")) -> tuple[float, float]:
    """Return one pair of counts; refuse arrays."""
    some, total = counts(faulty, tested, names)
    if some.ndim:
        raise bad(names[0], f"shape {some.shape}", "one number; the array form takes many")
    return float(some), float(total)


def lots(
    faulty_by_lot: ArrayLike, tested_by_lot: ArrayLike, names: tuple[str, str] = LOT_NAMES
) -> tuple[FloatArray, FloatArray]:
    """Return counts in a row, one a lot."""
    some, total = counts(faulty_by_lot, tested_by_lot, names)
    if some.ndim != 1:
        raise bad(names[0], f"shape {some.shape}", "one number for each lot")
    return some, total


def lots_tested(
    faulty_by_lot: ArrayLike, tested_by_lot: ArrayLike, names: tuple[str, str] = LOT_NAMES
) -> tuple[FloatArray, FloatArray]:
    """Return counts in a row, one a lot, without the lots of which nothing was tested: they say nothing."""
    some, total = lots(faulty_by_lot, tested_by_lot, names)
    return some[total > 0], total[total > 0]


def cell_numbers(cell: ArrayLike, lots: int, cells: int) -> NDArray[np.intp]:
    """Return for each of `lots` lots the number of its cell, from 0 to `cells` - 1."""
    array = whole("cell", cell)
    if array.shape != (lots,):
        raise bad("cell", f"shape {array.shape}", f"one cell number for each of {lots} lots")
    _refuse("cell", array, array >= one_whole("cells", cells), f"numbers from 0 to {cells - 1}")
    return array.astype(np.intp)


def _refuse(name: str, array: FloatArray, wrong: NDArray[np.bool_], allowed: str) -> None:
    if wrong.any():
        raise bad(name, f"{array[wrong][0]:g}", allowed)
