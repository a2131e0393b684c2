"""Small drawings in SVG, made of numbers and closed words alone: specimens in their lots, and where a code stands."""

from typing import TYPE_CHECKING, Final

from qcledger.vocab import Format

if TYPE_CHECKING:
    from markupsafe import Markup

HEIGHT: Final = 22
"""Height of a drawn specimen, in px."""
_SHAPES: Final = {
    Format.TUBE: (12, '<path d="M4 1h4v3l2 2v14H2V6l2-2z"/>'),
    Format.HALF_PAN: (18, '<rect x="2" y="6" width="14" height="14" rx="1.5"/>'),
    Format.FULL_PAN: (28, '<rect x="2" y="6" width="24" height="14" rx="1.5"/>'),
    Format.STICK: (11, '<rect x="3" y="1" width="5" height="19" rx="1"/>'),
    Format.BOTTLE: (16, '<path d="M6 1h4v5l4 3v11H2V9l4-3z"/>'),
    Format.PENCIL: (10, '<path d="M5 1l3 5v14H2V6z"/>'),
}
"""Width and outline of a specimen of a format; others are discs."""
_OTHER: Final = (18, '<circle cx="9" cy="12" r="7"/>')


def glyphs(format_: str, tested: int, faulty: int) -> "Markup":
    """Return the specimens of a lot side by side, the faulty ones first and hatched.

    Parameters
    ----------
    format_
        What they come in.
    tested, faulty
        How many there are, and how many of them are faulty.
    """
    from markupsafe import Markup

    width, outline = _SHAPES.get(format_, _OTHER)  # type: ignore[call-overload]
    each = (
        f'<g class="{"faulty" if n < faulty else "sound"}" transform="translate({n * width} 0)">{outline}</g>'
        for n in range(tested)
    )
    size = f'width="{width * tested}" height="{HEIGHT}" viewBox="0 0 {width * tested} {HEIGHT}"'
    return Markup(f'<svg class="lot" {size} aria-hidden="true" focusable="false">{"".join(each)}</svg>')  # noqa: S704


def place(low: float, high: float) -> "Markup":
    """Return a band from one share to another, 0 to 1, on a line from none to all of them."""
    from markupsafe import Markup

    left, wide = round(low * 240, 1), max(round((high - low) * 240, 1), 1.5)
    return Markup(  # noqa: S704 - numbers alone
        '<svg class="band" width="244" height="14" viewBox="-2 0 244 14" aria-hidden="true" focusable="false">'
        '<path class="line" d="M0 13H240M0 9V13M120 10V13M240 9V13"/>'
        f'<rect x="{left}" y="2" width="{wide}" height="7"/></svg>'
    )
