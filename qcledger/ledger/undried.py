"""Which tubes met paint that is bought dry, on one sheet, before they were poured and had dried."""

import re
from datetime import UTC, date
from typing import Any

from sqlalchemy import Connection, Row, select

from qcledger.clock import day_of
from qcledger.ledger.readmodels import testers
from qcledger.ledger.tables import DAYBOOK, TABLE
from qcledger.ledger.words import bought
from qcledger.ledger.zones import Zones
from qcledger.records import Session
from qcledger.vocab import NOT_DRIED, NOT_DRIED_BEFORE, BoughtAs, PreparationKind


def undried(connection: Connection, session: str | None = None) -> dict[tuple[str, str], str]:
    """Return the stickers of such specimens, by session and specimen; with `session`, of that one alone.

    One was not poured by the day its session began, or the session's note says that it had not dried for long enough:
    how long that is each tester sets, so only the note can tell.
    """
    how = bought(connection)
    moist, dry = ([name for name, one in how.items() if one is each] for each in (BoughtAs.MOIST, BoughtAs.DRY))
    row, specimen, sitting = TABLE["run_row"], TABLE["specimen"], TABLE["session"]
    on_sheet = row.join(specimen, specimen.c.id == row.c.specimen)
    with_dry = select(row.c.session).select_from(on_sheet).where(specimen.c.format.in_(dry))
    wanted = (
        select(
            *row.c["session", "specimen"],
            *specimen.c["sticker", DAYBOOK],
            *sitting.c["started_at", "note"],
            sitting.c[DAYBOOK].label("session_book"),
        )
        .select_from(on_sheet.join(sitting, sitting.c.id == row.c.session))
        .where(specimen.c.format.in_(moist), row.c.session.in_(with_dry))
        .distinct()
    )
    if session is not None:
        wanted = wanted.where(row.c.session == session)
    found = connection.execute(wanted).all()
    if not found:
        return {}
    prepared, zones = _Prepared(connection), Zones(connection, Session.TABLE, {one.session for one in found})
    return {
        (one.session, one.specimen): one.sticker
        for one in found
        if not _is_poured(
            prepared.of(one.specimen, one.daybook, one.session_book),
            day_of(one.started_at, zones.of(one.session_book, one.session) or UTC),
        )
        or _is_noted(one.sticker, one.note)
    }


class _Prepared:
    """The preparations of each specimen, and whose word each is."""

    def __init__(self, connection: Connection) -> None:
        table = TABLE["preparation"]
        self._whose, self._rows = testers(connection), dict[str, list[Row[Any]]]()
        wanted = select(*table.c["specimen", "on", "kind", DAYBOOK]).order_by(table.c.on, table.c.id)
        for one in connection.execute(wanted):
            self._rows.setdefault(one.specimen, []).append(one)

    def of(self, specimen: str, *daybooks: str) -> list[tuple[date, PreparationKind]]:
        """Return those of a specimen that the tester of one of these daybooks noted, the latest last."""
        rows = self._rows.get(specimen, [])
        return [(row.on, row.kind) for row in rows if any(self._whose.same(row.daybook, book) for book in daybooks)]


def _is_poured(prepared: list[tuple[date, PreparationKind]], began_on: date) -> bool:
    """Say whether the last preparation up to the day a session began was a pouring."""
    kinds = [kind for on, kind in prepared if on <= began_on]
    return bool(kinds) and kinds[-1] == PreparationKind.POURED


def _is_noted(sticker: str, note: str) -> bool:
    told = [line for line in note.splitlines() if line.startswith((NOT_DRIED, NOT_DRIED_BEFORE))]
    return any(re.search(rf"\b{re.escape(sticker)}\b", line) for line in told)
