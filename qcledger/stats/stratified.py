"""A test that compares lots within strata: only lots of the same stratum are ever exchanged."""

from collections.abc import Hashable, Iterable
from functools import lru_cache
from math import comb

import numpy as np
from numpy.typing import NDArray

from qcledger.errors import bad

STEPS = 60
"""A lot's rate is scored in sixtieths: exact for lots of 1 to 6 specimens, and to 1 in 120 for others."""

Ints = NDArray[np.intp]
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
    number: dict[Hashable, int] = {}
    rows = [(number.setdefault(stratum, len(number)), *told) for stratum, *told in lots]
    stratum, suspected, faulty, tested = np.array(rows, np.intp).reshape(-1, 4).T
    return columns_above_peers(stratum, suspected > 0, faulty, tested)


def columns_above_peers(stratum: Ints, suspected: NDArray[np.bool_], faulty: Ints, tested: Ints) -> float:
    """Return what `lots_above_peers` does, from an array for each fact of the lots; strata are numbers from 0."""
    wrong = np.flatnonzero((faulty < 0) | (faulty > tested))
    if len(wrong):
        raise bad("faulty", faulty[wrong[0]], f"0 to {tested[wrong[0]]}, the number tested")
    score, there = np.rint(STEPS * faulty / np.maximum(tested, 1)).astype(np.intp), tested > 0
    lots, drawn, total = (np.bincount(stratum, some) for some in (there, there & suspected, score))
    telling = (drawn > 0) & (drawn < lots) & (total > 0)
    kept = np.flatnonzero(telling[stratum] & there)
    return _chance(stratum[kept], suspected[kept], score[kept])


def _chance(stratum: Ints, suspected: NDArray[np.bool_], score: Ints) -> float:
    """Return the chance from the scores of lots, some of each stratum suspected and some not."""
    score = score // (np.gcd.reduce(score) or 1)
    names, begins, lots = np.unique(stratum, return_index=True, return_counts=True)
    drawn, sorted_scores = np.bincount(stratum, suspected), score[np.lexsort((score, stratum))].tolist()
    ends, sums = np.cumsum(lots), np.ones(1)
    for one in np.argsort(begins).tolist():
        scores = tuple(sorted_scores[ends[one] - lots[one] : ends[one]])
        sums = np.convolve(sums, _sum_of_draw(scores, int(drawn[names[one]])))
    return min(float(sums[score[suspected].sum() :].sum()), 1.0)


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
