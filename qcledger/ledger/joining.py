"""Beginning a daybook of one's own in a ledger on a server that others write in."""

from qcledger.ledger.ledger import Ledger
from qcledger.ledger.sources import REAL, Sources


def join(
    where: str,
    *,
    letters: str,
    tester: str,
    zone: str | None = None,
    although: bool = False,
    sources: Sources = REAL,
) -> tuple[Ledger, bool]:
    """Join a ledger and open it for writing.

    Returns the ledger, and whether the same tester, by letters and name, writes in it already: then what he writes
    here is his, too. With `although` the name may be there already under other letters: two people who have one name.

    Raises
    ------
    BadInput
        When another tester of the ledger has the letters, or one of that name has others, unless `although`.
    LedgerUnavailable
        When this machine has joined already, or may not write there.
    """
    ledger = Ledger.open(where, write=True, begin=False, letters=letters, tester=tester, zone=zone, sources=sources)
    try:
        return ledger, ledger.enter(although=although)
    except BaseException:
        ledger.close()
        raise
