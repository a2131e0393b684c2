"""Questions, answers, readers' notes, rates and small decisions, as their forms say them."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcledger.bench import due, retests
from qcledger.bench.due import LooseEndKind
from qcledger.bench.public import answers, asking, deciding, listed, notes, rates, versions
from qcledger.errors import BadInput
from qcledger.ledger import Ledger
from qcledger.ledger.identity import who_is_who
from qcledger.records import (
    Decision,
    ExchangeRate,
    Maker,
    MakerAnswer,
    Observation,
    Paint,
    Question,
    RubricText,
    SameAs,
    Session,
    Specimen,
    Trial,
)
from qcledger.records.finding_key import FindingKey
from qcledger.settings import Settings
from qcledger.vocab import AnswerKind, DecisionKind, Occasion, Sameness
from tests.small import START

TODAY = date(2026, 11, 12)
SET = Settings()
KEY = FindingKey("evenness", "mk", "half pan")
OFFER = asking.AskingOffer(
    "mk",
    "Corvannet",
    tuple(asking.AskableFinding(FindingKey(k, "mk", "half pan").text, k, f"{k}: 3 of 3.") for k in "ab"),
)


@pytest.fixture
def ledger(small):
    with small.open(write=True) as found:
        yield found


def question(ledger, **values) -> Question:
    typed = {"findings": "all", "asked_on": "2026-11-02", "answer_by": "", "note": "", **values}
    row = asking.read_question(typed, OFFER, TODAY, SET, by="OV", new_id=ledger.new_id)
    ledger.append([row])
    return row


def type_answer(ledger, id_, **values) -> MakerAnswer:
    typed = {"received": "2026-11-12", "kind": "", "lot": "", "changed_on": "", "answer": "", "private": "", **values}
    return answers.read_answer(typed, answers.letter(ledger, id_), TODAY, SET, ledger.new_id)


def refused(call) -> list[str]:
    with pytest.raises(BadInput) as told:
        call()
    return [one.where for one in told.value.problems]


@given(
    st.text("abcdefgh_", min_size=1, max_size=40),
    st.text("0123456789abcdef-", min_size=1, max_size=36),
    st.text("abc /", min_size=1, max_size=20).map(str.strip).filter(bool),
)
def test_the_key_of_a_finding_is_read_as_it_was_written(criterion, maker, format_):
    """Criterion, maker and format come back from both spellings, also where a format has a blank or a stroke."""
    key = FindingKey(criterion, maker, format_)
    assert FindingKey.read(key.text) == key
    assert FindingKey.decided(key.subject_table, key.maker) == key
    assert FindingKey.decided("specimen", "x") is None


def test_a_question_keeps_the_sentences_and_its_day(ledger):
    """The exact sentences of what was picked, by key; 21 days where no day is typed."""
    row = question(ledger, findings="2")
    kept = ledger.get(Question, row.id)
    assert (kept.sentences, kept.findings) == (("b: 3 of 3.",), (OFFER.findings[1].key,))
    assert kept.answer_by == date(2026, 11, 23)
    assert refused(lambda: question(ledger, findings="3")) == ["findings"]
    assert refused(lambda: question(ledger, asked_on="2026-11-13")) == ["asked_on"]
    assert refused(lambda: question(ledger, answer_by="2026-11-02")) == ["answer_by"]


@given(st.lists(st.text("ab", min_size=1, max_size=900).map(lambda text: f"{text}."), min_size=1, max_size=12))
def test_a_long_sentence_is_kept_in_parts_and_whole(texts):
    """No part is longer than the record holds, and together they are the sentence."""
    whole = " ".join(texts)
    parts = asking.sentences([asking.AskableFinding("k", "t", whole)])
    assert all(len(part) <= asking.LONGEST for part in parts)
    assert " ".join(parts) == whole


def test_answers_are_awaited_with_days_left_then_over(ledger):
    """Loose ends counts the days to the day, then over it; an answer ends the line."""
    row = question(ledger)

    def told(days):
        found = due.due(ledger, START.replace(year=2026, month=11, day=2) + timedelta(days=days))
        return [one.words for one in found if one.kind is LooseEndKind.ANSWER]

    name = ledger.get(Maker, "mk").name
    assert told(19) == [f"{name}: asked 19 days ago, 2 days left for the answer"]
    assert told(24) == [f"{name}: asked 24 days ago, answer 3 days over"]
    ledger.append([type_answer(ledger, row.id, kind="a", answer="Yes.")])
    assert told(24) == []


def test_an_answer_is_read_by_its_kind(ledger):
    """One letter is the kind; what the kind needs is asked for by its field; the day is between asking and today."""
    row = question(ledger)
    found = type_answer(ledger, row.id, kind="l", lot="Q4471", answer="We withdrew it.\nSorry.", private="by phone")
    assert (found.kind, found.lot, found.answered_on) == (AnswerKind.WITHDRAWN, "Q4471", TODAY)
    assert (found.answer, found.private, found.question) == ("We withdrew it.\nSorry.", "by phone", row.id)
    assert found.asked == "a: 3 of 3.\nb: 3 of 3."
    assert refused(lambda: type_answer(ledger, row.id, kind="l", answer="x")) == ["lot"]
    assert refused(lambda: type_answer(ledger, row.id, kind="c", answer="x")) == ["changed_on"]
    assert refused(lambda: type_answer(ledger, row.id, kind="a")) == ["answer"]
    assert refused(lambda: type_answer(ledger, row.id, answer="x")) == ["kind"]
    assert refused(lambda: type_answer(ledger, row.id, kind="a", answer="x", received="2026-11-01")) == ["received"]
    assert refused(lambda: type_answer(ledger, row.id, kind="a", answer="x", received="2026-11-13")) == ["received"]
    assert ledger.rows(MakerAnswer) == []


def test_silence_is_kept_only_once_the_day_has_passed(ledger):
    """Before it is refused; afterwards it ends the wait, and a late answer amends it."""
    row = question(ledger)
    one = answers.letter(ledger, row.id)
    assert refused(lambda: answers.silence(one, one.answer_by, ledger.new_id)) == ["kind"]
    ledger.append([answers.silence(one, one.answer_by + timedelta(days=1), ledger.new_id)])
    now = answers.letter(ledger, row.id)
    assert (now.awaited, now.answer.kind, now.answer.answered_on) == (False, AnswerKind.NONE, None)
    late = answers.read_answer(
        {"received": "2026-11-25", "kind": "disputes", "answer": "No."}, now, date(2026, 11, 26), SET, ledger.new_id
    )
    ledger.append([late], reason="it came late")
    (kept,) = ledger.rows(MakerAnswer)
    assert (kept.kind, kept.answer) == (AnswerKind.DISPUTES, "No.")
    lines = list(versions.told(versions.versions(ledger, MakerAnswer, kept.id)))
    assert "amended because: it came late" in lines[1]
    assert "kind: then no answer, now disputes" in lines[1]


def test_an_answer_of_before_is_answered_in_its_own_row(ledger):
    """A row that was asked without a question is filled in, not doubled."""
    ledger.append([MakerAnswer(id="an", maker="mk", asked_on=date(2026, 11, 1), asked="?")])
    ledger.append([type_answer(ledger, "an", kind="o", answer="Thanks.")])
    (row,) = ledger.rows(MakerAnswer)
    assert (row.id, row.answered_on, row.answer) == ("an", TODAY, "Thanks.")


# Readers' notes


def note(ledger, **values):
    typed = dict.fromkeys(notes.FIELDS, "") | {"maker": ledger.get(Maker, "mk").name, "fault": "evenness", **values}
    return notes.read_note(ledger, typed, TODAY, SET, new_id=ledger.new_id)


def test_a_note_names_maker_paint_and_fault(ledger):
    """A criterion's title is kept as its key, other words as they are; an unknown paint or maker is refused."""
    paint = ledger.rows(Paint)[0]
    found = note(ledger, fault="Evenness", paint=paint.name, lot="Q1")
    assert (found.fault, found.paint, found.lot_code, found.told_on) == ("evenness", paint.id, "Q1", TODAY)
    assert note(ledger, fault="smells of fish").fault == "smells of fish"
    assert refused(lambda: note(ledger, paint="No such colour")) == ["paint"]
    assert refused(lambda: note(ledger, maker="Nobody at all")) == ["maker"]
    assert refused(lambda: note(ledger, fault=" ")) == ["fault"]


