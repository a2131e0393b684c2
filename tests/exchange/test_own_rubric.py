"""A rubric whose formats and stages are its own goes all the way, on SQLite and on PostgreSQL."""

from datetime import timedelta

from qcledger.bench import closing, due, sheets, unpacking, wishes
from qcledger.bench.record import write
from qcledger.bench.result import Pencil, Result
from qcledger.bench.runsheet import SheetSquare
from qcledger.cli.findings import AskedNames
from qcledger.exchange import merge_folder, to_folder
from qcledger.findings import read
from qcledger.ledger import Ledger, new_id
from qcledger.ledger.queries_stock import shelf
from qcledger.records import Parcel, Session, Specimen, Stage
from qcledger.settings import Settings, own_rubrics
from tests.ledger.conftest import places  # noqa: F401 - a fixture
from tests.ledger.given import everything
from tests.pens import TEXT, bought, pens
from tests.small import START, ticking

ASKED = {
    "comparison": "blues",
    "rubric": "pen_lines",
    "specimens": "OV 0001-0005",
    "blinding": "open",
    "paper": "cotton",
    "repeats": "0",
}


def planned(ledger: Ledger) -> Session:
    """Put the stock into a ledger, one piece of it by the form, and lay out a sheet of the tester's own rubric."""
    ledger.append(bought())
    formats = unpacking.formats_of(ledger)
    typed = {"format": "vi", "price": "3.10"}
    piece = unpacking.read_piece(typed, "pt0", "EUR", ".", formats)
    unpacking.save_piece(ledger, ledger.get(Parcel, "pc"), piece, "sp4", new_id)
    asking = wishes.Asking(Settings(), START, new_id(), 7)
    wishes.keep(wishes.propose(ASKED, ledger, asking), ledger)
    return ledger.rows(Session)[0]


def grade(ledger: Ledger, session: Session, stage: str, number: float) -> None:
    """Give every place of a stage a grade."""
    sheet = sheets.load(ledger, session.id, stage)
    (key,) = sheet.criteria
    for line in range(len(sheet.lines)):
        pencil = Pencil(id=new_id(), tester="OV", at=START + timedelta(minutes=1))
        written = write(sheet, SheetSquare(line, key), Result(grade=number), pencil=pencil, new_id=new_id)
        ledger.append(written.records)
        sheet = written.on(sheet)


def test_a_rubrics_own_formats_and_stages_go_all_the_way(places, tmp_path):  # noqa: F811
    """From the form of a parcel over a planned sheet, its last stage and the findings into another ledger."""
    own_rubrics().mkdir(parents=True)
    (own_rubrics() / "pen_lines.yaml").write_text(TEXT)
    with Ledger.create(
        places.new("mine"), letters="OV", tester="Oda Vane", sources=ticking(START + timedelta(days=9))
    ) as ledger:
        session = planned(ledger)
        assert ledger.get(Specimen, "sp4").format == "vial"
        with ledger.reading() as connection:
            assert len(shelf(connection, ["vial"], None, 0, 9)) == 5
        stages = {row.name: row.due_at for row in ledger.rows(Stage, session=session.id)}
        assert stages == {"wet": START, "after a week": START + timedelta(days=7)}
        assert sheets.load(ledger, session.id).order == pens().stage_names
        assert closing.open_places(ledger, session) == ["wet: 5 of 5", "after a week: 5 of 5"]
        grade(ledger, session, "wet", 0.0)
        (head,) = sheets.open_sheets(ledger)
        assert (head.stage, head.after) == ("after a week", timedelta(days=7))
        grade(ledger, session, "after a week", 3.0)
        assert closing.open_places(ledger, session) == []
        ledger.append(closing.close(session, "", by="OV", at=START + timedelta(days=8), new_id=new_id))
        found = read(ledger.tested_rows(), lambda kept, key: ledger.rubric(kept).criteria[key])
        fading = found.only(criterion="fading", format=AskedNames.of(ledger).formats["vial"]).findings
        assert sorted((one.maker_name, one.counts.faulty, one.counts.tested) for one in fading) == [
            ("Quernlow", 2, 2),
            ("Trellmere", 3, 3),
        ]
        to_folder(ledger, tmp_path / "out")
        mine = everything(ledger)
    (own_rubrics() / "pen_lines.yaml").unlink()
    with Ledger.create(places.new("theirs"), letters="TL", tester="Tam Lark", daybook="other") as other:
        merge_folder(other, tmp_path / "out")
        rows = everything(other)
        assert {kind: rows[kind] for kind in ("specimen", "stage", "observation", "rubric_text")} == {
            kind: mine[kind] for kind in ("specimen", "stage", "observation", "rubric_text")
        }
        assert other.verify() == []


def test_a_sheet_begun_without_a_plan_is_due_as_the_rubric_says(tmp_path):
    """A stage a day or more after the start is due so long after the first grade; an earlier one is for now."""
    own_rubrics().mkdir(parents=True)
    (own_rubrics() / "pen_lines.yaml").write_text(TEXT)
    with Ledger.create(
        tmp_path / "ledger.sqlite", letters="OV", tester="Oda Vane", sources=ticking(START + timedelta(days=9))
    ) as ledger:
        session = planned(ledger)
        bare = [Stage(id=row.id, session=row.session, name=row.name) for row in ledger.rows(Stage)]
        ledger.append(bare, reason="no plan")
        (head,) = sheets.open_sheets(ledger)
        assert due.due_at(head, bare) is None
        grade(ledger, session, "wet", 0.0)
        (head,) = sheets.open_sheets(ledger)
        assert due.due_at(head, ledger.rows(Stage)) == START + timedelta(days=7, minutes=1)
