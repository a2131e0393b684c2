"""Stories of asking and deciding from Why and from the maker's card."""

from datetime import date, timedelta

import pytest

from qcledger.findings.wording import to_ask
from qcledger.ledger import Ledger
from qcledger.records import Decision, MakerAnswer, Question, ReaderNote
from qcledger.records.finding_key import FindingKey
from qcledger.report.kept import of_ledger
from qcledger.report.said import MOST_ASKED
from qcledger.report.to_csv import findings_csv
from qcledger.report.to_json import findings_json
from qcledger.report.to_text import findings_text
from qcledger.screens.dialogs import Ask
from qcledger.screens.findings.why import Why
from qcledger.screens.forms.form import FormPage
from qcledger.vocab import AnswerKind, DecisionKind
from tests.screens.findings.support import findings, shelf_ledger
from tests.screens.support import in_front

KEY = FindingKey("evenness", "mk1", "half pan")


@pytest.fixture
def place(home, tmp_path):
    return shelf_ledger(tmp_path)


def rows(place, kind):
    with Ledger.open(place) as ledger:
        return ledger.rows(kind)


async def on_form(at, *keys):
    await at.pilot.press(*keys)
    await at.until(lambda: in_front(at.app, FormPage) and at.app.screen._ready)


async def kept(at, *, confirmed=False):
    """Press the save key, agree where it is asked, and wait until the form is gone."""
    await at.pilot.press("f3")
    if confirmed:
        await at.until(lambda: isinstance(at.app.screen, Ask))
        await at.pilot.press("enter")
    await at.until(lambda: not isinstance(at.app.screen, FormPage | Ask))


async def test_a_maker_is_asked_in_the_sentence_and_answers(place):
    """From Why: the exact sentence is kept; Esc keeps nothing of an answer but its draft; F3 and Enter keep it."""
    async with findings(place, (80, 24)) as at:
        await at.to("Corvannet", "enter")
        await at.until(lambda: in_front(at.app, Why))
        await at.sees("How sure this is")
        await on_form(at, "q")
        await at.sees("ask Corvannet", "8 of 8 specimens")
        await kept(at)
        (asked,) = rows(place, Question)
        with Ledger.open(place) as ledger:
            (finding,) = of_ledger(ledger).only(maker="mk1", criterion="evenness", format="half pan").findings
        assert asked.sentences == (to_ask(finding, MOST_ASKED),)
        assert asked.findings == (KEY.text,)
        assert asked.answer_by - asked.asked_on == timedelta(days=21)
        await at.sees("an answer is awaited by")
        await on_form(at, "w")
        await at.sees("answer of Corvannet", "evenness")
        await at.pilot.press("d", "tab", "tab", "tab", *"Not so.")
        await at.until(lambda: at.app.screen.values()["answer"] == "Not so.")
        await at.pilot.press("escape")
        await at.until(lambda: in_front(at.app, Why))
        assert rows(place, MakerAnswer) == []
        await on_form(at, "w")
        assert at.app.screen.values()["answer"] == "Not so."
        await at.pilot.press("f3")
        await at.until(lambda: isinstance(at.app.screen, Ask))
        await at.sees("as the answer of Corvannet", "disputes", "Not so.")
        await at.pilot.press("enter")
        await at.until(lambda: in_front(at.app, Why))
        await at.sees("disputes:", '"Not so."')
        (answer,) = rows(place, MakerAnswer)
        assert (answer.kind, answer.answer, answer.question) == (AnswerKind.DISPUTES, "Not so.", asked.id)


async def test_an_open_finding_is_not_asked_about(place):
    """One line says why, and no form opens."""
    async with findings(place) as at:
        await at.to("Evenness", "enter")
        await at.until(lambda: at.page._view.criterion == "evenness" and not at.page._working)
        await at.to("Drumlaw", "enter")
        await at.until(lambda: in_front(at.app, Why))
        await at.sees("How sure this is")
        await at.pilot.press("q")
        await at.sees("an open one has no words")
        assert rows(place, Question) == []