@pytest.mark.parametrize("text", ["write to a.b@example.org", "ring 030 1234 5678", "+49 (30) 123-45678 please"])
def test_what_looks_like_an_address_is_warned_about(text):
    """An e-mail address and a telephone number are seen in any field."""
    assert "looks like" in notes.warned({"note": text})


@pytest.mark.parametrize("text", ["lot Q4471 of 2026-06-08, 3 of 7 half pans", "on 8.6.2026, 9/6/2026", "PG18 77289"])
def test_lots_and_days_are_no_numbers_of_a_telephone(text):
    """What a tester writes of paints is not warned about."""
    assert notes.warned({"note": text}) == ""


# Rates


def test_a_rate_is_kept_as_it_was_typed(ledger):
    """The digits stand as typed, with the tester's mark; one currency, a rate of 0 and no source are refused."""
    typed = {"on": "2026-06-01", "base": "eur", "quote": "GBP", "rate": "0,850", "source": "the bank's list"}
    comma = Settings(decimal_mark=",")
    row = rates.read_rate(typed, TODAY, comma, new_id=ledger.new_id)
    ledger.append([row])
    (kept,) = ledger.rows(ExchangeRate)
    assert (str(kept.rate), kept.base, kept.rate) == ("0.850", "EUR", Decimal("0.85"))
    assert rates.rate_words(kept, ",") == "1 EUR = 0,850 GBP (the bank's list)"
    bad = {**typed, "quote": "EUR", "rate": "0", "source": ""}
    assert refused(lambda: rates.read_rate(bad, TODAY, comma, new_id=ledger.new_id)) == ["quote", "rate", "source"]


