"""Two testers file one picture: each has a row of their own, and neither's act takes the other's away."""

from dataclasses import replace
from datetime import timedelta
from itertools import count

import pytest

from qcledger.bench import filing
from qcledger.bench.newest import PictureFile
from qcledger.errors import BadInput
from qcledger.exchange import merge_folder, to_folder
from qcledger.ledger import Ledger
from qcledger.records import Photo
from tests.ledger.given import NOON, basics, graded, steady
from tests.ledger.test_photos import picture


@pytest.fixture
def mine(places):
    with Ledger.create(places.new("mine"), letters="OV", tester="Oda Vane", sources=steady(), zone="Etc/UTC") as made:
        second = replace(basics()[6], id="second", sticker="OV 0002")
        made.append([*basics(), graded("first"), second])
        yield made


@pytest.fixture
def theirs(places):
    sources = steady(NOON + timedelta(days=1), "tl")
    with Ledger.create(places.new("theirs"), letters="TL", tester="Tilo", sources=sources, zone="Etc/UTC") as made:
        yield made


@pytest.fixture
def shot(tmp_path):
    path = tmp_path / "shot.jpg"
    path.write_bytes(picture())
    return PictureFile(0, 0, path)


@pytest.fixture
def merged(tmp_path):
    """Return a function that merges one ledger into another; both verify then."""
    numbers = count(1)

    def merge(source, target):
        out = tmp_path / f"out {next(numbers)}"
        to_folder(source, out)
        merge_folder(target, out)
        assert (source.verify(), target.verify()) == ([], [])

    return merge


@pytest.mark.parametrize("place", [{"specimen": "second"}, {"specimen": "specimen", "observation": "first"}])
def test_a_picture_that_another_tester_took_out_is_filed_with_a_row_of_ones_own(mine, theirs, shot, merged, place):
    """Also where the other tester's row says the same place: bytes are kept, and reach the other ledger."""
    place = {"observation": None, **place}
    gone = filing.file_picture(mine, shot, specimen="second", observation=None)
    mine.redact(photo=gone.sha256, reason="a face")
    merged(mine, theirs)
    before = len(list(theirs.entries()))
    filed = filing.file_picture(theirs, shot, **place)
    assert len(list(theirs.entries())) == before + 1
    assert filed.id in theirs.own(Photo)
    assert theirs.photo_path(filed).read_bytes() == shot.path.read_bytes()
    assert theirs.add_photo(shot.path, **place) == filed
    assert theirs.verify() == []
    merged(theirs, mine)
    assert mine.photo_path(filed).read_bytes() == shot.path.read_bytes()


def test_a_picture_that_one_took_out_is_not_added_as_if_it_were_kept(mine, shot):
    """Its bytes would not stay: refused in one line that says what files it again, nothing stored."""
    gone = filing.file_picture(mine, shot, specimen="second", observation=None)
    mine.redact(photo=gone.sha256, reason="a face")
    before = len(list(mine.entries()))
    with pytest.raises(BadInput, match=r"a picture that you took out.*qcledger amend --photo files it again"):
        mine.add_photo(shot.path, specimen="second")
    assert len(list(mine.entries())) == before
    assert not mine.photo_path(gone).exists()
    assert mine.verify() == []


def test_of_one_picture_each_tester_moves_the_own_photo(mine, theirs, shot, merged):
    """Whichever was filed first: a file names one's own photo, and another tester's is refused with whose it is."""
    merged(mine, theirs)
    photo = filing.file_picture(mine, shot, specimen="second", observation=None)
    other = theirs.add_photo(shot.path, specimen="specimen", observation="first")
    merged(mine, theirs)
    merged(theirs, mine)
    for ledger, own in ((mine, photo), (theirs, other)):
        assert filing.photo_of(ledger, shot) == own
    with pytest.raises(BadInput, match="a photo of TL, Tilo"):
        filing.weigh_move(mine, other, "second", None)
