"""A key that is held down is not a key that is meant again and again."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcledger.bench.held import REPEAT_S, KeyVerdict, Press, judge


def verdicts(presses, *, twice=True):
    """Judge presses of (key, time) one after the other."""
    last, found = None, []
    for key, at in presses:
        verdict, last = judge(last, key, at, twice=twice)
        found.append(verdict)
    return found


def standing(presses, *, twice=True):
    """Return the presses that count in the end: those taken, without those taken back."""
    counted = []
    for press, verdict in zip(presses, verdicts(presses, twice=twice), strict=True):
        if verdict is KeyVerdict.TAKE:
            counted.append(press)
        elif verdict is KeyVerdict.TAKE_BACK:
            counted.pop()
    return counted


@pytest.mark.parametrize("delay", [0.033, 0.25, 0.5, 0.99])
@pytest.mark.parametrize("signs", [3, 4, 60])
def test_a_key_held_down_counts_once(delay, signs):
    """However long the keyboard waits before it repeats, and however long the key is held, the first press stands."""
    held = [("3", 0.0), *(("3", delay + 0.033 * n) for n in range(signs))]
    assert standing(held) == held[:1]
    assert verdicts(held).count(KeyVerdict.TAKE_BACK) == 1


@pytest.mark.parametrize("gap", [0.0, 0.004, 0.05, 0.06, 0.2, 0.35])
def test_the_same_key_twice_counts_twice_at_any_speed(gap):
    """2112 lands as 2, 1, 1, 2, from a calm hand as from a machine; so do two zeros."""
    typed = [(key, n * gap) for n, key in enumerate("2112")]
    assert standing(typed) == typed
    assert verdicts([("0", 0.0), ("0", gap)]) == [KeyVerdict.TAKE] * 2


def test_any_number_of_zeros_counts_that_fingers_can_type():
    """Nine zeros, 70 ms apart, are nine zeros."""
    zeros = [("0", 0.07 * n) for n in range(9)]
    assert standing(zeros) == zeros


def test_a_bounce_after_a_second_press_takes_nothing_back():
    """One fast sign after a meant press is a bounce and is ignored."""
    assert verdicts([("0", 0.0), ("0", 0.8), ("0", 0.85), ("1", 1.5)]) == [
        KeyVerdict.TAKE, KeyVerdict.TAKE, KeyVerdict.IGNORE, KeyVerdict.TAKE,
    ]  # fmt: skip


def test_a_bounce_of_a_key_that_grades_nothing_is_ignored():
    """Where the same key twice means something else, as with the beat, a second press no finger makes is none."""
    assert verdicts([(" ", 0.0), (" ", 0.02), (" ", 0.5)], twice=False) == [
        KeyVerdict.TAKE, KeyVerdict.IGNORE, KeyVerdict.TAKE,
    ]  # fmt: skip


def test_another_key_is_always_meant():
    """However fast, another key is another grade."""
    assert judge(Press("0", 1.0), "1", 1.01)[0] is KeyVerdict.TAKE


@given(st.lists(st.floats(0.001, 2.0), max_size=30))
def test_no_three_presses_count_that_no_finger_makes(gaps):
    """Of one key, three presses that stand never lie within two fast gaps; those apart enough all stand."""
    at, presses = 0.0, [("3", 0.0)]
    for gap in gaps:
        at += gap
        presses.append(("3", at))
    times = [time for _, time in standing(presses)]
    close = [later - earlier < REPEAT_S for earlier, later in pairwise(times)]
    assert not any(one and other for one, other in pairwise(close))
    apart = {time for (_, before), (_, time) in pairwise(presses) if time - before >= REPEAT_S}
    judged = zip(presses, verdicts(presses), strict=True)
    assert apart <= {time for (_, time), verdict in judged if verdict is KeyVerdict.TAKE}
