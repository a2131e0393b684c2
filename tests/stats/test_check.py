"""The shared checks of arguments, and what importing the statistics costs."""

import subprocess
import sys
from fractions import Fraction

import numpy as np
import pytest

from qcledger.errors import BadInput
from qcledger.stats import check

MODULES = ["proportion", "difference", "clustered", "homogeneity", "multiple", "funnel", "ordinal", "detection"]


def test_importing_does_not_load_distributions():
    """scipy.stats takes most of a second, so only the functions that need it load it: after no module is it there."""
    code = (
        "import importlib, sys\n"
        "for module in sys.argv[1:]:\n"
        "    importlib.import_module(f'qcledger.stats.{module}')\n"
        "    print(module, 'scipy.stats' in sys.modules, 'pandas' in sys.modules)\n"
    )
    done = subprocess.run([sys.executable, "-c", code, *MODULES], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines() == [f"{module} False False" for module in MODULES]


@pytest.mark.parametrize("value", [3, 3.0, np.int64(3), np.float32(3), Fraction(3), np.array(3)])
def test_whole_numbers_of_any_type_pass(value):
    """A count may come as a whole number of any type that says the same number."""
    assert check.one_whole("count", value) == 3


@pytest.mark.parametrize(
    ("function", "value", "allowed"),
    [
        (check.numbers, [1, None], "finite numbers"),
        (check.numbers, [1, [2, 3]], "numbers"),
        (check.numbers, {"a": 1}, "numbers"),
        (check.numbers, "3", "numbers"),
        (check.numbers, ["1", "2"], "numbers"),
        (check.whole, [0, np.inf], "finite numbers"),
        (check.whole, 2.5, "whole numbers from 0"),
        (check.share, [0.5, 1.0000001], "numbers from 0 to 1"),
        (check.one_number, [1.0], "one number"),
        (check.one_whole, [1], "one whole number"),
        (check.inner, 0, "one number between 0 and 1, ends excluded"),
    ],
)
def test_refusals_name_the_argument_and_what_is_allowed(function, value, allowed):
    """Each check says which argument it was, what stood there and what may stand there, on one line."""
    with pytest.raises(BadInput) as refused:
        function("the_argument", value)
    message = str(refused.value)
    assert message.startswith("the_argument: found ")
    assert message.endswith(f"allowed: {allowed}")
    assert "\n" not in message


def test_the_first_wrong_value_is_shown():
    """In a long array the message shows the value that is wrong, not the array."""
    with pytest.raises(BadInput, match=r"^faulty: found '7'; allowed: at most tested"):
        check.counts([0, 1, 7, 2], [5, 5, 5, 5])


def test_counts_are_stretched_to_one_shape():
    """One number tested stands for every count; names blamed are those of the caller."""
    some, total = check.counts([[0, 1], [2, 3]], 3)
    assert some.tolist() == [[0, 1], [2, 3]]
    assert total.tolist() == [[3, 3], [3, 3]]
    with pytest.raises(BadInput, match=r"^allowed: found '5'; allowed: at most plan$"):
        check.counts(5, 3, ("allowed", "plan"))


def test_arrays_that_do_not_fit_are_told_by_their_shapes():
    """Two and three numbers have no common shape; both shapes are shown, equal ones once."""
    pair, three = np.zeros(2), np.zeros(3)
    with pytest.raises(BadInput, match=r"^faulty: found 'shapes \(2,\) and \(3,\)'; allowed: arrays of one shape$"):
        check.same_shape("faulty", pair, pair, three)
    assert [array.shape for array in check.same_shape("faulty", pair, np.zeros(()))] == [(2,), (2,)]


def test_lots_without_specimens_are_no_lots():
    """They are taken out; the others stay in their order."""
    some, total = check.lots_tested([1, 0, 0, 2], [3, 0, 2, 2])
    assert (some.tolist(), total.tolist()) == ([1, 0, 2], [3, 2, 2])
    kept, tested = check.lots([1, 0], [3, 0])
    assert (kept.tolist(), tested.tolist()) == ([1, 0], [3, 0])


@pytest.mark.parametrize("counts", [(1, 3), ([[1]], [[3]])])
def test_lots_come_in_a_row(counts):
    """One number, or a table, is no row of lots."""
    with pytest.raises(BadInput, match=r"^faulty_by_lot: found .*; allowed: one number for each lot$"):
        check.lots(*counts)


def test_one_count_refuses_many():
    """And says that there is a form which takes them."""
    assert check.one_count(2, 5) == (2.0, 5.0)
    with pytest.raises(BadInput, match=r"the array form takes many$"):
        check.one_count([1, 2], [3, 3])


@pytest.mark.parametrize(
    ("cell", "allowed"),
    [
        ([0, 1], "one cell number for each of 3 lots"),
        ([0, 1, 2], "numbers from 0 to 1"),
        ([0, 1, -1], "whole numbers from 0"),
        ([0, 1, 0.5], "whole numbers from 0"),
    ],
)
def test_cells_are_numbered_from_nothing(cell, allowed):
    """Each lot has one of the cells, by number."""
    assert check.cell_numbers([0, 1, 1], 3, 2).tolist() == [0, 1, 1]
    with pytest.raises(BadInput, match=f"^cell: found .*; allowed: {allowed}$"):
        check.cell_numbers(cell, 3, 2)


@pytest.mark.parametrize("value", [0.0, 1, np.float32(0.5), True])
def test_a_share_may_be_all_or_nothing(value):
    """Both ends are shares; a level has neither."""
    assert check.one_share("rate", value) == float(value)
    assert check.share("rate", [value, value]).tolist() == [float(value)] * 2
