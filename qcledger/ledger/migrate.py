"""Ledgers of other versions: a newer one is refused, an older one is copied and then upgraded whole or not at all.

A step is written by hand for each version and changes what the read models are made from: the entries' table and
what is derived from it. The read models themselves are dropped and built anew, so no step is needed for them beyond
raising `connect.VERSION`.
"""

from collections.abc import Callable, Mapping
from itertools import count
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, MetaData, RowMapping, column, insert, select, table, tuple_, update

from qcledger.errors import LedgerUnavailable
from qcledger.ledger import connect
from qcledger.ledger.connect import Home
from qcledger.ledger.packed import pack
from qcledger.ledger.postgres import VERSION_KEY
from qcledger.ledger.readmodels import BATCH, rebuild
from qcledger.ledger.sqlite import SqliteFile
from qcledger.ledger.tables import ENTRY, META, METADATA, TABLE
from qcledger.ledger.told import Unreadable, told

Step = Callable[[Connection], None]


def _only_read_models(_: Connection) -> None:
    """Change nothing in the entries: what is new is a field of a read model, which is built anew."""


def _entries_that_replace(connection: Connection) -> None:
    """Give the entries a column for what each replaces; those there are name nothing, and stay as they are."""
    connection.exec_driver_sql("ALTER TABLE entry ADD COLUMN replaces TEXT NOT NULL DEFAULT '[]'")


_TEXTS = table("entry_of_texts", *(column(one.name) for one in ENTRY.columns))
"""The entries as versions up to 3 kept them: texts, but for the number."""
_KEPT = table(ENTRY.name, *(column(one.name) for one in ENTRY.columns))
"""Their table as it is now, whose columns take what stands in them as it is given."""
_AS_BYTES: Mapping[str, Callable[[str], bytes]] = {
    **dict.fromkeys(("prev", "salt", "body_hash", "hash"), bytes.fromhex),
    "body": pack,
}


def _entries_in_bytes(connection: Connection) -> None:
    """Keep hashes, salts and bodies as bytes, and no order of all entries beside that of each daybook."""
    for index in ("ix_entry_row", "ix_entry_order"):
        connection.exec_driver_sql(f"DROP INDEX {index}")
    connection.exec_driver_sql(f"ALTER TABLE {ENTRY.name} RENAME TO {_TEXTS.name}")
    ENTRY.create(connection)
    number = (_TEXTS.c.daybook, _TEXTS.c.seq)
    wanted = part = select(_TEXTS).order_by(*number).limit(BATCH)
    while found := connection.execute(part).mappings().all():
        connection.execute(insert(_KEPT), list(map(_in_bytes, found)))
        part = wanted.where(tuple_(*number) > tuple_(found[-1]["daybook"], found[-1]["seq"]))
    connection.exec_driver_sql(f"DROP TABLE {_TEXTS.name}")


def _in_bytes(row: RowMapping) -> dict[str, Any]:
    """Return what is kept of an entry; raises Unreadable where a hash or salt is none."""
    there = {name: text for name, text in row.items() if name in _AS_BYTES and text is not None}
    try:
        return {**row, **{name: _AS_BYTES[name](text) for name, text in there.items()}}
    except ValueError as error:
        raise Unreadable(f"entry {row['seq']}") from error


STEPS: Mapping[int, Step] = {1: _only_read_models, 2: _entries_that_replace, 3: _entries_in_bytes}
"""For each older version the step to the next; a step may do nothing.

Version 2: a session keeps what it judges, and the seed and plan of its run sheet.
Version 3: an entry names what it replaces, and a row has the daybook it belongs to; ranges, sellers, same as,
imports, time zones, conditions, questions, publications and cards are tables; formats and stages are plain texts.
Version 4: an entry's hashes, salt and body are kept as bytes, the body deflated; two indexes fewer.
"""


def upgrade(place: Home) -> None:
    """Bring the ledger at a place to this program's version, if it is older.

    Raises
    ------
    LedgerUnavailable
        When it is newer, too old, or the upgrade failed; then it is as it was.
    """
    found, known = place.version(), connect.VERSION
    if found > known:
        raise LedgerUnavailable(f"{place.name} was written by a newer version ({found}; this knows {known}).")
    if found == known:
        place.complete()
        return
    if any(version not in STEPS for version in range(found, known)):
        raise LedgerUnavailable(f"{place.name} was written by a version too old to upgrade ({found}).")
    place.refuse_upgrade(found)
    copy = _copied(place, found)
    engine = place.engine(write=True)
    try:
        with told(place.name), engine.begin() as connection:
            _step_by_step(place, connection)
    except BaseException:
        if copy is not None:
            copy.unlink(missing_ok=True)
        raise
    finally:
        engine.dispose()
    place.give_back_room()


def _copied(place: Home, version: int) -> Path | None:
    """Copy a ledger file beside itself before it is changed; returns the copy."""
    if not isinstance(place, SqliteFile):
        return None
    path = place.path
    names = (path.with_name(f"{path.stem}.version-{version}{n or ''}{path.suffix}") for n in count())
    copy = SqliteFile(next(name for name in names if not name.exists()))
    place.copy_to(copy)
    return copy.path


def _step_by_step(place: Home, connection: Connection) -> None:
    version = select(META.c.value).where(META.c.key == VERSION_KEY)
    found = int(connection.execute(version).scalar_one())  # another terminal may have upgraded it meanwhile
    if found == connect.VERSION:
        return
    place.keep_entries(connection, found)
    for older in range(found, connect.VERSION):
        STEPS[older](connection)
    _rebuild_tables(connection)
    connection.execute(update(META).where(META.c.key == VERSION_KEY).values(value=str(connect.VERSION)))
    place.stamp(connection, connect.VERSION)
    place.check_tables(connection)


def _rebuild_tables(connection: Connection) -> None:
    there = MetaData()
    there.reflect(connection)
    there.drop_all(connection, [one for one in there.sorted_tables if one.name in TABLE])
    METADATA.create_all(connection, list(TABLE.values()))
    rebuild(connection)
