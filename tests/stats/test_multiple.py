"""Many comparisons at once: what adjusting promises."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from qcledger.errors import BadInput
from qcledger.stats.multiple import benjamini_hochberg, holm

METHODS = [holm, benjamini_hochberg]
P_VALUES = arrays(np.float64, st.integers(0, 30), elements=st.floats(0, 1))


@pytest.mark.parametrize("method", METHODS)
@given(p_values=P_VALUES)
def test_adjusting_only_ever_raises_and_keeps_the_order(method, p_values):
    """Adjusted p-values are at least the p-values, at most 1, and in the same order."""
    adjusted = method(p_values)
    assert (adjusted >= p_values - 1e-12).all()
    assert (adjusted <= 1).all()
    assert (np.diff(adjusted[np.argsort(p_values, kind="stable")]) >= -1e-12).all()


@pytest.mark.parametrize("method", METHODS)
@given(p_values=P_VALUES, order=st.randoms(use_true_random=False))
def test_order_does_not_matter(method, p_values, order):
    """A comparison's adjusted p-value does not depend on where it stands."""
    shuffled = list(range(len(p_values)))
    order.shuffle(shuffled)
    np.testing.assert_allclose(method(p_values)[shuffled], method(p_values[shuffled]), atol=1e-12)


@given(p_values=P_VALUES)
def test_holm_rejects_what_stepping_down_rejects(p_values):
    """Going from the smallest up, each is compared with level / (comparisons left), until one fails."""
    level, rejected = 0.05, set()
    for rank, index in enumerate(np.argsort(p_values, kind="stable").tolist()):
        if p_values[index] * (len(p_values) - rank) > level:
            break
        rejected.add(index)
    assert set(np.flatnonzero(holm(p_values) <= level).tolist()) == rejected


@given(p_values=P_VALUES)
def test_holm_is_at_least_as_strict(p_values):
    """Guarding against any false rejection is never easier than against a share of them."""
    assert (holm(p_values) >= benjamini_hochberg(p_values) - 1e-12).all()


@pytest.mark.parametrize("method", METHODS)
def test_shapes_are_kept(method):
    """None, one, a row or a table: what comes back has the same shape."""
    assert method([]).shape == (0,)
    assert float(method(0.3)) == 0.3
    assert method([[0.1, 0.2], [0.3, 0.4]]).shape == (2, 2)


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("p_values", [[0.5, 1.1], [-0.1], [float("nan")], ["p"]])
def test_bad_p_values_are_refused(method, p_values):
    """A p-value outside 0 to 1, or none at all, is refused by name."""
    with pytest.raises(BadInput, match=r"^p_values: found "):
        method(p_values)
