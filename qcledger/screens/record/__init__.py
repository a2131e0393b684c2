"""Everything that was ever recorded, and a closer look at one of it."""

from qcledger.screens.record.page import Record

__all__ = ["Record"]
