"""A picture as SVG: one file that loads nothing, whose texts are texts, and that says itself in words."""

from functools import singledispatch
from xml.sax.saxutils import escape

from qcledger.public.outlines import Point
from qcledger.public.pictured import letters
from qcledger.public.pictured.marks import Band, Drawing, DrawnSpecimen, Letters, TextLine, Tints
from qcledger.text import one_line

_FAMILIES = {
    Letters.TEXT: "Charter, Georgia, 'Liberation Serif', 'DejaVu Serif', serif",
    Letters.PLAIN: "Seravek, Carlito, Calibri, 'Liberation Sans', 'DejaVu Sans', sans-serif",
}


def picture_svg(picture: Drawing, tints: Tints) -> str:
    """Return a picture as SVG.

    Parameters
    ----------
    picture
        What is drawn.
    tints
        `marks.LIGHT` or `marks.DARK`.
    """
    size = f'width="{picture.width}" height="{picture.height}" viewBox="0 0 {picture.width} {picture.height}"'
    style = (
        f".b{{fill:{tints.wash}}}.s path{{fill:none;stroke:{tints.ink}}}.w{{fill:{tints.ink}}}"
        f".w.soft{{fill:{tints.soft}}}.text{{font-family:{_FAMILIES[Letters.TEXT]}}}"
        f".plain{{font-family:{_FAMILIES[Letters.PLAIN]}}}"
    )
    return "\n".join((
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} role="img" aria-labelledby="title told">',
        f'<title id="title">{_text(picture.title)}</title>',
        f'<desc id="told">{_text(picture.told)}</desc>',
        f"<style>{style}</style>",
        f'<rect width="{picture.width}" height="{picture.height}" fill="{tints.paper}"/>',
        *(_mark(one) for one in picture.marks),
        "</svg>",
        "",
    ))  # fmt: skip


def _text(text: str) -> str:
    """Return a text that may stand between tags; what XML has no place for is left out."""
    return escape("".join(char for char in one_line(text) if char not in "\ufffe\uffff"))


@singledispatch
def _mark(one: object) -> str:
    raise TypeError(type(one))


@_mark.register
def _(one: Band) -> str:
    return f'<rect class="b" x="{one.x:g}" y="{one.y:g}" width="{one.width:g}" height="{one.height:g}" rx="4"/>'


@_mark.register
def _(one: TextLine) -> str:
    """Return a line of text as wide as it was measured, whatever font it is shown with: it sticks out nowhere."""
    wide = min(letters.width(one.text, one.size, one.letters), one.width)
    kind = f"w {one.letters}{' soft' if one.soft else ''}"
    place = f'x="{one.x:.1f}" y="{one.y:.1f}" font-size="{one.size}"'
    length = f'textLength="{wide:.1f}" lengthAdjust="spacingAndGlyphs"'
    return f'<text class="{kind}" {place} {length}>{_text(one.text)}</text>'


@_mark.register
def _(one: DrawnSpecimen) -> str:
    outline = f'<path d="M{_points(one.outline)}z" stroke-width="{one.line:.2f}"/>'
    strokes = "".join(f"M{_points(stroke)}" for stroke in one.hatching)
    hatched = f'<path d="{strokes}" stroke-width="{one.line:.2f}"/>' if strokes else ""
    return f'<g class="s {"faulty" if one.faulty else "sound"}">{outline}{hatched}</g>'


def _points(points: tuple[Point, ...]) -> str:
    return "L".join(f"{x:.1f} {y:.1f}" for x, y in points)
