"""The pooled model: faults or grades of all makers in one field, lots and pigments allowed for.

`design.arrange` takes lots, `fit.fit` gives a `summaries.Posterior`, `fair_field.check_units` says how often a fair
field would show as much, `graded.fit_grades` does for grades what `fit` does for faults. The mathematics stands in
guide/model.md.
"""
