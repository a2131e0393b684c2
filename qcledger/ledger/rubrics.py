"""The rubrics kept in a ledger, parsed once."""

from qcledger import rubric
from qcledger.records import RubricText
from qcledger.rubric import Rubric


class Rubrics:
    """Parsed rubrics by hash."""

    def __init__(self) -> None:
        self._parsed: dict[str, Rubric] = {}

    def __call__(self, kept: RubricText) -> Rubric:
        """Return the rubric in a kept text; raises BadInput for one this version cannot read."""
        if kept.id not in self._parsed:
            self._parsed[kept.id] = rubric.parse(kept.text, f"rubric {kept.key}")
        return self._parsed[kept.id]
