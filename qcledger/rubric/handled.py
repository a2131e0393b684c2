"""Which tests cannot be judged blind, as it follows from what a rubric says about them."""

import re
from collections.abc import Iterable

from qcledger.rubric.model import Criterion
from qcledger.vocab import Occasion


def not_blind(criterion: Criterion, formats: Iterable[str]) -> str:
    """Return in words why a criterion cannot be judged blind on these formats; empty where it can.

    It follows from the rubric: from where a criterion is seen, from whether it works on the piece itself, and from
    formats it is not asked of.
    """
    if criterion.seen_at is not Occasion.BENCH:
        return "pack and label are in view"
    if criterion.names_in_view:
        return "it needs the names"
    if _on_the_piece(criterion):
        return "the tester sees the specimen itself"
    if not set(formats) <= set(criterion.formats):
        return f"asked only of {', '.join(criterion.formats)}"
    return ""


def _on_the_piece(criterion: Criterion) -> bool:
    """Say whether the piece as it is bought is under the hands: as the rubric says, or else by what it names.

    A test, an anchor or a condition that names a format it is asked on (pan, tube, stick) is done on that.
    """
    if criterion.on_the_piece is not None:
        return criterion.on_the_piece
    told = " ".join((criterion.how, *criterion.anchors.values(), *criterion.choices.values(), *criterion.conditions))
    names = "|".join(sorted({one.split()[-1] for one in criterion.formats}))
    return re.search(rf"\b(?:{names})s?\b", told.lower()) is not None
