"""The README of an exchange folder: the guide's chapter on it, and every table and column below that."""

from collections.abc import Iterator
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from inspect import getdoc

from qcledger.exchange.meanings import ROWS, meaning
from qcledger.records import FieldType, columns
from qcledger.settings import shipped

NAME = "README.md"
CHAPTER = "folder.md"

_HOLDS = {
    str: "text", tuple: "texts", int: "whole", float: "number", Decimal: "number", bool: "yes or no", date: "day",
    datetime: "time",
}  # fmt: skip


def text() -> str:
    """Return the README; it is the same for every ledger."""
    chapter = (shipped("guide") / CHAPTER).read_text(encoding="utf-8")
    return "\n".join([chapter, "## Tables and columns", "*key of* says to which row a cell leads.", *_tables()])


def _tables() -> Iterator[str]:
    for table, kind in ROWS.items():
        yield f"\n### {table}.csv"
        yield _told(kind)
        yield "\n| column | holds | meaning |\n|---|---|---|"
        for column in columns(kind):
            yield f"| `{column.name}` | {_holds(column)} | {meaning(table, column.name)} |"
    yield ""


def _told(kind: type) -> str:
    """Return what the rows of a table are: the first sentence, or line, that their class tells."""
    return (getdoc(kind) or "").partition("\n")[0].replace("``", "`")


def _holds(column: FieldType) -> str:
    if column.refers_to:
        return f"key of {column.refers_to}"
    if issubclass(column.type, StrEnum):
        return ", ".join(option.value for option in column.type)
    return _HOLDS[column.type]
