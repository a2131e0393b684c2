"""What was worked out, kept on disk by the hash of exactly the data that entered it.

Files are small JSON in the folder of this program's data. Losing them costs time alone: each may be deleted.
"""

import json
import os
from collections.abc import Callable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any, TypeVar

from qcledger.findings.finding import Stress, Without
from qcledger.findings.pooled import Accused, Estimate, Fair, FairFields, Key, Level, Pooled, Reach
from qcledger.settings import data_folder

T = TypeVar("T")

MOST_FILES = 2000
"""Files kept; beyond that the oldest go."""


class Store:
    """Answers by their hash.

    Parameters
    ----------
    folder
        Where they are kept; it is made when the first is put there. None: a folder beside the ledgers.
    """

    def __init__(self, folder: Path | None = None) -> None:
        self._folder = folder or data_folder() / "worked_out"
        self._read: dict[str, Pooled | Stress] = {}

    def pooled(self, key: str) -> Pooled | None:
        """Return the model's answer with this hash; None when it is not there or cannot be read."""
        return self._get(key, _to_pooled)

    def stress(self, key: str) -> Stress | None:
        """Return the outcome of the stress checks with this hash; None when it is not there or cannot be read."""
        return self._get(key, _to_stress)

    def put(self, key: str, found: Pooled | Stress) -> None:
        """Keep `found`; a folder that cannot be written to keeps it for this run alone."""
        self._read[key] = found
        plain = _pooled(found) if isinstance(found, Pooled) else _stress(found)
        with suppress(OSError):
            self._folder.mkdir(parents=True, exist_ok=True)
            part = self._path(key).with_suffix(f".{os.getpid()}")
            part.write_text(json.dumps(plain, separators=(",", ":")), encoding="utf-8")
            part.replace(self._path(key))
            self._thin()

    def _get(self, key: str, shape: Callable[[Any], T]) -> T | None:
        if key not in self._read:
            # A file cut short, or changed by hand, is worked out again.
            with suppress(OSError, ValueError, TypeError, KeyError, AttributeError):
                self._read[key] = shape(json.loads(self._path(key).read_text(encoding="utf-8")))  # type: ignore[assignment]
        return self._read.get(key)  # type: ignore[return-value]

    def _path(self, key: str) -> Path:
        return self._folder / f"{key}.json"

    def _thin(self) -> None:
        kept = sorted(self._folder.glob("*.json"), key=lambda path: path.stat().st_mtime)
        for path in kept[:-MOST_FILES]:
            path.unlink(missing_ok=True)


def _pooled(found: Pooled) -> dict[str, Any]:
    """Return plain values; each mapping as a list of keys with values."""
    return {
        **{
            name: [[list(key), value] for key, value in getattr(found, name).items()]
            for name in (*_REACHES, *_LEVELS)
        },
        "fair": [[list(key), value] for key, value in found.fair.items()],
        "line": found.line,
        "warnings": list(found.warnings),
        "remarks": list(found.remarks),
        "drawn": [[list(key), value] for key, value in found.drawn.items()],
    }


_REACHES = ("cells", "makers")
_LEVELS = ("formats", "pigments", "paints", "lots")


def _to_pooled(plain: Mapping[str, Any]) -> Pooled:
    cells, makers = (_by_key(plain[name], _to_reach) for name in _REACHES)
    formats, pigments, paints, lots = (_by_key(plain[name], _to_level) for name in _LEVELS)
    return Pooled(
        cells=cells,
        makers=makers,
        formats=formats,
        pigments=pigments,
        paints=paints,
        lots=lots,
        fair={_to_accused(key): Fair(*values) for key, values in plain["fair"]},
        line=float(plain["line"]),
        warnings=tuple(map(str, plain["warnings"])),
        remarks=tuple(map(str, plain["remarks"])),
        drawn={_to_accused(key): _to_drawn(values) for key, values in plain["drawn"]},
    )


def _by_key(items: Any, shape: Callable[[Any], T]) -> dict[Key, T]:
    return {tuple(map(str, key)): shape(values) for key, values in items}


def _to_reach(values: Any) -> Reach:
    rate, excess, above, far_above, curve = values
    return Reach(Estimate(*rate), Estimate(*excess), float(above), float(far_above), tuple(curve))


def _to_level(values: Any) -> Level:
    rate, above = values
    return Level(Estimate(*map(float, rate)), float(above))


def _to_drawn(values: Any) -> FairFields:
    held, fields, strongest = values
    return FairFields(tuple(map(float, held)), int(fields), tuple(map(float, strongest)))


def _to_accused(key: Any) -> Accused:
    maker, format_ = key
    return str(maker), None if format_ is None else str(format_)


def _stress(found: Stress) -> dict[str, Any]:
    return {"checks": [list(one) for one in found.checks], "fields": found.fields}


def _to_stress(plain: Any) -> Stress:
    return Stress(
        tuple(
            Without(str(kind), str(what), bool(stands), bool(little), None if strong is None else int(strong))
            for kind, what, stands, little, strong in plain["checks"]
        ),
        int(plain["fields"]),
    )
