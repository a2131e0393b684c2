"""The guide's own example does what the guide says."""

import re

from qcledger.exchange import carry_out, plan_folder, plan_mapped
from qcledger.exchange.columnmap import FIELDS, parse
from qcledger.ledger import Ledger
from qcledger.records import LabelVersion, Observation
from qcledger.settings import Settings, shipped

GUIDE = (shipped("guide") / "import.md").read_text(encoding="utf-8")


def block(language, number=0):
    """Return an example in a language."""
    return re.findall(rf"```{language}\n(.*?)```", GUIDE, re.DOTALL)[number]


def test_the_example_comes_in(tmp_path):
    """The notes of the guide come in through the map of the guide, and the grades are those it explains."""
    (tmp_path / "old.csv").write_text(block("csv"), encoding="utf-8")
    with Ledger.create(tmp_path / "mine.sqlite", letters="OV", tester="Oda Vane") as ledger:
        column_map = parse(block("yaml"), "map.yaml")
        plan = plan_mapped(ledger, tmp_path / "old.csv", column_map, settings=Settings())
        carry_out(ledger, plan)
        assert (plan.new_rows, plan.counts()["maker"]) == (3, 2)
        found = sorted((row.criterion, row.grade) for row in ledger.rows(Observation))
        assert found == [
            ("froth_amount", 1),
            ("froth_amount", 4),
            ("rewetting_in_fives", 0),
            ("rewetting_in_fives", 2),
            ("rewetting_in_fives", 5),
        ]


def test_every_field_is_named():
    """The guide lists every field a column may hold."""
    (listed,) = re.findall(r"- A field: (.*?)\. A specimen", GUIDE, re.DOTALL)
    assert re.findall(r"`(\w+)`", listed) == list(FIELDS)


def test_cells_are_as_the_guide_shows(tmp_path):
    """The cells of the guide's table are read as it says."""
    (tmp_path / "maker.csv").write_text("id,name\nm1,'=Drumlaw\n")
    (tmp_path / "paint.csv").write_text("id,maker,name\np1,m1,Ochre\n")
    cell = re.search(r"\| list of texts \| `(.*?)`;", GUIDE)[1].replace("\\|", "|")
    (tmp_path / "label_version.csv").write_text(f"paint,seen_on,index_names,claims\np1,2026-03-09,{cell},a \\| b\n")
    with Ledger.create(tmp_path / "mine.sqlite", letters="OV", tester="Oda Vane") as ledger:
        carry_out(ledger, plan_folder(ledger, tmp_path))
        (label,) = ledger.rows(LabelVersion)
        assert (label.index_names, label.claims) == (("PY42", "PR101"), ("a | b",))


def test_the_map_of_several_sheets_is_one():
    """Each part of the guide's second map says what the text around it says."""
    whole = parse(block("yaml", 1), "map.yaml")
    first, second = whole.parts
    assert [part.sheet for part in whole.parts] == ["2024", "2025"]
    assert first.constants["bought_on"] != second.constants["bought_on"]
    assert set(first.columns) - set(second.columns) == {"Mould"}
    assert set(second.columns) - set(first.columns) == {"Notes"}
