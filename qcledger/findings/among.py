"""Among how many: the lots, paints and parcels that chance could have pointed to; a test of one is corrected by it.

Whoever looks at many lots finds a bad one among sound ones by chance alone. What never could have come out as faulty
as that, given how many were faulty in all, is no comparison: a lot of one specimen, a paint where all is sound.
"""

from typing import NamedTuple
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from qcledger.findings import checks
from qcledger.findings.columns import Ints, in_order, is_first
from qcledger.findings.field import CriterionField
from qcledger.stats.multiple import could_tell, least_exact_p


class Among(NamedTuple):
    """How many lots, paints and parcels of a field a test of one of them is corrected by, each at least 1.

    Parameters
    ----------
    lots
        Lots that could have stood out from the other lots of their paint and format.
    paints
        Paints whose lots could have stood out from the maker's other paints and the pigments' peers.
    parcels
        Parcels of a maker's format whose specimens could have stood out from its other parcels'.

    Notes
    -----
    Tarone 1990, Biometrics 46:515-522.
    """

    lots: int
    paints: int
    parcels: int


_KNOWN: WeakKeyDictionary[CriterionField, dict[float, Among]] = WeakKeyDictionary()


def among(field: CriterionField, level: float) -> Among:
    """Return among how many a field's lots, paints and parcels are; counted once for as long as the field lives.

    Parameters
    ----------
    field
        Where they lie.
    level
        Of the tests; what could not come out at that level is not counted.
    """
    known = _KNOWN.setdefault(field, {})
    if level not in known:
        coded = field.shelf.coded & (field.tested > 0)
        known[level] = Among(_lots(field, coded, level), _paints(field, coded, level), _parcels(field, level))
    return known[level]


def may_name(field: CriterionField) -> bool:
    """Say whether a criterion could name a paint, a parcel or a lot: two specimens at least must have been faulty.

    A criterion without them takes no share of the level.
    """
    return field.counts.faulty >= checks.MIN_FAULTY


def _lots(field: CriterionField, coded: NDArray[np.bool_], level: float) -> int:
    make = field.shelf.make
    tested, faulty = (np.where(coded, some, 0) for some in (field.tested, field.faulty))
    total, total_faulty = (make.sums(some)[make.of_lot] for some in (tested, faulty))
    return _count(tested[coded], total_faulty[coded], total[coded], level)


def _paints(field: CriterionField, coded: NDArray[np.bool_], level: float) -> int:
    lots, bad = (_own_and_beside(field, some) for some in (coded, coded & (field.faulty > 0)))
    return _count(lots[0], bad.sum(axis=0), lots.sum(axis=0), level)


def _parcels(field: CriterionField, level: float) -> int:
    lot = field.evidence_lots
    shown = np.flatnonzero(field.shown[lot])
    cell, parcel = field.shelf.cell.of_lot[lot[shown]], field.shelf.parcel_of_row[field.places[shown]]
    faulty = field.evidence.faulty[field.places[shown]] == 1
    first, both = in_order(cell * (parcel.max(initial=0) + 1) + parcel)
    inside, of_cell = np.bincount(both), cell[first]
    return _count(inside, np.bincount(cell, faulty)[of_cell].astype(np.intp), np.bincount(cell)[of_cell], level)


def _own_and_beside(field: CriterionField, lots: NDArray[np.bool_]) -> Ints:
    """Return of each paint its own of some lots and those beside it, shape (2, paints)."""
    shelf, seen = field.shelf, np.flatnonzero(field.tested > 0)
    paint, kind, size = shelf.paint.of_lot, shelf.kind.of_lot, len(shelf.paint.names)
    own = shelf.paint.sums(lots)
    # One lot of each paint's formats, and one of each paint's kinds, stands for all that lie beside.
    some = seen[is_first(shelf.make.of_lot[seen])]
    siblings = np.bincount(paint[some], shelf.cell.sums(lots)[shelf.cell.of_lot[some]], size) - own
    seen = seen[shelf.declared[seen]]
    some = seen[is_first(paint[seen] * len(shelf.kind.names) + kind[seen])]
    declared, mine = lots & shelf.declared, shelf.maker.of_lot * len(shelf.kind.names) + kind
    theirs = shelf.kind.sums(declared)[kind[some]] - np.bincount(mine, declared)[mine[some]]
    return np.stack([own, siblings + np.bincount(paint[some], theirs, size)]).astype(np.intp)


def _count(inside: Ints, faulty: Ints, total: Ints, level: float) -> int:
    """Return how many groups, with so many `inside` and so many `faulty` of a `total`, could have told anything."""
    some = (np.minimum(inside, faulty) >= checks.MIN_FAULTY) & (inside < total)
    return could_tell(least_exact_p(inside[some], faulty[some], total[some]), level)
