"""Answers are kept on disk, and a file that cannot be read is no answer."""

import json
from dataclasses import replace

import pytest

from qcledger.findings.finding import Stress, Without
from qcledger.findings.pooled import Estimate, Fair, FairFields, Level, Pooled, Reach
from qcledger.report import store
from qcledger.report.store import Store

RATE = Estimate(0.5, 0.1, 0.3, 0.7)
ANSWER = Pooled(
    cells={("A", "half pan"): Reach(RATE, RATE, 0.99, 0.9, (0.1, 0.5, 0.9))},
    makers={("A",): Reach(RATE, RATE, 0.99, 0.9, (0.1, 0.5, 0.9))},
    formats={("half pan",): Level(RATE, 0.5)},
    pigments={("PG7",): Level(RATE, 0.75)},
    paints={("p", "half pan"): Level(RATE, 0.25)},
    lots={("l", "p", "half pan"): Level(RATE, 0.875)},
    fair={("A", None): Fair(1, 2000), ("A", "half pan"): Fair(0, 2000)},
    line=0.001,
    warnings=("only 3 design points carry the scales",),
    remarks=("120 design points carry the scales, fewer than 150",),
    drawn={("A", None): FairFields((0.3, 1.0, 0.5, 0.2, 0.1), 2000, (4.5, 3.25))},
)
STRESS = Stress(
    (
        Without("lot", "L1 of Red", True, as_strong=3),
        Without("seller", "Somebody", False),
        Without("session", "S1", False, True),
    ),
    2000,
)


def test_what_is_put_comes_back(tmp_path):
    """Another run of the program reads the same values."""
    first = Store(tmp_path / "kept")
    first.put("a", ANSWER)
    first.put("b", STRESS)
    again = Store(tmp_path / "kept")
    assert again.pooled("a") == ANSWER
    assert again.stress("b") == STRESS
    assert again.pooled("c") is None
    assert [path.suffix for path in (tmp_path / "kept").iterdir()] == [".json", ".json"]


@pytest.mark.parametrize("content", ["", "{", "[]", "null", '{"cells": 3}', "[[1]]", json.dumps({"cells": []})])
def test_a_damaged_file_is_worked_out_again(tmp_path, content):
    """Cut short or changed by hand: no answer, and no crash."""
    (tmp_path / "a.json").write_text(content)
    (tmp_path / "b.json").write_text(content or "[[1, 2]]")
    assert Store(tmp_path).pooled("a") is None
    assert Store(tmp_path).stress("b") in (None, Stress(()))


def test_a_folder_that_cannot_be_written_keeps_answers_for_this_run(tmp_path):
    """A file in the way of the folder is no error."""
    (tmp_path / "kept").write_text("in the way")
    kept = Store(tmp_path / "kept")
    kept.put("a", ANSWER)
    assert kept.pooled("a") == ANSWER
    assert Store(tmp_path / "kept").pooled("a") is None


def test_the_oldest_go(tmp_path, monkeypatch):
    """The folder does not grow without end."""
    monkeypatch.setattr(store, "MOST_FILES", 3)
    kept = Store(tmp_path)
    for number in range(5):
        kept.put(f"k{number}", replace(ANSWER, line=number))
    assert len(list(tmp_path.iterdir())) == 3
