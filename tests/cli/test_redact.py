"""``qcledger redact``: what goes is shown first, then it is gone from the file and verify is content."""

import json

import pytest

from qcledger.door import identity_of
from qcledger.ledger import Ledger
from qcledger.records import Observation, Photo
from qcledger.screens.drafts import Drafts
from qcledger.screens.windows import Window
from qcledger.settings import data_folder
from tests.ledger.given import basics, graded, steady
from tests.ledger.test_photos import picture

SECRET = "Wenna Orrel"


@pytest.fixture
def place(tmp_path):
    named = {"letters": "OV", "tester": "Oda Vane", "zone": "Etc/UTC"}
    with Ledger.create(tmp_path / "mine.sqlite", sources=steady(), **named) as ledger:
        ledger.append([*basics(), graded("a", note=f"lent by {SECRET}"), graded("b", supersedes="a", reason="slip")])
    return tmp_path / "mine.sqlite"


def test_a_name_is_shown_first_then_taken_out_with_a_reason(cli, place):
    """Without --yes nothing changes; without a reason neither; after it, nothing holds the name."""
    before = place.read_bytes()
    shown = cli("redact", "--text", SECRET.lower(), "--ledger", place)
    assert shown.code == 0
    flat = " ".join(shown.out.split())
    assert "evenness on OV 0001 (session 4), 2026-03-09: note" in flat
    assert "other people's copies keep it" in flat
    assert "Nothing was changed" in flat
    refused = cli("redact", "--text", SECRET, "--yes", "--ledger", place)
    assert (refused.code, len(refused.error_lines)) == (2, 1)
    assert place.read_bytes() == before
    done = cli("redact", "--text", SECRET, "--reason", "asked for it", "--yes", "--ledger", place)
    assert (done.code, done.err) == (0, "")
    assert SECRET.encode() not in place.read_bytes()
    assert cli("verify", "--ledger", place).code == 0
    again = cli("redact", "--text", SECRET, "--reason", "x", "--yes", "--ledger", place)
    assert (again.code, len(again.error_lines)) == (2, 1)


def test_the_notes_of_one_result_are_taken_out_by_its_sticker(cli, place):
    """The piece's result on the criterion keeps its grade, and the amendment of it too."""
    done = cli(
        *("redact", "--sticker", "OV 0001", "--criterion", "evenness", "--reason", "a name", "--yes"),
        *("--ledger", place),
    )
    assert (done.code, done.err) == (0, "")
    with Ledger.open(place) as ledger:
        assert ledger.get(Observation, "a").note == ""
        assert ledger.verify() == []
    wrong = cli("redact", "--sticker", "OV 0001", "--criterion", "froth", "--ledger", place)
    assert (wrong.code, len(wrong.error_lines)) == (2, 1)


def test_a_photo_goes_with_its_caption_and_file_name(cli, place, tmp_path):
    """The bytes are gone from the folder; the row stays and names nobody."""
    path = tmp_path / f"{SECRET}.jpg"
    path.write_bytes(picture())
    with Ledger.open(place, write=True) as ledger:
        photo = ledger.add_photo(path, specimen="specimen", caption=SECRET)
    done = cli("redact", "--photo", photo.sha256[:10], "--reason", "a face", "--yes", "--ledger", place)
    assert (done.code, done.err) == (0, "")
    with Ledger.open(place) as ledger:
        assert not ledger.photo_path(photo).exists()
        assert ledger.get(Photo, photo.id).file_name is None
        assert ledger.get(Photo, photo.id).caption == ""
        assert ledger.verify() == []


def test_one_thing_is_named(cli, place):
    """Nothing, or two things at once, are refused in one line."""
    for given in ([], ["--text", "x" * 4, "--photo", "0" * 8], ["--criterion", "evenness"], ["--text", "a"]):
        refused = cli("redact", *given, "--ledger", place)
        assert (refused.code, len(refused.error_lines)) == (2, 1)


def typed(place, *, name="reader's note", text=SECRET, close=True):
    """Leave a text half-typed in a window of the ledger, as a form that was refused does."""
    with Ledger.open(place) as ledger:
        window = Window(data_folder() / "windows")
        window.claim(identity_of(ledger))
    Drafts(window).keep(name, json.dumps({"note": f"lent by\n{text} ä"}))
    if close:
        window.close()
    return window


def filing(name):
    """Return a save that did not reach the ledger: a picture whose file is named after somebody."""
    return {"at": "2026-03-01T10:00:00", "notes": [{"photo": f"/shots/{name}.jpg", "shows": {"caption": ""}}]}


def on_disk():
    return b"".join(path.read_bytes() for path in (data_folder() / "windows").rglob("*.json"))


def test_what_was_typed_and_not_saved_goes_too(cli, home, place):
    """A text in an entry and in a draft of a window that is gone: both are named first, and both go."""
    typed(place)
    typed(place, name="ask 0190a4b2-1c3d-7e4f-8a5b-6c7d8e9f0a1b", text="another person")
    shown = cli("redact", "--text", SECRET.upper(), "--ledger", place)
    assert "goes: what was typed and not saved, reader's note" in " ".join(shown.out.split())
    assert SECRET.encode() in on_disk()
    done = cli("redact", "--text", SECRET, "--reason", "asked for it", "--yes", "--ledger", place)
    assert (done.code, done.err) == (0, "")
    assert SECRET.encode() not in on_disk()
    assert b"another person" in on_disk()


