"""``qcledger demo``: each start gets a whole copy, however many begin together."""

import os
import time

import pytest

from qcledger import exchange
from qcledger.cli import demo
from qcledger.ledger import Ledger
from qcledger.records import Specimen
from tests.small import small_ledger


@pytest.fixture
def source(tmp_path, monkeypatch):
    """Return a small exchange folder that stands where the shipped demo does."""
    folder = tmp_path / "demo"
    with small_ledger(tmp_path).open() as ledger:
        exchange.to_folder(ledger, folder)
    monkeypatch.setattr(demo, "shipped", lambda _: folder)
    return folder


def _specimens(place):
    with Ledger.open(place) as ledger:
        return len(ledger.rows(Specimen))


def test_two_starts_that_begin_together_open_one_whole_copy(source, monkeypatch):
    """While one start makes the copy another makes it, too: both get a ledger that opens, and no draft is left."""
    merge, others = exchange.merge_folder, []

    def late(ledger, folder):
        if not others:
            others.append(None)
            others[0] = demo.demo_copy()
        return merge(ledger, folder)

    monkeypatch.setattr(exchange, "merge_folder", late)
    mine = demo.demo_copy()
    assert mine == others[0]
    assert _specimens(mine) > 0
    assert [path.name for path in mine.parent.parent.glob("demo-*")] == [mine.parent.name]


def test_a_draft_that_was_cut_short_is_thrown_away_and_a_young_one_is_not(source, home):
    """What a start left behind an hour ago goes with the next one; what may still be written stays."""
    place = demo.demo_copy()
    old, young = (place.parent.with_name(f"{place.parent.name}.{name}.part") for name in ("old", "young"))
    for draft in (old, young):
        draft.mkdir()
    os.utime(old, (time.time() - 7200,) * 2)
    demo.demo_copy(fresh=True)
    assert not old.exists()
    assert young.exists()
    assert _specimens(place) > 0
