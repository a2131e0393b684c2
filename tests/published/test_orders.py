"""Williams squares against what their author proved, and the first row as he gives it.

Williams, E. J. (1949), Experimental designs balanced for the estimation of residual effects of treatments, Australian
Journal of Scientific Research A 2:149-168.
"""

from collections import Counter
from itertools import pairwise, permutations

import pytest

from qcledger.bench.orders import williams


@pytest.mark.parametrize(
    ("number", "orders", "times"), [(2, 2, 1), (4, 4, 1), (6, 6, 1), (8, 8, 1), (5, 10, 2), (7, 14, 2)]
)
def test_each_follows_each_equally_often_and_has_each_place_equally(number, orders, times):
    """For even k, k orders and each ordered pair side by side once; for odd k, 2k orders and twice.

    Source: Williams 1949, Aust J Sci Res A 2:149-168 [mem].
    """
    square = williams(number)
    assert len(square) == orders
    follows = Counter(pair for row in square for pair in pairwise(row))
    assert follows == dict.fromkeys(permutations(range(number), 2), times)
    places = Counter((place, one) for row in square for place, one in enumerate(row))
    assert set(places.values()) == {orders // number}
    assert len(places) == number * number


def test_the_first_row_is_the_published_one():
    """0, 1, k-1, 2, k-2, ...

    Source: Williams 1949, Aust J Sci Res A 2:149-168 [mem].
    """
    assert williams(6)[0] == (0, 1, 5, 2, 4, 3)
    assert williams(5)[0] == (0, 1, 4, 2, 3)
