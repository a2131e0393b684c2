"""The words of a scale as the public reads them, beside no heading that would say what their numbers count."""

import re

import pytest

from qcledger import rubric
from qcledger.public.from_findings import fault_words, words_of_grade
from qcledger.settings import shipped

SHEET = rubric.load(shipped("rubrics") / "watercolour.yaml").criteria
FILES = ("watercolour", "packaging", "lasting", "gouache", "ink", "pencil")
LIMITS = {"or", "more", "less", "than", "up", "to", "from", "over", "under", "and", "between", "worse", "s"}
"""Words that limit a number and do not say of what it is."""


def counts_something(words):
    return not any(one.isdigit() for one in words) or bool(set(re.findall(r"[a-z%]+", words.lower())) - LIMITS)


@pytest.mark.parametrize("name", FILES)
def test_no_fault_is_told_in_numbers_alone(name):
    """Of every shipped scale the words of a fault, and of each grade, say what their numbers count."""
    for one in rubric.load(shipped("rubrics") / f"{name}.yaml").criteria.values():
        told = [fault_words(one), *(words_of_grade(one, grade) for grade in one.anchors)]
        assert [words for words in told if not counts_something(words)] == [], one.key


def test_what_says_its_unit_is_left_as_it_is():
    """Bare numbers get the unit of their reading; an anchor in words stays as it was written."""
    ratio, turns = SHEET["tinting_ratio"], SHEET["rewetting_in_fives"]
    assert fault_words(ratio) == "0.50 or more, less than 0.65 of the other makers' median strength; or worse"
    assert words_of_grade(ratio, 5.0) == ratio.anchors[5.0]
    assert all(words_of_grade(turns, grade) == words for grade, words in turns.anchors.items())
