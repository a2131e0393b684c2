"""The forms of a reader's note and of an exchange rate."""

from typing import TYPE_CHECKING

from qcledger.bench.public import notes, rates
from qcledger.bench.public.deciding import read_reason
from qcledger.bench.public.makers import name_of
from qcledger.bench.public.versions import changes
from qcledger.ledger.identity import who_is_who
from qcledger.records import ExchangeRate, Paint, ReaderNote
from qcledger.screens.forms.asking import REASON
from qcledger.screens.forms.form import FormLine, FormSubject, Ready, Values, open_form, taken_back
from qcledger.screens.page import Page
from qcledger.screens.shown import shown_date
from qcledger.text import one_line
from qcledger.vocab import CURRENCY_DIGITS

if TYPE_CHECKING:
    from qcledger.bench.public.notes import NoteWords
    from qcledger.ledger import Ledger


async def write_note(page: Page, values: Values | None = None, before: str = "") -> None:
    """Open the form of a reader's note, with what is known of its paint; or of the note with the id `before`."""

    def ask(ledger: "Ledger") -> "tuple[NoteWords, ReaderNote | None, dict[str, str]]":
        row = ledger.get(ReaderNote, before) if before else None
        return notes.words_of(ledger), row, _typed(page, ledger, row) if row else dict(values or {})

    words, row, first = await page.desk.read(ask, after_saves=True)
    first.setdefault("told_on", shown_date(page.desk.today, page.desk.settings))
    lines = (
        FormLine("maker", "maker", "by any of its names", needed=True, check=notes.may_name),
        FormLine("paint", "paint", "name of the colour, if it is known", check=notes.may_name),
        FormLine("format", "format", ", ".join(words.formats)),
        FormLine("lot", "lot", "the code, if it was told", check=notes.may_name),
        FormLine("seller", "seller", "the shop, never the reader", check=notes.may_name),
        FormLine("fault", "fault", "title of a criterion, or in words", needed=True, check=notes.may_name,
             words=tuple(words.faults)),
        FormLine("told_on", "told on", "a day that has come"),
        FormLine("note", "note", "what was seen; no names or addresses", tall=True),
        *([REASON] if row else []),
    )  # fmt: skip

    def read(ledger: "Ledger", given: Values) -> Ready:
        desk = page.desk
        found = notes.read_note(ledger, given, desk.today, desk.settings, new_id=ledger.new_id, before=row)
        changes(row, found)
        warned = notes.warned(given)
        return Ready(
            records=[found],
            said="reader's note kept, shown beside findings and never counted; z takes it back",
            back=taken_back(f"reader's note, {one_line(found.fault)}"),
            question=f"{warned}. Keep the note with it? {notes.NO_NAMES}." if warned else "",
            reason=read_reason(given["reason"]) if row else "",
        )

    form = FormSubject(
        title="reader's note, amended" if row else "reader's note",
        draft=f"reader's note {before or first.get('maker', '') + first.get('paint', '')}".strip(),
        lines=lines,
        read=read,
        about=[f"Self-selected, never counted; {notes.NO_NAMES}."],
        values=first,
    )
    open_form(page, form)


def _typed(page: Page, ledger: "Ledger", row: ReaderNote) -> dict[str, str]:
    paint = ledger.get(Paint, row.paint) if row.paint else None
    return {
        "maker": name_of(ledger, who_is_who(ledger), row.maker),
        "paint": paint.name if paint else "",
        "format": row.format or "",
        "lot": row.lot_code or "",
        "seller": row.seller or "",
        "fault": row.fault,
        "told_on": shown_date(row.told_on, page.desk.settings),
        "note": row.note,
    }


async def type_rate(page: Page, before: str = "") -> None:
    """Open the form of an exchange rate, or of the one with the id `before`."""
    desk = page.desk
    row = await desk.read(lambda ledger: ledger.get(ExchangeRate, before), after_saves=True) if before else None
    lines = (
        FormLine("on", "day", "a day that has come"),
        FormLine("base", "one", "EUR", needed=True, words=tuple(CURRENCY_DIGITS)),
        FormLine("quote", "in", "GBP", needed=True, words=tuple(CURRENCY_DIGITS)),
        FormLine("rate", "bought", f"0{desk.settings.decimal_mark}85", needed=True),
        FormLine("source", "source", "who says so", needed=True),
        *([REASON] if row else []),
    )
    values = {"on": shown_date(desk.today, desk.settings), "base": desk.settings.currency}
    if row is not None:
        rate = str(row.rate).replace(".", desk.settings.decimal_mark)
        on = shown_date(row.on, desk.settings)
        values = {"on": on, "base": row.base, "quote": row.quote, "rate": rate, "source": row.source}

    def read(ledger: "Ledger", given: Values) -> Ready:
        found = rates.read_rate(given, desk.today, desk.settings, new_id=ledger.new_id, before=row)
        changes(row, found)
        reason = read_reason(given["reason"]) if row else ""
        words = rates.rate_words(found, desk.settings.decimal_mark)
        return Ready(records=[found], said=f"{words} kept; z takes it back", back=taken_back(words), reason=reason)

    title = "exchange rate, amended" if row else "exchange rate"
    open_form(
        page, FormSubject(title=title, draft=f"exchange rate {before}".strip(), lines=lines, read=read, values=values)
    )
