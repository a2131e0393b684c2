"""A whole number of coins shared out so that nothing is lost: the method of largest remainders."""

from collections.abc import Sequence
from fractions import Fraction

Weight = int | Fraction


def largest_remainders(total: int, weights: Sequence[Weight]) -> list[int]:
    """Return whole shares of `total` in proportion to weights, which add up to it exactly.

    Each gets the whole part of its quota; what is left goes, one each, to those with the largest remainders, of equal
    ones to the first. Method of Hamilton, or of largest remainders: Balinski & Young 1982, Fair Representation,
    ch. 3 (from memory).

    Parameters
    ----------
    total
        What is shared out, 0 or more.
    weights
        One for each share, 0 or more, not all 0 where there is anything to share.

    Returns
    -------
    list of int
        As many as there are weights; none is more than one away from its quota.

    Raises
    ------
    ValueError
        When something is below 0, or there is something to share and nobody to have it.
    """
    whole = sum(map(Fraction, weights))
    if total < 0 or any(weight < 0 for weight in weights) or (total and not whole):
        raise ValueError(f"{total} cannot be shared by {list(weights)}")
    if not whole:
        return [0] * len(weights)
    quotas = [Fraction(weight) * total / whole for weight in weights]
    shares = [quota.numerator // quota.denominator for quota in quotas]
    first = sorted(range(len(quotas)), key=lambda place: (shares[place] - quotas[place], place))
    for place in first[: total - sum(shares)]:
        shares[place] += 1
    return shares
