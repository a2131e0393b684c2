"""The letter to a maker: its own matters, in the words that would be printed, and nobody else's name."""

from dataclasses import replace
from datetime import date
from functools import cache

import pytest

from qcledger.findings.words import banned_in
from qcledger.ledger import Ledger
from qcledger.public.letter import letter_to
from qcledger.public.to_letter import WIDTH, letter_html, letter_text
from qcledger.records import Maker
from tests.hostile import HOSTILE
from tests.public.conftest import ON_THE_DAY
from tests.public.read import ReadPage, flat
from tests.public.test_demo_page import MAKERS

BY = date(2026, 12, 21)


@pytest.fixture(scope="session")
def write(demo_file, demo_found):
    """Return a function that writes the letter to a maker of the demo, each once."""

    @cache
    def to(name):
        with Ledger.open(demo_file, sources=ON_THE_DAY) as ledger:
            (maker,) = ledger.rows(Maker, name=name)
            return letter_to(ledger, demo_found, maker.id, name, BY)

    return to


@pytest.mark.parametrize("name", MAKERS)
def test_no_other_maker_is_named(write, name):
    """A letter counts other makers and names none of them, as text and as a page."""
    made = write(name)
    for face in (letter_text(made.view), letter_html(made.view, made.copies)):
        assert name in face
        assert [other for other in MAKERS if other != name and other in face] == []


def test_the_words_are_those_of_the_page(write, demo_gathered):
    """What a settled block says is to the letter what the page would print."""
    for name in ("Quernlow", "Corvannet", "Trellmere"):
        printed = {(one.sentence, one.further) for one in demo_gathered.view.statements if one.maker == name}
        assert {(one.sentence, one.further) for one in write(name).view.final} == printed
        assert printed


def test_a_letter_tells_what_it_rests_on(write):
    """Stickers, lots, sellers, days, what was seen in the scale's words, limits, and how to answer."""
    view = write("Quernlow").view
    text = flat(letter_text(view))
    for said in (
        "I bought 27 specimens of yours", "Nothing is printed yet.", "Q4471", "OV 0110", "Tessenvay Post",
        "name in view", "Liquid and grit", "Nothing found in".upper(), "up to 150 words are printed uncut",
        '"no answer by 21 December 2026"', "not named here", "No sealed specimen of these lots is kept.",
        "No page of mine names them.",
    ):  # fmt: skip
        assert said in text
    assert not [line for line in letter_text(view).splitlines() if line.lstrip().startswith("%")]
    page = flat(ReadPage(letter_html(view, {})).text)
    assert "No page of mine names them." in page
    assert all(each.sticker in page for one in view.blocks for each in one.specimens)
    for one in view.blocks:
        assert all(line in page and line in text for line in (one.sentence, *one.further))


def test_a_maker_with_nothing_against_it_reads_so(write):
    """The letter says that there is nothing to answer, and asks for nothing."""
    view = write("Maslenne").view
    text = letter_text(view)
    assert view.is_clear
    assert "I have nothing to ask you" in flat(text)
    assert "YOUR ANSWER" not in text
    assert "Your answer" not in ReadPage(letter_html(view, {})).text


def test_an_early_letter_tells_what_was_counted(write):
    """Of what is to be confirmed a maker reads the counts so far, in the text and on the page; the public reads none.

    Its sentence for the public says that it is open: that would give a maker nothing to look for.
    """
    made = write("Quernlow")
    (early,) = made.view.early
    assert "3 of 3 specimens of lot Q4471 faulty, none of 7 from three other lots" in early.sentence
    assert "is open" not in early.sentence
    assert early.further
    text, page = flat(letter_text(made.view)), flat(ReadPage(letter_html(made.view, {})).text)
    assert all(line in face for face in (text, page) for line in (early.sentence, *early.further))


def test_an_early_letter_prints_no_words(write):
    """What is to be confirmed is told as such, and not among the words that would be printed."""
    view = write("Quernlow").view
    early = replace(view, blocks=tuple(replace(one, settled=False) for one in view.blocks))
    text, page = letter_text(early), ReadPage(letter_html(early, {})).text
    assert "THE WORDS I WOULD PRINT" not in text
    assert "The words I would print" not in page
    assert "this would not be printed" in flat(text)
    assert "this would not be printed" in flat(page)


def test_a_letter_accuses_of_nothing(write):
    """No word of a letter says more than specimens can, and its lines fit a mail."""
    for name in MAKERS:
        view = write(name).view
        assert max(map(len, letter_text(view).splitlines())) <= WIDTH
        unseen = [replace(one, specimens=(), fault_words="") for one in view.blocks]  # the scale's own words aside
        assert banned_in(letter_text(replace(view, blocks=tuple(unseen)))) == ()


@pytest.mark.parametrize("text", [one for one in HOSTILE if one.strip()])
def test_hostile_names_stay_text(write, text):
    """A maker, a paint or a seller of any name adds no element to the page and steers no terminal."""
    view = write("Quernlow").view
    each = [replace(one, title=text, specimens=tuple(replace(s, paint=text, seller=text) for s in one.specimens))
            for one in view.blocks]  # fmt: skip
    hostile = replace(view, maker=text, by=text, blocks=tuple(each))
    assert ReadPage(letter_html(hostile, {})).shape == ReadPage(letter_html(view, {})).shape
    assert "\x1b" not in letter_text(hostile)
