"""What is half-typed can be thrown away where it is typed, and nothing of it stays on the disk."""

import json
from datetime import date

import pytest

from qcledger.ledger import Ledger
from qcledger.records import MakerAnswer, Question
from qcledger.screens.dialogs import NoteBox
from qcledger.screens.record.amend import KeptLine
from qcledger.settings import data_folder
from qcledger.vocab import AnswerKind
from tests.screens.support import in_front

WORDS = "lent by Wenna Orrel"


def kept(at):
    """Return everything that lies in the folder of windows."""
    folder = data_folder() / "windows"
    return "".join(path.read_text() for path in folder.rglob("*.json")) if folder.is_dir() else ""


def name_of(page):
    """Return a name of a field of each kind of form that takes any text."""
    return {"FormPage": "note", "Label": "printed", "ParcelPage": "seller"}[page]


@pytest.mark.parametrize(("key", "page"), [("r", "FormPage"), ("l", "Label"), ("n", "ParcelPage")])
async def test_a_form_is_emptied_with_its_draft_and_brought_back(shop, key, page):
    """F7 empties the form and takes its draft from the disk; once more brings it back, and once more ends it."""
    at = shop()
    async with at.run():
        await at.press(key)
        await at.until(lambda: at.on_page == page)
        await at.settle()

        def typed():
            return next(one for one in at.page.query("Field, Tall") if one.name == name_of(page))

        stood = typed().value
        typed().focus_input()
        await at.type(WORDS)
        await at.until(lambda: WORDS in kept(at))
        await at.press("escape")
        await at.until(lambda: at.on_page == "Stock")
        await at.press(key)
        await at.until(lambda: at.on_page == page and "F7 throws it away" in at.said)
        assert WORDS in typed().value
        await at.press("f7")
        await at.until(lambda: "F7 brings it back" in at.said)
        assert typed().value == stood
        assert WORDS not in kept(at)
        await at.press("f7")
        await at.until(lambda: "brought back" in at.said)
        assert WORDS in typed().value
        await at.until(lambda: WORDS in kept(at))
        await at.press("f7")
        await at.until(lambda: typed().value == stood)
        await at.press("escape")
        await at.until(lambda: at.on_page == "Stock")
        assert WORDS not in kept(at)
        await at.press(key)
        await at.until(lambda: at.on_page == page)
        await at.settle()
        assert typed().value == stood
        await at.press("f7")
        await at.until(lambda: "nothing is typed here" in at.said)


@pytest.mark.parametrize(("key", "page"), [("r", "FormPage"), ("l", "Label")])
async def test_f7_is_in_sight_and_says_where_nothing_is_typed(shop, key, page):
    """The foot shows the key at 80x24; where nothing was typed it says so."""
    at = shop()
    async with at.run():
        await at.press(key)
        await at.until(lambda: at.on_page == page)
        await at.settle()
        await at.until(lambda: "F7 throw away" in at.picture)
        await at.press("f7")
        await at.until(lambda: "nothing is typed here" in at.said)
        assert kept(at) == ""


async def test_the_text_of_another_window_is_not_thrown_away_unseen(shop):
    """Of two windows that left a text for one form F7 throws away the one that stands there; the other comes next."""
    at = shop()
    async with at.run():
        await at.press("r")
        await at.until(lambda: at.on_page == "FormPage" and at.page._ready)
        await at.settle()
        name, values = at.page._form.draft, at.page.values()
        await at.press("escape")
        await at.until(lambda: at.on_page == "Stock")
        at.app.desk.window.drafts[name] = [json.dumps(values | {"note": words}) for words in ("first", "second")]
        await at.press("r")
        await at.until(lambda: at.on_page == "FormPage" and "F7 throws it away" in at.said)
        for told, note in (("F7 brings it back", ""), ("brought back", "second"), ("F7 brings it back", "")):
            await at.press("f7")
            await at.until(lambda told=told: told in at.said)
            await at.until(lambda note=note: at.page.values()["note"] == note)
            await at.until(lambda note=note: ("second" in kept(at)) == bool(note))
        assert "first" in kept(at)
        await at.press("escape")
        await at.until(lambda: at.on_page == "Stock")
        await at.press("r")
        await at.until(lambda: at.on_page == "FormPage" and at.page._ready)
        assert at.page.values()["note"] == "first"


