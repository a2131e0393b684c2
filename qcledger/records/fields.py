"""What a field of a record may hold, said once beside its type and read by every layer."""

import re
from dataclasses import dataclass, fields
from decimal import Decimal
from functools import cache
from types import UnionType
from typing import Annotated, Any, ClassVar, get_args, get_origin, get_type_hints

from annotated_types import Gt, Interval, Len, MultipleOf, Predicate


@dataclass(frozen=True, slots=True)
class Ref:
    """Marks a field that names a row of another table."""

    table: str


_DIGEST = re.compile(r"[0-9a-f]{64}", re.ASCII)


def is_digest(text: str) -> bool:
    """Say whether a text is a SHA-256 as this program spells one: 64 lower-case hexadecimal digits."""
    return _DIGEST.fullmatch(text) is not None


Id = Annotated[str, Len(1, 64)]
Digest = Annotated[str, Len(64, 64), Predicate(is_digest)]
Name = Annotated[str, Len(1, 200)]
Note = Annotated[str, Len(0, 20_000)]
Texts = tuple[Annotated[str, Len(1, 200)], ...]
Sentences = tuple[Annotated[str, Len(1, 2000)], ...]
FormatName = Annotated[str, Len(1, 40)]
StageText = Annotated[str, Len(1, 40)]
Country = Annotated[str, Len(2, 2)]
Grade = Annotated[float, Interval(ge=0, le=5), MultipleOf(0.5)]
Money = Annotated[int, Interval(ge=0, le=10**12)]
Currency = Annotated[str, Len(3, 3)]
Amount = Annotated[Decimal, Gt(0)]


class Record:
    """Base of all rows; `TABLE` is the row's table, CSV and entry kind."""

    __slots__ = ()
    TABLE: ClassVar[str]
    # Read by pydantic where bodies are checked: no field it does not know, no text taken for a number, no infinity.
    __pydantic_config__: ClassVar[dict[str, Any]] = {"extra": "forbid", "strict": True, "allow_inf_nan": False}
    id: str


@dataclass(frozen=True, slots=True)
class FieldType:
    """What a field of a record may hold, read from its annotation.

    Parameters
    ----------
    name
        The field's name, also the column's and the CSV header.
    type
        The bare Python type: ``str``, ``int``, ``float``, ``bool``, ``Decimal``, ``date``, ``datetime``, a
        ``StrEnum`` or ``tuple`` (of texts).
    optional
        Whether the field may be empty.
    limits
        The ``annotated_types`` constraints of the field.
    refers_to
        The table whose id the field holds, if any.
    """

    name: str
    type: type[Any]
    optional: bool
    limits: tuple[object, ...]
    refers_to: str | None


def _bare(hint: Any) -> tuple[Any, bool, tuple[object, ...]]:
    """Split a type hint into its bare type, whether None is allowed, and its Annotated extras."""
    if get_origin(hint) is Annotated:
        inner, *extras = get_args(hint)
        bare, optional, more = _bare(inner)
        return bare, optional, (*more, *extras)
    if isinstance(hint, UnionType) or str(get_origin(hint)) == "typing.Union":
        options = [option for option in get_args(hint) if option is not type(None)]
        bare, _, extras_in = _bare(options[0])
        return bare, True, extras_in
    return (tuple if get_origin(hint) is tuple else hint), False, ()


def columns(record: type) -> tuple[FieldType, ...]:
    """Return the columns of a class of rows (a `Record` or `Entry`), in the order of its fields."""
    return _columns(record)


@cache
def _columns(record: type) -> tuple[FieldType, ...]:
    hints = get_type_hints(record, include_extras=True)
    found = []
    for field in fields(record):
        bare, optional, extras = _bare(hints[field.name])
        refs = [extra.table for extra in extras if isinstance(extra, Ref)]
        limits = tuple(extra for extra in extras if not isinstance(extra, Ref))
        found.append(FieldType(field.name, bare, optional, limits, refs[0] if refs else None))
    return tuple(found)
