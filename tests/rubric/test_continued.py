"""An older criterion counts together with the one in its place where both mean the same by a fault, else not."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcledger import rubric
from qcledger.bench.scales import renewed, scales
from qcledger.ledger import Ledger
from qcledger.records import Observation, Trial
from qcledger.report.kept import of_ledger
from qcledger.rubric.continued import continued, follows
from qcledger.vocab import Occasion
from tests.small import stock, ticking

OLDER = """\
rubric: clay
title: Clay
about: Fired clay.
formats: [half pan]
criteria:
  dried:
    title: Dried
    how: Press it.
    kind: grade
    nature: fault
    seen_at: unpacking
    anchors:
      0: It flows.
      3: It must be cut.
      5: Solid.
    source: our proposal
    fault_line: {grade: 3, severity: major, source: our proposal}
"""
NEWER = (
    OLDER.replace("  dried:\n", "  stiff:\n    continues: dried\n")
    .replace("Press it.", "Press it, with a key where it must be.")
    .replace("      3:", "      1: It needs a key.\n      3:")
)
CHANGES = {
    "the fault line": ("{grade: 3,", "{grade: 5,"),
    "the sentence of the fault line": ("It must be cut.", "It must be cut, or flows slowly."),
    "the nature": ("nature: fault", "nature: fault or trait"),
    "the place": ("seen_at: unpacking", "seen_at: bench\n    stage: dry"),
    "the file": ("rubric: clay", "rubric: loam"),
    "no claim to it": ("    continues: dried\n", ""),
}


def _parsed(*texts: str) -> list[rubric.Rubric]:
    return [rubric.parse(text, "clay.yaml") for text in texts]


def test_what_means_the_same_by_a_fault_is_continued():
    """A finer scale below the line, and another way of testing, leave the fault as it was."""
    older, newer = _parsed(OLDER, NEWER)
    assert continued([older, newer]) == continued([newer, older]) == {(older.hash, "dried"): "stiff"}


@pytest.mark.parametrize("change", CHANGES, ids=str)
def test_nothing_else_is_continued(change):
    """With another fault line, sentence, nature, place or file, or without a word of it, both stay apart."""
    old, new = CHANGES[change]
    assert NEWER.count(old) == 1
    assert continued(_parsed(OLDER, NEWER.replace(old, new))) == {}


def test_keys_are_followed_as_far_as_it_is_plain():
    """A third key continues the second and so the first; where two lay claim to one, it stays by itself."""
    third = NEWER.replace("  stiff:\n    continues: dried\n", "  stiffness:\n    continues: stiff\n")
    older, newer, newest = _parsed(OLDER, NEWER, third)
    assert continued([older, newer, newest]) == {
        (older.hash, "dried"): "stiffness",
        (newer.hash, "stiff"): "stiffness",
    }
    rival = NEWER.replace("  stiff:\n", "  hardened:\n")
    assert continued(_parsed(OLDER, NEWER, rival)) == {}


def test_keys_that_continue_one_another_come_to_an_end():
    """Two versions that each claim the other's key are read without an end that never comes."""
    back = OLDER.replace("  dried:\n", "  dried:\n    continues: stiff\n")
    older, newer = _parsed(back, NEWER)
    assert set(continued([older, newer]).values()) <= {"dried", "stiff"}


@given(st.sampled_from([0.5, 1, 2, 3, 4, 5]), st.sampled_from([0.5, 1, 2, 3, 4, 5]))
def test_only_equal_fault_lines_follow(one, other):
    """Whatever two fault lines are, what is on different sides of them is never counted together."""
    (older,) = _parsed(OLDER)
    scale = older.criteria["dried"]
    assert follows(replace(scale, fault_line=one), replace(scale, fault_line=other)) == (one == other)


def _unpacked(specimen: str, key: str, hash_: str, grade: float) -> list[Trial | Observation]:
    at = datetime(2026, 1, 10, 9, tzinfo=UTC)
    trial = Trial(id=f"t {specimen} {key}", specimen=specimen, occasion=Occasion.UNPACKING, at=at)
    seen = Observation(
        id=f"o {specimen} {key}", trial=trial.id, criterion=key, rubric=hash_, tester="OV", at=at, grade=grade
    )
    return [trial, seen]


@pytest.mark.parametrize(("text", "cells"), [(NEWER, {"stiff": (2, 3)}), (NEWER.replace("cut.", "sawn."), None)])
def test_findings_count_both_or_keep_them_apart(tmp_path, text, cells):
    """One cell of three specimens where the fault is the same, else two cells; the rows keep what was written."""
    older, newer = _parsed(OLDER, text)
    with Ledger.create(
        tmp_path / "clay.sqlite", letters="OV", tester="OV", sources=ticking(), zone="Etc/UTC"
    ) as ledger:
        ledger.append([ledger.keep_rubric(older), *stock(3)])
        ledger.append(_unpacked("sp00", "dried", older.hash, 3) + _unpacked("sp01", "dried", older.hash, 0))
        before = of_ledger(ledger).findings
        assert [(one.criterion.key, one.counts.faulty, one.counts.tested) for one in before] == [("dried", 1, 2)]
        ledger.append([ledger.keep_rubric(newer), *_unpacked("sp02", "stiff", newer.hash, 5)])
        found = {one.criterion.key: (one.counts.faulty, one.counts.tested) for one in of_ledger(ledger).findings}
        assert found == (cells or {"dried": (1, 2), "stiff": (1, 1)})
        assert renewed(ledger) == ({"dried": "stiff"} if cells else {})
        assert {row.criterion for row in ledger.rows(Observation)} == {"dried", "stiff"}
        for row in ledger.tested_rows():
            assert scales(ledger)[row.rubric, row.criterion].key == row.criterion


def test_a_scale_that_was_split_is_continued_by_neither_part():
    """Two criteria of one file that both lay claim to a third leave it alone: it would be counted twice."""
    shared = NEWER + NEWER[NEWER.index("  stiff:") :].replace("  stiff:", "  hardened:")
    older, newer = _parsed(OLDER, shared)
    assert continued([older, newer]) == {}
