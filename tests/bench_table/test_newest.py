"""The newest picture of the folder a camera saves into."""

import os

import pytest

from qcledger.bench.newest import is_still, newest, pictures
from qcledger.errors import BadInput


def picture(folder, name, at, content=b"x"):
    path = folder / name
    path.write_bytes(content)
    os.utime(path, (at, at))
    return path


def test_the_newest_picture_is_taken_and_not_taken_twice(tmp_path):
    """Newest by the time it was written; what is no picture, empty, or taken before is passed over."""
    old = picture(tmp_path, "a.JPG", 100)
    new = picture(tmp_path, "b.heic", 200)
    picture(tmp_path, "notes.txt", 300)
    picture(tmp_path, "empty.jpg", 400, b"")
    first = newest(tmp_path)
    assert first.path == new
    second = newest(tmp_path, {first})
    assert second.path == old
    with pytest.raises(BadInput, match="no new picture"):
        newest(tmp_path, {first, second})


def test_a_folder_that_is_not_there_is_told(tmp_path):
    """The folder is named in the line."""
    with pytest.raises(BadInput, match="photo folder"):
        pictures(tmp_path / "nowhere")


def test_a_file_that_still_grows_is_not_still(tmp_path):
    """A camera that writes on changes size or time; a file that is gone is not still either."""
    path = picture(tmp_path, "a.jpg", 100)
    seen = newest(tmp_path)
    assert is_still(seen)
    path.write_bytes(b"xx")
    assert not is_still(seen)
    path.unlink()
    assert not is_still(seen)
