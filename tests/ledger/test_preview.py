"""A filed photo as a few coloured squares."""

import io

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from qcledger.errors import LedgerUnavailable
from qcledger.ledger.preview import preview
from qcledger.pictures.decode import part_of


def saved(tmp_path, image, name="a.png", **kwargs):
    path = tmp_path / name
    image.save(path, **kwargs)
    return path


def halves(size=(80, 40)):
    image = Image.new("RGB", size, (255, 0, 0))
    image.paste((0, 0, 255), (size[0] // 2, 0, *size))
    return image


@pytest.mark.parametrize("name", ["a.png", "a.jpg", "a.webp"])
def test_shape_and_colours_are_kept(name, tmp_path):
    """80 x 40 pixels in 20 x 20 squares are 20 x 10, red on the left and blue on the right."""
    found = preview(saved(tmp_path, halves(), name), 20, 20)
    assert (len(found.rows[0]), len(found.rows), found.size) == (20, 10, (80, 40))
    left, right = found.rows[5][1], found.rows[5][-2]
    assert left[0] > 240 > 15 > left[2]
    assert right[2] > 240 > 15 > right[0]


def test_zoom_shows_a_part(tmp_path):
    """Twice as close on the left edge there is only red."""
    found = preview(saved(tmp_path, halves()), 20, 20, zoom=2, centre=(0.0, 0.5))
    assert found.part == (0, 10, 40, 30)
    assert {square for row in found.rows for square in row} == {(255, 0, 0)}


def test_orientation_of_the_camera_is_applied(tmp_path):
    """EXIF orientation 6 (EXIF 2.32, tag 274: turned a quarter clockwise) puts the left half on top."""
    exif = Image.Exif()
    exif[274] = 6
    found = preview(saved(tmp_path, halves(), "a.jpg", exif=exif), 20, 20)
    assert found.size == (40, 80)
    assert found.rows[1][5][0] > 240
    assert found.rows[-2][5][2] > 240


def test_large_photos_are_decoded_no_larger_than_needed(tmp_path):
    """What is said about the photo's size is its own, however small it was decoded."""
    found = preview(saved(tmp_path, halves((4000, 2000)), "a.jpg"), 20, 20)
    assert found.size == (4000, 2000)
    assert found.part == (0, 0, 4000, 2000)


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("a.jpg", b"no picture"),
        ("a.png", b"\x89PNG\r\n\x1a\n"),
        ("a.jpg", b"%!PS-Adobe EPSF"),
        ("a.gif", b"GIF89a"),
        ("a", b""),
    ],
)
def test_damaged_files_are_one_line(name, content, tmp_path):
    """Whatever lies there in place of the photo is refused in one line of plain words, without a library's own."""
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(LedgerUnavailable) as refused:
        preview(path, 20, 20)
    assert refused.value.line() == "This photo cannot be read: it is damaged, or not the one filed."


def test_a_photo_of_another_kind_than_its_name_is_refused(tmp_path):
    """A PNG under the name of a JPEG is not the picture that was filed."""
    buffer = io.BytesIO()
    halves().save(buffer, "PNG")
    (tmp_path / "a.jpg").write_bytes(buffer.getvalue())
    with pytest.raises(LedgerUnavailable, match="cannot be read"):
        preview(tmp_path / "a.jpg", 20, 20)


def test_a_missing_photo_is_one_line(tmp_path):
    """It may have been redacted."""
    with pytest.raises(LedgerUnavailable, match="redacted or moved"):
        preview(tmp_path / "a.jpg", 20, 20)


@given(
    st.tuples(st.integers(1, 9000), st.integers(1, 9000)),
    st.sampled_from([1, 2, 4, 8, 16]),
    st.tuples(st.floats(0, 1), st.floats(0, 1)),
)
def test_the_part_lies_inside_the_photo(size, zoom, centre):
    """At any zoom and place the part is not empty and inside."""
    left, top, right, bottom = part_of(size, zoom, centre)
    assert 0 <= left < right <= size[0]
    assert 0 <= top < bottom <= size[1]
