"""Claims of how a paint behaves: the longest words that the scale knows, and never what a word takes back."""

import pytest

from qcledger import rubric
from qcledger.labels.behaviour import claimed
from qcledger.rubric import reference
from qcledger.settings import reference_files, shipped

SCALE = rubric.load(shipped("rubrics") / "watercolour.yaml")
NAMES = reference.load(reference_files()).names
KNOWN = {key: one.label_claims for key, one in SCALE.criteria.items() if one.label_claims}


def said(claim):
    """Return what a claim says: criterion, lowest and highest grade that is as it says."""
    found = claimed(claim, KNOWN, NAMES.denials | NAMES.free_before)
    return {key: (one.lowest, one.highest) for key, one in found}


@pytest.mark.parametrize(
    ("claim", "wanted"),
    [
        ("transparent", {"opacity": (0, 1.5)}),
        ("Semi-Transparent", {"opacity": (0.5, 3)}),
        ("opaque, staining", {"opacity": (3, 5), "staining": (3, 5)}),
        ("non-granulating", {"granulation": (0, 1.5)}),
        ("nicht granulierend", {"granulation": (0, 1.5)}),
        ("not transparent", {}),
        ("single pigment", {}),
        ("lightfast I", {}),
        ("", {}),
    ],
)
def test_words_are_read_whole_and_the_longest_first(claim, wanted):
    """``semi-transparent`` is not ``transparent``, and ``not transparent`` claims nothing."""
    assert said(claim) == wanted


def test_each_word_is_read_back_as_its_own_grades():
    """No word of a scale is hidden by another of the same criterion."""
    for key, some in KNOWN.items():
        for one in some:
            for words in one.words:
                assert said(words)[key] == (one.lowest, one.highest), words
