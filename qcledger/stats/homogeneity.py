"""Tests whether faults gather in some lots, or in one of two groups of lots.

Lots are compared by their counts of faulty and tested specimens; a lot of which nothing was tested is no lot. Chance
is taken given the number of faulty specimens seen, so that no rate need be known: under it any tested specimen
could have been faulty. Where nothing can be told (a single lot, none or all faulty) the p-value is 1.

Small sets are counted exactly. For larger ones chance is drawn from a seeded generator, so that the same data give
the same number; the observed set then counts as one draw (Phipson & Smyth 2010, Stat Appl Genet Mol Biol 9:39).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr

from qcledger.errors import bad
from qcledger.stats import check
from qcledger.stats.check import FloatArray
from qcledger.stats.permutation import LotsToGroups, SpecimensToLots

EXACT_WORK = 20_000_000
"""Most additions that an exact count may take; beyond them chance is drawn."""

DRAWS = 9_999
"""Draws by default: a p-value near 0.05 is then known to about 0.002."""

PEER = ("peer_faulty_by_lot", "peer_tested_by_lot")


@dataclass(frozen=True, slots=True)
class TestOutcome:
    """What a test found.

    Parameters
    ----------
    statistic
        The number that the test looks at; see the test.
    p_value
        Chance of a statistic at least as far out if the lots do not differ, from 0 to 1.
    method
        Name of the test, and whether chance was counted exactly or drawn.
    """

    statistic: float
    p_value: float
    method: str


def tarone(faulty_by_lot: ArrayLike, tested_by_lot: ArrayLike) -> TestOutcome:
    """Test whether specimens of one lot are more alike than independent ones, for large samples.

    Parameters
    ----------
    faulty_by_lot, tested_by_lot
        Whole numbers, one a lot, 0 <= faulty <= tested.

    Returns
    -------
    Outcome
        Tarone's Z with its upper tail: a large Z means that faults gather in lots. Z is 0 and the p-value 1 when no
        lot has two specimens, or none or all are faulty.

    Raises
    ------
    BadInput
        A count is out of range; the message names it.

    Notes
    -----
    Tarone 1979, Biometrika 66:585-590: Z = (sum((y - n p)^2) / (p (1 - p)) - sum(n)) / sqrt(2 sum(n (n - 1))). Good
    for many lots; `faults_gather` looks at the same sum and holds for few.
    """
    some, total = check.lots_tested(faulty_by_lot, tested_by_lot)
    rate = some.sum() / max(total.sum(), 1)
    pairs = (total * (total - 1)).sum()
    if pairs == 0 or rate in (0, 1):
        return TestOutcome(0.0, 1.0, "Tarone")
    scatter = ((some - total * rate) ** 2).sum() / (rate * (1 - rate))
    z = float((scatter - total.sum()) / np.sqrt(2 * pairs))
    return TestOutcome(z, float(ndtr(-z)), "Tarone")


def faults_gather(
    faulty_by_lot: ArrayLike, tested_by_lot: ArrayLike, *, draws: int = DRAWS, seed: int = 0
) -> TestOutcome:
    """Test by permutation whether faults gather in some lots.

    Parameters
    ----------
    faulty_by_lot, tested_by_lot
        Whole numbers, one a lot, 0 <= faulty <= tested.
    draws
        Random permutations of the specimens if there are too many to count, at least 1.
    seed
        Seed of their generator, a whole number from 0.

    Returns
    -------
    Outcome
        The statistic is sum((y - n p)^2), p the share faulty over the lots; its upper tail tells that faults gather.

    Raises
    ------
    BadInput
        An argument is out of range; the message names it.

    Notes
    -----
    The statistic is the one of Tarone 1979, Biometrika 66:585-590, which is the most sensitive to small beta-binomial
    clustering; its chance is that of dealing the faulty specimens out to the lots at random (multivariate
    hypergeometric).
    """
    some, total = check.lots_tested(faulty_by_lot, tested_by_lot)
    faulty, tested = int(some.sum()), int(total.sum())
    statistic = float(((some - total * (faulty / max(tested, 1))) ** 2).sum())
    dealing = SpecimensToLots(total.astype(np.int64), faulty)
    chance = _Chance("permutation of specimens", draws, seed)
    return chance.outcome(statistic, dealing, dealing.score(some.astype(np.int64)))


def lots_against_peers(
    faulty_by_lot: ArrayLike,
    tested_by_lot: ArrayLike,
    peer_faulty_by_lot: ArrayLike,
    peer_tested_by_lot: ArrayLike,
    *,
    draws: int = DRAWS,
    seed: int = 0,
) -> TestOutcome:
    """Test by permutation of whole lots whether one group of lots is faulty more or less often than its peers.

    Parameters
    ----------
    faulty_by_lot, tested_by_lot, peer_faulty_by_lot, peer_tested_by_lot
        Whole numbers, one a lot, 0 <= faulty <= tested.
    draws
        Random permutations of the lots if there are too many to count, at least 1.
    seed
        Seed of their generator, a whole number from 0.

    Returns
    -------
    Outcome
        The statistic is the rate of the first group minus the peers'; the p-value is two-sided. 0 and 1 when a group
        has no lot.

    Raises
    ------
    BadInput
        An argument is out of range; the message names it.

    Notes
    -----
    Specimens of one lot stay together, so that they may be as alike as they like: permutation by cluster, as in Gail
    et al. 1996, Stat Med 15:1069-1092.
    """
    some, total = check.lots_tested(faulty_by_lot, tested_by_lot)
    peer_some, peer_total = check.lots_tested(peer_faulty_by_lot, peer_tested_by_lot, PEER)
    chance = _Chance("permutation of lots", draws, seed)
    if not len(some) or not len(peer_some):
        return TestOutcome(0.0, 1.0, chance.name)
    faulty, tested = (np.concatenate(both).astype(np.int64) for both in ((some, peer_some), (total, peer_total)))
    dealing = LotsToGroups(faulty, tested, min(len(some), len(peer_some)))
    difference = float(some.sum() / total.sum() - peer_some.sum() / peer_total.sum())
    return chance.outcome(difference, dealing, dealing.score(int(some.sum()), int(total.sum())))


def homogeneity(table: ArrayLike, *, draws: int = DRAWS, seed: int = 0) -> TestOutcome:
    """Test whether the rows of a table of counts differ: lots by grade, say.

    Parameters
    ----------
    table
        Whole numbers from 0, one row a lot, one column a class; empty rows and columns are left out.
    draws
        Random tables with the same margins if the table is larger than 2 x 2, at least 1.
    seed
        Seed of their generator, a whole number from 0.

    Returns
    -------
    Outcome
        The statistic is Pearson's chi-square; the p-value is the chance of a table no likelier than this one, given
        its margins. 0 and 1 when fewer than two rows or columns are left.

    Raises
    ------
    BadInput
        An argument is out of range; the message names it.

    Notes
    -----
    Freeman & Halton 1951, Biometrika 38:141-149: Fisher's exact test for r x c tables, by scipy.
    """
    counts = check.whole("table", table)
    if counts.ndim != 2:
        raise bad("table", f"shape {counts.shape}", "rows and columns")
    counts = counts[counts.any(axis=1)][:, counts.any(axis=0)].astype(np.int64)
    chance = _Chance("Fisher-Freeman-Halton", draws, seed)
    if min(counts.shape) < 2:
        return TestOutcome(0.0, 1.0, chance.name)
    from scipy.stats import MonteCarloMethod, chi2_contingency, fisher_exact

    statistic = float(chi2_contingency(counts, correction=False).statistic)
    if counts.shape == (2, 2):
        return TestOutcome(statistic, float(fisher_exact(counts).pvalue), f"{chance.name}, exact")
    method = MonteCarloMethod(n_resamples=chance.draws, rng=np.random.default_rng(chance.seed))
    return TestOutcome(
        statistic, float(fisher_exact(counts, method=method).pvalue), f"{chance.name}, {chance.draws} draws"
    )


def lot_against_others(faulty_by_lot: ArrayLike, tested_by_lot: ArrayLike) -> FloatArray:
    """Test each lot of a paint against the paint's other lots taken together.

    Parameters
    ----------
    faulty_by_lot, tested_by_lot
        Whole numbers, one a lot, 0 <= faulty <= tested.

    Returns
    -------
    array
        For each lot the one-sided p-value: the chance that a lot of its size holds at least so many of the faulty
        specimens. 1 for a lot without faulty specimens, and when there is no other lot.

    Raises
    ------
    BadInput
        A count is out of range; the message names it.

    Notes
    -----
    Fisher 1935, J R Stat Soc 98:39-82: the exact test of a 2 x 2 table, as a hypergeometric tail from scipy. The
    p-values of one paint are many comparisons: see `multiple`.
    """
    some, total = check.lots(faulty_by_lot, tested_by_lot)
    from scipy.stats import hypergeom

    tail: FloatArray = hypergeom.sf(some - 1, total.sum(), some.sum(), total)
    return np.clip(np.where(some > 0, tail, 1.0), 0.0, 1.0)


@dataclass(frozen=True)
class _Chance:
    """How chance is found: the name of the test, and draws and seed for when it cannot be counted."""

    name: str
    draws: int
    seed: int

    def __post_init__(self) -> None:
        check.one_whole("draws", self.draws, 1)
        check.one_whole("seed", self.seed)

    def outcome(self, statistic: float, dealing: SpecimensToLots | LotsToGroups, observed: float) -> TestOutcome:
        """Count exactly if the work allows it, else draw."""
        if dealing.work <= EXACT_WORK:
            return TestOutcome(statistic, dealing.exact_p_value(observed), f"{self.name}, exact")
        p_value = dealing.drawn_p_value(observed, self.draws, self.seed)
        return TestOutcome(statistic, p_value, f"{self.name}, {self.draws} draws")
