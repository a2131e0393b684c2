"""Texts that come in are made harmless once, in one place."""

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcledger.text import clean, one_line, shorten, steering, steers

STEERING = [
    "\x1b[31mred\x1b[0m", "\x1b]52;c;aGk=\x07", "\x9b31m", "a\x00b", "a\x7fb", "\u202egnp.exe", "\u2066x\u2069",
    "a\u2028b", "a\u2029b", "\ud800", "\U000e0041\U000e0042", "\ufeffx", "\u200bx", "\u061cx", "\ufff9x\ufffb",
]  # fmt: skip


@pytest.mark.parametrize("text", STEERING, ids=ascii)
def test_nothing_that_steers_a_terminal_gets_through(text):
    """Control, bidirectional, tag and surrogate characters are taken out (categories of Unicode 15)."""
    left = {unicodedata.category(char) for char in clean(text)}
    assert not left & {"Cc", "Cf", "Cs", "Zl", "Zp"}


@given(st.text(alphabet=st.characters()))
def test_cleaning_twice_changes_nothing(text):
    """A cleaned text is in NFC, encodable, and stays as it is when cleaned again."""
    once = clean(text)
    assert clean(once) == once
    assert unicodedata.is_normalized("NFC", once)
    assert once.encode("utf-8").decode("utf-8") == once


@given(st.text(alphabet=st.characters(codec="utf-8")))
def test_only_line_feeds_are_left_of_all_controls(text):
    """Of the control characters only the line feed may stay, and not on one line."""
    assert {char for char in clean(text) if unicodedata.category(char) == "Cc"} <= {"\n"}
    assert "\n" not in one_line(text)
    assert clean(one_line(text)) == one_line(text)


def test_blank_lines_leave_one_space():
    """Two line ends in a row become one space, so that a name is the same however often it is cleaned."""
    assert one_line("red\u0085\u0085ochre\n\n\n") == "red ochre"


def test_notes_keep_their_lines_and_emoji_their_joiners():
    """Line ends of every system become line feeds; joined emoji and accents stay whole."""
    assert clean("one\r\ntwo\rthree\u0085four") == "one\ntwo\nthree\nfour"
    assert clean("👩\u200d🎨 caf\u0065\u0301") == "👩\u200d🎨 café"


@given(st.text(), st.integers(1, 30))
def test_short_forms_keep_to_their_width(text, width):
    """A shortened text is never longer than asked, and unchanged when it fits."""
    assert len(shorten(text, width)) <= width
    assert len(text) > width or shorten(text, width) == text


@pytest.mark.parametrize("text", STEERING)
def test_steering_characters_are_found(text):
    """The place of the first character that cleaning would remove is told; cleaned text has none."""
    place = steers(text)
    assert place is not None
    assert steers(text[:place]) is None
    assert steers(text[: place + 1]) == place
    assert steers(clean(text)) is None


@given(st.text())
def test_cleaned_text_steers_nothing(text):
    """Whatever comes in, nothing that steers a terminal is left after cleaning."""
    assert steers(clean(text)) is None


def test_what_is_left_out_can_be_counted():
    """Each character that cleaning leaves out for good, in order; line ends of other systems stay line ends."""
    assert steering("a\x1b[2J\r\nb\u202e\u0085\tc\rd\u200b") == ["\x1b", "\u202e", "\u200b"]
    assert all(clean(f"a{char}b") == "ab" for char in steering("\x00\x07\x7f\x9b\u2066\ufeff\ud800"))
