"""Which edition a picture bears: the newest one, where that said the same; else it is a draft."""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Final

from qcledger.findings import Findings
from qcledger.public import editions
from qcledger.public.from_findings import PublicRules, StatementKey
from qcledger.public.pictured.subjects import Pictured, cell_ids, of_cell, of_statement
from qcledger.public.view import Edition, PublicStanding, PublicView
from qcledger.records import (
    Card,
    ExchangeRate,
    MakerAnswer,
    Photo,
    Publication,
    Question,
    ReaderNote,
    Record,
    Statement,
    Zone,
)

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

_QUIET: Final[tuple[type[Record], ...]] = (
    Card, ExchangeRate, MakerAnswer, Photo, Publication, Question, ReaderNote, Statement, Zone,
)  # fmt: skip
"""What may be written after an edition without changing where it says that none was found."""


def pictured(ledger: "Ledger", found: Findings, rules: PublicRules, view: PublicView) -> Iterator[Pictured]:
    """Yield everything that a picture may be about, in the order of the page, each with the edition that said it.

    Parameters
    ----------
    ledger, found, rules
        Where editions are recorded, and what would be said now.
    view
        What may be said, of the same findings.
    """
    last, draft = editions.newest(ledger), Edition(0, view.edition.on, view.edition.by)
    edition = Edition(last.number, last.on, last.by, last.address or "") if last else draft
    before = _said_in(ledger, last)
    now = zip(view.statements, editions.said_now(found, rules), strict=True)
    same = {one.id for one, said in now if before.get(said.key) == said.sentence}
    for one in (*view.of_codes, *view.of_makers, *view.common):
        yield of_statement(one, edition if one.id in same else draft)
    cells = view.standing(PublicStanding.NONE_FOUND)
    whole = edition if last and last.title == view.title and not _changed_since(ledger, last) else draft
    for id_, cell in zip(cell_ids(cells), cells, strict=True):
        yield of_cell(id_, cell, whole)


def _said_in(ledger: "Ledger", last: Publication | None) -> dict[StatementKey, str]:
    """Return the sentences of an edition by what they are about."""
    rows = ledger.rows(Statement, publication=last.id) if last else []
    return {
        StatementKey(one.finding, one.maker, one.extent): one.sentence
        for one in rows
        if one.standing == editions.SETTLED
    }


def _changed_since(ledger: "Ledger", last: Publication) -> bool:
    """Say whether anything was written after an edition that may change where none was found."""
    covered = {book: int(number) for book, number, _ in (one.split() for one in last.closing)}
    quiet = {kind.TABLE for kind in _QUIET}
    return any(
        entry.seq > covered.get(book, 0) and entry.kind not in quiet
        for book, (number, _) in ledger.closing_hashes().items()
        if number > covered.get(book, 0)
        for entry in ledger.entries(book)
    )
