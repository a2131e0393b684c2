"""Everything a tester has recorded: entries in hash chains, the tables made from them, and photos.

Only this package speaks SQL.
"""

from qcledger.ledger.backup import clean, restore
from qcledger.ledger.joining import join
from qcledger.ledger.ledger import Ledger
from qcledger.ledger.postgres import AlreadyThere
from qcledger.ledger.sources import Sources, new_id

__all__ = ["AlreadyThere", "Ledger", "Sources", "clean", "join", "new_id", "restore"]
