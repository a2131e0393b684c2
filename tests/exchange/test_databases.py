"""What goes in and out is the same on SQLite and on PostgreSQL."""

from pathlib import Path

from qcledger.exchange import carry_out, merge_folder, plan_folder, to_folder
from qcledger.ledger import Ledger
from qcledger.records import Specimen
from tests.exchange.made import files_of, full
from tests.exchange.test_folder import STUDIO, write
from tests.exchange.test_mapped import GOOD, MAP, bring_in, sheet
from tests.ledger.conftest import places  # noqa: F401 - a fixture

GOOD_TWO = ["2", *GOOD[1:]]


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


def test_sheets_of_two_testers_stay_apart_on_either_database(places, tmp_path):  # noqa: F811
    """Two sheets numbered from 1, brought in by two testers and merged, are two stocks; each finds its own again."""
    (tmp_path / "hers").mkdir()
    (tmp_path / "his").mkdir()
    hers, his = sheet(tmp_path / "hers", GOOD), sheet(tmp_path / "his", ["1", "Halcyre", *GOOD[2:]], GOOD_TWO)
    text = f"{MAP}new_makers: true\n"
    with (
        Ledger.create(places.new("mine"), letters="AN", tester="Anna North") as mine,
        Ledger.create(tmp_path / "his.sqlite", letters="BE", tester="Bert East") as theirs,
    ):
        bring_in(mine, hers, text)
        bring_in(theirs, his, text)
        to_folder(theirs, tmp_path / "out")
        merge_folder(mine, tmp_path / "out")
        assert sorted(row.sticker for row in mine.rows(Specimen)) == ["AN 0001", "BE 0001", "BE 0002"]
        assert bring_in(mine, hers, text).records == ()
        assert mine.verify() == []
