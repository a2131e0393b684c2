"""Plain frozen rows that every layer may speak.

Each class below is one table of the ledger, one CSV of an exchange folder and one kind of entry, all under the
name in ``TABLES``. The types say what may stand in a field: the ledger checks them at its door, builds its columns
and CHECK constraints from them, and the exchange reads and writes text by them. Times are UTC; money is counted in
the currency's smallest coin; volumes are millilitres and masses grams.
"""

from qcledger.records.chain import Entry
from qcledger.records.fields import FieldType, Record, Ref, columns, is_digest
from qcledger.records.paid import PaidPiece
from qcledger.records.public import (
    Card,
    ExchangeRate,
    MakerAnswer,
    Publication,
    Question,
    ReaderNote,
    Redaction,
    Statement,
)
from qcledger.records.rows import SHARED, TABLES
from qcledger.records.stock import (
    Daybook,
    Import,
    LabelVersion,
    Lot,
    Maker,
    Paint,
    Parcel,
    Preparation,
    Range,
    SameAs,
    Seller,
    Specimen,
    Zone,
)
from qcledger.records.tested import Piece, TestedRow, TestedRows, Told
from qcledger.records.work import (
    Comparison,
    Condition,
    Decision,
    Observation,
    Photo,
    RubricText,
    RunRow,
    Session,
    Sheet,
    Stage,
    Trial,
)

__all__ = [
    "SHARED",
    "TABLES",
    "Card",
    "Comparison",
    "Condition",
    "Daybook",
    "Decision",
    "Entry",
    "ExchangeRate",
    "FieldType",
    "Import",
    "LabelVersion",
    "Lot",
    "Maker",
    "MakerAnswer",
    "Observation",
    "PaidPiece",
    "Paint",
    "Parcel",
    "Photo",
    "Piece",
    "Preparation",
    "Publication",
    "Question",
    "Range",
    "ReaderNote",
    "Record",
    "Redaction",
    "Ref",
    "RubricText",
    "RunRow",
    "SameAs",
    "Seller",
    "Session",
    "Sheet",
    "Specimen",
    "Stage",
    "Statement",
    "TestedRow",
    "TestedRows",
    "Told",
    "Trial",
    "Zone",
    "columns",
    "is_digest",
]
