"""Random rows of every table, built from what `records.columns` says of the fields."""

from datetime import UTC, date, datetime
from decimal import Decimal
from enum import StrEnum
from typing import Any

from hypothesis import strategies as st

from qcledger.ledger.limits import limits
from qcledger.records import Entry, FieldType, Record, RubricText, columns
from qcledger.text import clean
from tests.hostile import HOSTILE

LONGEST = 60
"""Longest random text; the codec does not care for length."""

RAW = st.text(st.characters(exclude_categories=["Cs"]), max_size=LONGEST) | st.sampled_from(HOSTILE)


def cleaned(shortest: int, longest: int) -> st.SearchStrategy[str]:
    """Return texts as a ledger keeps them."""
    plain = RAW.map(clean).map(lambda text: text[:longest].strip())
    return plain.filter(lambda text: shortest <= len(text) and clean(text) == text)


def _numbers(column: FieldType) -> st.SearchStrategy[Any]:
    limit = limits(column)
    if column.type is int:
        return st.integers(limit.at_least or 0, limit.at_most or 10**12)
    if column.type is Decimal:
        return st.decimals(min_value="0.0001", max_value="9999999", places=4)
    if limit.step:
        return st.sampled_from([step / 2 for step in range(11)])
    return st.floats(limit.at_least, limit.at_most, allow_nan=False, allow_infinity=False)


def of_column(kind: type, column: FieldType) -> st.SearchStrategy[Any]:
    """Return the values a field may have."""
    found: st.SearchStrategy[Any]
    limit = limits(column)
    if issubclass(column.type, StrEnum):
        found = st.sampled_from(list(column.type))
    elif column.type is str and (kind is Entry or (kind is RubricText and column.name == "text")):
        found = RAW.filter(bool) if column.optional or limit.shortest else RAW
    elif column.type is str and limit.shortest == limit.longest:
        found = st.text("0123456789abcdef", min_size=limit.longest or 0, max_size=limit.longest)
    elif column.type is str:
        found = cleaned(limit.shortest or 0, min(limit.longest or LONGEST, LONGEST))
    elif column.type is tuple:
        found = st.lists(cleaned(1, LONGEST), max_size=4).map(tuple)
    elif column.type is bool:
        found = st.booleans()
    elif column.type is datetime:
        found = st.datetimes(timezones=st.just(UTC))
    elif column.type is date:
        found = st.dates(date(1900, 1, 1), date(2200, 1, 1))
    else:
        found = _numbers(column)
    return st.none() | found if column.optional else found


def rows_of(kind: type[Record] | type[Entry]) -> st.SearchStrategy[Any]:
    """Return random rows of one table."""
    return st.builds(kind, **{column.name: of_column(kind, column) for column in columns(kind)})
