"""A text taken out of all a tester wrote: rows stand without it, the chain verifies, the file holds it no more."""

from dataclasses import replace
from datetime import date

import pytest

from qcledger.errors import BadInput
from qcledger.exchange import merge_folder, to_folder
from qcledger.ledger import Ledger
from qcledger.ledger.clearing import has_text, held
from qcledger.records import Maker, MakerAnswer, Observation, Parcel, Photo, ReaderNote, Redaction, Specimen
from tests.ledger.given import basics, everything, graded, steady
from tests.ledger.test_photos import picture

SECRET = "Wenna Orrel"


def holding(ledger, meant):
    book = ledger.daybook
    with ledger.reading() as connection:
        return held(connection, book, meant)


def clear(ledger, text=SECRET, reason="named a reader", **more):
    ledger.clear(holding(ledger, has_text(text)), reason=reason, text=text, **more)


def test_a_note_that_others_refer_to_is_emptied_in_one_act(ledger):
    """Grades, amendments and all that hang on them stay; nothing holds the text, tables equal the entries."""
    ledger.append([graded("a", note=f"lent by {SECRET}"), graded("b", supersedes="a", reason=f"{SECRET} saw it")])
    clear(ledger, SECRET.upper())
    first, second = ledger.get(Observation, "a"), ledger.get(Observation, "b")
    assert (first.note, first.grade) == ("", graded("a").grade)
    assert (second.supersedes, second.reason) == ("a", "taken out saw it")
    assert holding(ledger, has_text(SECRET)) == []
    stood = everything(ledger)
    ledger.rebuild()
    assert everything(ledger) == stood
    assert ledger.verify() == []


def test_every_kind_of_text_goes(ledger, tmp_path):
    """Notes of pieces and parcels, a seller, a maker's private words, a reader's note, a caption, a reason."""
    path = tmp_path / f"{SECRET}.jpg"
    path.write_bytes(picture())
    photo = ledger.add_photo(path, specimen="specimen", caption=f"hands of {SECRET}")
    ledger.append([replace(ledger.get(Specimen, "specimen"), note=f"gift of {SECRET}")])
    ledger.append([replace(ledger.get(Parcel, "parcel"), seller=f"{SECRET} Arts", note=SECRET)])
    ledger.append(
        [
            MakerAnswer(id="answer", maker="maker", asked_on=date(2026, 3, 1), asked="x", private=SECRET),
            ReaderNote(id="told", maker="maker", told_on=date(2026, 3, 1), fault="froth", note=SECRET),
        ],
        reason=f"told by {SECRET}",
    )
    clear(ledger, pictures=[photo.sha256])
    assert ledger.get(Specimen, "specimen").note == ""
    assert (ledger.get(Parcel, "parcel").seller, ledger.get(Parcel, "parcel").note) == ("taken out Arts", "")
    assert ledger.get(MakerAnswer, "answer").private == ""
    assert ledger.get(ReaderNote, "told").note == ""
    assert (ledger.get(Photo, photo.id).caption, ledger.get(Photo, photo.id).file_name) == ("", None)
    assert not ledger.photo_path(photo).exists()
    assert all(SECRET not in (entry.body or "") for entry in ledger.entries())
    assert ledger.verify() == []


def test_an_older_state_goes_and_what_stands_is_not_written_again(ledger):
    """Where the row was amended since, only the older entry is emptied."""
    ledger.append([Maker(id="maker", name="Quernlow", note=SECRET)])
    ledger.append([Maker(id="maker", name="Quernlow")])
    clear(ledger)
    assert [entry.body is None for entry in ledger.history("maker", "maker")] == [False, True, False]
    assert ledger.verify() == []


def test_what_cannot_go_is_named_and_nothing_is_stored(ledger):
    """A tester's own name, and a reason that says it all again."""
    (book,) = [one for one in holding(ledger, has_text("Oda Vane")) if one.entry.kind == "daybook"]
    before = ledger.closing_hashes()
    with pytest.raises(BadInput, match="whose every row is"):
        ledger.clear([book], reason="x")
    ledger.append([graded("a", note=SECRET)])
    before = ledger.closing_hashes()
    with pytest.raises(BadInput, match="without what is to be taken out"):
        clear(ledger, reason=f"{SECRET} asked for it")
    with pytest.raises(BadInput, match="reason"):
        clear(ledger, reason=" ")
    assert ledger.closing_hashes() == before
    assert ledger.rows(Redaction) == []


def test_another_testers_words_are_not_found_and_a_copy_loses_them_at_a_merge(tmp_path):
    """Only one's own entries are offered; who merged before and merges again holds the text no more."""
    with Ledger.create(tmp_path / "mine.sqlite", letters="OV", tester="Oda Vane", sources=steady()) as mine:
        mine.append([*basics(), graded("a", note=SECRET), graded("b", supersedes="a", reason="slip")])
        to_folder(mine, tmp_path / "before")
        with Ledger.create(tmp_path / "other.sqlite", letters="TL", tester="Tilo Lund") as other:
            merge_folder(other, tmp_path / "before")
            assert holding(other, has_text(SECRET)) == []
            clear(mine)
            to_folder(mine, tmp_path / "after")
            merge_folder(other, tmp_path / "after")
            assert all(SECRET not in (entry.body or "") for entry in other.entries())
            assert other.get(Observation, "a").note == ""
            assert (other.verify(), mine.verify()) == ([], [])
