"""The two levels at which the pooled model accuses, set by calibration, and when a count is clear of one."""

LINE = 0.0075
"""Largest p-value of the fair-field check that still accuses: p is that of one exact fair field, and the promise, at
most 2 % of ledgers, is to hold where rho and the pigments' spread are only guessed from a small one."""
FLOOR = 0.95
"""Least posterior chance of a positive effect of whatever is accused, and of what is put to the check. At 0.975 three
of 57 guilty formats of small fields that passed the check were held back, and none that was fair."""

AGAIN = 15.0
"""Times the line that the check may reach when it is asked again with the worst lot or the worst session left out."""

CLEAR = 1e-3
"""Drawing stops early when the share so far would be this unlikely on the other side of the line."""


def is_clear(k: int, fields: int, line: float) -> bool:
    """Return whether `k` of `fields` is clearly on one side of `line`, so that drawing more is no use."""
    from scipy.special import bdtr, bdtrc  # only where something is under suspicion

    few, many = bdtr(k, fields, line), bdtrc(k - 1, fields, line) if k else 1.0
    return bool(few < CLEAR or many < CLEAR)
