"""Redaction: what should not have been kept is gone from the disk, and the chain still verifies."""

from dataclasses import replace
from datetime import date

import pytest

from qcledger.errors import BadInput, LedgerUnavailable
from qcledger.ledger import Ledger
from qcledger.ledger.packed import pack
from qcledger.records import Comparison, Decision, Maker, Observation, Photo, Redaction
from qcledger.vocab import DecisionKind
from tests.ledger.given import everything, graded
from tests.ledger.test_photos import picture

SECRET = "Jane of 5 Long Street"


def entry_of(ledger, table, row, place=-1):
    """Return one entry of a row."""
    return ledger.history(table, row)[place]


def test_an_observation_is_taken_out(ledger):
    """The body and its salt are gone, the row with them; the redaction says why, and everything verifies."""
    ledger.append([graded("a", note=SECRET)])
    entry, before = entry_of(ledger, "observation", "a"), ledger.closing_hashes()
    made = ledger.redact(entry=entry.hash, reason="named a reader")
    assert ledger.get(Observation, "a") is None
    assert ledger.tested_rows() == []
    assert entry_of(ledger, "observation", "a") == replace(entry, body=None, salt=None)
    assert ledger.get(Redaction, made.id) == Redaction(id=made.id, reason="named a reader", entry=entry.hash)
    assert ledger.closing_hashes()[entry.daybook][0] == before[entry.daybook][0] + 1
    assert ledger.verify() == []


def test_closing_hashes_printed_before_still_hold(ledger):
    """A report printed before the redaction can still be checked: no hash of an older entry changed."""
    ledger.append([graded("a", note=SECRET)])
    printed = ledger.closing_hashes()
    ledger.redact(entry=entry_of(ledger, "observation", "a").hash, reason="named a reader")
    assert ledger.verify(against=printed) == []


def test_the_text_is_gone_from_the_file(file):
    """Nothing of the redacted text is left in the ledger's file, free pages included: as it is, nor as packed."""
    with Ledger.open(file, write=True) as ledger:
        ledger.append([graded("a", note=SECRET, criterion="opacity")])
        entry = entry_of(ledger, "observation", "a")
        kept = SECRET.encode(), pack(entry.body)
        assert all(one in file.read_bytes() for one in kept)
        ledger.redact(entry=entry.hash, reason="named a reader")
    assert not any(one in file.read_bytes() for one in kept)


def test_an_older_state_of_a_row_is_taken_out_and_the_row_stays(ledger):
    """What was amended may lose its older body, whoever refers to the row."""
    ledger.append([Maker(id="maker", name="Quernlow", note=SECRET)])
    ledger.append([Maker(id="maker", name="Quernlow")], reason="no addresses here")
    before = everything(ledger)
    ledger.redact(entry=entry_of(ledger, "maker", "maker", 1).hash, reason="an address")
    after = everything(ledger)
    assert [entry.body is None for entry in ledger.history("maker", "maker")] == [False, True, False]
    assert {name: rows for name, rows in after.items() if name != "redaction"} == {
        name: rows for name, rows in before.items() if name != "redaction"
    }
    ledger.rebuild()
    assert everything(ledger) == after
    assert ledger.verify() == []


def test_taking_out_the_last_state_lets_the_one_before_stand(ledger):
    """Of a row that nothing names, the last body may go; then the one before it says how it stands."""
    ledger.append([Maker(id="x", name="one")])
    ledger.append([Maker(id="x", name=SECRET)])
    ledger.redact(entry=entry_of(ledger, "maker", "x").hash, reason="slip")
    assert ledger.get(Maker, "x") == Maker(id="x", name="one")
    assert ledger.verify() == []


def test_what_others_need_stays(ledger):
    """The only body of a row that others name cannot be taken out; the one in the way is named."""
    ledger.append([graded("a"), graded("b", supersedes="a", reason="slip")])
    for table, row, user in (
        ("maker", "maker", "paint paint"),
        ("trial", "trial", "observation a"),
        ("observation", "a", "observation b"),
    ):
        before = ledger.closing_hashes()
        with pytest.raises(BadInput, match=f"named by {user}"):
            ledger.redact(entry=entry_of(ledger, table, row).hash, reason="x")
        assert ledger.closing_hashes() == before
    ledger.redact(entry=entry_of(ledger, "observation", "b").hash, reason="x")
    ledger.redact(entry=entry_of(ledger, "observation", "a").hash, reason="x")
    assert ledger.verify() == []


