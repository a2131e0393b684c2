"""Versions: a newer ledger is refused, an older one copied and upgraded whole or not at all."""

import sqlite3
from contextlib import closing

import pytest

from qcledger.errors import LedgerUnavailable
from qcledger.ledger import Ledger, connect, migrate
from qcledger.ledger.chain import sha256
from qcledger.ledger.tables import ENTRY, META, METADATA
from qcledger.records import TABLES, columns
from tests.ledger.given import basics, everything, graded, steady


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
    monkeypatch.setattr(connect, "VERSION", connect.VERSION + 1)
    monkeypatch.setattr(migrate, "STEPS", {1: rename_subject})
    return where


def rename_subject(connection):
    """Do by hand what the tests' made-up version 2 changes in the entries."""
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
        copy = older.with_name("ledger.version-1.sqlite")
        with closing(sqlite3.connect(copy)) as raw:
            assert raw.execute("PRAGMA user_version").fetchone() == (1,)
            assert raw.execute("SELECT count(about) FROM entry").fetchone() == (15,)
    else:
        import psycopg

        with psycopg.connect(older) as raw:
            assert raw.execute("SELECT count(about) FROM entry_v1_0").fetchone() == (15,)


def test_an_older_copy_is_not_replaced(older, places):
    """A copy that a former upgrade left stays; the next one gets another name."""
    if places.url is None:
        taken = older.with_name("ledger.version-1.sqlite")
        taken.write_text("kept")
        Ledger.open(older).close()
        assert taken.read_text() == "kept"
        assert older.with_name("ledger.version-11.sqlite").exists()
    else:
        import psycopg

        with psycopg.connect(older, autocommit=True) as raw:
            raw.execute("CREATE TABLE entry_v1_0 (kept int)")
        Ledger.open(older).close()
        with psycopg.connect(older) as raw:
            assert raw.execute("SELECT count(*) FROM entry_v1_1").fetchone() == (15,)


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
            broken.setattr(migrate, "STEPS", {1: step_and_stop})
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

    monkeypatch.setattr(migrate, "STEPS", {1: untidy})
    with pytest.raises(LedgerUnavailable):
        Ledger.open(older)
    monkeypatch.setattr(migrate, "STEPS", {1: rename_subject})
    Ledger.open(older).close()


def test_a_ledger_between_versions_without_a_step_is_refused(older, monkeypatch):
    """A version this program has no step from is named, and left alone."""
    monkeypatch.setattr(migrate, "STEPS", {})
    with pytest.raises(LedgerUnavailable, match=r"written by a version too old to upgrade \(1\)"):
        Ledger.open(older)


def test_steps_are_taken_one_after_the_other(older, wanted, monkeypatch):
    """From an old version each step is taken, in order."""
    taken = []

    def first(connection):
        taken.append(1)
        rename_subject(connection)

    monkeypatch.setattr(connect, "VERSION", 3)
    monkeypatch.setattr(migrate, "STEPS", {2: lambda _: taken.append(2), 1: first})
    with Ledger.open(older) as ledger:
        assert standing(ledger) == wanted
    assert taken == [1, 2]


def test_a_changed_table_needs_a_new_version():
    """The tables are those version 1 was released with: whoever changes them raises `connect.VERSION`.

    When this fails before the first release, pin the new fingerprint; after it, raise the version, add a step to
    `migrate.STEPS` (it may do nothing) and pin the new fingerprint under the new version.
    """
    parts = [f"{name}.{column}" for name, record in TABLES.items() for column in columns(record)]
    parts += [f"{table.name}.{column.name}" for table in (ENTRY, META) for column in table.columns]
    parts += sorted(str(index.name) for table in METADATA.sorted_tables for index in table.indexes)
    assert (connect.VERSION, sha256("\n".join(parts).encode())[:16]) == (1, "67b4b9d0350fb104")
