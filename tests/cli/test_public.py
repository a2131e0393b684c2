"""Commands about questions, answers, notes, rates and small decisions."""

import pytest

from qcledger.ledger import Ledger
from qcledger.records import Decision, ExchangeRate, MakerAnswer, Question, ReaderNote
from qcledger.vocab import AnswerKind, DecisionKind
from tests.screens.findings.support import shelf_ledger


@pytest.fixture
def place(home, tmp_path):
    return shelf_ledger(tmp_path)


def rows(place, kind):
    with Ledger.open(place) as ledger:
        return ledger.rows(kind)


def flat(told):
    return " ".join(told.out.split())


def test_a_maker_is_asked_and_answers(cli, place):
    """The sentences are shown and kept; a dry run keeps nothing; the answer is read, listed and amended."""
    tried = cli("ask", "corvannet", "--dry-run", "--ledger", place)
    assert "8 of 8 specimens" in flat(tried)
    assert rows(place, Question) == []
    done = cli("ask", "Corvannet", "--on", "2026-11-02", "--ledger", place)
    assert (done.code, "answer by 2026-11-23" in flat(done)) == (0, True)
    (asked,) = rows(place, Question)
    early = cli("answer", "Drumlaw", "--kind", "agrees", "--print", "x", "--ledger", place)
    assert (early.code, len(early.error_lines)) == (2, 1)
    given = ("--kind", "lot withdrawn", "--lot", "C372", "--received", "2026-11-12", "--print", "We stopped it.")
    assert cli("answer", "Corvannet", *given, "--private", "sorry", "--ledger", place).code == 0
    (row,) = rows(place, MakerAnswer)
    assert (row.kind, row.lot, row.answer, row.private) == (AnswerKind.WITHDRAWN, "C372", "We stopped it.", "sorry")
    assert row.question == asked.id
    why = cli("findings", "--why", "Corvannet", "--criterion", "evenness", "--no-wait", "--ledger", place)
    assert "answered 12 November 2026: lot withdrawn (lot C372)" in flat(why)
    assert "sorry" not in why.out
    amended = cli("answer", "Corvannet", "--lot", "C373", "--reason", "his slip", "--ledger", place)
    assert amended.code == 0
    assert [(one.lot, one.answer) for one in rows(place, MakerAnswer)] == [("C373", "We stopped it.")]
    assert "lot C373" in flat(cli("answer", "--ledger", place))


def test_a_kept_question_is_amended_with_a_reason(cli, place):
    """Days and whom may be amended, the sentences never; its answer tells the same; a dry run keeps nothing."""
    assert cli("ask", "Corvannet", "--on", "2026-11-02", "--ledger", place).code == 0
    (asked,) = rows(place, Question)
    assert cli("answer", "Corvannet", "--kind", "agrees", "--received", "2026-11-12", "--print", "x",
               "--ledger", place).code == 0  # fmt: skip
    amend = ("ask", "Corvannet", "--ledger", place)
    tried = cli(*amend, "--on", "2026-11-03", "--reason", "x", "--dry-run")
    assert (tried.code, rows(place, Question)) == (0, [asked])
    done = cli(*amend, "--on", "2026-11-03", "--by", "2026-12-01", "--reason", "sent a day later")
    assert (done.code, done.err) == (0, "")
    assert "then: Corvannet asked on 2026-11-02, answer by 2026-11-23" in done.out
    assert "now: Corvannet asked on 2026-11-03, answer by 2026-12-01" in done.out
    (now,) = rows(place, Question)
    assert (str(now.asked_on), str(now.answer_by), now.sentences) == ("2026-11-03", "2026-12-01", asked.sentences)
    assert [str(one.asked_on) for one in rows(place, MakerAnswer)] == ["2026-11-03"]
    for given, said in (
        (("--on", "2026-11-03", "--by", "2026-12-01", "--reason", "x"), "nothing that was changed"),
        (("--by", "2026-11-03", "--reason", "x"), "answer_by"),
        (("--on", "2026-11-20", "--reason", "x"), "when the answer came"),
        (("--to", "Drumlaw", "--reason", "x"), "whose answer is kept"),
        (("--to", "Nobody", "--reason", "x"), "Nobody"),
        (("--on", "2026-11-04", "--question", "no", "--reason", "x"), "--question"),
        (("--on", "2026-11-04", "--reason", " "), "--reason"),
        (("--note", "more", "--reason", "x"), "what can be amended"),
    ):
        refused = cli(*amend, *given)
        assert (refused.code, len(refused.error_lines)) == (2, 1)
        assert said in refused.err
        assert rows(place, Question) == [now]


def test_an_answer_is_taken_back_by_its_own_id_or_its_question_s(cli, place):
    """The question with its one answer will do; with none that stands, one line says so."""
    assert cli("ask", "Corvannet", "--on", "2026-11-02", "--ledger", place).code == 0
    (asked,) = rows(place, Question)
    undo = ("answer", "--undo", asked.id, "--reason", "another maker's", "--ledger", place)
    early = cli(*undo)
    assert (early.code, len(early.error_lines)) == (2, 1)
    assert "a question with no answers" in early.err
    answered = ("answer", "Corvannet", "--kind", "agrees", "--received", "2026-11-12", "--print", "So it is.")
    assert cli(*answered, "--ledger", place).code == 0
    (row,) = rows(place, MakerAnswer)
    done = cli(*undo)
    assert (done.code, done.err, "So it is." in flat(done)) == (0, "", True)
    assert [(one.kind, one.subject) for one in rows(place, Decision)] == [(DecisionKind.VOID, row.id)]


