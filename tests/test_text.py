"""Texts that come in are made harmless once, in one place."""

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcledger.text import clean, one_line, same_code, shorten, steering, steers

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


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("OV 0147", "ov147", True),
        ("OV 0147", "OV 147", True),
        ("S9", "s09", True),
        ("0147", "147", True),
        ("S0", "S00", True),
        ("OV 147", "TL 147", False),
        ("OV 147", "OV 1470", False),
        ("S9 09", "S99", False),
        ("S10", "S1", False),
    ],
)
def test_codes_are_the_same_but_for_case_blank_and_zeros(one, other, same):
    """Letters and the number of the count tell one code from another."""
    assert (same_code(one) == same_code(other)) is same


@given(st.text(alphabet="AZ 09", max_size=8), st.integers(0, 999), st.integers(0, 4))
def test_zeros_before_a_count_tell_nothing(letters, count, zeros):
    """However many stand there, and read twice it is the same."""
    code = f"{letters}A {'0' * zeros}{count}"
    assert same_code(code) == same_code(f"{letters}A{count}") == same_code(same_code(code))


@given(st.text(alphabet="ab ~\t\n"))
def test_plain_and_other_texts_are_cleaned_alike(text):
    """Blanks are one space and lines end where their last word does, whichever way a text takes through `clean`."""
    lines = [" ".join(line.split()) for line in text.split("\n")]
    assert clean(text) == "\n".join(lines).strip()
    assert clean(f"{text}\u00e9") == clean(f"{text}x")[:-1] + "\u00e9"
