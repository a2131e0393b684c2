"""What goes in and out is the same on SQLite and on PostgreSQL."""

from pathlib import Path

from qcledger.exchange import carry_out, merge_folder, plan_folder, to_folder
from qcledger.ledger import Ledger
from tests.exchange.made import files_of, full
from tests.exchange.test_folder import STUDIO, write
from tests.ledger.conftest import places  # noqa: F401 - a fixture


def test_a_ledger_moves_between_databases(places, tmp_path):  # noqa: F811
    """A ledger on SQLite, exported, merged into an empty one on either database and exported there, is exact."""
    (tmp_path / "source").mkdir()
    with full(tmp_path / "source" / "ledger.sqlite") as source:
        to_folder(source, tmp_path / "before")
    place = places.new("empty")
    with Ledger.create(place, letters="TL", tester="Tam Lark", daybook="other") as other:
        merge_folder(other, tmp_path / "before")
        to_folder(other, tmp_path / "after")
    before, after = files_of(tmp_path / "before"), files_of(tmp_path / "after")
    own = {"daybook.csv", "entries.csv", "manifest.json"}
    assert {name for name in before if before[name] != after[name]} == own
    assert before.keys() == after.keys()
    assert set(before["entries.csv"].splitlines()) < set(after["entries.csv"].splitlines())


def test_tables_come_in_once_on_either_database(places, tmp_path):  # noqa: F811
    """Hand-made tables come in once, with the ids they have on every database."""
    folder: Path = write(tmp_path / "in", STUDIO)
    with Ledger.create(places.new("mine"), letters="OV", tester="Oda Vane") as ledger:
        plan = plan_folder(ledger, folder)
        carry_out(ledger, plan)
        assert plan_folder(ledger, folder).records == ()
        assert plan.new_rows == 16
        assert ledger.verify() == []
