"""The two levels at which the pooled model accuses, set by calibration; they load nothing."""

LINE = 0.0075
"""Largest p-value of the fair-field check that still accuses: p is that of one exact fair field, and the promise, at
most 2 % of ledgers, is to hold where rho and the pigments' spread are only guessed from a small one."""
FLOOR = 0.95
"""Least posterior chance of a positive effect of whatever is accused, and of what is put to the check. At 0.975 three
of 57 guilty formats of small fields that passed the check were held back, and none that was fair."""
