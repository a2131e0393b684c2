"""Results kept as columns, compressed: ``{name of a field: its value in each ledger}``, JSON in xz."""

import json
import lzma
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

RESULTS = Path(__file__).parent / "results"
SUFFIX = ".json.xz"

Row = Mapping[str, Any]


def place_of(name: str) -> Path:
    """Return the file that what is kept of a scenario lies in."""
    return RESULTS / f"{name}{SUFFIX}"


def names() -> list[str]:
    """Return the scenarios something is kept of, in the order of their names."""
    return sorted(place.name.removesuffix(SUFFIX) for place in RESULTS.glob(f"*{SUFFIX}") if "ledger" in _read(place))


def rows(name: str) -> list[dict[str, Any]]:
    """Return what is kept of each ledger of a scenario, in their order; none where it was not run."""
    columns = _read(place_of(name))
    return [dict(zip(columns, values, strict=True)) for values in zip(*columns.values(), strict=True)]


def keep(name: str, found: Sequence[Row]) -> None:
    """Keep what was found in each ledger; the file is written whole or not at all.

    Raises
    ------
    ValueError
        When two ledgers do not tell the same fields.
    """
    fields = list(found[0])
    if any(list(row) != fields for row in found):
        raise ValueError(f"{name}: not every ledger tells {', '.join(fields)}")
    write(name, {field: [row[field] for row in found] for field in fields})


def write(name: str, columns: Mapping[str, Sequence[Any]]) -> None:
    """Write columns."""
    RESULTS.mkdir(exist_ok=True)
    part = place_of(name).with_suffix(".part")
    part.write_bytes(lzma.compress(json.dumps(columns, separators=(",", ":")).encode(), preset=9))
    part.replace(place_of(name))


def column(name: str, field: str) -> list[Any] | None:
    """Return one column; None where nothing is kept."""
    return _read(place_of(name)).get(field)


def _read(place: Path) -> dict[str, list[Any]]:
    return json.loads(lzma.decompress(place.read_bytes())) if place.exists() else {}
