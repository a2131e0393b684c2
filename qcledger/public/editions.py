"""Editions: what changed since the one before, and the rows that record one with each thing that it said."""

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Final

from qcledger.bench.public.withdrawing import withdrawn
from qcledger.findings import Findings
from qcledger.ledger.identity import who_is_who
from qcledger.public import from_findings as told
from qcledger.public.view import PublicChange, PublicView
from qcledger.records import Decision, Maker, Publication, Record, Statement
from qcledger.records.finding_key import FindingKey
from qcledger.vocab import DecisionKind

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

NEW: Final = "new"
OTHERWISE: Final = "said otherwise now"
GONE: Final = "no longer stands, on new evidence"
UNPRINTED: Final = "no longer printed; that says nothing about it, good or bad"
WITHDRAWN: Final = "withdrawn, we were wrong"
ANSWERED: Final = "what it answered is printed now"
RULE: Final = "rule changed"
SETTLED: Final = "settled"
LABEL: Final = "label fact"
ANSWER: Final = "answer"
LIMITS: Final = "what was not tested"
MISSING: Final = "missing"
CHANGE: Final = "changed"
"""What a `Statement` records of an edition, by its standing: what it said, printed of answers, and what changed."""


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


def changes(
    ledger: "Ledger", now: Iterable[SaidNow], on: date, kept: Collection[FindingKey] = ()
) -> list[PublicChange]:
    """Return what changed in what is said since the newest edition; nothing where there is none.

    Parameters
    ----------
    ledger
        Holds the editions, and the corrections of what they said.
    now
        What is said now.
    on
        The day of the change.
    kept
        Findings that are kept private now.
    """
    last = newest(ledger)
    if last is None:
        return []
    before = {_kept(one): one for one in ledger.rows(Statement, publication=last.id) if one.standing == SETTLED}
    current = {one.key: one for one in now}
    found = [_now(one, before.get(key), on) for key, one in current.items()]
    corrected, names = _corrected(ledger, last.on), _names(ledger)
    private = {one.text for one in kept}
    gone = []
    for key, one in before.items():
        if key not in current:
            how = WITHDRAWN if one.finding in corrected else UNPRINTED if one.finding in private else GONE
            why = corrected.get(one.finding, "")
            gone.append(PublicChange(_about(one, names), how, on, one.sentence, why, whose=one.maker or ""))
    return [one for one in (*found, *gone) if one is not None]


def answered(ledger: "Ledger", view: PublicView) -> list[PublicChange]:
    """Return what makers answered and the newest edition did not print; nothing where there is none."""
    last = newest(ledger)
    if last is None:
        return []
    before = {one.finding: one for one in ledger.rows(Statement, publication=last.id) if one.standing == ANSWER}
    return [
        PublicChange(maker, ANSWERED, view.edition.on)
        for finding, (maker, words) in answers_in(view).items()
        if finding not in before or before[finding].sentence != words
    ]


def answers_in(view: PublicView) -> dict[str, tuple[str, str]]:
    """Return what makers were asked and is no longer awaited: maker and words, under what it is kept by."""
    return {
        f"{one.maker[:160]} | asked {one.asked_on.isoformat()}": (
            one.maker, "\n".join(part for part in (one.line, one.answer) if part)[:20_000]
        )
        for maker in view.makers
        for one in maker.asked
        if not one.awaited
    }  # fmt: skip


def _now(one: SaidNow, before: Statement | None, on: date) -> PublicChange | None:
    whose = one.key.maker or ""
    if before is None:
        return PublicChange(one.about, NEW, on, whose=whose)
    same = before.sentence == one.sentence
    return None if same else PublicChange(one.about, OTHERWISE, on, before.sentence, whose=whose)


def _kept(one: Statement) -> told.StatementKey:
    return told.StatementKey(one.finding, one.maker, one.extent)


def _about(one: Statement, names: Callable[[str], str]) -> str:
    """Return what an older statement was about: what it reached and, of one maker, whose."""
    what = " ".join(one.extent.split(" | "))
    return f"{names(one.maker)}: {what}" if one.maker else what


def _names(ledger: "Ledger") -> Callable[[str], str]:
    known, own = who_is_who(ledger), {row.id: row.name for row in ledger.rows(Maker)}
    return lambda maker: known.name(Maker.TABLE, maker, own.get(maker, maker))


def _corrected(ledger: "Ledger", since: date) -> dict[str, str]:
    """Return the findings that were corrected since a day, with what is printed of it."""
    gone = withdrawn(ledger, Decision)
    rows = (one for one in ledger.rows(Decision) if one.kind is DecisionKind.CORRECT and one.on >= since)
    keys = ((FindingKey.decided(one.subject_table, one.subject), one) for one in rows if one.id not in gone)
    return {key.text: one.how for key, one in keys if key is not None}


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
    beside = (
        Statement(
            id=new_id(), publication=edition.id, finding=finding[:200], standing=standing, extent=extent[:200],
            sentence=sentence[:20_000], change=change, reason=reason, maker=maker or None,
        )
        for finding, standing, extent, sentence, change, reason, maker in _beside(view)
    )  # fmt: skip
    return [edition, *said, *labels, *beside]


def _beside(view: PublicView) -> Iterator[tuple[str, str, str, str, str | None, str, str]]:
    """Yield what else an edition told: finding, standing, extent, sentence, change, reason, maker of a row."""
    for finding, (_, words) in answers_in(view).items():
        yield finding, ANSWER, ANSWER, words, None, "", ""
    if view.methods.limits:
        yield "-", LIMITS, LIMITS, view.methods.limits, None, "", ""
    for line in view.edition.missing:
        yield "-", MISSING, MISSING, line, None, "", ""
    for one in view.changes:
        yield one.about or "-", CHANGE, CHANGE, one.before, one.how[:200], one.reason, one.whose
