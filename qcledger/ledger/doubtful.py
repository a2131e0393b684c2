"""What stands in a ledger and deserves a second look, as lines for its tester."""

from datetime import datetime

from sqlalchemy import Connection

from qcledger.ledger import queries
from qcledger.ledger.disputes import dated_ahead, disputes
from qcledger.ledger.doubts import in_words
from qcledger.ledger.identity import identity
from qcledger.ledger.readmodels import rows_equal
from qcledger.ledger.stickers import alike
from qcledger.records import Specimen


def doubts(connection: Connection, now: datetime) -> list[str]:
    """Return in lines what stands and does not count, stickers on two pieces, disputes and clocks ahead of `now`."""
    twice = alike(row.sticker for row in rows_equal(connection, Specimen, {}))
    return [
        *in_words(queries.doubtful_rows(connection)),
        *(f"two specimens are called {sticker}; give one another sticker" for sticker in twice),
        *(f"disputed: {one.line()}" for one in disputes(connection)),
        *identity(connection).disputed(),
        *dated_ahead(connection, now),
    ]
