"""Which tests cannot be judged blind, as it follows from what a rubric says about them."""

import re
from collections.abc import Iterable
from typing import Final

from qcledger.rubric.model import Criterion
from qcledger.vocab import Format, Occasion

_PIECE: Final = re.compile(
    r"\b(?:" + "|".join(sorted({part for one in Format for part in one.split()[-1:]})) + r")s?\b"
)
"""Words for the piece as it is bought, in what a rubric says: pan, tube, stick, bottle, pencil."""


def not_blind(criterion: Criterion, formats: Iterable[Format]) -> str:
    """Return in words why a criterion cannot be judged blind on these formats; empty where it can.

    It follows from the rubric: from where a criterion is seen, from a test, an anchor or a condition that names the
    piece itself, and from formats it is not asked of.
    """
    if criterion.seen_at is not Occasion.BENCH:
        return "pack and label are in view"
    told = " ".join((criterion.how, *criterion.anchors.values(), *criterion.choices.values(), *criterion.conditions))
    if _PIECE.search(told.lower()):
        return "the piece itself is under the hands"
    if not set(formats) <= set(criterion.formats):
        return f"asked only of {', '.join(criterion.formats)}"
    return ""
