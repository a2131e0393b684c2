"""What was bought beside what was looked at: grading only what shows a fault must not read as a rate."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from qcledger.findings.evidence import Evidence
from qcledger.records import Piece
from qcledger.vocab import TAKEN_BACK


@dataclass(frozen=True, eq=False)
class BoughtPieces:
    """Every piece that was bought, and which of them were looked at on each criterion.

    Parameters
    ----------
    pieces
        What was bought, by sticker.
    evidence
        Of the whole ledger: what was looked at anywhere was looked at.
    """

    pieces: tuple[Piece, ...]
    evidence: Evidence

    def unseen(self, criterion: str, maker: str, format_: str) -> tuple[Piece, ...]:
        """Return the pieces of a maker's format that nobody has looked at on a criterion."""
        seen = self._seen.get(criterion, set())
        return tuple(one for one in self._of_cell.get((maker, format_), ()) if one.specimen not in seen)

    @cached_property
    def _of_cell(self) -> Mapping[tuple[str, str], list[Piece]]:
        found: dict[tuple[str, str], list[Piece]] = defaultdict(list)
        for one in self.pieces:
            found[one.maker, one.format].append(one)
        return found

    @cached_property
    def _seen(self) -> Mapping[str, set[str]]:
        """Specimens that were looked at, by criterion; what could not be judged was looked at, a slip was not."""
        found: dict[str, set[str]] = defaultdict(set)
        for criterion, specimen in self.evidence.rows.together("criterion", "specimen"):
            found[criterion].add(specimen)
        for row in (unit.row for unit in (*self.evidence.missing, *(left.unit for left in self.evidence.aside))):
            if row.why_not != TAKEN_BACK:
                found[row.criterion].add(row.specimen)
        return found
