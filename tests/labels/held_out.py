"""Reads the held-out labels; whoever uses it tells counts and kinds of rules, never a label."""

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import yaml

from qcledger.labels import SaidLevel, about
from qcledger.labels.said import Trust
from qcledger.records import LabelVersion
from qcledger.rubric.reference import Reference

HERE = Path(__file__).parent
SETS = ("held_out_labels", "everyday_labels")


@dataclass(frozen=True, slots=True)
class HeldOut:
    """One label with what is known of it: honest, or which rule it breaks."""

    label: LabelVersion
    name: str
    breaks: str
    """Empty for an honest one."""


def labels(name: str) -> tuple[HeldOut, ...]:
    """Return the labels of one held-out file."""
    tree = yaml.safe_load((HERE / f"{name}.yaml").read_text(encoding="utf-8"))
    return tuple(_one(row) for row in _rows(tree))


def _rows(tree: Any) -> Iterator[Mapping[str, Any]]:
    """Yield the labels, wherever they stand in the file: what has a name and index names is one."""
    if isinstance(tree, Mapping) and {"name", "index_names"} <= tree.keys():
        yield tree
    elif isinstance(tree, Mapping | list):
        for item in tree.values() if isinstance(tree, Mapping) else tree:
            yield from _rows(item)


def _one(row: Mapping[str, Any]) -> HeldOut:
    honest = row["honest"] if "honest" in row else row["truth"] == "honest"
    fields = {
        "index_names": row.get("index_names"),
        "constitution_numbers": row.get("constitution_numbers"),
        "chemical_names": row.get("chemical_names"),
        "cas_numbers": row.get("cas_numbers", row.get("cas")),
        "claims": row.get("claims"),
    }
    label = LabelVersion(
        id="lb",
        paint="pt",
        seen_on=date(2026, 3, 9),
        warnings=str(row.get("hazard_text") or ""),
        **{field: _texts(value) for field, value in fields.items()},
    )
    return HeldOut(label, row["name"], "" if honest else str(row["breaks"]))


def _texts(value: Any) -> tuple[str, ...]:
    """Return what is printed in a field: nothing, one text or several."""
    several = value if isinstance(value, list) else [] if value in (None, "") else [value]
    return tuple(map(str, several))


def levels(held: tuple[HeldOut, ...], reference: Reference, trust: Trust) -> Counter[tuple[str, SaidLevel]]:
    """Return how many labels come to each level at most, by the rule they break."""
    return Counter((one.breaks, _highest(one, reference, trust)) for one in held)


def _highest(one: HeldOut, reference: Reference, trust: Trust) -> SaidLevel:
    said = about(one.label, one.name, reference, trust)
    return max((words.level for words in said), default=SaidLevel.REMARK)
