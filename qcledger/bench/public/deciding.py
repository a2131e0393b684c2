"""Small decisions with a day and a reason: keep private, test again, correct what was said.

Another tester's decision about a finding is told and changes nothing here.
"""

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from qcledger.bench.scales import renewed
from qcledger.errors import bad
from qcledger.ledger.decided import finding_decisions
from qcledger.ledger.identity import who_is_who
from qcledger.records import Decision, Maker
from qcledger.records.finding_key import FindingKey
from qcledger.text import clean
from qcledger.vocab import DecisionKind

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.ledger.identity import Identity

_PRIVACY: Final = (DecisionKind.HOLD_BACK, DecisionKind.PUBLISH)
LONGEST: Final = 20_000


@dataclass(frozen=True, slots=True)
class About:
    """A decision about a finding: of which maker by the id it counts as, and of which other tester, if of one."""

    decision: Decision
    key: FindingKey
    whose: str = ""


def read_reason(text: str, where: str = "reason") -> str:
    """Return a reason; raises BadInput for an empty or endless one."""
    found = clean(text)
    if not 1 <= len(found) <= LONGEST:
        raise bad(where, f"{len(found)} characters", f"why, in 1 to {LONGEST} characters")
    return found


def about_finding(
    kind: DecisionKind, key: FindingKey, *, reason: str, by: str, on: date, new_id: Callable[[], str], how: str = ""
) -> Decision:
    """Return a decision about a finding; raises BadInput for an empty reason."""
    return about_row(kind, key.subject_table, key.maker, reason=reason, by=by, on=on, new_id=new_id, how=how)


def about_row(
    kind: DecisionKind,
    table: str,
    subject: str,
    *,
    reason: str,
    by: str,
    on: date,
    new_id: Callable[[], str],
    how: str = "",
) -> Decision:
    """Return a decision about a row of a table; raises BadInput for an empty reason."""
    return Decision(
        id=new_id(),
        kind=kind,
        subject_table=table,
        subject=subject,
        by=by,
        on=on,
        reason=read_reason(reason),
        how=clean(how),
    )


def decided(ledger: "Ledger") -> list[About]:
    """Return every decision about a finding in the order of the days, of one day in that of the entries."""
    known = who_is_who(ledger)
    with ledger.reading() as connection:
        rows = finding_decisions(connection)
    mine = ledger.own(Decision) if rows else frozenset()
    newer = renewed(ledger) if rows else {}
    found = []
    for row in sorted(rows, key=lambda one: one.on):
        key = FindingKey.decided(row.subject_table, row.subject)
        if key is not None:
            whose = "" if row.id in mine else ledger.made_by(Decision, row.id)
            found.append(About(row, united(known, key, newer), whose))
    return found


def united(known: "Identity", key: FindingKey, newer: Mapping[str, str] = MappingProxyType({})) -> FindingKey:
    """Return a key by the id that its maker counts as, and by the key that its criterion counts under."""
    criterion = newer.get(key.criterion, key.criterion)
    return FindingKey(criterion, known.one(Maker.TABLE, key.maker), key.format)


def kept_private(found: Iterable[About], key: FindingKey) -> Decision | None:
    """Return the decision that keeps a finding private; None where there is none, or a later one undid it."""
    mine = [one.decision for one in found if one.key == key and not one.whose and one.decision.kind in _PRIVACY]
    return mine[-1] if mine and mine[-1].kind is DecisionKind.HOLD_BACK else None


def others_on_privacy(found: Iterable[About], key: FindingKey) -> list[About]:
    """Return what each other tester decided last about keeping a finding private; it changes nothing here."""
    last = {one.whose: one for one in found if one.key == key and one.whose and one.decision.kind in _PRIVACY}
    return list(last.values())


def privacy(
    ledger: "Ledger", key: FindingKey, reason: str, *, undo: bool, on: date, new_id: Callable[[], str]
) -> Decision:
    """Return the decision that keeps a finding private, or the one that undoes it.

    Raises
    ------
    BadInput
        For an empty reason, or where it stands so already.
    """
    now = kept_private(decided(ledger), united(who_is_who(ledger), key))
    if undo == (now is None):
        raise bad("finding", f"kept private on {now.on}" if now else "not kept private", "it stands so already")
    kind = DecisionKind.PUBLISH if undo else DecisionKind.HOLD_BACK
    return about_finding(kind, key, reason=reason, by=ledger.daybook.tester, on=on, new_id=new_id)


def release(
    ledger: "Ledger", key: FindingKey, reason: str, *, on: date, new_id: Callable[[], str], was_asked: bool
) -> Decision:
    """Return the decision that what may concern health is told in public: maker, seller and authority know.

    Raises
    ------
    BadInput
        For an empty reason, or where the maker was not asked.
    """
    if not was_asked:
        raise bad("finding", "a maker that was not asked", "one that was asked first, and seller and authority told")
    return about_finding(DecisionKind.PUBLISH, key, reason=reason, by=ledger.daybook.tester, on=on, new_id=new_id)


def last_of(rows: Iterable[About], kinds: Collection[DecisionKind]) -> list[About]:
    """Return the last decision of these kinds about each finding, this tester's own alone."""
    return list({one.key: one for one in rows if not one.whose and one.decision.kind in kinds}.values())
