"""Defect tracker and brand scorecard for people who test artists' paints."""

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping
    from contextlib import AbstractContextManager

    from sqlmodel import Session, SQLModel

    from qcledger.report.frames import Frames

__version__ = "0.1.0"


def read(where: str | Path, *, comparison: str | None = None, wait: bool = True) -> "Frames":
    """Return a ledger's findings, observations and specimens as pandas DataFrames; see `report.frames.read`."""
    from qcledger.report import frames  # here, because nothing heavy is loaded before somebody asks

    return frames.read(where, comparison=comparison, wait=wait)


def tables(where: str | Path) -> "AbstractContextManager[tuple[Session, Mapping[str, type[SQLModel]]]]":
    """Open a ledger for reading as SQLModel classes; see `ledger.models.session`."""
    from qcledger.ledger import models  # here, because nothing heavy is loaded before somebody asks

    return models.session(where)
