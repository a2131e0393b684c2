"""What a criterion accepts, proposes and calls a fault."""

from math import inf, nan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcledger import rubric
from qcledger.errors import MESSAGE_LIMIT, BadInput
from qcledger.settings import shipped
from qcledger.vocab import Censored

SHEET = rubric.load(shipped("rubrics") / "watercolour.yaml").criteria
PACK = rubric.load(shipped("rubrics") / "packaging.yaml").criteria
INK = rubric.load(shipped("rubrics") / "ink.yaml").criteria

REFUSED = {
    # name: (criterion, result, words of the message)
    "grade 7": (SHEET["granulation"], {"grade": 7}, ["grade 7", "0, 0.5, 1", "Granulation"]),
    "grade below 0": (SHEET["granulation"], {"grade": -1}, ["grade -1"]),
    "quarter step": (SHEET["granulation"], {"grade": 2.25}, ["grade 2.25"]),
    "half step where none is offered": (
        SHEET["rewetting_in_fives"],
        {"grade": 3.5},
        ["grade 3.5", "0, 1, 2, 3, 4, 5"],
    ),
    "2 where 0, 1, 3, 5 are offered": (PACK["wrapper_adhesion"], {"grade": 2}, ["grade 2", "0, 1, 3, 5"]),
    "4 where 0, 1, 3, 5 are offered": (PACK["cracked"], {"grade": 4}, ["grade 4", "0, 1, 3, 5"]),
    "not a number": (SHEET["salt"], {"grade": nan}, ["grade nan"]),
    "choice for a grade": (SHEET["salt"], {"choice": "matt"}, ["choice matt", "a grade"]),
    "unknown choice": (INK["ink_finish"], {"choice": "dull"}, ["choice dull", "matt, satin, glossy"]),
    "grade for a choice": (INK["ink_finish"], {"grade": 1}, ["grade 1", "a choice"]),
    "reading where none is taken": (SHEET["salt"], {"grade": 1, "reading": 3}, ["reading 3", "no reading"]),
    "reading below 0": (SHEET["rewetting_in_fives"], {"reading": -1}, ["reading -1 turns", "from 0 up"]),
    "endless reading": (SHEET["rewetting_in_fives"], {"reading": inf}, ["reading inf"]),
    "reading not a number": (SHEET["rewetting_in_fives"], {"reading": nan}, ["reading nan"]),
    "past the stop": (SHEET["rewetting_in_fives"], {"reading": 61}, ["reading 61 turns", "above 60"]),
    "above more than the stop": (
        SHEET["rewetting_in_fives"],
        {"reading": 70, "censored": Censored.ABOVE},
        ["reading 70 turns", "above 60"],
    ),
    "broken count": (SHEET["laydown_count"], {"grade": 1, "reading": 2.5}, ["2.5", "whole numbers"]),
    "reading that fixes no grade": (SHEET["drying_shift"], {"reading": 20}, ["without a grade"]),
    "censored nothing": (
        SHEET["rewetting_in_fives"],
        {"grade": 5, "censored": Censored.ABOVE},
        ["above without a reading"],
    ),
    "nothing": (SHEET["rewetting_in_fives"], {}, ["no result", "a grade"]),
    "nothing for a choice": (INK["ink_finish"], {}, ["no result", "a choice"]),
    "grade and not testable": (SHEET["salt"], {"grade": 1, "not_testable": "dropped"}, ["not testable", "either"]),
    "reading and not testable": (SHEET["rewetting_in_fives"], {"reading": 9, "not_testable": "dropped"}, ["either"]),
}


@pytest.mark.parametrize("case", REFUSED, ids=str)
def test_results_not_offered_are_refused(case):
    """What the rubric does not offer is refused in one line that says what is allowed."""
    criterion, result, words = REFUSED[case]
    with pytest.raises(BadInput) as caught:
        criterion.check(**result)
    message = caught.value.line()
    assert len(message) <= MESSAGE_LIMIT
    assert message.startswith(criterion.title + ": found ")
    for word in words:
        assert word in message


def test_the_place_of_a_refused_result_is_said():
    """A caller can say where the result stands, as in a file and its line."""
    with pytest.raises(BadInput, match=r"^sheet\.csv line 7: found 'grade 9'"):
        SHEET["salt"].check(grade=9, where="sheet.csv line 7")


@pytest.mark.parametrize("criterion", [*SHEET.values(), *PACK.values(), *INK.values()], ids=lambda c: c.key)
def test_every_offered_result_is_accepted(criterion):
    """Each grade and choice a rubric offers passes its own check, and so does a reason for none."""
    for grade in criterion.grades:
        criterion.check(grade=grade)
    for choice in criterion.choices:
        criterion.check(choice=choice)
    criterion.check(not_testable="the pan fell")


@given(st.sampled_from([*SHEET.values(), *PACK.values()]), st.integers(-2, 14).map(lambda n: n / 2))
def test_check_agrees_with_the_offered_grades(criterion, grade):
    """A grade passes exactly if it is one of the offered ones."""
    try:
        criterion.check(grade=grade)
    except BadInput:
        assert grade not in criterion.grades
    else:
        assert grade in criterion.grades


