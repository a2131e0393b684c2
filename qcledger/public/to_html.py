"""The view as one HTML file: it opens without a network, reads without a script, and lets nothing in or out."""

import base64
import hashlib
from collections import Counter
from collections.abc import Mapping, Sequence
from functools import cache
from html import escape
from importlib import resources
from math import ceil
from typing import TYPE_CHECKING, Any, Final

from qcledger.findings.checks import percent
from qcledger.findings.words import day, lower_first, out_of
from qcledger.public import codes, drawn, told
from qcledger.public.view import DrawnLot, PublicLot, PublicPhoto, PublicStatement, PublicView
from qcledger.text import harmless

if TYPE_CHECKING:
    from jinja2 import Environment

    from qcledger.public.photos import ReducedPhoto

PAGE_BYTES: Final = 5_000_000
"""Most bytes of a page, as far as its texts leave room for photos; the others lie in the folder beside it."""
PHOTO_BYTES: Final = 3_400_000
"""Most bytes of photos within a page, as they stand there."""
_DATA: Final = "data:image/jpeg;base64,"
_TAG_BYTES: Final = 160
"""Most bytes of what a page puts around a photo, but for its caption and its address."""


def scorecard_html(view: PublicView, photos: Mapping[str, "ReducedPhoto"], folder: str = "") -> str:
    """Return the scorecard as one page.

    Parameters
    ----------
    view
        What it says.
    photos
        Reduced copies by the SHA-256 that the view names them with.
    folder
        The folder beside the page that holds larger copies; empty where there is none.
    """
    bare = _page(view, {}, folder)
    if not photos:
        return bare
    room = min(PHOTO_BYTES, PAGE_BYTES - len(harmless(bare).encode()))
    return _page(view, pictures_in(view.photos, photos, room), folder)


def _page(view: PublicView, pictures: Mapping[str, str], folder: str) -> str:
    script = _shipped("page.js")
    return _environment().get_template("scorecard.html").render(
        view=view,
        told=told,
        folder=folder,
        photos=pictures,
        style=_style(),
        script=script,
        policy=policy(_style(), script),
        on_cards=_on_cards(view),
        nothing=told.nothing_found(view),
        still_open=told.still_open(view),
        prices=told.prices_alike(view),
    )  # fmt: skip


def page(template: str, styles: str = "page.css", **values: Any) -> str:
    """Return a page without a script, by the names of its template and its style."""
    style = _shipped(styles)
    return _environment().get_template(template).render(
        told=told, style=style, policy=policy(style), **values
    )  # fmt: skip


def policy(*kept: str) -> str:
    """Return the content security policy of a page that holds a style and, maybe, a script, and loads nothing."""
    style, *scripts = (f"'sha256-{base64.b64encode(hashlib.sha256(one.encode()).digest()).decode()}'" for one in kept)
    script = " ".join(scripts) or "'none'"
    rest = "base-uri 'none'; form-action 'none'"
    return f"default-src 'none'; img-src data:; style-src {style}; script-src {script}; {rest}"


def pictures_in(
    named: Sequence[PublicPhoto], photos: Mapping[str, "ReducedPhoto"], room: int = PHOTO_BYTES
) -> dict[str, str]:
    """Return photos as addresses of their own bytes, as many as there is room for, by the SHA-256 of these.

    Parameters
    ----------
    named
        The photos in the order of the page; one that stands in several places takes room in each.
    photos
        Reduced copies by the SHA-256.
    room
        Bytes that they may take on the page, what stands around them included.
    """
    found: dict[str, str] = {}
    places = Counter(photo.sha256 for photo in named)
    for photo in named:
        copy = photos.get(photo.sha256)
        if copy is None or photo.sha256 in found:
            continue
        around = _TAG_BYTES + len(escape(photo.caption).encode())
        taken = places[photo.sha256] * (around + len(_DATA) + 4 * ceil(len(copy.content) / 3))
        if taken <= room:
            room -= taken
            found[photo.sha256] = f"{_DATA}{base64.b64encode(copy.content).decode()}"
    return found


@cache
def _shipped(name: str) -> str:
    return resources.files(__package__).joinpath("templates", name).read_text(encoding="utf-8")


def _style() -> str:
    return _shipped("page.css")


@cache
def _environment() -> "Environment":
    """Return the templates' environment: whatever comes from a ledger is text, and steers nothing."""
    from jinja2 import Environment, FunctionLoader, StrictUndefined

    made = Environment(
        loader=FunctionLoader(_shipped),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_plain,
    )
    made.filters |= {
        "day": day,
        "percent": percent,
        "lower_first": lower_first,
        "blocks": told.blocks,
        "grade": lambda grade: f"{grade:g}",
    }
    made.globals |= {
        "glyphs": drawn.glyphs,
        "place": drawn.place,
        "out_of": out_of,
        "typed": _typed,
        "opened": _opened,
    }
    return made


def _on_cards(view: PublicView) -> dict[str, str]:
    """Return by the anchor of a lot the numbers of the cards it lies on, in the form in which they are looked for."""
    found: dict[str, list[str]] = {}
    for card in view.cards:
        for lot in card.lots:
            found.setdefault(lot, []).append(codes.plain_code(card.code))
    return {lot: " ".join(some) for lot, some in found.items()}


def _opened(one: PublicStatement, lot: DrawnLot) -> list[str]:
    """Return the anchors of the photos that specimens of a drawn lot open."""
    return [f"{one.id}-{sha256[:12]}" for sha256 in lot.photos]


def _typed(lot: PublicLot) -> dict[str, str]:
    """Return the forms in which a lot is looked for."""
    words = f"{lot.maker} {lot.paint} {lot.format} {lot.code or 'no code without a batch code'}"
    return {
        "code": codes.plain_code(lot.code),
        "digits": codes.digits_of(lot.code),
        "words": codes.plain_words(words),
    }


def _plain(value: Any) -> Any:
    """Return a value as the page shows it: a text harmless, and no sign for percent at the beginning of a line."""
    return harmless(value).replace(" %", "\u00a0%") if type(value) is str else value
