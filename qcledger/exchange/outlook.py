"""What bringing a spreadsheet in would do, to be looked at before it is done."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Final

from qcledger.errors import BadInput
from qcledger.exchange.account import LEFT, STATES, RowTold
from qcledger.exchange.columnmap import load
from qcledger.exchange.mapped import plan_mapped
from qcledger.exchange.plan import ImportPlan, try_out
from qcledger.ledger import Ledger
from qcledger.ledger.progress import Progress, untold
from qcledger.settings import Settings

EVERYTHING, GRANTED = "everything", "taken for granted"
KINDS: Final = (EVERYTHING, *STATES, GRANTED)
"""What of a look may be shown by itself."""


@dataclass(frozen=True)
class Outlook:
    """What would become of each row of a spreadsheet.

    Parameters
    ----------
    rows
        The rows in their order, then what is no row.
    granted
        What was taken for granted on the way, a text each.
    plan
        What would come in; None where rows are refused.
    refused
        The refusal, where rows are.
    """

    rows: Sequence[RowTold]
    granted: Sequence[str]
    plan: ImportPlan | None
    refused: BadInput | None

    @cached_property
    def counts(self) -> Mapping[str, int]:
        """How many there are of each of `KINDS`; of `LEFT`, lines that are no rows and rows with cells left out."""
        found = Counter(row.state for row in self.rows)
        found |= {EVERYTHING: len(self.rows) + len(self.granted), GRANTED: len(self.granted)}
        found[LEFT] = sum(row.leaves_out for row in self.rows)
        return {kind: found[kind] for kind in KINDS}

    def only(self, kind: str) -> Sequence[RowTold]:
        """Return the rows of one of `KINDS`; what was taken for granted is no row."""
        if kind == LEFT:
            return [row for row in self.rows if row.leaves_out]
        return [row for row in self.rows if kind in (EVERYTHING, row.state)]


def look_ahead(
    ledger: Ledger,
    path: Path,
    map_file: Path,
    *,
    settings: Settings,
    called: str | None = None,
    progress: Progress = untold,
) -> Outlook:
    """Return what bringing in a spreadsheet through a map would do; every check of the real import is made.

    Parameters
    ----------
    ledger
        The ledger the rows are for; nothing is written to it.
    path, map_file
        The spreadsheet, and the file that says what its columns hold.
    settings
        The mark before decimals, and the currency of prices that name none.
    called
        What the sheet is called; what the map says, or the file's name, if None.
    progress
        Told which row is at work.

    Raises
    ------
    BadInput
        When file or map cannot be read, or the sheet is asked about as a whole; rows that are refused raise nothing.
    """
    told, granted = list[RowTold](), list[str]()
    column_map = load(map_file)
    try:
        plan = plan_mapped(
            ledger, path, column_map, settings=settings, beside=map_file.parent, called=called,
            progress=progress, told=told, granted=granted,
        )  # fmt: skip
        try_out(ledger, plan)
    except BadInput as error:
        if not told:
            raise
        return Outlook(told, granted, None, error)
    return Outlook(told, granted, plan, None)
