"""What is laid to a pigment or a format: it is named when it is harder at most makers, and nobody else's is."""

import numpy as np
import pytest

from qcledger.stats.pooled.design import Lot, arrange
from qcledger.stats.pooled.fit import fit
from qcledger.stats.pooled.wide import LEAST_MAKERS, formats, pigments
from tests.stats.pooled.fields import QUICK, grid, lot


def _field(faulty, makers=8):
    return fit(arrange(grid(makers, 2, 8, 2, faulty)), seed=1, effort=QUICK)


def test_a_pigment_hard_at_most_makers_is_named():
    """Half faulty at every maker in pigment 3 against 1 in 16: named, with its counts; no other pigment is."""
    posterior = _field(lambda m, f, p: 1 if p == 3 else int((m + 8 * f + p) % 8 == 0))
    named = [one for one in pigments(posterior) if one.named]
    assert [posterior.field.pigments[one.index] for one in named] == [3]
    (one,) = named
    assert (one.makers, one.showing) == (8, 8)
    assert one.seen == pytest.approx(0.5 - np.mean([(m + 8 * f + p) % 8 == 0 for m in range(8) for f in range(2)
                                                    for p in range(8) if p != 3]) / 2)  # fmt: skip
    assert one.chance >= one.beyond > 0.5


def test_a_pigment_hard_at_three_makers_is_theirs():
    """All faulty at three makers only is not the pigment's, however many faults that makes."""
    posterior = _field(lambda m, f, p: 2 if p == 3 and m < LEAST_MAKERS - 1 else 0)
    hard = pigments(posterior)[3]
    assert hard.showing == LEAST_MAKERS - 1
    assert hard.seen > 0.3
    assert not hard.named


def test_a_format_hard_at_most_makers_is_named():
    """Half faulty in format 1, none in format 0: the format is named and no pigment is."""
    posterior = _field(lambda m, f, p: int(f == 1 and m != 2))
    assert [one.index for one in formats(posterior) if one.named] == [1]
    assert not any(one.named for one in pigments(posterior))


def test_a_mixture_counts_for_each_of_its_pigments():
    """The faults of a paint of two pigments are counted for both, and lots that look alike are counted each."""
    mixed = [Lot(maker=m, format=0, paint=(m, "mix"), pigments=(0, 1), tested=2, faulty=1) for m in range(5)] * 3
    plain = [lot(m, 0, p, 2, 0) for m in range(5) for p in (0, 1, 2)]
    found = pigments(fit(arrange([*mixed, *plain]), seed=1, effort=QUICK))
    assert [one.seen for one in found] == pytest.approx([15 / 40 - 0, 15 / 40 - 0, 0 - 15 / 50])
    assert [one.showing for one in found] == [5, 5, 0]


def test_nothing_to_compare_with_names_nothing():
    """One format and one pigment have no others beside them."""
    posterior = fit(arrange(grid(5, 1, 1, 2, lambda *_: 2)), seed=1, effort=QUICK)
    assert pigments(posterior) == formats(posterior) == ()
