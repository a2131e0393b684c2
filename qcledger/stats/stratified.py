"""A test that compares lots within strata: only lots of the same stratum are ever exchanged."""

from collections.abc import Hashable, Iterable, Sequence
from functools import lru_cache
from math import comb, gcd

import numpy as np
from numpy.typing import NDArray

from qcledger.errors import bad

STEPS = 60
"""A lot's rate is scored in sixtieths: exact for lots of 1 to 6 specimens, and to 1 in 120 for others."""

StratifiedLot = tuple[Hashable, bool, int, int]
"""A lot: its stratum, whether it is under suspicion, its faulty and its tested specimens."""


def lots_above_peers(lots: Iterable[StratifiedLot]) -> float:
    """Return the chance that lots under suspicion come out as faulty as they did, or more, beside their peers.

    Parameters
    ----------
    lots
        Stratum, whether suspected, and 0 <= faulty <= tested of each lot; one of which nothing was tested is no lot.

    Returns
    -------
    float
        Share of all exchanges of lots within strata in which the rates of the suspected lots sum to what was seen or
        more. 1 when nothing can be exchanged or nothing is faulty.

    Raises
    ------
    BadInput
        A count is out of range.

    Notes
    -----
    An exact one-sided permutation test (Fisher 1935, The Design of Experiments, ch. III), stratified as in van
    Elteren 1960, Bull Int Stat Inst 37:351-361, with lots as units and their rates as scores; counted in full.
    """
    strata: dict[Hashable, tuple[list[int], list[int]]] = {}
    for stratum, suspected, faulty, tested in lots:
        if not 0 <= faulty <= tested:
            raise bad("faulty", faulty, f"0 to {tested}, the number tested")
        if tested:
            strata.setdefault(stratum, ([], []))[not suspected].append(round(STEPS * faulty / tested))
    return _chance([pair for pair in strata.values() if all(pair) and any((*pair[0], *pair[1]))])


def _chance(strata: Sequence[tuple[list[int], list[int]]]) -> float:
    """Return the chance from the scores of each stratum's suspected lots and their peers."""
    unit = gcd(*(score for pair in strata for scores in pair for score in scores)) or 1
    sums, seen = np.ones(1), 0
    for ours, theirs in strata:
        sums = np.convolve(sums, _sum_of_draw(tuple(sorted(score // unit for score in (*ours, *theirs))), len(ours)))
        seen += sum(ours) // unit
    return min(float(sums[seen:].sum()), 1.0)


@lru_cache(maxsize=1024)
def _sum_of_draw(scores: tuple[int, ...], drawn: int) -> NDArray[np.float64]:
    """Return the chance of each sum of `drawn` of `scores`, in rising order, drawn without replacement.

    Strata are small and alike, so most of a large ledger's were met before.

    Row j of the table is for j of the scores above 0 met so far, any j of them alike: the last one met is among them
    with chance j/met. How many of those drawn are above 0 is hypergeometric.
    """
    above = [score for score in scores if score]
    most = min(drawn, len(above))
    table = np.zeros((most + 1, sum(above[-most:]) + 1))
    table[:, 0] = 1
    number = np.arange(most + 1)[:, None]
    for met, score in enumerate(above, 1):
        with_it = np.zeros_like(table)
        with_it[1:, score:] = table[:-1, : table.shape[1] - score]
        among = np.minimum(number / met, 1)
        table = (1 - among) * table + among * with_it
    zeros, ways = len(scores) - len(above), comb(len(scores), drawn)
    weights = [comb(len(above), j) * comb(zeros, drawn - j) / ways for j in range(most + 1)]
    chances: NDArray[np.float64] = np.asarray(weights) @ table
    chances.flags.writeable = False
    return chances
