"""What counts say of the rate of further specimens and lots, where the pooled model was not asked.

A lot, a paint or a maker that is asked about was picked, for what it showed or for what lies sound beside it. So its
counts are read among those of all others on the criterion: how far their rates are spread says how much of its own is
luck. Where lots are bought a lot counts once, by its share of faulty specimens.
"""

from collections.abc import Sequence
from typing import NamedTuple
from weakref import WeakKeyDictionary

import numpy as np

from qcledger.findings import checks
from qcledger.findings.columns import Ints, LotFact
from qcledger.findings.field import CriterionField
from qcledger.findings.lots import TestedLot
from qcledger.stats.check import FloatArray
from qcledger.stats.further import Betas, rates_of


class Spread(NamedTuple):
    """How rates are spread over the lots, the paints and the makers' formats of a criterion.

    Parameters
    ----------
    lots
        Of specimens of one lot.
    paints, cells
        Of the lots of a paint in a format, and of a maker's format.
    pairs
        Of the lots of a maker's format of which one at least of two specimens is faulty.
    usual
        The rate of faulty specimens of all makers.
    """

    lots: Betas
    paints: Betas
    cells: Betas
    pairs: Betas
    usual: float


_KNOWN: WeakKeyDictionary[CriterionField, Spread] = WeakKeyDictionary()


def of_specimens(field: CriterionField, lot: TestedLot) -> Betas:
    """Return what is known of the rate of a lot's further specimens."""
    return _spread(field).lots.after(lot.faulty, lot.tested)


def of_paint(field: CriterionField, lots: Sequence[TestedLot]) -> Betas:
    """Return what is known of the rate of further lots of the paint that these are of."""
    return _spread(field).paints.after(*_shares(lots))


def of_cell(field: CriterionField, lots: Sequence[TestedLot]) -> Betas:
    """Return what is known of the rate of further lots of the maker's format that these are of."""
    return _spread(field).cells.after(*_shares(lots))


def of_pairs(field: CriterionField, lots: Sequence[TestedLot]) -> Betas:
    """Return what is known of the rate of lots, of the format that these are of, with a fault among two specimens."""
    known = _spread(field)
    faulty, tested = (np.array([getattr(lot, name) for lot in lots], np.intp) for name in ("faulty", "tested"))
    return known.pairs.after(float(_with_a_fault(faulty, tested, known.usual).sum()), len(lots))


def _shares(lots: Sequence[TestedLot]) -> tuple[float, int]:
    return sum(lot.faulty / lot.tested for lot in lots), len(lots)


def _spread(field: CriterionField) -> Spread:
    """Return how rates are spread in a field; worked out once for as long as the field lives."""
    if field not in _KNOWN:
        seen = np.flatnonzero(field.tested > 0)
        faulty, tested = field.faulty[seen], field.tested[seen]
        usual = float(faulty.sum() / tested.sum()) if len(seen) else 0.0

        def over(groups: LotFact, shares: FloatArray) -> Betas:
            group = groups.of_lot[seen]
            return rates_of(zip(np.bincount(group, shares).tolist(), np.bincount(group).tolist(), strict=True))

        _KNOWN[field] = Spread(
            rates_of(zip(faulty.tolist(), tested.tolist(), strict=True)),
            over(field.shelf.make, faulty / tested),
            over(field.shelf.cell, faulty / tested),
            over(field.shelf.cell, _with_a_fault(faulty, tested, usual)),
            usual,
        )
    return _KNOWN[field]


def _with_a_fault(faulty: Ints, tested: Ints, usual: float) -> FloatArray:
    """Return for each lot the chance that one at least of two of its specimens is faulty.

    Of a lot whose one specimen is sound, the second is faulty as usual, less what lots are alike.
    """
    pairs, sound = tested * (tested - 1), tested - faulty
    alone = np.where(faulty > 0, 1.0, usual * (1 - checks.ALIKE))
    found: FloatArray = np.where(pairs > 0, 1 - sound * (sound - 1) / np.maximum(pairs, 1), alone)
    return found