async def test_a_text_that_was_typed_away_leaves_no_draft(shop):
    """Who empties a field by hand has thrown its draft away, too."""
    at = shop()
    async with at.run():
        await at.press("r")
        await at.until(lambda: at.on_page == "FormPage")
        await at.settle()
        at.field("seller").focus_input()
        await at.type("Fen")
        await at.until(lambda: "Fen" in kept(at))
        await at.press("backspace", "backspace", "backspace", "escape")
        await at.until(lambda: at.on_page == "Stock")
        assert "Fen" not in kept(at)


async def test_a_note_is_thrown_away_where_it_is_written(shop):
    """In the box of a note F7 puts back what stands, says so, and leaves no draft; Esc then keeps what stood."""
    at = shop()
    async with at.run():
        await at.press("g")
        await at.until(lambda: at.on_page == "Unpacking" and at.page.atwork is not None)
        await at.press("0")
        await at.saved()
        await at.press("left", "n")
        await at.until(lambda: in_front(at.app, NoteBox))
        await at.type(WORDS)
        await at.until(lambda: WORDS in kept(at))
        await at.press("f7")
        await at.until(lambda: "F7 brings it back" in " ".join(at.picture.split()))
        assert WORDS not in kept(at)
        await at.press("f7")
        await at.until(lambda: WORDS in kept(at))
        await at.press("f7")
        await at.until(lambda: WORDS not in kept(at))
        await at.press("escape")
        await at.until(lambda: at.on_page == "Unpacking")
        await at.settle()
    assert WORDS not in kept(at)
    with at.ledger() as ledger:
        assert all(WORDS not in (entry.body or "") for entry in ledger.entries())


async def test_a_reason_in_own_words_is_thrown_away(shop):
    """The line for a reason empties with F7 and leaves no draft."""
    at = shop()
    async with at.run():
        thrown = []
        at.app.push_screen(KeptLine("Why it is changed", WORDS, thrown.append))
        await at.until(lambda: in_front(at.app, KeptLine))
        await at.press("f7")
        await at.until(lambda: thrown == [""])
        assert WORDS not in at.picture
        await at.press("f7")
        await at.until(lambda: thrown[-1] == WORDS)


async def test_a_half_typed_amendment_goes_with_the_answer_that_is_taken_back(shop):
    """After z the form of the answer is empty: neither the words taken back nor those over them are offered."""
    at = shop()
    with Ledger.open(at.place, write=True) as ledger:
        asked = Question(
            id="qu", maker="mk", findings=("evenness",), sentences=("Uneven.",), asked_on=date(2026, 3, 1), by="OV"
        )
        ledger.append([asked])
    async with at.run():
        await at.press("w")
        await at.until(lambda: at.on_page == "Said")
        await at.settle()
        await at.press("enter")
        await at.until(lambda: at.on_page == "FormPage" and at.page._ready)
        at.field("kind").focus_input()
        await at.type("disputes")
        next(iter(at.page.query("Tall"))).focus_input()
        await at.type("wrong words")
        await at.press("f3")
        await at.until(lambda: at.on_page == "Ask")
        await at.press("enter")
        await at.until(lambda: at.on_page == "Said" and "kept" in at.said)
        await at.settle()
        assert "wrong words" not in kept(at)
        at.rows.mark(0)
        await at.press("enter")
        await at.until(lambda: at.on_page == "FormPage" and at.page._ready)
        next(iter(at.page.query("Tall"))).focus_input()
        await at.type("Other ")
        await at.press("escape")
        await at.until(lambda: at.on_page == "Said")
        assert "wrong words" in kept(at)
        await at.press("z")
        await at.until(lambda: "taken back" in at.said)
        await at.settle()
        assert "wrong words" not in kept(at)
        number = next(n for n, one in enumerate(at.page._lines) if one.table == Question.TABLE)
        at.rows.mark(number)
        await at.settle()
        await at.press("enter")
        await at.until(lambda: at.on_page == "FormPage" and at.page._ready)
        assert at.page.values()["answer"] == ""
    with at.ledger() as ledger:
        (row,) = ledger.rows(MakerAnswer)
        assert row.kind is AnswerKind.DISPUTES