def test_an_open_finding_is_not_asked_about(cli, place):
    """One line says why; nothing is kept."""
    told = cli("ask", "Drumlaw", "--criterion", "evenness", "--ledger", place)
    assert (told.code, len(told.error_lines)) == (2, 1)
    assert "no words to ask about" in told.err
    assert rows(place, Question) == []


def test_a_note_and_a_rate_are_kept_and_listed(cli, place):
    """An address is refused until it is meant; the rate keeps its digits; both are listed and amended."""
    refused = cli("note", "Corvannet", "Evenness", "--text", "a@example.org", "--ledger", place)
    assert (refused.code, rows(place, ReaderNote)) == (2, [])
    assert cli("note", "Corvannet", "Evenness", "--lot", "L9", "--ledger", place).code == 0
    assert "Evenness; lot L9" in flat(cli("note", "--ledger", place))
    assert cli("rate", "EUR", "GBP", "0.850", "--source", "bank", "--on", "2026-06-01", "--ledger", place).code == 0
    assert "1 EUR = 0.850 GBP (bank)" in flat(cli("rate", "--ledger", place))
    (one,) = rows(place, ExchangeRate)
    again = ("rate", "EUR", "GBP", "0.86", "--source", "bank", "--on", "2026-06-01", "--amend", one.id)
    assert cli(*again, "--ledger", place).code == 2
    assert cli(*again, "--reason", "a slip", "--ledger", place).code == 0
    assert [str(one.rate) for one in rows(place, ExchangeRate)] == ["0.86"]


def test_a_finding_is_kept_private_tested_again_and_corrected(cli, place):
    """Each decision stands beside the finding and in its list; a subject that is none is refused."""
    finding = ("Corvannet", "evenness", "half pan")
    none = cli("keep-private", *finding, "--ledger", place)
    assert (none.code, len(none.error_lines)) == (2, 1)
    assert cli("keep-private", *finding, "--reason", "a laboratory looks", "--ledger", place).code == 0
    told = cli("findings", "--no-wait", "--ledger", place)
    assert "kept private: a laboratory looks" in flat(told)
    undone = cli("keep-private", *finding, "--undo", "--reason", "it is back", "--ledger", place)
    assert "no longer kept private" in flat(undone)
    assert cli("retest", "specimen", "OV 1000", "--reason", "damp", "--how", "dry", "--ledger", place).code == 0
    assert cli("retest", "session", "S01", "--reason", "lamp", "--ledger", place).code == 0
    assert cli("retest", "finding", *finding, "--reason", "damp", "--ledger", place).code == 0
    assert "session S01" in flat(cli("retest", "--ledger", place))
    assert cli("correct", "finding", *finding, "--reason", "eight, not nine", "--ledger", place).code == 0
    wrong = cli("correct", "specimen", "OV 1000", "--reason", "x", "--ledger", place)
    assert (wrong.code, len(wrong.error_lines)) == (2, 1)
    kinds = [one.kind for one in rows(place, Decision)]
    assert sorted(kinds) == sorted(
        [DecisionKind.HOLD_BACK, DecisionKind.PUBLISH, *[DecisionKind.RETEST] * 3, DecisionKind.CORRECT]
    )


def test_each_is_taken_back_by_its_id(cli, place):
    """With a reason; the list then says so; twice, another kind's id and no reason are refused, nothing stored."""
    finding = ("Corvannet", "evenness", "half pan")
    made = {
        "ask": ("Corvannet",),
        "note": ("Corvannet", "Evenness"),
        "rate": ("EUR", "GBP", "0.85", "--source", "bank"),
        "retest": ("finding", *finding, "--reason", "damp"),
        "correct": ("finding", *finding, "--reason", "eight, not nine"),
    }
    tables = {"ask": Question, "note": ReaderNote, "rate": ExchangeRate, "retest": Decision, "correct": Decision}
    for name, given in made.items():
        assert cli(name, *given, "--ledger", place).code == 0
    ids = {name: rows(place, kind)[0].id for name, kind in tables.items()}
    for one in rows(place, Decision):
        ids[str(one.kind)] = one.id
    wrong = cli("correct", "--undo", ids["retest"], "--reason", "x", "--ledger", place)
    assert (wrong.code, len(wrong.error_lines)) == (2, 1)
    for name in made:
        none = cli(name, "--undo", ids[name], "--ledger", place)
        assert (none.code, len(none.error_lines)) == (2, 1)
        done = cli(name, "--undo", ids[name], "--reason", "a slip", "--ledger", place)
        assert (done.code, "taken back" in flat(done)) == (0, True)
        again = cli(name, "--undo", ids[name], "--reason", "a slip", "--ledger", place)
        assert (again.code, len(again.error_lines)) == (2, 1)
        assert "taken back" in flat(cli(name, "--ledger", place))
    amended = cli("note", "Corvannet", "Evenness", "--amend", ids["note"], "--reason", "x", "--ledger", place)
    assert (amended.code, len(amended.error_lines)) == (2, 1)
    early = cli("answer", "Corvannet", "--kind", "agrees", "--print", "x", "--ledger", place)
    assert (early.code, rows(place, MakerAnswer)) == (2, [])
    assert "eight, not nine" not in cli("findings", "--why", "Corvannet", "--no-wait", "--ledger", place).out