def test_the_stop_itself_is_a_reading():
    """Where the test stops may be reached exactly, or passed: 60 turns, and above 60."""
    SHEET["rewetting_in_fives"].check(reading=60)
    SHEET["rewetting_in_fives"].check(reading=60, censored=Censored.ABOVE)
    SHEET["rewetting_in_fives"].check(grade=0, reading=0)


def test_half_steps_lie_between_anchors():
    """Half steps after ISO 4628-1 (seen in abstract): 0 to 5 by halves where stated, else the anchors alone."""
    assert SHEET["granulation"].grades == (0, 0.5, 1, 1.5, 2, 2.5, 3, 3.5, 4, 4.5, 5)
    assert SHEET["rewetting_in_fives"].grades == (0, 1, 2, 3, 4, 5)
    assert PACK["mould"].grades == (0, 1, 3, 5)
    assert INK["ink_finish"].grades == ()


@pytest.mark.parametrize(
    ("turns", "censored", "grade"),
    [
        (0, Censored.EXACT, 0),
        (5, Censored.EXACT, 0),
        (6, Censored.EXACT, 1),
        (10, Censored.EXACT, 1),
        (20, Censored.EXACT, 2),
        (21, Censored.EXACT, 3),
        (35, Censored.EXACT, 3),
        (36, Censored.EXACT, 4),
        (60, Censored.EXACT, 4),
        (60, Censored.ABOVE, 5),
        (35, Censored.ABOVE, None),
        (5, Censored.BELOW, 0),
        (6, Censored.BELOW, None),
    ],
)
def test_turns_propose_the_grade_of_their_step(turns, censored, grade):
    """Limits belong to the milder grade; above 60 is not 60; a censored reading proposes only what it settles."""
    assert SHEET["rewetting_in_fives"].propose(turns, censored) == grade


@pytest.mark.parametrize(
    ("strength", "censored", "grade"),
    [
        (1.2, Censored.EXACT, 0),
        (0.9, Censored.EXACT, 0),
        (0.89, Censored.EXACT, 1),
        (0.8, Censored.EXACT, 1),
        (0.65, Censored.EXACT, 2),
        (0.5, Censored.EXACT, 3),
        (0.3, Censored.EXACT, 4),
        (0.29, Censored.EXACT, 5),
        (0.3, Censored.BELOW, 5),
        (0.31, Censored.BELOW, None),
        (0.9, Censored.ABOVE, 0),
        (0.85, Censored.ABOVE, None),
    ],
)
def test_strength_proposes_the_grade_of_its_step(strength, censored, grade):
    """A falling scale works the same way: less is worse, and a limit belongs to the milder grade."""
    assert SHEET["tinting_ratio"].propose(strength, censored) == grade


def test_a_gap_in_the_grades_is_kept():
    """Where 2 and 4 are not offered, a reading steps from 1 to 3 to 5."""
    short = PACK["short_measure"]
    assert [short.propose(percent) for percent in (0, 9, 9.1, 18, 18.1)] == [0, 1, 3, 3, 5]


def test_nothing_is_proposed_without_limits():
    """A reading that alone fixes no grade proposes none."""
    assert SHEET["drying_shift"].propose(4) is None
    assert SHEET["salt"].propose(4) is None


MEASURED = [c for c in [*SHEET.values(), *PACK.values()] if c.reading and c.reading.limits]


@given(st.sampled_from(MEASURED), st.floats(0, 120), st.floats(0, 120))
def test_worse_readings_never_propose_milder_grades(criterion, one, other):
    """Proposals follow the reading in one direction and are always offered grades."""
    low, high = sorted((one, other), reverse=not criterion.reading.rising)
    grades = criterion.propose(low), criterion.propose(high)
    assert set(grades) <= set(criterion.grades)
    assert grades[0] <= grades[1]


@given(st.sampled_from(MEASURED), st.floats(0, 100), st.sampled_from(list(Censored)), st.floats(0, 200))
def test_a_censored_proposal_holds_for_every_value_it_may_be(criterion, limit, censored, value):
    """What a censored reading proposes is what each value beyond its limit would have proposed."""
    proposed = criterion.propose(limit, censored)
    beyond = {Censored.EXACT: value == limit, Censored.ABOVE: value > limit, Censored.BELOW: value < limit}
    if proposed is not None and beyond[censored]:
        assert criterion.propose(value) == proposed


def test_the_fault_line_parts_faults_from_the_rest():
    """At or past the fault line is a fault; a trait is never one, whatever its grade."""
    assert [grade for grade in PACK["wrapper_adhesion"].grades if PACK["wrapper_adhesion"].is_fault(grade)] == [3, 5]
    assert [grade for grade in SHEET["wash_faintness"].grades if SHEET["wash_faintness"].is_fault(grade)] == [
        3,
        3.5,
        4,
        4.5,
        5,
    ]
    assert not any(SHEET["granulation"].is_fault(grade) for grade in SHEET["granulation"].grades)