def test_a_text_that_was_only_typed_is_thrown_away(cli, home, tmp_path, place):
    """No entry holds it: the draft goes, the ledger stays byte for byte; afterwards there is nothing to take out."""
    before = place.read_bytes()
    typed(place, text="Marrec Tol", name="note 0190a4b2-1c3d-7e4f-8a5b-6c7d8e9f0a1b evenness")
    done = cli("redact", "--text", "lent by Marrec Tol", "--yes", "--ledger", place)
    assert (done.code, done.err) == (0, "")
    assert "goes: what was typed and not saved, note evenness" in " ".join(done.out.split())
    assert "no entry held it" in done.out
    assert on_disk() == b""
    assert place.read_bytes() == before
    again = cli("redact", "--text", "Marrec Tol", "--yes", "--ledger", place)
    assert (again.code, len(again.error_lines)) == (2, 1)


def test_a_draft_in_an_open_window_is_named(cli, home, place):
    """Another window keeps what it holds until it is left; it is told, and afterwards it goes."""
    window = typed(place, text="Marrec Tol", close=False)
    first = cli("redact", "--text", "Marrec Tol", "--yes", "--ledger", place)
    assert (first.code, len(first.error_lines)) == (2, 1)
    assert "only in what stays" in first.err
    assert "hrown away" not in first.out
    assert "in a window that is open: F7 there throws it away" in " ".join(first.out.split())
    assert b"Marrec Tol" in on_disk()
    window.close()
    assert cli("redact", "--text", "Marrec Tol", "--yes", "--ledger", place).code == 0
    assert on_disk() == b""


def test_a_draft_of_another_ledger_stays(cli, home, tmp_path, place):
    """Taking out of one ledger touches nothing that was typed for another."""
    with Ledger.create(tmp_path / "other.sqlite", letters="TL", tester="Tove Lind", zone="Etc/UTC") as other:
        other.append([*basics()])
    typed(tmp_path / "other.sqlite")
    assert cli("redact", "--text", SECRET, "--reason", "a name", "--yes", "--ledger", place).code == 0
    assert SECRET.encode() in on_disk()


def test_where_nothing_can_go_it_is_refused(cli, home, place):
    """A tester's name, and a save that the next start asks about: both are named, and nothing is called gone."""
    before = place.read_bytes()
    window = typed(place, text="another person", close=False)
    window.pending = [filing("Marrec Tol")]
    window.write()
    window.close()
    for text, told in (("Oda Vane", "stays: daybook"), ("Marrec Tol", "a save that did not reach the ledger")):
        for more in (["--yes", "--reason", "x"], []):
            done = cli("redact", "--text", text, *more, "--ledger", place)
            assert (done.code, len(done.error_lines)) == (2, 1)
            assert "only in what stays" in done.err
            assert told in " ".join(done.out.split())
            assert "hrown away" not in done.out
    assert place.read_bytes() == before
    assert b"Marrec Tol" in on_disk()


def test_what_was_typed_goes_where_entries_keep_it(cli, home, place):
    """A draft that holds the tester's name goes, its daybook stays, and nobody is told that no entry held it."""
    typed(place, text="Oda Vane")
    done = cli("redact", "--text", "Oda Vane", "--yes", "--ledger", place)
    assert (done.code, done.err) == (0, "")
    flat = " ".join(done.out.split())
    assert "Thrown away, but it stands still in what stays." in flat
    assert "no entry held it" not in flat
    assert on_disk() == b""


def test_a_note_that_goes_takes_no_other_form_with_it(cli, home, place):
    """The note of a result is a word that stands in another form, and what a field of that is called: it stays."""
    typed(place, name="reader's note", text="rim")
    with Ledger.open(place, write=True) as ledger:
        ledger.append([graded("c", note="rim", supersedes="b", reason="note")])
    taken = ("redact", "--sticker", "OV 0001", "--criterion", "evenness", "--reason", "x", "--yes", "--ledger", place)
    done = cli(*taken)
    assert (done.code, done.err) == (0, "")
    assert "goes: what was typed" not in done.out
    assert b"rim" in on_disk()
    with Ledger.open(place) as ledger:
        assert ledger.get(Observation, "c").note == ""


def test_a_damaged_file_is_named_where_words_go(cli, home, place):
    """A file of a window that cannot be read and holds the words is named, before and after; what can go goes."""
    typed(place, text="Marrec Tol")
    (path,) = (data_folder() / "windows").rglob("*.json")
    path.write_bytes(path.read_bytes()[:-3])
    typed(place, text="Marrec Tol", name="answer")
    done = cli("redact", "--text", "Marrec Tol", "--yes", "--ledger", place)
    assert (done.code, done.err) == (0, "")
    flat = " ".join(done.out.split())
    assert flat.count("stays: a file beside the ledger that cannot be read") == 2
    assert "no entry held it" not in flat
    assert [one.name for one in path.parent.glob("*.json")] == [path.name]
    again = cli("redact", "--text", "Marrec Tol", "--yes", "--ledger", place)
    assert (again.code, len(again.error_lines)) == (2, 1)
    assert "only in what stays" in again.err


def test_a_note_of_many_brackets_stops_nothing(cli, home, place):
    """A text that could be read as JSON, and is too deep for that, is looked through as it was typed."""
    with Ledger.open(place) as ledger:
        window = Window(data_folder() / "windows")
        window.claim(identity_of(ledger))
    Drafts(window).keep("note x", "[" * 100_000 + "Marrec Tol")
    window.close()
    done = cli("redact", "--text", "Marrec Tol", "--yes", "--ledger", place)
    assert (done.code, done.err) == (0, "")
    assert on_disk() == b""
