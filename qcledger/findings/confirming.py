"""What was bought to confirm a paint or a lot: it is faulty too, and the claim was there before it.

Whoever buys again because something looked bad looks again. So what confirms a claim is no part of what makes it: a
paint is settled by a new lot from another seller, a lot by a further specimen of it, from any seller.
"""

from collections.abc import Sequence

import numpy as np

from qcledger.findings import checks
from qcledger.findings.columns import Ints
from qcledger.findings.evidence import Unit
from qcledger.findings.field import CriterionField
from qcledger.findings.finding import Check, CheckName, Need
from qcledger.findings.words import out_of
from qcledger.vocab import WhyBought


def latest(units: Sequence[Unit]) -> list[Unit]:
    """Return the specimens bought to confirm in the latest of the parcels that hold some, if there are any."""
    wanted = [unit for unit in units if unit.row.why is WhyBought.TO_CONFIRM]
    last = max(((unit.row.bought_on, unit.row.parcel) for unit in wanted), default=None)
    return [unit for unit in wanted if (unit.row.bought_on, unit.row.parcel) == last]


def fresh_lots(field: CriterionField, numbers: Ints) -> Ints:
    """Return the numbers of a paint's lots that confirm: of the latest parcel, and of another seller than the rest.

    Parameters
    ----------
    field
        Where they lie.
    numbers
        The paint's lots with a batch code.
    """
    lots = dict(zip(numbers.tolist(), field.some(numbers), strict=True))
    last = {unit.row.specimen for unit in latest([unit for lot in lots.values() for unit in lot.units])}
    fresh = {number for number, lot in lots.items() if {unit.row.specimen for unit in lot.units} <= last}
    others = [unit for number, lot in lots.items() if number not in fresh for unit in lot.units]
    sellers = {unit.row.seller for unit in others if unit.faulty}
    return np.array([number for number in sorted(fresh) if lots[number].row.seller not in sellers], np.intp)


def of_paint(field: CriterionField, fresh: Ints, before: Check) -> Check:
    """Return whether a new lot from another seller is faulty too; `before` is the exact test without the new lots."""
    faulty = int((field.faulty[fresh] > 0).sum())
    most = len(fresh) > 0 and faulty >= checks.MOST * len(fresh)
    needed = "a new lot from another seller faulty too, bought to confirm what was there before"
    return _confirmed(_found(faulty, len(fresh)), most and before.met, needed)


def of_lot(further: Sequence[Unit], before: Check, alone: Check) -> Check:
    """Return whether a further specimen of a lot is faulty too, or the exact test says enough by itself.

    Parameters
    ----------
    further
        What was bought of it to confirm.
    before, alone
        The exact test without these, and that of all at the level of the whole scorecard.
    """
    faulty = sum(bool(unit.faulty) for unit in further)
    most = bool(further) and faulty >= checks.MOST * len(further)
    by_itself = f", {alone.found} by itself" if alone.met else ""
    needed = f"a further specimen of the lot faulty too, bought to confirm it, or {alone.needed} by itself"
    return _confirmed(f"{_found(faulty, len(further))}{by_itself}", alone.met or (most and before.met), needed)


def _found(faulty: int, tested: int) -> str:
    return out_of(faulty, tested) if tested else "none bought"


def _confirmed(found: str, met: bool, needed: str) -> Check:
    return Check(CheckName.CONFIRMED, met, found, needed, Need.CONFIRMATION, int(not met))