async def test_the_card_asks_about_all_and_shows_it(place):
    """M opens the card, q there asks about everything to confirm; the card then says so."""
    async with findings(place) as at:
        await at.to("Corvannet", "q")
        await at.sees("asked from its card")
        await at.press("m")
        await at.until(lambda: at.page._view.maker == "mk1" and not at.page._working)
        await on_form(at, "q")
        await kept(at)
        await at.sees("Asked", "about 1 finding", "awaited")
        assert len(rows(place, Question)) == 1


async def test_a_finding_is_kept_private_and_every_face_says_so(place):
    """The cell, the text, CSV and JSON say it with the reason; another decision takes it back."""
    async with findings(place) as at:
        await at.to("Corvannet")
        await on_form(at, "h")
        await at.pilot.press(*"a laboratory looks")
        await kept(at)
        await at.sees("kept private")
        with Ledger.open(place) as ledger:
            found = of_ledger(ledger)
        for face in (findings_text(found), findings_csv(found), findings_json(found)):
            assert "a laboratory looks" in face
        assert "kept private: a laboratory looks" in " ".join(findings_text(found).split())
        await on_form(at, "h")
        await at.sees("No longer kept private")
        await at.pilot.press(*"it is back")
        await kept(at)
        kinds = sorted(one.kind for one in rows(place, Decision))
        assert kinds == [DecisionKind.HOLD_BACK, DecisionKind.PUBLISH]
        with Ledger.open(place) as ledger:
            assert "kept private:" not in findings_text(of_ledger(ledger))


async def test_a_reason_is_needed_and_what_is_refused_stays(place):
    """Without a reason one line refuses, in the form; nothing is kept."""
    async with findings(place) as at:
        await at.to("Corvannet")
        await on_form(at, "t")
        await at.pilot.press("tab", *"at 50 %", "f3")
        await at.sees("because: ", "needed: ")
        assert isinstance(at.app.screen, FormPage)
        assert at.app.screen.values()["how"] == "at 50 %"
        assert rows(place, Decision) == []


async def test_retest_correction_and_note_stand_on_why(place):
    """Each is typed on Why and shown there; a reader's note is self-selected, not counted."""
    async with findings(place, (80, 30)) as at:
        await at.to("Corvannet", "enter")
        await at.until(lambda: in_front(at.app, Why))
        await at.sees("How sure this is")
        await on_form(at, "t")
        await at.pilot.press(*"damp day", "tab", *"at 50 %")
        await kept(at)
        await at.sees("To be tested again", "damp day How: at 50 %")
        await on_form(at, "c")
        await at.pilot.press(*"eight, not nine")
        await kept(at)
        await at.sees("Corrected", "eight, not nine")
        await on_form(at, "n")
        assert at.app.screen.values()["fault"] == "Evenness"
        await kept(at)
        await at.sees("1 reader's note, self-selected, not counted")
        (note,) = rows(place, ReaderNote)
        assert (note.maker, note.fault, note.told_on) == ("mk1", "evenness", note.told_on)
        assert isinstance(note.told_on, date)


async def test_what_was_decided_on_why_is_taken_back_there(place):
    """Private, retest, correction, question: z on Why takes back the last, and Why says no more of it."""
    async with findings(place, (80, 30)) as at:
        await at.to("Corvannet", "enter")
        await at.until(lambda: in_front(at.app, Why))
        await at.sees("How sure this is")
        await on_form(at, "h")
        await at.pilot.press(*"a laboratory looks")
        await kept(at)
        await at.sees("Kept private since")
        await on_form(at, "c")
        await at.pilot.press(*"eight, not nine")
        await kept(at)
        await at.sees("eight, not nine")
        await on_form(at, "q")
        await kept(at)
        await at.sees("an answer is awaited by")
        await at.pilot.press("z")
        await at.sees("taken back: Corvannet asked about 1")
        await at.until(lambda: "an answer is awaited by" not in at.picture)
        await at.pilot.press("z")
        await at.sees("taken back: correction of Corvannet")
        await at.until(lambda: "eight, not nine" not in at.picture)
        await at.pilot.press("z")
        await at.sees("kept private")
        await at.until(lambda: "Kept private since" not in at.picture)
        assert len(rows(place, Decision)) == 5
