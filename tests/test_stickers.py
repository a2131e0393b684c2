"""Stickers as people write them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcledger import stickers
from qcledger.errors import BadInput


def named(text):
    return stickers.named_in(text, "specimens", 24)


def test_stickers_are_named_singly_and_in_ranges():
    """``OV 0147-0149, ov 152`` names four specimens in order; letters may be small, and zeros left out."""
    assert named("OV 0147-0149, ov 152") == ("OV 0147", "OV 0148", "OV 0149", "OV 0152")
    assert named("ov1-2") == ("OV 0001", "OV 0002")
    assert named("1, ov 2") == ("0001", "OV 0002")
    assert named("") == ()


@pytest.mark.parametrize("text", ["OV", "OV 0150-0147", "OV 0001-9999", "0-30", "OV 1; DROP", "-3"])
def test_wrong_stickers_are_refused(text):
    """No number, or a range backwards or too long."""
    with pytest.raises(BadInput, match="specimens"):
        named(text)


@given(st.from_regex(r"[A-Z]{1,4}", fullmatch=True), st.integers(1, 10**8))
def test_a_sticker_reads_as_what_it_was_made_of(letters, count):
    """Letters and count come back, also from a text with small letters, without the blank and the zeros."""
    made = stickers.sticker(letters, count)
    assert stickers.letters_and_count(made) == (letters.casefold(), count)
    assert named(f"{letters.lower()}{count}") == (made,)
    assert stickers.meant(f"{letters.lower()}{count}", [made, "ZZZZ 9"]) == [made]


def test_a_count_alone_means_one_s_own_letters_first():
    """Where only other letters have it, those; where several others do, all of them, so that they can be named."""
    known = ["AB 0001", "CD 0001", "CD 0002", "old tube"]
    assert stickers.meant("1", known, "AB") == ["AB 0001"]
    assert stickers.meant("2", known, "AB") == ["CD 0002"]
    assert stickers.meant("1", known, "OV") == ["AB 0001", "CD 0001"]
    assert stickers.meant("OV 1", known, "OV") == stickers.meant("tube", known) == stickers.meant("1-2", known) == []


def test_the_last_count_is_that_of_the_letters():
    """Other letters, and texts that are no stickers, do not count."""
    assert stickers.highest(["OV 0003", "ov 12", "O 0099", "OV x", "OV 13b"], "OV") == 12
    assert stickers.highest([], "OV") == 0


def test_the_count_at_the_end_of_a_text():
    """Whatever stands before it; a text without one has none."""
    assert [stickers.count_at_end(text) for text in ("OV-0147", "ov1", "OV", "")] == [147, 1, None, None]
