"""The checks on labels they were not fitted to: hardly an honest one accused, nearly every wrong one found.

No message names a label, so that a failure teaches nobody the held-out sets.
"""

from collections import Counter

import pytest

from qcledger.labels import SaidLevel
from qcledger.rubric import reference
from qcledger.rubric.model import is_published
from qcledger.settings import reference_files
from tests.labels.held_out import SETS, labels, levels

REFERENCE = reference.load(reference_files())
HONEST, WRONG = 200, 60
ACCUSED, FOUND = 2, 54
"""Most honest labels that are told more than a remark, and fewest wrong ones."""


def everything(source: str) -> bool:
    """Trust every source: what the checks see once each field is confirmed."""
    return True


def counts(name, trust) -> tuple[Counter, Counter]:
    """Return how many honest and how many wrong labels come to each level."""
    honest, wrong = Counter(), Counter()
    for (breaks, level), count in levels(labels(name), REFERENCE, trust).items():
        (wrong if breaks else honest)[level] += count
    return honest, wrong


@pytest.mark.parametrize("name", SETS)
@pytest.mark.parametrize("trust", [everything, is_published])
def test_honest_labels_are_not_accused(name, trust):
    """Of 200 honest everyday labels at most two are told more than a remark, and none that it contradicts itself."""
    honest, _ = counts(name, trust)
    assert honest.total() == HONEST
    assert honest[SaidLevel.CONTRADICTS] == 0
    assert honest[SaidLevel.DIFFERS] <= ACCUSED


@pytest.mark.parametrize("name", SETS)
def test_wrong_labels_are_found(name):
    """Of 60 labels that break a rule at least 54 are told more than a remark, where every field can be trusted."""
    _, wrong = counts(name, everything)
    assert wrong.total() == WRONG
    assert wrong[SaidLevel.DIFFERS] + wrong[SaidLevel.CONTRADICTS] >= FOUND


@pytest.mark.parametrize("name", SETS)
def test_what_is_from_memory_accuses_nobody(name):
    """Trusting published sources alone finds fewer labels, and none that trusting everything would not find."""
    _, wary = counts(name, is_published)
    _, trusting = counts(name, everything)
    assert wary[SaidLevel.REMARK] >= trusting[SaidLevel.REMARK]