# Decisions


def private(ledger, *, undo=False, key=KEY, on=TODAY) -> Decision:
    row = deciding.privacy(ledger, key, "a laboratory looks", undo=undo, on=on, new_id=ledger.new_id)
    ledger.append([row])
    return row


def test_a_finding_is_kept_private_and_no_longer(ledger):
    """Another decision undoes it; what stands so already, and no reason, are refused."""
    assert refused(lambda: private(ledger, undo=True)) == ["finding"]
    row = private(ledger)
    assert deciding.kept_private(deciding.decided(ledger), KEY) == row
    assert refused(lambda: private(ledger)) == ["finding"]
    private(ledger, undo=True)
    assert deciding.kept_private(deciding.decided(ledger), KEY) is None
    with pytest.raises(BadInput):
        deciding.privacy(ledger, KEY, "  ", undo=False, on=TODAY, new_id=ledger.new_id)


def test_a_decision_follows_its_maker(ledger):
    """A maker that counts as another one takes what was decided of its findings along."""
    ledger.append([Maker(id="aa", name="Corvanett")])
    private(ledger, key=replace(KEY, maker="aa"))
    same = SameAs(
        id="s", kind=Sameness.SAME, subject_table="maker", subject="aa", other="mk", by="OV", on=TODAY, reason="one"
    )
    ledger.append([same])
    (about,) = deciding.decided(ledger)
    (own,) = {deciding.united(who_is_who(ledger), replace(KEY, maker=one)) for one in ("aa", "mk")}
    assert about.key == own
    assert deciding.kept_private([about], own) is not None


