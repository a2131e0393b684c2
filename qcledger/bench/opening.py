"""When a piece counts as opened: whoever judges what is inside has opened it."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING, Final

from qcledger.records import Parcel, Record, Session, Specimen, Trial
from qcledger.vocab import TAKEN_BACK, SpecimenState

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

OPENED: Final = "opened: what is inside was judged"
"""The reason of the change of state that a grade has made."""


def opened(ledger: "Ledger", specimen: str, at: datetime) -> Specimen | None:
    """Return an unopened piece of this tester's as it is once it was opened at `at` (UTC); None for any other.

    One that is kept sealed is opened by a word of its own. No day stands where its parcel came later.
    """
    row = ledger.get(Specimen, specimen)
    if row is None or row.state is not SpecimenState.UNOPENED or ledger.made_by(Specimen, specimen):
        return None
    parcel, day = ledger.get(Parcel, row.parcel), ledger.day(at)
    came = parcel and (parcel.received_on or parcel.bought_on)
    return replace(row, state=SpecimenState.OPENED, opened_on=None if came and day < came else day)


def at_bench(ledger: "Ledger", session: str) -> list[Specimen]:
    """Return the unopened pieces of this tester's that a session has judged, as opened with the first grade.

    For a session that is closed, or was never blind: a piece that is opened tells that its code was judged.
    """
    from qcledger.ledger.queries_sheet import standing

    trials = {one.id: one.specimen for one in ledger.rows(Trial, session=session)}
    with ledger.reading() as connection:
        seen = standing(connection, session)
    first: dict[str, datetime] = {}
    for one in (one for one in seen if one.not_testable is None and one.trial in trials):
        specimen = trials[one.trial]
        first[specimen] = min(first.get(specimen, one.at), one.at)
    rows = (opened(ledger, specimen, at) for specimen, at in sorted(first.items()))
    return [row for row in rows if row is not None]


def keep_decided(ledger: "Ledger", session: str, records: Sequence[Record], reason: str = "") -> None:
    """Write what was decided about a session; once that is closed, what its sheet has judged counts as opened."""
    ledger.append(records, reason=reason)
    row = ledger.get(Session, session)
    if row is not None and row.closed_at is not None and (judged := at_bench(ledger, session)):
        ledger.append(judged, reason=OPENED)


def closed(ledger: "Ledger", specimen: str) -> Specimen | None:
    """Return a piece as it was before a grade had opened it; None where anything else was said of it since."""
    row = ledger.get(Specimen, specimen)
    if row is None or row.state is not SpecimenState.OPENED or ledger.made_by(Specimen, specimen):
        return None
    from qcledger.ledger.codec import decode  # as the chain keeps it; nothing else tells why a row changed

    last = ledger.history(Specimen.TABLE, specimen)[-1]
    if last.body is None or decode(last.kind, last.body, last.subject)[1] != OPENED:
        return None
    return replace(row, state=SpecimenState.UNOPENED, opened_on=None)


def why(changed: Sequence[Specimen], *, taken_back: bool) -> str:
    """Return the reason of such changes; empty where there are none."""
    if not changed:
        return ""
    return TAKEN_BACK if taken_back else OPENED
