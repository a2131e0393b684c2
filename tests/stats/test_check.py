"""The shared checks of arguments, and what importing the statistics costs."""

import subprocess
import sys
from fractions import Fraction

import numpy as np
import pytest

from qcledger.errors import BadInput
from qcledger.stats import check

MODULES = ["proportion", "difference", "clustered", "homogeneity", "multiple", "funnel", "ordinal", "detection"]


@pytest.mark.parametrize("module", MODULES)
def test_importing_does_not_load_distributions(module):
    """scipy.stats takes most of a second, so only the functions that need it load it."""
    code = f"import sys, qcledger.stats.{module}; print('scipy.stats' in sys.modules, 'pandas' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["False", "False"]


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
