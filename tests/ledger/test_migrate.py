"""Versions: a newer ledger is refused, an older one copied and upgraded whole or not at all."""

import sqlite3
from contextlib import closing, contextmanager

import pytest
from sqlalchemy import Text, column, insert, select, table, type_coerce

from qcledger.errors import LedgerUnavailable
from qcledger.ledger import Ledger, connect, migrate
from qcledger.ledger.chain import sha256
from qcledger.ledger.tables import ENTRY, META, METADATA
from qcledger.ledger.verify import database_itself
from qcledger.records import TABLES, columns
from tests.ledger.given import basics, everything, graded, steady
from tests.ledger.test_bad_ledgers import change

NOW = connect.VERSION
"""This version, older than the one the tests make up."""


@pytest.fixture
def older(places, monkeypatch):
    """Return the place of a ledger whose tables are as an older version made them, and what stands in it."""
    where = places.new("old")
    with Ledger.create(where, letters="OV", tester="Oda Vane", sources=steady()) as ledger:
        ledger.append([*basics(), graded("a"), graded("b", supersedes="a", reason="slip")])
        with ledger._database.writing() as connection:
            connection.exec_driver_sql("ALTER TABLE entry RENAME COLUMN subject TO about")
            connection.exec_driver_sql("ALTER TABLE maker RENAME COLUMN note TO remark")
            connection.exec_driver_sql("DROP TABLE reader_note")
    monkeypatch.setattr(connect, "VERSION", NOW + 1)
    monkeypatch.setattr(migrate, "STEPS", {NOW: rename_subject})
    return where


def rename_subject(connection):
    """Do by hand what the tests' made-up version changes in the entries."""
    connection.exec_driver_sql("ALTER TABLE entry RENAME COLUMN about TO subject")


@pytest.fixture
def wanted(tmp_path):
    """Return what stands in a ledger of this version with the same entries."""
    with Ledger.create(tmp_path / "new.sqlite", letters="OV", tester="Oda Vane", sources=steady()) as ledger:
        ledger.append([*basics(), graded("a"), graded("b", supersedes="a", reason="slip")])
        return everything(ledger), ledger.tested_rows(), ledger.closing_hashes()


def standing(ledger):
    """Return all that a ledger says."""
    return everything(ledger), ledger.tested_rows(), ledger.closing_hashes()


@pytest.mark.parametrize("write", [False, True], ids=["read", "write"])
def test_an_older_ledger_is_upgraded_with_the_same_entries(wanted, older, write):
    """However it is opened, the tables become those of this version, and no hash changes."""
    with Ledger.open(older, write=write) as ledger:
        assert standing(ledger) == wanted
        assert ledger.verify() == []
    with Ledger.open(older, write=True) as ledger:  # and it is upgraded once
        assert standing(ledger) == wanted
        ledger.append([graded("c", criterion="opacity")])


def test_the_older_ledger_is_copied_first(wanted, older, places):
    """Before anything changes the older version is kept: as a file beside the ledger, or as a table of entries."""
    Ledger.open(older).close()
    if places.url is None:
        copy = older.with_name(f"ledger.version-{NOW}.sqlite")
        with closing(sqlite3.connect(copy)) as raw:
            assert raw.execute("PRAGMA user_version").fetchone() == (NOW,)
            assert raw.execute("SELECT count(about) FROM entry").fetchone() == (15,)
    else:
        import psycopg

        with psycopg.connect(older) as raw:
            assert raw.execute(f"SELECT count(about) FROM entry_v{NOW}_0").fetchone() == (15,)


def test_an_older_copy_is_not_replaced(older, places):
    """A copy that a former upgrade left stays; the next one gets another name."""
    if places.url is None:
        taken = older.with_name(f"ledger.version-{NOW}.sqlite")
        taken.write_text("kept")
        Ledger.open(older).close()
        assert taken.read_text() == "kept"
        assert older.with_name(f"ledger.version-{NOW}1.sqlite").exists()
    else:
        import psycopg

        with psycopg.connect(older, autocommit=True) as raw:
            raw.execute(f"CREATE TABLE entry_v{NOW}_0 (kept int)")
        Ledger.open(older).close()
        with psycopg.connect(older) as raw:
            assert raw.execute(f"SELECT count(*) FROM entry_v{NOW}_1").fetchone() == (15,)


