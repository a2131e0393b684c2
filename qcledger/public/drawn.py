"""Small drawings in SVG, made of numbers and closed words alone: specimens in their lots, and where a code stands."""

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from qcledger.public.outlines import HEIGHT, Outline, outline_of

if TYPE_CHECKING:
    from markupsafe import Markup

_ANCHOR: Final = re.compile(r"[a-z0-9-]+")
"""What an anchor that is written into markup may be."""


def glyphs(format_: str, tested: int, faulty: int, opens: Sequence[str] = ()) -> "Markup":
    """Return the specimens of a lot side by side, the faulty ones first and hatched.

    Parameters
    ----------
    format_
        What they come in.
    tested, faulty
        How many there are, and how many of them are faulty.
    opens
        Anchors of photos of faulty ones, in plain letters, digits and hyphens: the first of them open these.
    """
    from markupsafe import Markup

    shape = outline_of(format_)
    path = f'<path d="M{"L".join(f"{x:g} {y:g}" for x, y in shape.points)}z"/>'
    linked = dict(enumerate(opens[:faulty], 1))
    each = (
        f'<g class="{"faulty" if n <= faulty else "sound"}" transform="translate({(n - 1) * shape.width:g} 0)">'
        f"{_opening(shape, path, linked[n], (n, faulty)) if n in linked else path}</g>"
        for n in range(1, tested + 1)
    )
    wide = f"{shape.width * tested:g}"
    size = f'width="{wide}" height="{HEIGHT:g}" viewBox="0 0 {wide} {HEIGHT:g}"'
    aid = 'role="group"' if linked else 'aria-hidden="true"'
    return Markup(f'<svg class="lot" {size} {aid} focusable="false">{"".join(each)}</svg>')  # noqa: S704


def _opening(shape: Outline, path: str, anchor: str, place: tuple[int, int]) -> str:
    """Return a faulty specimen as a link to its photo, with a dot below it; `place` is which, and of how many."""
    if not _ANCHOR.fullmatch(anchor):
        raise ValueError(anchor)
    dot = f'<circle class="opens" cx="{shape.width / 2:g}" cy="{HEIGHT - 0.5:g}" r="1.4"/>'
    return f'<a href="#{anchor}" aria-label="Photo of faulty specimen {place[0]} of {place[1]}">{path}{dot}</a>'


def place(low: float, high: float) -> "Markup":
    """Return a band from one share to another, 0 to 1, on a line from none to all of them."""
    from markupsafe import Markup

    left, wide = round(low * 240, 1), max(round((high - low) * 240, 1), 1.5)
    return Markup(  # noqa: S704 - numbers alone
        '<svg class="band" width="244" height="14" viewBox="-2 0 244 14" aria-hidden="true" focusable="false">'
        '<path class="line" d="M0 13H240M0 9V13M120 10V13M240 9V13"/>'
        f'<rect x="{left}" y="2" width="{wide}" height="7"/></svg>'
    )
