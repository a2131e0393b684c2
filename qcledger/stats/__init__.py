"""Statistics as pure functions over counts and arrays: no database, no records, no clock.

A rate is a share from 0 to 1; a level is a confidence from 0 to 1, two-sided where not said otherwise; a p-value is a
chance from 0 to 1. Nothing is rounded. Where the data say nothing, the answer is the one that claims nothing: an
interval from 0 to 1, a p-value of 1.
"""
