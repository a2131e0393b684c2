"""Stories of answers, notes and rates from Loose ends, Stock and the list of what was asked and said."""

from datetime import timedelta

import pytest

from qcledger.errors import NotConfirmed
from qcledger.ledger import Ledger
from qcledger.records import Decision, ExchangeRate, Maker, MakerAnswer, Question, ReaderNote
from qcledger.vocab import AnswerKind, DecisionKind
from tests.screens.stock.support import NOW

DAY = NOW.date()


def ask(place, days=30):
    row = Question(
        id="q", maker="mk", asked_on=DAY - timedelta(days=days), by="OV", answer_by=DAY - timedelta(days=days - 21),
        findings=("evenness | mk | half pan",), sentences=("8 of 8 [bold]red[/bold] specimens.",),
    )  # fmt: skip
    with Ledger.open(place, write=True) as ledger:
        ledger.append([row])


async def test_leaving_a_half_typed_answer_files_nothing(shop):
    """Esc leaves; nothing is in the ledger, the draft stands there next time; F3, then Enter keeps it."""
    at = shop("loose_ends")
    ask(at.place, days=10)
    async with at.run():
        await at.until(lambda: "11 days left" in at.picture)
        await at.press("enter") if "answer" in at.picture.splitlines()[2] else await at.press("b")
        await at.until(lambda: at.on_page == "FormPage")
        assert "8 of 8 [bold]red[/bold] specimens." in at.picture
        await at.press("a", "tab", "tab", "tab", *"We ag")
        await at.press("escape")
        await at.until(lambda: at.on_page == "LooseEnds")
        await at.settle()
        with at.ledger() as ledger:
            assert ledger.rows(MakerAnswer) == []
        await at.press("enter") if "answer" in at.picture.splitlines()[2] else await at.press("b")
        await at.until(lambda: at.on_page == "FormPage" and at.page.values()["answer"] == "We ag")
        await at.press("f3")
        await at.until(lambda: at.on_page == "Ask" and "We ag" in at.picture)
        await at.press("escape")
        await at.until(lambda: at.on_page == "FormPage")
        with at.ledger() as ledger:
            assert ledger.rows(MakerAnswer) == []
        await at.press("f3")
        await at.until(lambda: at.on_page == "Ask")
        await at.press("enter")
        await at.until(lambda: at.on_page == "LooseEnds" and "days left" not in at.picture)
        with at.ledger() as ledger:
            (row,) = ledger.rows(MakerAnswer)
            assert (row.answer, row.kind, row.answered_on) == ("We ag", AnswerKind.AGREES, DAY)


async def test_an_answer_is_amended_with_then_and_now(shop):
    """From the list a kept answer opens again; the reason is needed, and v shows both."""
    at = shop("loose_ends")
    ask(at.place)
    with Ledger.open(at.place, write=True) as ledger:
        row = MakerAnswer(
            id="an", maker="mk", asked_on=DAY - timedelta(days=30), asked="?", answered_on=DAY, answer="Yes",
            question="q", kind=AnswerKind.AGREES,
        )  # fmt: skip
        ledger.append([row])
    async with at.run():
        await at.press("w")
        await at.until(lambda: at.on_page == "Said" and "agrees" in at.picture)
        await at.press("e")
        await at.until(lambda: at.on_page == "FormPage" and at.page.values()["answer"] == "Yes")
        await at.press("f3")
        await at.until(lambda: "nothing that was changed" in at.picture)
        at.page.query_one("Tall").value = "Yes, since May"
        await at.press("f3")
        await at.until(lambda: "because: " in at.picture and "needed: " in at.picture)
        await at.press(*"his slip", "f3")
        await at.until(lambda: at.on_page == "Ask")
        await at.press("enter")
        await at.until(lambda: at.on_page == "Said")
        await at.settle()
        await at.press("v")
        await at.until(lambda: "his slip" in at.picture and "then Yes, now Yes" in at.picture)


async def test_silence_is_one_key_once_the_day_has_passed(shop):
    """N on the marked line keeps it; before the day it is refused in a line."""
    at = shop("loose_ends")
    ask(at.place)
    async with at.run():
        await at.until(lambda: "answer 9 days over" in at.picture)
        line = next(n for n, text in enumerate(at.page._lines) if "days over" in text.words)
        at.rows.mark(line)
        await at.settle()
        await at.press("n")
        await at.until(lambda: "no answer by its day, kept" in at.said)
        with at.ledger() as ledger:
            (row,) = ledger.rows(MakerAnswer)
            assert (row.kind, row.answered_on) == (AnswerKind.NONE, None)
        assert "days over" not in "".join(one.words for one in at.page._lines)


