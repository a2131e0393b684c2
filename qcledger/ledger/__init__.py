"""Everything a tester has recorded: entries in hash chains, the tables made from them, and photos.

Only this package speaks SQL.
"""

from qcledger.ledger.backup import restore
from qcledger.ledger.ledger import Ledger
from qcledger.ledger.sources import Sources, new_id

__all__ = ["Ledger", "Sources", "new_id", "restore"]