class Cut(Exception):
    """Stands for whatever stops an upgrade half-way."""


@pytest.mark.parametrize("where", ["in the step", "in the rebuild", "at the stamp"])
def test_an_upgrade_that_fails_leaves_the_old_version_whole(wanted, older, monkeypatch, places, where):
    """Stopped at any point, the older ledger is as it was, and the next try upgrades it."""

    def stop(*_):
        raise Cut

    def step_and_stop(connection):
        rename_subject(connection)
        raise Cut

    before = older.read_bytes() if places.url is None else None
    with monkeypatch.context() as broken:
        if where == "in the step":
            broken.setattr(migrate, "STEPS", {NOW: step_and_stop})
        elif where == "in the rebuild":
            broken.setattr(migrate, "rebuild", stop)
        else:
            broken.setattr(type(connect.home(older)), "stamp", stop)
        with pytest.raises(Cut):
            Ledger.open(older, write=True)
    if before is not None:
        assert older.read_bytes() == before
        assert [path.name for path in older.parent.iterdir()] == ["ledger.sqlite"]
    with Ledger.open(older, write=True) as ledger:
        assert standing(ledger) == wanted


def test_an_upgrade_that_does_not_reach_this_versions_tables_is_undone(older, monkeypatch, places):
    """A step that leaves a foreign table behind is not committed."""

    def untidy(connection):
        rename_subject(connection)
        connection.exec_driver_sql("DROP TABLE entry" if places.url else "CREATE TABLE stars (x TEXT)")

    monkeypatch.setattr(migrate, "STEPS", {NOW: untidy})
    with pytest.raises(LedgerUnavailable):
        Ledger.open(older)
    monkeypatch.setattr(migrate, "STEPS", {NOW: rename_subject})
    Ledger.open(older).close()


def test_a_ledger_between_versions_without_a_step_is_refused(older, monkeypatch):
    """A version this program has no step from is named, and left alone."""
    monkeypatch.setattr(migrate, "STEPS", {})
    with pytest.raises(LedgerUnavailable, match=rf"written by a version too old to upgrade \({NOW}\)"):
        Ledger.open(older)


def test_steps_are_taken_one_after_the_other(older, wanted, monkeypatch):
    """From an old version each step is taken, in order."""
    taken = []

    def first(connection):
        taken.append(1)
        rename_subject(connection)

    monkeypatch.setattr(connect, "VERSION", NOW + 2)
    monkeypatch.setattr(migrate, "STEPS", {NOW + 1: lambda _: taken.append(2), NOW: first})
    with Ledger.open(older) as ledger:
        assert standing(ledger) == wanted
    assert taken == [1, 2]


def test_a_changed_table_needs_a_new_version():
    """The tables are those this version came with: whoever changes them raises `connect.VERSION`.

    When this fails, raise the version, add a step to `migrate.STEPS` (it may do nothing) and pin the new fingerprint.
    """
    parts = [f"{name}.{column}" for name, record in TABLES.items() for column in columns(record)]
    parts += [f"{table.name}.{column.name}" for table in (ENTRY, META) for column in table.columns]
    parts += sorted(str(index.name) for table in METADATA.sorted_tables for index in table.indexes)
    assert (connect.VERSION, sha256("\n".join(parts).encode())[:16]) == (4, "da2bf2c912d3a143")


AS_IT_STANDS = ("at", "replaces")


@contextmanager
def past_the_program(where):
    """Give a connection to the tables of a ledger that nobody has open."""
    engine = connect.home(where).engine(write=True)
    with engine.begin() as connection:
        yield connection
    engine.dispose()


