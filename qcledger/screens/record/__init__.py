"""Everything that was ever recorded, and a closer look at one of it."""

from qcledger.screens.record.page import RecordPage

__all__ = ["RecordPage"]
