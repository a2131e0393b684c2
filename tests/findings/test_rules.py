"""The table of the rules: each change has its number, and the last one is the rules in use."""

from qcledger.findings import checks, free, pooled, stress
from qcledger.findings.finding import CheckName
from qcledger.findings.rules import CHANGES, edition
from qcledger.stats.pooled import fair_field, levels


def test_each_change_has_the_next_number():
    """Editions are 2, 3, ... in the order of their days; each says something, about checks that there are."""
    assert [one.edition for one in CHANGES] == list(range(2, len(CHANGES) + 2))
    assert [one.since for one in CHANGES] == sorted(one.since for one in CHANGES)
    assert all(one.words and not one.words.endswith(".") and one.checks <= set(CheckName) for one in CHANGES)
    assert edition() == len(CHANGES) + 1
    assert edition(()) == 1


IN_USE = {
    2: {
        "model": (7, "5", 0.0075, 0.95, 15.0, 0.95, 1e-3, 8.0, 64.0),
        "levels": (0.10, 0.20, 0.05, 0.1, 0.02, 0.003, 0.01, 0.5, 3, 0.5, 0.02, 0.05),
        "numbers": (4, 3, 3, 3, 3, 2, 2, 2, 2, 3, 2, 5, 2, 3),
    }
}
"""What standings rest on, by edition. Whoever changes one adds a line to `CHANGES`, and its numbers here."""


def test_the_table_keeps_up_with_the_rules():
    """The numbers in use are those of the last edition, so that no standing changes without a rule that is told."""
    in_use = {
        "model": (
            pooled.MODEL,
            stress.KEPT_AS,
            levels.LINE,
            levels.FLOOR,
            levels.AGAIN,
            pooled.SURE,
            levels.CLEAR,
            fair_field.ENOUGH,
            fair_field.AT_MOST,
        ),
        "levels": (
            *(checks.DELTA, checks.FIELD_CAP, checks.EXACT_LEVEL, checks.WIDE_LEVEL, checks.SCORECARD),
            *(checks.NARROW_SHARE, checks.SPREAD_LEVEL, checks.MOST, checks.HABIT, checks.ALIKE),
            *(free.PRAISE, free.LEFT_OUT_LEVEL),
        ),
        "numbers": (
            *(checks.MIN_FIELD_MAKERS, checks.MIN_PEER_MAKERS, checks.MIN_PEER_PIGMENTS, checks.MIN_PAINTS),
            *(checks.MIN_LOTS, checks.MIN_FAULTY, checks.MIN_SESSIONS, checks.MIN_PARCELS, checks.MIN_SOUND_LOTS),
            *(checks.MIN_SOUND_IN_LOT, checks.MIN_TO_CONFIRM, checks.MIN_NONE_SPECIMENS, checks.MIN_NONE_LOTS),
            checks.MIN_TO_CLEAR,
        ),
    }
    assert in_use == IN_USE[edition()]


def test_a_claim_is_looked_at_again_within_what_is_kept():
    """The strongest fair fields that are kept are more than a claim may reach when one thing is left out."""
    assert levels.AGAIN * fair_field.AT_MOST < fair_field.TOP
    assert pooled.fields_for(1e-4) == fair_field.AT_MOST / 1e-4
