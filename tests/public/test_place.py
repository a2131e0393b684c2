"""Where a page goes: the file and the folder of photos beside it are there whole, or all is as it was."""

from pathlib import Path

import pytest

from qcledger.errors import BadInput
from qcledger.public import place
from qcledger.public.photos import ReducedPhoto

OLD, NEW = "0" * 64, "1" * 64


def copy(content: bytes) -> ReducedPhoto:
    return ReducedPhoto(content, NEW, 1, 1)


class Breaking(dict):
    """Photos of which the second one is not reached."""

    def __init__(self, with_: type[BaseException]) -> None:
        super().__init__({NEW: copy(b"new"), "2" * 64: copy(b"never")})
        self._with = with_

    def items(self):
        """Yield the first, and break off."""
        yield NEW, self[NEW]
        raise self._with


def there(folder: Path) -> dict[str, bytes]:
    """Return every file of a folder, hidden ones too, with what it holds."""
    return {str(one.relative_to(folder)): one.read_bytes() for one in folder.rglob("*") if one.is_file()}


@pytest.fixture
def page(tmp_path):
    """Return a page that stands with its photo."""
    file = tmp_path / "card.html"
    place.write(file, "before", {OLD: copy(b"old")})
    return file


def test_a_page_takes_the_place_of_another_with_its_photos(page, tmp_path):
    """Page and folder are the new ones; without photos there is no folder; nothing else lies there."""
    place.write(page, "after", {NEW: copy(b"new")}, force=True)
    assert there(tmp_path) == {"card.html": b"after", f"card-photos/{NEW}.jpg": b"new"}
    place.write(page, "bare", {}, force=True)
    assert there(tmp_path) == {"card.html": b"bare"}
    assert [one.name for one in tmp_path.iterdir()] == ["card.html"]


def test_a_file_of_data_leaves_the_photos_of_a_page_of_its_name(page, tmp_path):
    """What has no photos goes alone: the folder of the page beside it stays, whatever lies in it."""
    (tmp_path / "card-photos" / "mine.txt").write_bytes(b"mine")
    place.write(tmp_path / "card.md", "data")
    left = {
        "card.html": b"before",
        "card.md": b"data",
        f"card-photos/{OLD}.jpg": b"old",
        "card-photos/mine.txt": b"mine",
    }
    assert there(tmp_path) == left


@pytest.mark.parametrize(("stopped", "told"), [(KeyboardInterrupt, KeyboardInterrupt), (OSError, BadInput)])
def test_stopped_between_two_photos_all_is_as_it_was(page, tmp_path, stopped, told):
    """Ctrl+C, and a disk that is full, leave the page and the photos of before, and no part of the new ones."""
    before = there(tmp_path)
    with pytest.raises(told):
        place.write(page, "after", Breaking(stopped), force=True)
    assert there(tmp_path) == before
    other = tmp_path / "other.html"
    with pytest.raises(told):
        place.write(other, "after", Breaking(stopped))
    assert there(tmp_path) == before


@pytest.mark.parametrize("at", [1, 2, 3])
def test_stopped_while_they_change_places_all_is_as_it_was(page, tmp_path, monkeypatch, at):
    """Whichever of the three moves is the last one that is tried, page and photos stand as before."""
    before, done = there(tmp_path), []

    def counting(real):
        def move(self, target):
            done.append(self.name)
            if len(done) == at:
                raise KeyboardInterrupt
            return real(self, target)

        return move

    monkeypatch.setattr(Path, "rename", counting(Path.rename))
    monkeypatch.setattr(Path, "replace", counting(Path.replace))
    with pytest.raises(KeyboardInterrupt):
        place.write(page, "after", {NEW: copy(b"new")}, force=True)
    monkeypatch.undo()
    assert there(tmp_path) == before
