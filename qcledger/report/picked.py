"""The loose ends of findings: parcels in which a fault was seen while other pieces of them were not looked at."""

from collections.abc import Iterator

from qcledger.bench.due import Due, LooseEndKind
from qcledger.findings import Findings
from qcledger.findings.picked import picked
from qcledger.findings.wording_of_settling import to_look_at


def half_seen(found: Findings) -> Iterator[Due]:
    """Yield a line for each parcel and criterion where pieces are to hand that settle it, with the first of them."""
    for finding in found.findings:
        for one in picked(finding):
            here = [piece for piece in one.more if piece.to_hand]
            if one.faulty and here:
                yield Due(LooseEndKind.LOOK, to_look_at(finding, one), here[0].specimen)
