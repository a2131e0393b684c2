"""The page beside the wet paper."""

from qcledger.screens.bench.page import Bench

__all__ = ["Bench"]
