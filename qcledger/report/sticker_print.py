"""Stickers to print and cut up: a specimen's sticker in letters, and as a code that a phone or scanner types back.

The code is a QR code (ISO/IEC 18004) of the sticker's own words and nothing else: what reads it types ``OV 0147``.
"""

from collections.abc import Sequence
from html import escape
from typing import Final

from qcledger.report.sheet_print import Paper, printed

ACROSS: Final = 5
DOWN: Final = 11
"""Stickers on a page; each is about 36 by 24 mm, the code of it 17 mm."""
_STYLE: Final = """
<style>
.labels { display: grid; grid-template-columns: repeat(5, 1fr); grid-auto-rows: 24mm; }
.labels > div { border: 0.2mm dashed #777; display: flex; align-items: center; gap: 1mm; padding: 1mm; }
.labels svg { width: 17mm; height: 17mm; flex: none; }
.labels b { font: bold 11pt monospace; }
</style>
"""


def sticker_sheets(stickers: Sequence[str], paper: Paper) -> str:
    """Return pages of stickers, `ACROSS` by `DOWN` on each, in the order given.

    Parameters
    ----------
    stickers
        What is on the specimens, as in ``OV 0147``.
    paper
        What it is printed on.
    """
    most = ACROSS * DOWN
    pages = [stickers[first : first + most] for first in range(0, len(stickers), most)]
    return printed(
        "Stickers", [_STYLE + f'<div class="labels">{"".join(map(_label, page))}</div>' for page in pages], paper
    )


def _label(sticker: str) -> str:
    import segno  # here, because only stickers need it

    words = escape(sticker)
    code = segno.make_qr(sticker, error="m").svg_inline(border=4, omitsize=True, svgclass=None, lineclass=None)
    letters, _, count = words.partition(" ")
    return f'<div role="img" aria-label="{words}">{code}<b>{letters}<br>{count}</b></div>'
