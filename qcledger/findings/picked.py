"""Parcels of which some pieces were looked at for a fault at unpacking, and others were not."""

from dataclasses import dataclass

from qcledger.findings.evidence import Unit
from qcledger.findings.finding import Finding
from qcledger.records import Piece, TestedRow
from qcledger.vocab import Occasion


@dataclass(frozen=True, slots=True)
class Picked:
    """One such parcel: what counts of it, one at least, and the pieces that nobody looked at."""

    units: tuple[Unit, ...]
    more: tuple[Piece, ...]

    @property
    def row(self) -> TestedRow:
        """Any row of the parcel."""
        return self.units[0].row

    @property
    def faulty(self) -> int:
        """How many of those looked at are faulty."""
        return sum(bool(unit.faulty) for unit in self.units)


def picked(finding: Finding) -> tuple[Picked, ...]:
    """Return the parcels of a finding that were looked at in part, those bought first.

    Only at unpacking does the tester grade what strikes the eye; at the bench a sheet says what is judged.
    """
    if finding.criterion.seen_at is not Occasion.UNPACKING or not finding.unseen:
        return ()
    units: dict[str, list[Unit]] = {}
    for unit in sorted((unit for lot in finding.lots for unit in lot.units), key=_bought):
        units.setdefault(unit.row.parcel, []).append(unit)
    more: dict[str, list[Piece]] = {}
    for piece in finding.unseen:
        more.setdefault(piece.parcel, []).append(piece)
    return tuple(Picked(tuple(own), tuple(more[parcel])) for parcel, own in units.items() if parcel in more)


def _bought(unit: Unit) -> tuple[str, str]:
    return unit.row.bought_on.isoformat(), unit.row.parcel
