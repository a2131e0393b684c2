"""A photo in half blocks or pixels, closer and farther."""

import io

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from textual.app import App, ComposeResult

from qcledger.screens.widgets import photo
from qcledger.screens.widgets.photo import PhotoView, move, netpbm

RED, BLUE = (255, 0, 0), (0, 0, 255)


class Showing(App[None]):
    """One photo view that draws what it is given."""

    def compose(self) -> ComposeResult:
        """Lay it out."""
        yield PhotoView()


async def test_two_squares_stand_in_one_cell():
    """The upper square is the ink of the half block, the lower one its ground."""
    app = Showing()
    async with app.run_test(size=(4, 2)) as pilot:
        view = app.query_one(PhotoView)
        assert view.squares == (4, 4)
        view.draw([[RED, BLUE], [BLUE, RED], [RED, RED]])
        await pilot.pause()
        cells = list(view.render_line(0))
        assert [segment.text for segment in cells[:2]] == ["▀", "▀"]
        assert cells[0].style.color.get_truecolor() == RED
        assert cells[0].style.bgcolor.get_truecolor() == BLUE
        assert next(iter(view.render_line(1))).style.color.get_truecolor() == RED


@given(st.floats(0, 1), st.sampled_from(photo.ZOOMS), st.integers(-40, 40))
def test_moving_never_leaves_the_photo(centre, zoom, steps):
    """Half of what is shown fits on either side of the centre."""
    moved = move(centre, zoom, steps)
    assert 0.5 / zoom <= moved <= 1 - 0.5 / zoom


async def test_zoom_has_ends():
    """Closer than the closest and farther than the whole are refused in silence."""
    app = Showing()
    async with app.run_test(size=(10, 5)):
        view = app.query_one(PhotoView)
        view.zoom_by(99)
        assert view.zoom == 16
        view.zoom_by(-99)
        assert view.zoom == 1
        assert view.centre == (0.5, 0.5)


def test_squares_make_a_picture_file():
    """The file is read by another library as the same squares (Netpbm's binary PPM)."""
    with Image.open(io.BytesIO(netpbm([[RED, BLUE], [BLUE, RED]]))) as image:
        assert image.format == "PPM"
        assert [image.getpixel(at) for at in ((0, 0), (1, 0), (0, 1), (1, 1))] == [RED, BLUE, BLUE, RED]


@pytest.mark.filterwarnings("ignore")
async def test_pixels_are_finer_than_blocks(monkeypatch):
    """Where the terminal can draw pixels the view asks for more squares and hands them over as a picture."""
    from textual_image.widget import HalfcellImage

    monkeypatch.setattr(PhotoView, "PIXELS", HalfcellImage)
    app = Showing()
    async with app.run_test(size=(20, 10)) as pilot:
        view = app.query_one(PhotoView)
        assert view.squares == (160, 160)
        view.draw([[RED] * 160] * 80)
        await pilot.pause()
        drawn = view.query_one("#pixels")
        assert (drawn._image_width, drawn._image_height) == (160, 80)
        view.reset()
        await pilot.pause()
        assert drawn.image is None


def test_without_a_terminal_blocks_remain():
    """No terminal answers here: the pages go on with half blocks."""
    assert photo.use_pixels() is False
    assert PhotoView.PIXELS is None
