"""Everything a tester has recorded: entries in hash chains, the tables made from them, and photos.

Only this package speaks SQL.
"""

from qcledger.ledger.backup import clean, restore
from qcledger.ledger.ledger import Ledger
from qcledger.ledger.sources import Sources, new_id

__all__ = ["Ledger", "Sources", "clean", "new_id", "restore"]
