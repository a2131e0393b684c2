"""What stands in a ledger and deserves a second look, as lines for its tester."""

from datetime import datetime

from qcledger.ledger.disputes import dated_ahead, disputes
from qcledger.ledger.doubts import in_words
from qcledger.ledger.identity import identity
from qcledger.ledger.readmodels import rows_equal
from qcledger.ledger.tested import Reading
from qcledger.records import Specimen, TestedRows
from qcledger.stickers import alike


def doubts(reading: Reading, tested: TestedRows, now: datetime) -> list[str]:
    """Return in lines what stands and does not count, stickers on two pieces, disputes and clocks ahead of `now`."""
    with reading() as connection:
        twice = alike(row.sticker for row in rows_equal(connection, Specimen, {}))
        return [
            *in_words(tested),
            *(f"two specimens are called {sticker}; give one another sticker" for sticker in twice),
            *(f"disputed: {one.line()}" for one in disputes(connection)),
            *identity(connection).disputed(),
            *dated_ahead(connection, now),
        ]
