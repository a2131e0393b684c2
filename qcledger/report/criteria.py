"""The criteria that observations were graded with, and what the scales at hand say of them since."""

from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING

from qcledger import rubric
from qcledger.bench.scales import scales
from qcledger.errors import QcledgerError
from qcledger.findings.evidence import CriterionOf
from qcledger.rubric import Criterion
from qcledger.settings import rubric_files
from qcledger.vocab import LabelFactKind, Occasion

if TYPE_CHECKING:
    from qcledger.ledger import Ledger


def criteria_of(ledger: "Ledger") -> CriterionOf:
    """Return the look-up of criteria by their rubric's hash and their own key.

    A criterion whose scale at hand says that it states a fact of a label states one in each older version as well:
    what a label says was no sample before either. Fault lines and anchors stay those it was graded with.
    """
    known = scales(ledger)

    @cache
    def criterion_of(hash_: str, key: str) -> Criterion:
        one = known[hash_, key]
        if one.label_fact is not None or one.seen_at is not Occasion.UNPACKING:
            return one
        return replace(one, label_fact=_stated_now(ledger.rubric(hash_).key, key))

    return criterion_of


def _stated_now(scale: str, key: str) -> LabelFactKind | None:
    """Return what a criterion states of a label by the scale at hand; None where there is none that can be read."""
    path = rubric_files().get(scale)
    try:
        found = rubric.load(path).criteria.get(key) if path else None
    except QcledgerError:  # a tester's own file that is being written
        return None
    return found.label_fact if found else None