def test_a_finding_of_nobody_is_refused(ledger):
    """The maker must be there; a table that is none is no finding."""
    with pytest.raises(BadInput):
        private(ledger, key=replace(KEY, maker="nobody"))
    row = replace(private(ledger), id="x", subject_table="finding | evenness")
    with pytest.raises(BadInput):
        ledger.append([row])


def test_another_testers_decision_is_told_and_changes_nothing(ledger, tmp_path):
    """Kept private by TL is not kept private by me; it says whose it is."""
    with Ledger.create(tmp_path / "tl.sqlite", letters="TL", tester="Tilo") as guest:
        guest.adopt(list(ledger.entries()), {})
        row = deciding.privacy(guest, KEY, "not mine to say", undo=False, on=TODAY, new_id=guest.new_id)
        guest.append([row])
        ledger.adopt(list(guest.entries()), {})
    found = deciding.decided(ledger)
    assert deciding.kept_private(found, KEY) is None
    assert [one.whose for one in deciding.others_on_privacy(found, KEY)] == ["TL, Tilo"]
    (line,) = [one for one in listed.listed(ledger) if one.table == "decision"]
    assert (line.kind, line.whose) == ("kept private", "TL, Tilo")


def again(table, subject, **given) -> Decision:
    return Decision(
        id="de", kind=DecisionKind.RETEST, subject_table=table, subject=subject, by="OV", on=START.date(),
        reason="soft on a damp day", how="at 50 %", **given,
    )  # fmt: skip


def test_a_strangers_work_is_no_retest_of_mine(ledger, tmp_path):
    """Neither his later trial of my specimen nor his later session of my comparison ends the line."""
    ledger.append([again("specimen", "sp00"), replace(again("session", "se"), id="df")])
    assert len(retests.open_retests(ledger)) == 2
    with Ledger.create(tmp_path / "tl.sqlite", letters="TL", tester="Tilo") as guest:
        guest.adopt(list(ledger.entries()), {})
        later, mine = START + timedelta(days=9), guest.get(Session, "se")
        guest.append([replace(mine, id="his", tester="Tilo", started_at=later, closed_at=later)])
        guest.append([Trial(id="t", specimen="sp00", occasion=Occasion.BENCH, at=later, session="his")])
        ledger.adopt(list(guest.entries()), {})
    assert len(retests.open_retests(ledger)) == 2
    ledger.append([replace(ledger.get(Session, "his"), id="own", tester="OV")])
    ledger.append([Trial(id="u", specimen="sp00", occasion=Occasion.BENCH, at=later, session="own")])
    assert retests.open_retests(ledger) == []


def test_another_testers_retests_are_not_due_here(ledger, tmp_path):
    """What he wants to test again is his loose end."""
    with Ledger.create(tmp_path / "tl.sqlite", letters="TL", tester="Tilo") as guest:
        guest.adopt(list(ledger.entries()), {})
        guest.append([again(KEY.subject_table, KEY.maker)])
        assert len(retests.open_retests(guest)) == 1
        ledger.adopt(list(guest.entries()), {})
    assert retests.open_retests(ledger) == []


def test_a_finding_is_retested_by_a_later_look_at_its_criterion(ledger):
    """The line says what, why and how; a later trial of this maker's format on the criterion ends it."""
    specimen = ledger.get(Specimen, "sp00")
    maker = ledger.get(Paint, specimen.paint).maker
    key = FindingKey("evenness", maker, specimen.format)
    ledger.append([again(key.subject_table, key.maker)])
    (one,) = [one for one in due.due(ledger, START) if one.kind is LooseEndKind.RETEST]
    assert "soft on a damp day; at 50 %" in one.words
    later = START + timedelta(days=9)
    ledger.append([Trial(id="t", specimen="sp00", occasion=Occasion.BENCH, at=later)])
    assert len(retests.open_retests(ledger)) == 1
    rubric = ledger.rows(RubricText)[0].id
    seen = Observation(id="o", trial="t", criterion="evenness", rubric=rubric, tester="OV", at=later, grade=0.0)
    ledger.append([seen])
    assert retests.open_retests(ledger) == []
