"""A picture as PNG: the same marks, shapes three times as large first, so that their edges are smooth."""

from io import BytesIO
from typing import TYPE_CHECKING, Final

from qcledger.public.pictured import letters
from qcledger.public.pictured.marks import Band, Drawing, DrawnSpecimen, TextLine, Tints
from qcledger.text import one_line

if TYPE_CHECKING:
    from PIL.ImageDraw import ImageDraw

_FINER: Final = 3
"""How many times as large shapes are drawn before they are made smaller."""


def picture_png(picture: Drawing, tints: Tints) -> bytes:
    """Return a picture as PNG, with what it is called and says as texts in it.

    Parameters
    ----------
    picture
        What is drawn.
    tints
        `marks.LIGHT` or `marks.DARK`.
    """
    from PIL import Image, ImageDraw, PngImagePlugin

    size = (picture.width, picture.height)
    large = Image.new("RGB", (size[0] * _FINER, size[1] * _FINER), tints.paper)
    shapes = ImageDraw.Draw(large)
    for one in picture.marks:
        _shape(shapes, one, tints)
    image = large.reduce(_FINER)
    words = ImageDraw.Draw(image)
    for one in picture.marks:
        if isinstance(one, TextLine):
            _words(words, one, tints)
    info = PngImagePlugin.PngInfo()
    info.add_itxt("Title", one_line(picture.title))
    info.add_itxt("Description", one_line(picture.told))
    out = BytesIO()
    image.save(out, "PNG", pnginfo=info)
    return out.getvalue()


def lacking(picture: Drawing) -> str:
    """Return the characters of a picture that no font here has, each once; they would be drawn as boxes."""
    words = (one for one in picture.marks if isinstance(one, TextLine))
    return "".join(dict.fromkeys(char for one in words for char in letters.lacking(one.text, one.letters)))


def _shape(draw: "ImageDraw", one: object, tints: Tints) -> None:
    if isinstance(one, Band):
        corner = (one.x * _FINER, one.y * _FINER)
        far = ((one.x + one.width) * _FINER, (one.y + one.height) * _FINER)
        draw.rounded_rectangle((corner, far), radius=4 * _FINER, fill=tints.wash)
    elif isinstance(one, DrawnSpecimen):
        line = max(round(one.line * _FINER), 1)
        corners = [(x * _FINER, y * _FINER) for x, y in one.outline]
        draw.line([*corners, *corners[:2]], fill=tints.ink, width=line, joint="curve")
        for stroke in one.hatching:
            draw.line([(x * _FINER, y * _FINER) for x, y in stroke], fill=tints.ink, width=line)


def _words(draw: "ImageDraw", one: TextLine, tints: Tints) -> None:
    """Draw a line of text from its baseline on."""
    font = letters.font(one.text, one.size, one.letters)
    draw.text((one.x, one.y), one.text, font=font, fill=tints.soft if one.soft else tints.ink, anchor="ls")
