"""The forms of small decisions: keep private, test again, correct."""

from typing import TYPE_CHECKING, Final

from qcledger.bench.public.deciding import about_row, decided, kept_private, privacy, united
from qcledger.ledger.identity import who_is_who
from qcledger.records.finding_key import FindingKey
from qcledger.screens.forms.form import FormLine, FormSubject, Ready, Values, open_form, taken_back
from qcledger.screens.page import Page
from qcledger.vocab import DecisionKind

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

WHY: Final = FormLine("reason", "because", needed=True)
HOW: Final = FormLine("how", "how", "what is to be done: at 50 % humidity, beside a sound specimen")
PRINTED: Final = FormLine("how", "for print", "what the next edition prints of it; the reason stays with you")


async def keep_private(page: Page, key: FindingKey, title: str) -> None:
    """Open the form that keeps a finding private, or where it is, the one that undoes it."""

    def ask(ledger: "Ledger") -> bool:
        return kept_private(decided(ledger), united(who_is_who(ledger), key)) is not None

    undo, today = await page.desk.read(ask, after_saves=True), page.desk.today

    def read(ledger: "Ledger", values: Values) -> Ready:
        row = privacy(ledger, key, values["reason"], undo=undo, on=today, new_id=ledger.new_id)
        said = "no longer kept private" if undo else "kept private"
        return Ready(records=[row], said=f"{said}; z takes it back", back=taken_back(f"{title}, {said}"))

    what = "No longer kept private" if undo else "Kept private: on no public page, the reason for you only"
    word = "no longer private" if undo else "private"
    open_form(
        page, FormSubject(title=word, draft=f"{word} {key.text}", lines=(WHY,), read=read, about=[f"{title}.", what])
    )


def decide(page: Page, kind: DecisionKind, table: str, subject: str, title: str) -> None:
    """Open the form of a retest or a correction of a row, or of a finding by its `subject_table`."""
    retest, today = kind is DecisionKind.RETEST, page.desk.today
    words = "To be tested again" if retest else "Corrected: what was said or printed, and what is right"

    def read(ledger: "Ledger", values: Values) -> Ready:
        row = about_row(
            kind, table, subject,
            reason=values["reason"], how=values.get("how", ""), by=ledger.daybook.tester, on=today,
            new_id=ledger.new_id,
        )  # fmt: skip
        said = (
            "to be tested again; Loose ends keeps it; z takes it back"
            if retest
            else "correction kept; z takes it back"
        )
        return Ready(records=[row], said=said, back=taken_back(f"{'retest' if retest else 'correction'} of {title}"))

    form = FormSubject(
        title="retest" if retest else "correction",
        draft=f"{kind} {table} {subject}",
        lines=(WHY, HOW) if retest else (WHY, PRINTED),
        read=read,
        about=[f"{title}.", words],
    )
    open_form(page, form)


def release(page: Page, key_text: str) -> None:
    """Open the form that releases what may concern health, once maker, seller and authority know."""
    from qcledger.bench.public.deciding import release as released
    from qcledger.public.asked import Askings

    key, today = FindingKey.read(key_text), page.desk.today

    def read(ledger: "Ledger", values: Values) -> Ready:
        own = united(who_is_who(ledger), key)
        row = released(
            ledger, own, values["reason"], on=today, new_id=ledger.new_id, was_asked=Askings(ledger).at_all(own)
        )
        said = "released: the next edition prints it"
        return Ready(records=[row], said=f"{said}; z takes it back", back=taken_back(said))

    about = ["What may concern health.", "Tell maker, seller and authority first. Released, the page prints it."]
    open_form(
        page,
        FormSubject(
            title="release", draft=f"release {key_text}", lines=(WHY,), read=read, about=about, chapter="publishing"
        ),
    )
