"""The rubrics kept in ledgers, each parsed once."""

from functools import lru_cache

from qcledger import rubric
from qcledger.records import RubricText
from qcledger.rubric import Rubric


@lru_cache(maxsize=64)
def parsed(kept: RubricText) -> Rubric:
    """Return the rubric in a kept text; raises BadInput for one this version cannot read."""
    return rubric.parse(kept.text, f"rubric {kept.key}")