async def test_a_readers_note_warns_of_an_address(shop):
    """From Stock, with the maker and paint of the marked piece; an address is asked about before it is kept."""
    at = shop()
    async with at.run():
        await at.press("r")
        await at.until(lambda: at.on_page == "FormPage")
        assert "no names or addresses" in at.picture
        with at.ledger() as ledger:
            name = ledger.get(Maker, "mk").name
        assert at.page.values()["maker"] == name
        await at.press(*"evenness", "tab", "tab", *"ask a@example.org")
        await at.press("f3")
        await at.until(lambda: at.on_page == "Ask" and "looks like an e-mail" in at.picture)
        await at.press("escape")
        await at.until(lambda: at.on_page == "FormPage")
        with at.ledger() as ledger:
            assert ledger.rows(ReaderNote) == []
        await at.press("f3")
        await at.until(lambda: at.on_page == "Ask")
        await at.press("enter")
        await at.until(lambda: at.on_page == "Stock")
        with at.ledger() as ledger:
            (note,) = ledger.rows(ReaderNote)
            assert (note.fault, note.note, note.told_on) == ("evenness", "ask a@example.org", DAY)


async def test_a_rate_is_typed_and_listed(shop):
    """X in the list opens the form; what is wrong is refused in a line, what is kept stands in the list."""
    at = shop()
    async with at.run():
        await at.press("w")
        await at.until(lambda: at.on_page == "Said" and "nothing was asked" in at.picture)
        await at.press("x")
        await at.until(lambda: at.on_page == "FormPage")
        await at.press(*"EUR", "tab", *"0.8500", "tab", *"bank", "f3")
        await at.until(lambda: "needed: " in at.picture)
        at.field("quote").value = "GBP"
        await at.press("f3")
        await at.until(lambda: at.on_page == "Said" and "1 EUR = 0.8500 GBP" in at.picture)
        with at.ledger() as ledger:
            assert str(ledger.rows(ExchangeRate)[0].rate) == "0.8500"


async def test_a_specimen_is_to_be_tested_again(shop):
    """T on its history types why and how; Loose ends names it."""
    at = shop()
    async with at.run():
        await at.press("enter")
        await at.until(lambda: at.on_page == "History")
        await at.settle()
        await at.press("t")
        await at.until(lambda: at.on_page == "FormPage")
        await at.press(*"damp day", "tab", *"dry", "f3")
        await at.until(lambda: at.on_page == "History")
        with at.ledger() as ledger:
            (one,) = ledger.rows(Decision)
            assert (one.kind, one.subject_table, one.reason, one.how) == (
                DecisionKind.RETEST, "specimen", "damp day", "dry",
            )  # fmt: skip


async def test_what_a_form_kept_is_taken_back_and_nothing_older(shop):
    """Opened, then a note and a rate: z takes back each in turn, on another page too, the state last."""
    at = shop()
    async with at.run():
        await at.press("o")
        await at.until(lambda: "is opened" in at.said)
        await at.press("r")
        await at.until(lambda: at.on_page == "FormPage" and at.page._ready)
        await at.press(*"evenness", "f3")
        await at.until(lambda: at.on_page == "Stock" and "never counted; z takes it back" in at.said)
        await at.press("w")
        await at.until(lambda: at.on_page == "Said" and "Evenness" in at.picture)
        await at.press("x")
        await at.until(lambda: at.on_page == "FormPage" and at.page._ready)
        await at.press(*"GBP", "tab", *"0.85", "tab", *"bank", "f3")
        await at.until(lambda: at.on_page == "Said" and "0.85 GBP (bank) kept" in at.said)
        await at.press("z")
        await at.until(lambda: "taken back: 1 EUR = 0.85 GBP (bank)" in at.said)
        await at.until(lambda: "taken back; 1 EUR" in at.picture)
        await at.press("e")
        await at.until(lambda: "this was taken back; write it anew" in at.said)
        await at.press("escape")
        await at.until(lambda: at.on_page == "Stock")
        await at.press("z")
        await at.until(lambda: "taken back: reader's note, evenness" in at.said)
        with at.ledger() as ledger:
            assert {one.subject_table for one in ledger.rows(Decision)} == {"exchange_rate", "reader_note"}
        await at.press("z")
        await at.until(lambda: "is unopened again" in at.said)
        await at.press("z")
        await at.until(lambda: "nothing is left to take back in this window" in at.said)


