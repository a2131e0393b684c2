"""Taking out from where it is seen: a name in a note, a photo; what goes and stays is shown first."""

import json
from dataclasses import replace

import pytest
from textual.widgets import Input

from qcledger.ledger import Ledger
from qcledger.records import Observation, Photo, Redaction
from qcledger.screens.record.look import Look
from qcledger.screens.record.page import RecordPage
from qcledger.screens.record.taking_out import TakeOut
from qcledger.settings import data_folder
from qcledger.vocab import TAKEN_BACK
from tests.ledger.test_photos import picture
from tests.screens.record.test_page import record
from tests.small import graded, small_ledger

WHO = "Wenna Orrel"


@pytest.fixture
def small(home, tmp_path):
    """Return a ledger in which the newest observation was amended, with a name in its note, and has a photo."""
    made = graded(small_ledger(tmp_path))
    path = tmp_path / f"{WHO}.jpg"
    path.write_bytes(picture())
    with made.open(write=True) as ledger:
        newest = max(ledger.rows(Observation), key=lambda seen: (seen.at, seen.id))
        assert newest.not_testable == TAKEN_BACK
        ledger.append([replace(newest, id="named", note=f"lent by {WHO}", supersedes=newest.id, reason="a slip")])
        ledger.add_photo(path, observation="named", caption=f"{WHO}'s pan")
    return made


def holds(place):
    return WHO.encode() in place.read_bytes()


async def test_a_name_goes_from_record_with_a_reason(small):
    """D shows what goes; without a reason nothing does; with one the note is gone and the amendment stands."""
    async with record(small) as at:
        await at.pilot.press("d")
        await at.until(lambda: isinstance(at.app.screen, TakeOut))
        await at.sees("goes:", "note", "people's copies keep it")
        await at.pilot.press("enter")
        await at.sees("a reason is needed")
        at.app.screen.query_one(Input).value = "asked for it"
        await at.pilot.press("enter")
        await at.until(lambda: isinstance(at.app.screen, RecordPage))
        await at.sees("taken out for good")
        await at.pilot.press("z")
        await at.sees("gone for good, and what was done before")
        await at.pilot.press("z")
        await at.sees("nothing is left to take back in this window")
    with Ledger.open(small.place) as ledger:
        seen = ledger.get(Observation, "named")
        assert (seen.note, seen.supersedes is not None) == ("", True)
        assert seen.not_testable == TAKEN_BACK
        assert ledger.verify() == []
        assert {row.reason for row in ledger.rows(Redaction)} == {"asked for it"}


async def test_what_was_half_typed_to_it_goes_too(small):
    """The draft of its note, and any draft that is the note that goes, is named, and gone from the disk after.

    A longer text that only speaks of it stays, and so does every other form.
    """
    folder = data_folder() / "windows"

    def on_disk():
        return b"".join(path.read_bytes() for path in folder.rglob("*.json"))

    async with record(small) as at:
        at.app.desk.drafts.keep("amend note named", "half a no")
        at.app.desk.drafts.keep("reader's note", json.dumps({"note": f"Lent by\n{WHO}"}))
        at.app.desk.drafts.keep("answer", json.dumps({"answer": f"We lent by {WHO} nothing.", "note": ""}))
        at.app.desk.drafts.keep("parcel", "common seller Fenbridge")
        assert WHO.encode() in on_disk()
        await at.pilot.press("d")
        await at.until(lambda: isinstance(at.app.screen, TakeOut))
        await at.sees("goes: what was typed and not saved, reader")
        at.app.screen.query_one(Input).value = "asked for it"
        await at.pilot.press("enter")
        await at.until(lambda: isinstance(at.app.screen, RecordPage))
        await at.sees("taken out for good")
        assert b"Lent by" not in on_disk()
        assert b"half a no" not in on_disk()
        assert b"Fenbridge" in on_disk()
        assert b"We lent by" in on_disk()


async def test_esc_takes_nothing_out(small):
    """What was looked at stays as it was, byte for byte."""
    before = small.place.read_bytes()
    async with record(small) as at:
        await at.pilot.press("d")
        await at.until(lambda: isinstance(at.app.screen, TakeOut))
        await at.pilot.press("escape")
        await at.until(lambda: isinstance(at.app.screen, RecordPage))
    assert small.place.read_bytes() == before


async def test_a_photo_goes_from_a_closer_look(small):
    """Delete takes out the photo in front: its bytes, caption and file name; the observation stays."""
    async with record(small) as at:
        await at.pilot.press("enter")
        await at.until(lambda: isinstance(at.app.screen, Look))
        await at.sees("photo 1 of 1")
        await at.pilot.press("delete")
        await at.until(lambda: isinstance(at.app.screen, TakeOut))
        await at.sees("the bytes of photo")
        at.app.screen.query_one(Input).value = "a face"
        await at.pilot.press("enter")
        await at.until(lambda: isinstance(at.app.screen, Look))
        await at.sees("it was redacted")
    with Ledger.open(small.place) as ledger:
        (photo,) = ledger.rows(Photo)
        assert (photo.caption, photo.file_name) == ("", None)
        assert not ledger.photo_path(photo).exists()
        assert ledger.get(Observation, "named").note
        assert ledger.verify() == []


async def test_where_nothing_stands_nothing_is_asked(small):
    """An observation without a note of one's own: one line, and no question."""
    async with record(small) as at:
        await at.pilot.press("down", "down", "down", "d")
        await at.sees("no note of your own")
        assert isinstance(at.app.screen, RecordPage)
