"""Plain frozen rows that every layer may speak.

Each class below is one table of the ledger, one CSV of an exchange folder and one kind of entry, all under the
name in ``TABLES``. The types say what may stand in a field: the ledger checks them at its door, builds its columns
and CHECK constraints from them, and the exchange reads and writes text by them. Times are UTC; money is counted in
the currency's smallest coin; volumes are millilitres and masses grams.
"""

from qcledger.records.chain import Entry
from qcledger.records.fields import Column, Record, Ref, columns, is_digest
from qcledger.records.rows import (
    TABLES,
    Comparison,
    Daybook,
    Decision,
    ExchangeRate,
    LabelVersion,
    Lot,
    Maker,
    MakerAnswer,
    Observation,
    Paint,
    Parcel,
    Photo,
    Preparation,
    ReaderNote,
    Redaction,
    RubricText,
    RunRow,
    Session,
    Sheet,
    Specimen,
    Stage,
    Trial,
)
from qcledger.records.tested import Piece, TestedRow

__all__ = [
    "TABLES",
    "Column",
    "Comparison",
    "Daybook",
    "Decision",
    "Entry",
    "ExchangeRate",
    "LabelVersion",
    "Lot",
    "Maker",
    "MakerAnswer",
    "Observation",
    "Paint",
    "Parcel",
    "Photo",
    "Piece",
    "Preparation",
    "ReaderNote",
    "Record",
    "Redaction",
    "Ref",
    "RubricText",
    "RunRow",
    "Session",
    "Sheet",
    "Specimen",
    "Stage",
    "TestedRow",
    "Trial",
    "columns",
    "is_digest",
]