def test_a_row_that_a_decision_is_about_stays(ledger):
    """A decision names its subject in words of its own; that counts too."""
    other = replace(ledger.get(Comparison, "comparison"), id="other")
    about = {"subject_table": "comparison", "subject": "other", "by": "Oda", "on": date(2026, 3, 9), "reason": "x"}
    ledger.append([other, Decision(id="d", kind=DecisionKind.HOLD_BACK, **about)])
    with pytest.raises(BadInput, match="named by decision d"):
        ledger.redact(entry=entry_of(ledger, "comparison", "other").hash, reason="x")


def test_what_holds_the_ledger_together_stays(ledger):
    """A daybook's first entry, and a redaction itself, cannot be taken out; nor what is not there."""
    ledger.append([graded("a")])
    made = ledger.redact(entry=entry_of(ledger, "observation", "a").hash, reason="x")
    for table, row in (("daybook", ledger.daybook.id), ("redaction", made.id)):
        with pytest.raises(BadInput, match=f"found 'a {table}'"):
            ledger.redact(entry=entry_of(ledger, table, row).hash, reason="x")
    with pytest.raises(BadInput, match="the hash of an entry in this ledger"):
        ledger.redact(entry="0" * 64, reason="x")
    with pytest.raises(BadInput, match="either an entry or a photo"):
        ledger.redact(reason="x")
    with pytest.raises(BadInput, match="reason"):
        ledger.redact(entry=entry_of(ledger, "maker", "maker").hash, reason=" \x00 ")


def test_a_redaction_may_be_repeated(ledger):
    """Redacting again what is gone already changes nothing, and returns the redaction that was made."""
    ledger.append([graded("a")])
    digest = entry_of(ledger, "observation", "a").hash
    made = ledger.redact(entry=digest, reason="x")
    before = ledger.closing_hashes()
    assert ledger.redact(entry=digest, reason="again") == made
    assert ledger.closing_hashes() == before


def test_a_photo_is_taken_out_for_good(ledger, tmp_path):
    """The bytes are removed, the record stays, and the ledger verifies; a repeat changes nothing."""
    path = tmp_path / "p.jpg"
    path.write_bytes(picture())
    photo = ledger.add_photo(path, specimen="specimen")
    made = ledger.redact(photo=photo.sha256, reason="a face in the mirror")
    assert not ledger.photo_path(photo).exists()
    assert ledger.get(Photo, photo.id) == photo
    assert ledger.verify() == []
    assert ledger.redact(photo=photo.sha256, reason="again") == made
    with pytest.raises(BadInput, match="the SHA-256 of a photo in this ledger"):
        ledger.redact(photo="0" * 64, reason="x")


def test_a_crash_between_a_redaction_and_its_removal_is_seen_and_mended(ledger, tmp_path, monkeypatch):
    """The redaction is durable first; bytes that outlive it are a problem until redacting again removes them."""
    path = tmp_path / "p.jpg"
    path.write_bytes(picture())
    photo = ledger.add_photo(path)
    with monkeypatch.context() as patched:
        patched.setattr("qcledger.ledger.photos.remove", lambda *_: (_ for _ in ()).throw(OSError(5, "I/O error")))
        with pytest.raises(Exception, match="disk"):
            ledger.redact(photo=photo.sha256, reason="x")
    assert [problem.allowed.split(", ")[1] for problem in ledger.verify()] == ["because it was redacted"]
    ledger.redact(photo=photo.sha256, reason="x")
    assert ledger.verify() == []


def test_a_ledger_open_for_reading_redacts_nothing(file):
    """Redaction is writing."""
    with Ledger.open(file) as ledger, pytest.raises(LedgerUnavailable, match="reading only"):
        ledger.redact(entry=ledger.history("observation", "first")[0].hash, reason="x")
