"""``qcledger redact``: what goes is shown first, then it is gone from the file and verify is content."""

import pytest

from qcledger.ledger import Ledger
from qcledger.records import Observation, Photo
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
    assert "observation masstone, note" in flat
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
        *("redact", "--sticker", "OV 0001", "--criterion", "masstone", "--reason", "a name", "--yes"),
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
    for given in ([], ["--text", "x" * 4, "--photo", "0" * 8], ["--criterion", "masstone"], ["--text", "a"]):
        refused = cli("redact", *given, "--ledger", place)
        assert (refused.code, len(refused.error_lines)) == (2, 1)
