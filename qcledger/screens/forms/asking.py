"""The form of a question to a maker, and of its answer."""

from collections.abc import Callable, Sequence
from datetime import timedelta
from typing import TYPE_CHECKING, Final

from qcledger.bench import typed
from qcledger.bench.public import answers, asking
from qcledger.bench.public.deciding import read_reason
from qcledger.bench.public.versions import changes
from qcledger.errors import BadInput
from qcledger.screens.forms.form import FormLine, FormSubject, Ready, Values, may_be_taken_back, open_form, taken_back
from qcledger.screens.page import Page
from qcledger.screens.shown import shown_date
from qcledger.vocab import AnswerKind

if TYPE_CHECKING:
    from qcledger.bench.public.answers import Letter
    from qcledger.bench.public.asking import AskingOffer
    from qcledger.ledger import Ledger
    from qcledger.records import MakerAnswer

KINDS: Final = f"first letter is enough: {', '.join(AnswerKind)}"
REASON: Final = FormLine("reason", "because", "why it is amended; the older entry stays", needed=True)


def ask_maker(page: Page, offer: "AskingOffer") -> None:
    """Open the form of a question; the sentences that are asked about stand above it, word for word."""
    desk = page.desk
    today, settings = desk.today, desk.settings
    until = today + timedelta(days=settings.answer_days)
    lines = (
        FormLine("findings", "about", "all, or numbers of those above: 1, 3"),
        FormLine("asked_on", "asked on", "a day that has come"),
        FormLine("answer_by", "answer by", f"empty: {settings.answer_days} days after that"),
        FormLine(
            "note", "question", "what is asked beside the sentences: Is it right? Is the cause known?", tall=True
        ),
    )
    about = [
        f"To {offer.name}, in these words, kept as they stand now:",
        *(f"{n} {one.title}: {one.sentence}" for n, one in enumerate(offer.findings, 1)),
        f"! {asking.CAUTION}",
    ]

    def read(ledger: "Ledger", values: Values) -> Ready:
        row = asking.read_question(
            values, offer, desk.today, settings, by=ledger.daybook.tester, new_id=ledger.new_id
        )
        by = f", answer by {shown_date(row.answer_by, settings)}" if row.answer_by else ""
        said = f"{offer.name} asked about {len(row.findings)}{by}"
        return Ready(records=[row], said=said, back=taken_back(said))

    form = FormSubject(
        title=f"ask {offer.name}",
        draft=f"ask {offer.maker} {' '.join(one.key for one in offer.findings)}"[:300],
        lines=lines,
        read=read,
        about=about,
        values={"findings": "all", "asked_on": shown_date(today, settings), "answer_by": shown_date(until, settings)},
    )
    open_form(page, form)


def kind_words(text: str) -> str:
    """Return which kind a text means; empty for none."""
    try:
        return typed.word(text, "kind", AnswerKind) if text.strip() else ""
    except BadInput as refused:
        return refused.problems[0].allowed


def type_answer(page: Page, one: "Letter") -> None:
    """Open the form of a maker's answer, or of an amendment where there is one."""
    desk, row = page.desk, one.answer
    settings, amends = desk.settings, not one.awaited
    lines = (
        FormLine("received", "received on", "the day it came; not for no answer", needed=True),
        FormLine("kind", "it", KINDS, needed=True, check=kind_words),
        FormLine("lot", "lot", "the lot withdrawn, or from which it was changed"),
        FormLine("changed_on", "changed on", "the day from which something was changed"),
        FormLine("answer", "for print, uncut", "without names or addresses", tall=True),
        FormLine("private", "private", "what stays with you", tall=True),
        *([REASON] if amends else []),
    )
    values = {"received": shown_date(desk.today, settings)}
    if row is not None and amends:
        values = {
            "received": shown_date(row.answered_on, settings) if row.answered_on else values["received"],
            "kind": row.kind or "",
            "lot": row.lot or "",
            "changed_on": shown_date(row.changed_on, settings) if row.changed_on else "",
            "answer": row.answer,
            "private": row.private,
        }

    def read(ledger: "Ledger", given: Values) -> Ready:
        now = answers.letter(ledger, one.id)
        found = answers.read_answer(given, now, desk.today, settings, ledger.new_id)
        changes(now.answer, found)
        reason = read_reason(given["reason"]) if "reason" in given else ""
        when = f"received {shown_date(found.answered_on, settings)}" if found.answered_on else "no answer by its day"
        for_print = f"For print, uncut: {found.answer}" if found.answer else "Nothing for print."
        question = f"Keep this as the answer of {one.maker}, {when}: {found.kind}?\n\n{for_print}"
        back, said = (
            taken_back(f"answer of {one.maker}: {found.kind}"),
            f"answer of {one.maker} kept; z takes it back",
        )
        return Ready(records=[found], said=said, back=back, question=question, reason=reason)

    until = f", to be answered by {shown_date(one.answer_by, settings)}" if one.answer_by else ""
    about = [f"{one.maker}, asked on {shown_date(one.asked_on, settings)}{until}:", one.asked]
    title = f"answer of {one.maker}{', amended' if amends else ''}"
    open_form(
        page, FormSubject(title=title, draft=f"answer {one.id}", lines=lines, read=read, about=about, values=values)
    )


async def answer_of(page: Page, id_: str) -> None:
    """Open the answer to a question, or one without, by its id."""
    one = await page.desk.read(lambda ledger: answers.letter(ledger, id_), after_saves=True)
    type_answer(page, one)


async def answer_of_maker(page: Page, maker: str, choose: Callable[[Sequence["Letter"]], None]) -> None:
    """Open the answer of a maker that is awaited; where there are several letters, `choose` asks which."""

    def ask(ledger: "Ledger") -> "list[Letter]":
        from qcledger.ledger.identity import who_is_who
        from qcledger.records import Maker

        known = who_is_who(ledger)
        return [one for one in answers.letters(ledger) if known.one(Maker.TABLE, one.maker_id) == maker]

    found = await page.desk.read(ask, after_saves=True)
    if not found:
        page.say("this maker was not asked yet; q asks it", problem=True)
    elif len(found) == 1:
        type_answer(page, found[0])
    else:
        choose(found)


async def keep_silence(page: Page, id_: str) -> None:
    """Keep that a maker did not answer by its day."""
    one = await page.desk.read(lambda ledger: answers.letter(ledger, id_), after_saves=True)
    today = page.desk.today

    def job(ledger: "Ledger") -> "tuple[list[MakerAnswer], list[MakerAnswer]]":
        now = answers.letter(ledger, id_)
        before = [now.answer] if now.answer is not None else []
        row = answers.silence(now, today, ledger.new_id)
        ledger.append([row], reason="no answer by its day")
        return before, [row]

    may_be_taken_back(page, taken_back(f"{one.maker}: no answer by its day"), *await page.desk.save(job))
    await page.fill()
    page.say(f"{one.maker}: no answer by its day, kept; a late one amends that (w, asked and said)")
