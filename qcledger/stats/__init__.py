"""Statistics as pure functions over counts and arrays: no database, no records, no clock.

`proportion`    intervals for one rate of independent units
`difference`    differences and ratios of two rates
`clustered`     intervals for one rate when specimens come in lots, and the density that is drawn
`homogeneity`   do faults gather in some lots, or in one of two groups of lots
`stratified`    the same within strata
`permutation`   chance counted exactly or drawn, behind those tests
`multiple`      p-values of many comparisons
`funnel`        limits around a common rate
`ordinal`       grades side by side
`detection`     how many units it takes
`agreement`     two looks at the same pieces: shares and weighted kappa
`alpha`         two or more testers with gaps: Krippendorff's alpha
`apart`         which neighbouring grades are told apart
`precision`     repeatability and reproducibility of readings
`predictive`    how well peers predict a grade, and how well all others do, in bits
`moved`         sessions that graded otherwise than the others
`control_chart` readings of a control over sessions
`trend`         drift within and between sessions
`timed`         readings that stop at a limit: medians and log-rank
`check`         what the arguments must be

A rate is a share from 0 to 1; a level is a confidence from 0 to 1, two-sided where not said otherwise; a p-value is a
chance from 0 to 1. Nothing is rounded. Where the data say nothing, the answer is the one that claims nothing: an
interval from 0 to 1, a p-value of 1.
"""
