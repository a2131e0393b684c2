"""``qcledger`` alone: the pages on a ledger."""

from pathlib import Path

from qcledger.errors import LedgerUnavailable
from qcledger.screens.start import need_terminal, run_pages
from qcledger.settings import default_ledger


def open_pages(where: str | None) -> int:
    """Open the pages on the ledger named on the command line, or on the default one; return the exit code.

    Raises
    ------
    LedgerUnavailable
        When there is no terminal, or no ledger yet; then it says how to begin one.
    """
    need_terminal()
    place = where or default_ledger()
    if isinstance(place, Path) and not place.exists():
        raise LedgerUnavailable(
            f"There is no ledger yet at {place}; begin one: qcledger start --letters AB --tester NAME"
        )
    return run_pages(place)
