"""The form that amends a kept question: whom, when, until when; its sentences are as they were sent."""

from functools import partial
from typing import TYPE_CHECKING

from qcledger.bench.public import answers, asking
from qcledger.bench.public.deciding import read_reason
from qcledger.bench.public.versions import changes
from qcledger.errors import bad
from qcledger.records import Question
from qcledger.screens.forms.asking import REASON
from qcledger.screens.forms.form import FormLine, FormSubject, Ready, Values, open_form, taken_back
from qcledger.screens.page import Page
from qcledger.screens.shown import shown_date

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

_LINES = (
    FormLine("maker", "whom", "by any of its names", needed=True),
    FormLine("asked_on", "asked on", "a day that has come", needed=True),
    FormLine("answer_by", "answer by", "empty: no day was named"),
    REASON,
)


async def amend_question(page: Page, id_: str) -> None:
    """Open the form of a kept question, by its id or that of its answer."""
    desk, settings = page.desk, page.desk.settings
    one = await desk.read(lambda ledger: answers.letter(ledger, id_), after_saves=True)
    row, date_text = one.question, partial(shown_date, settings=settings)
    if row is None:
        raise bad("question", "an answer without one", "a question that was kept")

    def read(ledger: "Ledger", given: Values) -> Ready:
        stands = ledger.get(Question, row.id) or row
        found = asking.amend_question(ledger, given, stands, desk.today, settings)
        changes(stands, found)
        reason = read_reason(given["reason"])
        by = f", answer by {date_text(found.answer_by)}" if found.answer_by else ""
        return Ready(
            records=asking.amended_rows(ledger, stands, found),
            said=f"question amended: asked on {date_text(found.asked_on)}{by}",
            back=taken_back(f"what was amended of the question to {one.maker}"),
            reason=reason,
        )

    form = FormSubject(
        title=f"question to {one.maker}, amended",
        draft=f"question {row.id}",
        lines=_LINES,
        read=read,
        about=["What was asked stays word for word; another wording is another question:", one.asked],
        values={
            "maker": one.maker,
            "asked_on": date_text(row.asked_on),
            "answer_by": date_text(row.answer_by) if row.answer_by else "",
        },
    )
    open_form(page, form)
