"""The tables of a ledger, and which of them are shared."""

from collections.abc import Mapping
from types import MappingProxyType

from qcledger.records.fields import Record
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

TABLES: Mapping[str, type[Record]] = MappingProxyType(
    {
        record.TABLE: record
        for record in (
            Daybook,
            Zone,
            Import,
            Maker,
            Range,
            Paint,
            Seller,
            SameAs,
            LabelVersion,
            Lot,
            Parcel,
            Specimen,
            Preparation,
            RubricText,
            Comparison,
            Session,
            Stage,
            Condition,
            Sheet,
            RunRow,
            Trial,
            Observation,
            Photo,
            Decision,
            ReaderNote,
            Question,
            MakerAnswer,
            Publication,
            Statement,
            Card,
            ExchangeRate,
            Redaction,
        )
    }
)
"""Every table by name, each after the tables it refers to."""

SHARED: frozenset[type[Record]] = frozenset({Maker, Range, Paint, Seller, Lot, RubricText, Comparison})
"""Things that are the same for every tester: what several daybooks say of one unites, and nothing is refused.

Everything else belongs to the daybook that made it.
"""