def entries_of_texts(connection):
    """Keep the entries as versions up to 3 did: all texts, and an index for the order of all."""
    names = [one.name for one in ENTRY.columns]
    rows = connection.execute(
        select(
            *(type_coerce(one, Text).label(one.name) if one.name in AS_IT_STANDS else one for one in ENTRY.columns)
        )
    )
    rows = [dict(row) for row in rows.mappings()]
    connection.exec_driver_sql("DROP TABLE entry")
    made = ", ".join(f"{name} {'BIGINT' if name == 'seq' else 'TEXT'}" for name in names)
    connection.exec_driver_sql(f"CREATE TABLE entry ({made}, PRIMARY KEY (daybook, seq), UNIQUE (hash))")
    connection.exec_driver_sql("CREATE INDEX ix_entry_row ON entry (kind, subject)")
    connection.exec_driver_sql("CREATE INDEX ix_entry_order ON entry (at, daybook, seq)")
    connection.exec_driver_sql("CREATE INDEX ix_observation_rubric ON observation (rubric)")
    connection.execute(insert(table("entry", *map(column, names))), rows)
    connection.exec_driver_sql("UPDATE meta SET value = '3' WHERE key = 'version'")
    if connection.dialect.name == "sqlite":
        connection.exec_driver_sql("PRAGMA user_version = 3")


@pytest.fixture
def version_3(places):
    """Return the place of a ledger of version 3, and what stands in it: an amendment, a redaction, odd texts."""
    where = places.new("old")
    with Ledger.create(where, letters="OV", tester="Oda Vane", sources=steady()) as ledger:
        ledger.append(
            [*basics(), graded("a", note="Größe \u4e2d, 12345678-1234-1234-1234-123456789abc-7f " + "ab" * 40)]
        )
        ledger.append([graded("b", supersedes="a", reason="slip")], reason="looked again")
        ledger.append([graded("c", criterion="opacity", note="a name")])
        ledger.redact(entry=ledger.history("observation", "c")[0].hash, reason="a name")
        had = standing(ledger), list(ledger.entries())
    with past_the_program(where) as connection:
        entries_of_texts(connection)
    return where, had


def test_a_ledger_of_version_3_is_upgraded(version_3):
    """Its entries are kept as bytes and say the same to the letter; all verifies, and it is written on."""
    where, had = version_3
    with Ledger.open(where, write=True) as ledger:
        assert (standing(ledger), list(ledger.entries())) == had
        assert ledger.verify() == []
        ledger.append([graded("d", criterion="opacity")])
        with ledger.reading() as connection:
            assert list(database_itself(connection, ledger._place)) == []


@pytest.mark.parametrize("places", ["sqlite"], indirect=True)  # what is damaged is raw SQL
def test_a_damaged_ledger_of_version_3_stays_as_it_is(version_3):
    """A hash that is none is told as damage, and neither the ledger nor its folder is changed."""
    where, _ = version_3
    change(where, "UPDATE entry SET prev = 'none' WHERE seq = 3")
    before = where.read_bytes()
    with pytest.raises(LedgerUnavailable, match="is damaged; restore a backup"):
        Ledger.open(where, write=True)
    assert where.read_bytes() == before
    assert [path.name for path in where.parent.iterdir() if path.suffix == ".sqlite"] == [where.name]


@pytest.mark.parametrize("places", ["sqlite"], indirect=True)
def test_an_upgraded_file_has_no_free_pages(version_3):
    """The room of the tables that went is given back to the disk."""
    where, _ = version_3
    Ledger.open(where).close()
    with closing(sqlite3.connect(where)) as raw:
        assert raw.execute("PRAGMA freelist_count").fetchone() == (0,)


def test_a_ledger_of_version_1_is_upgraded(tmp_path):
    """A ledger made before sessions kept their plan opens, with every observation it had."""
    where = tmp_path / "old.sqlite"
    with Ledger.create(where, letters="OV", tester="Oda Vane", sources=steady()) as ledger:
        ledger.append([*basics(), graded("a")])
        had = everything(ledger)
    with past_the_program(where) as connection:
        for name in ("criteria", "seed", "plan"):
            connection.exec_driver_sql(f"ALTER TABLE session RENAME COLUMN {name} TO other_{name}")
        entries_of_texts(connection)
        connection.exec_driver_sql("ALTER TABLE entry DROP COLUMN replaces")
        connection.exec_driver_sql("UPDATE meta SET value = '1' WHERE key = 'version'")
        connection.exec_driver_sql("PRAGMA user_version = 1")
    with Ledger.open(where) as ledger:
        assert everything(ledger) == had
        assert ledger.verify() == []