async def test_an_answer_and_its_amendment_are_taken_back(shop):
    """The amendment first: the older words stand again; then the answer: it is awaited again."""
    at = shop("loose_ends")
    ask(at.place, days=10)
    async with at.run():
        await at.until(lambda: "11 days left" in at.picture)
        line = next(n for n, one in enumerate(at.page._lines) if "days left" in one.words)
        at.rows.mark(line)
        await at.settle()
        await at.press("enter")
        await at.until(lambda: at.on_page == "FormPage" and at.page._ready)
        await at.press("a", "tab", "tab", "tab", *"Yes")
        await at.press("f3")
        await at.until(lambda: at.on_page == "Ask")
        await at.press("enter")
        await at.until(lambda: at.on_page == "LooseEnds" and "days left" not in at.picture)
        await at.press("w")
        await at.until(lambda: at.on_page == "Said" and "agrees" in at.picture)
        at.rows.mark(next(n for n, one in enumerate(at.page._lines) if one.kind == "answer"))
        await at.settle()
        await at.press("e")
        await at.until(lambda: at.on_page == "FormPage" and at.page._ready)
        at.page.query_one("Tall").value = "No"
        at.field("reason").value = "his slip"
        await at.press("f3")
        await at.until(lambda: at.on_page == "Ask")
        await at.press("enter")
        await at.until(lambda: at.on_page == "Said" and '"No"' in at.picture)
        await at.press("z")
        await at.until(lambda: "taken back: answer of" in at.said and '"Yes"' in at.picture)
        await at.press("z")
        await at.until(lambda: "taken back; agrees" in at.picture)
        await at.press("escape")
        await at.until(lambda: at.on_page == "LooseEnds" and "11 days left" in at.picture)


async def test_silence_is_taken_back(shop):
    """Z after n: the answer is awaited again."""
    at = shop("loose_ends")
    ask(at.place)
    async with at.run():
        await at.until(lambda: "answer 9 days over" in at.picture)
        at.rows.mark(next(n for n, one in enumerate(at.page._lines) if "days over" in one.words))
        await at.settle()
        await at.press("n")
        await at.until(lambda: "no answer by its day, kept" in at.said)
        assert at.desk.done.newest.by == "form"  # the page itself takes back photos alone
        await at.press("z")
        await at.until(lambda: "taken back: " in at.said and "answer 9 days over" in at.picture)


async def test_a_form_that_was_not_confirmed_is_kept_once(shop, monkeypatch):
    """The rate is on disk though the disk reported an error: the same key confirms it, and z takes that one back."""
    real, left = Ledger.append, [NotConfirmed("the disk reported an error")]

    def append(ledger, *args, **more):
        found = real(ledger, *args, **more)
        if left:
            raise left.pop()
        return found

    at = shop()
    async with at.run():
        await at.press("w")
        await at.until(lambda: at.on_page == "Said")
        await at.press("x")
        await at.until(lambda: at.on_page == "FormPage" and at.page._ready)
        await at.press(*"GBP", "tab", *"0.85", "tab", *"bank")
        monkeypatch.setattr(Ledger, "append", append)
        await at.press("f3")
        await at.until(lambda: at.on_page == "FormPage" and "same key tries again" in at.said)
        await at.press("f3")
        await at.until(lambda: at.on_page == "Said" and "kept" in at.said)
        with at.ledger() as ledger:
            assert len(ledger.rows(ExchangeRate)) == 1
        await at.press("z")
        await at.until(lambda: "taken back: 1 EUR" in at.said)


@pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=str)
async def test_a_question_is_amended_with_then_and_now(shop, size):
    """Its day to answer by, the day it was sent and whom may be amended; its sentences stand there to be read."""
    at = shop("loose_ends")
    ask(at.place)
    with Ledger.open(at.place, write=True) as ledger:
        ledger.append([Maker(id="other", name="Quernlow")])
    async with at.run(size):
        await at.press("w")
        await at.until(lambda: at.on_page == "Said" and "asked" in at.picture)
        await at.settle()
        await at.press("q")
        await at.until(lambda: at.on_page == "FormPage")
        await at.settle()
        assert "8 of 8 [bold]red[/bold] specimens." in at.picture
        at.field("maker").value = "quernlow"
        at.field("answer_by").value = ""
        await at.press("f3")
        await at.until(lambda: "because: " in at.picture and "needed: " in at.picture)
        await at.press(*"slip", "f3")
        await at.until(lambda: at.on_page == "Said" and "question amended" in at.said)
        await at.settle()
        with at.ledger() as ledger:
            row = ledger.get(Question, "q")
            assert (row.maker, row.answer_by, row.sentences) == (
                "other",
                None,
                ("8 of 8 [bold]red[/bold] specimens.",),
            )
        await at.press("v")
        await at.until(lambda: "slip" in at.picture and "maker: then Trellmere, now" in at.picture)
        await at.press("escape")
        await at.until(lambda: at.on_page == "Said")
        await at.press("z")
        await at.until(lambda: "taken back: what was amended of the question" in at.said)
        with at.ledger() as ledger:
            assert ledger.get(Question, "q").maker != "other"
