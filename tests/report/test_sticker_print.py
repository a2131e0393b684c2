"""Stickers to print: each with its words and a code of its own, in the order given, a page at a time."""

import re

import pytest

from qcledger.report.sheet_print import Paper
from qcledger.report.sticker_print import ACROSS, DOWN, sticker_sheets
from tests.hostile import HOSTILE


def _codes(page):
    return re.findall(r"<path[^>]* d=\"([^\"]+)\"", page)


def test_each_sticker_has_its_words_and_a_code_of_its_own():
    """As many codes as stickers, no two alike; the same sticker always has the same code."""
    wanted = [f"OV {count:04d}" for count in range(1, 61)]
    page = sticker_sheets(wanted, Paper.A4)
    assert re.findall(r'aria-label="([^"]+)"', page) == wanted
    assert len(set(_codes(page))) == len(wanted)
    assert _codes(sticker_sheets(wanted[6:7], Paper.LETTER)) == _codes(page)[6:7]
    assert page.count("<section>") == -(-len(wanted) // (ACROSS * DOWN))


def test_a_code_holds_the_sticker_and_nothing_else():
    """Twenty-one modules a side: the smallest QR code, which has room for a sticker and for no name beside it."""
    import segno

    made = segno.make_qr("OV 0147", error="m")
    assert made.designator == "1-M" or made.version == 1
    (drawn,) = _codes(sticker_sheets(["OV 0147"], Paper.A4))
    assert drawn in made.svg_inline(border=4, omitsize=True)


@pytest.mark.parametrize("text", HOSTILE[::4])
def test_text_of_users_stays_text(text):
    """A sticker of another program brings no tag with it."""
    plain, page = (sticker_sheets([one], Paper.A4) for one in ("OV 0001", text or "-"))
    tags = [set(re.findall(r"<([a-z]+)", one)) for one in (plain, page)]
    assert tags[0] == tags[1]
