"""The scales that observations were graded with, whatever has become of the rubrics since."""

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from qcledger.records import RubricText

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.rubric import Criterion

Scale = tuple[str, str]
"""Hash of a rubric and key of a criterion."""


def scales(ledger: "Ledger") -> "Mapping[Scale, Criterion]":
    """Return every criterion of every rubric kept in a ledger.

    An older one that counts under a newer key stands under both, each time by the key it is asked for.
    """
    from qcledger.rubric.continued import continued

    kept = [ledger.rubric(row.id) for row in ledger.rows(RubricText)]
    found = {(rubric.hash, key): criterion for rubric in kept for key, criterion in rubric.criteria.items()}
    newer = {(scale[0], key): replace(found[scale], key=key) for scale, key in continued(kept).items()}
    return newer | found


def renewed(ledger: "Ledger") -> Mapping[str, str]:
    """Return the keys of older criteria that count under a newer key, with that."""
    from qcledger.rubric.continued import continued

    kept = [ledger.rubric(row.id) for row in ledger.rows(RubricText)]
    return {key: newer for (_, key), newer in continued(kept).items()}


def named(text: str, known: "Mapping[Scale, Criterion]") -> tuple[str, ...] | None:
    """Return the keys of the criteria whose title or key holds a text, in any case; None for no text."""
    wanted = _plain(text)
    if not wanted:
        return None
    hits = {
        key for (_, key), criterion in known.items() if wanted in _plain(key) or wanted in _plain(criterion.title)
    }
    return tuple(sorted(hits))


def _plain(text: str) -> str:
    """Return a text without what people write in different ways: case, blanks, hyphens and underscores."""
    return "".join(char for char in text.lower() if char not in " -_")
