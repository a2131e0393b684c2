"""A key that is held down is not a key that is meant again and again."""

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from qcledger.bench.held import HOLD_S, KeyVerdict, Press, judge


def verdicts(presses):
    """Judge presses of (key, time) one after the other."""
    last, found = None, []
    for key, at in presses:
        verdict, last = judge(last, key, at)
        found.append(verdict)
    return found


def test_a_key_held_down_grades_once():
    """A keyboard that repeats after 250 ms, every 33 ms, gives one press however long it is held."""
    held = [("3", 0.0), *(("3", 0.25 + 0.033 * n) for n in range(60))]
    assert verdicts(held) == [KeyVerdict.TAKE, *[KeyVerdict.IGNORE] * 60]


def test_a_slow_keyboard_repeat_is_taken_back():
    """The first repeat after 500 ms looks like a second press; two fast ones after it take it back, once."""
    held = [("3", 0.0), *(("3", 0.5 + 0.033 * n) for n in range(30))]
    found = verdicts(held)
    assert found[:4] == [KeyVerdict.TAKE, KeyVerdict.TAKE, KeyVerdict.IGNORE, KeyVerdict.TAKE_BACK]
    assert set(found[4:]) == {KeyVerdict.IGNORE}


def test_the_same_grade_twice_in_a_calm_hand_counts_twice():
    """Presses of one key 350 ms apart are both meant."""
    assert verdicts([("0", 0.0), ("0", 0.35), ("0", 0.7)]) == [KeyVerdict.TAKE] * 3


def test_a_bounce_after_a_second_press_takes_nothing_back():
    """One fast sign after a meant press is a bounce and is ignored."""
    assert verdicts([("0", 0.0), ("0", 0.8), ("0", 0.85), ("1", 1.5)]) == [
        KeyVerdict.TAKE, KeyVerdict.TAKE, KeyVerdict.IGNORE, KeyVerdict.TAKE,
    ]  # fmt: skip


def test_another_key_is_always_meant():
    """However fast, another key is another grade."""
    assert judge(Press("0", 1.0), "1", 1.01)[0] is KeyVerdict.TAKE


@given(st.lists(st.floats(0.001, 2.0), max_size=30))
def test_presses_less_than_the_guard_apart_never_both_count(gaps):
    """Of one key, two taken presses are never closer than 300 ms."""
    at, presses = 0.0, [("3", 0.0)]
    for gap in gaps:
        at += gap
        presses.append(("3", at))
    taken = [
        time for (_, time), verdict in zip(presses, verdicts(presses), strict=True) if verdict is KeyVerdict.TAKE
    ]
    assert all(later - earlier >= HOLD_S - 1e-9 for earlier, later in pairwise(taken))
