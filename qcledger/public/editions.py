"""Editions: what is missing before one, what changed since the one before, and the rows that record it."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Final

from qcledger.errors import Problem
from qcledger.findings import Findings
from qcledger.findings.words import day
from qcledger.ledger.identity import who_is_who
from qcledger.public import from_findings as told
from qcledger.public.view import PublicAsking, PublicChange, PublicView
from qcledger.records import Decision, Maker, Publication, Record, Statement
from qcledger.records.finding_key import FindingKey
from qcledger.vocab import DecisionKind

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

NEW: Final = "new"
OTHERWISE: Final = "said otherwise now"
GONE: Final = "no longer stands"
WITHDRAWN: Final = "withdrawn, it was wrong"
SETTLED: Final = "settled"
LABEL: Final = "label fact"


@dataclass(frozen=True, slots=True)
class SaidNow:
    """One statement as an edition says it: under what it is kept, what it is about in words, and its words."""

    key: told.StatementKey
    about: str
    sentence: str


def said_now(found: Findings, rules: told.PublicRules) -> list[SaidNow]:
    """Return what is settled and may be told, in the order of the page."""
    claims = told.claims_told(found, rules)
    return [
        SaidNow(told.statement_key(claim), told.title_of(claim), said.sentence)
        for claim, said in zip(claims, told.statements(claims, rules), strict=True)
    ]


def newest(ledger: "Ledger") -> Publication | None:
    """Return the newest edition; None where nothing was published."""
    return max(ledger.rows(Publication), key=lambda one: one.number, default=None)


def changes(ledger: "Ledger", now: Iterable[SaidNow], on: date) -> list[PublicChange]:
    """Return what changed since the newest edition; nothing where there is none."""
    last = newest(ledger)
    if last is None:
        return []
    before = {_kept(one): one for one in ledger.rows(Statement, publication=last.id) if one.standing == SETTLED}
    current = {one.key: one for one in now}
    found = [_now(one, before.get(key), on) for key, one in current.items()]
    corrected = _corrected(ledger, last.on)
    names = _names(ledger)
    gone = (
        PublicChange(_about(one, names), WITHDRAWN if one.finding in corrected else GONE, on, one.sentence)
        for key, one in before.items()
        if key not in current
    )
    return [one for one in (*found, *gone) if one is not None]


def _now(one: SaidNow, before: Statement | None, on: date) -> PublicChange | None:
    if before is None:
        return PublicChange(one.about, NEW, on)
    return None if before.sentence == one.sentence else PublicChange(one.about, OTHERWISE, on, before.sentence)


def _kept(one: Statement) -> told.StatementKey:
    return told.StatementKey(one.finding, one.maker, one.extent)


def _about(one: Statement, names: Callable[[str], str]) -> str:
    """Return what an older statement was about: what it reached and, of one maker, whose."""
    what = " ".join(one.extent.split(" | "))
    return f"{names(one.maker)}: {what}" if one.maker else what


def _names(ledger: "Ledger") -> Callable[[str], str]:
    known, own = who_is_who(ledger), {row.id: row.name for row in ledger.rows(Maker)}
    return lambda maker: known.name(Maker.TABLE, maker, own.get(maker, maker))


def _corrected(ledger: "Ledger", since: date) -> frozenset[str]:
    """Return the findings that were corrected since a day, as statements name them."""
    rows = (one for one in ledger.rows(Decision) if one.kind is DecisionKind.CORRECT and one.on >= since)
    keys = (FindingKey.decided(one.subject_table, one.subject) for one in rows)
    return frozenset(key.text for key in keys if key is not None)


# What is missing


def missing(view: PublicView, waiting: int, today: date) -> list[Problem]:
    """Return what is missing before an edition: whom to ask, what to decide, what to disclose.

    Parameters
    ----------
    view
        What it would say.
    waiting
        How many settled findings may concern health and are not released.
    today
        The tester's day.
    """
    return [*_not_asked(view, today), *_undecided(view, waiting), *_undisclosed(view)]


def _not_asked(view: PublicView, today: date) -> Iterator[Problem]:
    named = [(one.maker, one.criterion_title, one.asked) for one in view.statements if one.maker]
    named += [(one.maker, f"label of {one.paint}", one.asked) for one in view.labels]
    for maker, what, asked in named:
        if not asked:
            yield Problem(f"{maker}, {what}", "not asked", "a maker that was asked: qcledger ask")
        elif all(one.awaited for one in asked):
            yield Problem(f"{maker}, {what}", _awaited(asked, today), "an answer, or that none came: qcledger answer")


def _awaited(asked: Iterable[PublicAsking], today: date) -> str:
    days = [one.answer_by for one in asked if one.answer_by]
    if not days:
        return "an answer awaited"
    return f"an answer {'awaited' if max(days) >= today else 'overdue'} by {day(max(days))}"


def _undecided(view: PublicView, waiting: int) -> Iterator[Problem]:
    for one in view.methods.in_question:
        yield Problem("session", one, "one that is kept or void: decide on it on the page of the bench")
    if waiting:
        found = f"{waiting} that may concern health"
        yield Problem("safety", found, "maker, seller and authority told first: the guide's chapter on publishing")


def _undisclosed(view: PublicView) -> Iterator[Problem]:
    if not view.money.disclosed:
        yield Problem("--disclosed", "nothing", "who paid, gifts and ties in a sentence, or that there are none")
    if not view.edition.address:
        yield Problem("--address", "nothing", "where the newest edition is found")


# What is recorded


def rows_of(
    view: PublicView, now: Iterable[SaidNow], changed: Iterable[PublicChange], sha256: str, new_id: Callable[[], str]
) -> list[Record]:
    """Return the rows that record an edition: what it disclosed and covers, and each thing that it said.

    Parameters
    ----------
    view, now, changed
        What it says, and what changed since the one before.
    sha256
        Of the page's bytes.
    new_id
        Makes ids.
    """
    how: Mapping[str, str] = {one.about: one.how for one in changed}
    edition = Publication(
        id=new_id(),
        number=view.edition.number,
        title=view.title,
        on=view.edition.on,
        by=view.edition.by,
        address=view.edition.address or None,
        disclosed=view.money.disclosed,
        reason=" ".join(view.edition.reasons),
        closing=tuple(f"{book} {number} {last}" for book, number, last in view.closing),
        sha256=sha256,
    )
    said = (
        Statement(
            id=new_id(),
            publication=edition.id,
            finding=one.key.finding,
            standing=SETTLED,
            extent=one.key.extent,
            sentence=one.sentence,
            maker=one.key.maker,
            change=how.get(one.about),
        )
        for one in now
    )
    labels = (
        Statement(
            id=new_id(),
            publication=edition.id,
            finding=one.id[:200],
            standing=LABEL,
            extent=f"label of {one.paint}, {one.format}"[:200],
            sentence="\n".join((*one.printed, *one.reference))[:20_000],
        )
        for one in view.labels
    )
    return [edition, *said, *labels]
