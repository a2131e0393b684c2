"""A filled sheet, typed one line a specimen."""

from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcledger.bench.paper import read, split
from qcledger.errors import BadInput
from tests.small import ten

CRITERIA = [criterion for criterion in ten().criteria.values() if criterion.stage == "wet"]


def test_marks_may_be_parted_or_written_as_one_run():
    """``0 3 1 . 2+ -`` and ``031.2+-`` say the same."""
    assert split("0 3 1 . 2+ -") == split("031.2+-") == ["0", "3", "1", ".", "2+", "-"]
    assert split("031 =23 .") == ["0", "3", "1", "=23", "."]
    assert split("3.5 2") == ["3.5", "2"]


def test_a_whole_line_is_read_in_the_order_of_the_sheet():
    """Grades, a half step, a reading that brings its grade, a choice by number, a gap, and not testable."""
    marks = read("=23 2 0 1+ . 3 2 - 0 =0", [*CRITERIA[:9], CRITERIA[1]], "OV 0001")
    assert [(mark.criterion, mark.result.grade) for mark in marks if mark.result.grade is not None] == [
        ("turns", 3.0), ("spread", 2.0), ("bubbles", 0.0), ("evenness", 1.5), ("rough", 3.0), ("tint", 0.0),
        ("spread", 0.0),
    ]  # fmt: skip
    by_key = {mark.criterion: mark.result for mark in marks}
    assert by_key["turns"].reading == 23.0
    assert by_key["shine"].choice == "satin"
    assert by_key["edge"].not_testable
    assert "veil" not in by_key


def test_a_reading_beyond_the_stop_is_censored():
    """``=>60`` is above 60 and brings grade 5."""
    (mark,) = read("=>60", CRITERIA[:1], "OV 0001")
    assert (mark.result.reading, mark.result.censored, mark.result.grade) == (60.0, "above", 5.0)


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("0 1 2", "3 marks"),
        ("", "0 marks"),
        ("6 0 0 0 0 0 1 0 0 0", "mark 1"),
        ("0 0 0 0 0 2 1 0 0 0", "0, 1, 3, 5 for Roughness"),
        ("0 0 0+ 0 0 0 1 0 0 0", "for Bubbles"),
        ("0 0 0 0 0 0 9 0 0 0", "mark 7"),
        ("0 0 0 0 0 0 4 0 0 0", "matt, satin, glossy"),
        ("x 0 0 0 0 0 1 0 0 0", "0 to 5 each"),
        ("=61 0 0 0 0 0 1 0 0 0", "Turns"),
    ],
)
def test_wrong_lines_are_told_and_store_nothing(line, said):
    """What was found, where and what is allowed, in one line; the line makes no result at all."""
    with pytest.raises(BadInput) as refused:
        read(line, CRITERIA, "OV 0001")
    assert said in refused.value.line()
    assert refused.value.line().startswith("OV 0001")


@given(st.text())
def test_any_line_is_read_or_refused(line):
    """Whatever is typed gives results the rubric offers, or one refusal."""
    offered = {criterion.key for criterion in CRITERIA}
    with suppress(BadInput):
        assert {mark.criterion for mark in read(line, CRITERIA, "OV 0001")} <= offered


@given(st.lists(st.sampled_from(["0", "1", "3", "5", ".", "-"]), min_size=10, max_size=10))
def test_a_run_and_a_parted_line_are_one_line(marks):
    """How the marks are parted changes nothing, except that ``d.5`` is a half step and so must be parted."""
    run = "".join(marks)
    assert split(" ".join(marks)) == marks
    assert split(run) == marks or any(f"{digit}.5" in run for digit in "0135")
