"""The history of a specimen: what was found on it, in time, with its photos."""

from dataclasses import replace
from datetime import timedelta

from qcledger.bench import history
from qcledger.ledger import Ledger
from qcledger.records import Observation, Photo, Trial
from tests.small import graded, small_ledger


def test_no_photo_is_fetched_before_it_is_looked_at(demo_file, monkeypatch):
    """Where photos lie on a server, opening a history asks for none of their bytes; they stand in it in time."""
    with Ledger.open(demo_file) as ledger:
        specimen = next(row.specimen for row in ledger.rows(Photo) if row.specimen)
        monkeypatch.setattr(Ledger, "photo_path", lambda *_, **__: 1 / 0)
        found = history.load(ledger, specimen)
    assert found.pictures
    taken = [photo.taken_at for photo in found.in_time if photo.taken_at]
    assert taken == sorted(taken)


def test_what_is_put_right_later_stands_where_it_was_tested(home, tmp_path):
    """An old result amended long after is not the latest one of its criterion, and keeps the day it was tested."""
    small = graded(small_ledger(tmp_path))
    with small.open(write=True) as ledger:
        rows = ledger.rows(Observation, criterion="edge")
        seen = next(row for row in rows if row.id not in {one.supersedes for one in rows})
        specimen = ledger.get(Trial, seen.trial).specimen
        before = history.load(ledger, specimen)
        later = seen.at + timedelta(days=30)
        ledger.append([replace(seen, id="late", at=later, supersedes=seen.id, grade=0.0, reason="misread")])
        found = history.load(ledger, specimen)
    assert [pair.title for pair in found.then_and_now] == [pair.title for pair in before.then_and_now]
    (pair,) = [one for one in found.then_and_now if one.then.observation.criterion == "edge"]
    (stood,) = [one for one in before.then_and_now if one.then.observation.criterion == "edge"]
    assert (pair.then.observation.id, pair.then.tested_on) == ("late", stood.then.tested_on)
    assert pair.then.day > pair.then.tested_on
