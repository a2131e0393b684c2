"""What tests on the server share: each finds tables as new, and a ledger as if it had just been written."""

import secrets

import psycopg
import pytest

from qcledger.ledger import Ledger
from tests.ledger.given import WRITTEN, everything, steady, write_basics


@pytest.fixture
def table(schemas, monkeypatch):
    """Return a function that makes a ledger, changes its schema, gives it back, and says which table it had."""
    monkeypatch.setattr("qcledger.ledger.ledger.build", schemas.build)

    def use(change=""):
        name = f"u_{secrets.token_hex(6)}"
        where = schemas.new(name)
        write_basics(where)
        with Ledger.open(where) as ledger:
            assert ledger.verify() == []
            assert len(ledger.closing_hashes()) == 1
        with psycopg.connect(where, autocommit=True) as raw:
            (found,) = raw.execute("SELECT 'entry'::regclass::oid").fetchone()
            raw.execute(change)
        schemas.give_back(name)
        return found

    return use


def test_tables_are_given_out_again_with_nothing_in_them(table):
    """The next ledger is written into the very tables of the one before, and is whole."""
    assert table() == table()


@pytest.mark.parametrize(
    "change",
    [
        "ALTER TABLE entry ADD COLUMN more TEXT",
        "ALTER TABLE maker ALTER COLUMN name DROP NOT NULL",
        "CREATE TABLE stars (x TEXT)",
        "DROP TABLE photo_bytes",
        "GRANT SELECT ON entry TO PUBLIC",
        "CREATE INDEX more ON entry (at)",
        "ALTER TABLE specimen DROP CONSTRAINT specimen_pkey CASCADE",
    ],
)
def test_a_schema_that_was_changed_is_given_to_nobody(table, change):
    """A column, a right, a table more or less: the next ledger gets other tables."""
    assert table(change) != table()


def test_a_copied_ledger_is_the_one_that_was_written(places, tmp_path):
    """Its rows and entries are those `write_basics` makes, and its sources go on where that left off."""
    with (
        Ledger.open(places.basics("copy"), write=True, sources=steady(asked=WRITTEN)) as copy,
        Ledger.create(tmp_path / "made.sqlite", letters="OV", tester="Oda Vane", sources=(own := steady())) as made,
    ):
        made.append(list(everything_but_the_daybook(copy)))
        assert copy.closing_hashes() == made.closing_hashes()
        left = steady(asked=WRITTEN)
        assert (left.now(), left.new_id(), left.salt()) == (own.now(), own.new_id(), own.salt())


def everything_but_the_daybook(ledger):
    """Yield the rows of a ledger in the order of their entries."""
    rows = {(kind, row.id): row for kind, found in everything(ledger).items() for row in found}
    for entry in ledger.entries():
        if entry.kind != "daybook":
            yield rows[entry.kind, entry.subject]
