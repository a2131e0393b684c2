"""How a value of each type is kept in a column, the same on both databases: as text, whole number, real or bytes."""

import json
from collections.abc import Callable
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from typing import Any

from sqlalchemy import BigInteger, Dialect, Double, Integer, LargeBinary, Text
from sqlalchemy.types import REAL, TypeDecorator, TypeEngine

from qcledger.ledger.chain import canonical, utc_text, utc_time
from qcledger.ledger.packed import pack, unpack
from qcledger.ledger.told import Unreadable

TEXT = Text().with_variant(Text(collation="C"), "postgresql")
"""Text compared byte by byte, so that both databases sort alike."""

WHOLE = BigInteger().with_variant(Integer(), "sqlite")
REALS: TypeEngine[float] = Double().with_variant(REAL(), "sqlite")


class SpelledType(TypeDecorator[Any]):
    """A type that is kept as another.

    Parameters
    ----------
    write, read
        Turn a value into what is kept, and back.
    kept
        The type of what is kept.
    """

    impl: TypeEngine[Any] | type[TypeEngine[Any]] = Text
    cache_ok = True

    def __init__(self, write: Callable[[Any], Any], read: Callable[[Any], Any], kept: TypeEngine[Any] = TEXT) -> None:
        super().__init__()
        self.write, self.read, self.kept = write, read, kept
        self.impl = kept

    def process_bind_param(self, value: Any, dialect: Dialect) -> Any:
        """Return what is kept for a value."""
        return None if value is None else self.write(value)

    def result_processor(self, dialect: Dialect, coltype: object) -> Callable[[Any], Any]:
        """Return what makes the value of what is kept; called once a cell, so nothing stands in between."""
        return self.value

    def value(self, value: Any) -> Any:
        """Return the value of what is kept; raises Unreadable for what this program never wrote."""
        try:
            return None if value is None else self.read(value)
        except (ValueError, TypeError, ArithmeticError) as error:
            raise Unreadable(value) from error


MOMENT = SpelledType(utc_text, utc_time)

DIGITS = SpelledType(bytes.fromhex, bytes.hex, LargeBinary())
"""Hexadecimal digits, two to the byte: what a hash or a salt is written in."""

BODY = SpelledType(pack, unpack, LargeBinary())
"""The body of an entry, see `packed`."""

_KEPT: dict[type[Any], TypeEngine[Any]] = {
    str: TEXT,
    int: WHOLE,
    float: REALS,
    bool: SpelledType(int, bool, Integer()),
    Decimal: SpelledType(lambda value: format(value, "f"), Decimal),
    date: SpelledType(date.isoformat, date.fromisoformat),
    datetime: MOMENT,
    tuple: SpelledType(lambda texts: canonical(list(texts)), lambda text: tuple(json.loads(text))),
}


def kept(kind: type[Any]) -> TypeEngine[Any]:
    """Return the column type for a field of a Python type, as `records.Column.type` names it."""
    return SpelledType(str, kind) if issubclass(kind, StrEnum) else _KEPT[kind]
