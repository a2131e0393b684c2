"""A whole import is taken back as one act, put back as one, and brought in again corrected, with the same pieces."""

import shutil
from dataclasses import replace
from datetime import date

import pytest

from qcledger.bench import imported, unpacking
from qcledger.errors import BadInput
from qcledger.exchange import carry_out, merge_folder, plan_folder, to_folder
from qcledger.ledger import Ledger
from qcledger.records import Import, LabelVersion, Maker, Observation, Paint, Parcel, Specimen, Trial
from qcledger.report.without import cells
from qcledger.vocab import Occasion
from tests.exchange.test_mapped import GOOD, MAKERS, MAP, bring_in, sheet
from tests.ledger.given import NOON, basics, graded

OTHER = ["2", "Halcyre", "Fen Green", "t", "12", "12.3.2024", "Seller one", "7.20", "fine", "2", ""]


@pytest.fixture
def ledger(tmp_path):
    with Ledger.create(tmp_path / "mine.sqlite", letters="OV", tester="Oda Vane") as made:
        made.append([Maker(id=f"m-{name}", name=name) for name in MAKERS])
        yield made


def counted(ledger):
    """Return what counts: results as findings get them, and the pieces bought."""
    fields = ("criterion", "grade", "reading", "paint", "lot", "day", "occasion")
    rows = [row for row in ledger.tested_rows() if not row.not_testable]
    return (
        sorted(tuple(str(getattr(row, name)) for name in fields) for row in rows),
        sorted((piece.sticker, piece.format) for piece in ledger.pieces()),
    )


def taken_back(ledger, reason="wrong column"):
    (one,) = [one for one in imported.listed(ledger) if one.out is None]
    going = imported.weigh(ledger, one)
    imported.take_back(ledger, going, reason)
    return going


def put_back(ledger, one):
    return imported.put_back(ledger, imported.weigh_back(ledger, one))


def test_what_counts_is_as_before_and_as_after_again(ledger, tmp_path):
    """Nothing of it counts, one entry time holds the whole act; undone, all counts as it did; the ledger is sound."""
    before = counted(ledger)
    bring_in(ledger, sheet(tmp_path, GOOD, OTHER))
    after, entries = counted(ledger), len(list(ledger.entries()))
    going = taken_back(ledger)
    assert counted(ledger) == before
    assert (len(going.results), len(going.pieces)) == (4, 2)
    assert len({entry.at for entry in list(ledger.entries())[entries:]}) == 1
    (one,) = imported.listed(ledger)
    assert one.out.reason == "wrong column"
    with pytest.raises(BadInput, match="taken back"):
        imported.weigh(ledger, one)
    assert put_back(ledger, one) == 4
    assert counted(ledger) == after
    assert imported.listed(ledger)[0].out is None
    assert ledger.verify() == []
    taken_back(ledger)
    assert counted(ledger) == before
    assert ledger.verify() == []


def test_the_corrected_sheet_finds_the_same_pieces(ledger, tmp_path):
    """Grades and prices as they are now, no second piece, no second result; a third run brings nothing."""
    bring_in(ledger, sheet(tmp_path, GOOD, OTHER))
    ids = {row.id: row.sticker for row in ledger.rows(Specimen)}
    taken_back(ledger)
    (old,) = imported.listed(ledger)
    corrected = [*GOOD[:7], "10.80", "never", *GOOD[9:]]
    plan = bring_in(ledger, sheet(tmp_path, corrected, OTHER))
    assert (plan.new_rows, plan.rows_here) == (2, 0)
    assert {row.id: row.sticker for row in ledger.rows(Specimen)} == ids
    assert len(ledger.pieces()) == 2
    assert sorted(row.price_minor for row in ledger.rows(Specimen)) == [720, 1080]
    standing = [row for row in ledger.tested_rows() if not row.not_testable]
    assert sorted(row.grade for row in standing if row.criterion == "rewetting_in_fives") == [0, 5]
    assert len(standing) == 4
    again = bring_in(ledger, sheet(tmp_path, corrected, OTHER))
    assert (again.new_rows, again.rows_here) == (0, 2)
    with pytest.raises(BadInput, match=r"came in again with import 2, old\.csv.*first taking back import 2"):
        put_back(ledger, imported.find(ledger, old.row.id))
    taken_back(ledger)
    assert put_back(ledger, imported.find(ledger, old.row.id)) == 4
    standing = [row for row in ledger.tested_rows() if not row.not_testable]
    assert sorted(row.grade for row in standing if row.criterion == "rewetting_in_fives") == [0, 2]
    assert ledger.verify() == []


def test_an_import_is_put_back_around_a_piece_that_was_put_back_by_itself(cli, ledger, tmp_path):
    """That piece stays as it stands and is named; the results, and the other piece, come back."""
    bring_in(ledger, sheet(tmp_path, GOOD, OTHER))
    pieces = sorted(ledger.rows(Specimen), key=lambda one: one.sticker)
    taken_back(ledger)
    parcel = ledger.get(Parcel, pieces[0].parcel)
    line = unpacking.read_piece({"format": "half pan", "price": "1.20"}, pieces[0].paint, parcel.currency, ".")
    unpacking.save_piece(ledger, parcel, line, pieces[0].id, ledger.new_id, again=True)
    back = imported.weigh_back(ledger, imported.listed(ledger)[0])
    assert ([one.sticker for one in back.pieces], back.lines()[-1]) == (
        ["OV 0002"], "stays: specimen OV 0001, put back by itself since",
    )  # fmt: skip
    told = cli("imports", "1", "--undo", "--ledger", tmp_path / "mine.sqlite")
    assert (told.code, "stays: specimen OV 0001" in told.out) == (0, True)
    assert [one.sticker for one in ledger.pieces()] == ["OV 0001", "OV 0002"]
    assert ledger.get(Specimen, pieces[0].id).price_minor == 120
    assert len([row for row in ledger.tested_rows() if not row.not_testable]) == 4
    (one,) = imported.listed(ledger)
    imported.take_back(ledger, imported.weigh(ledger, one, keeping={pieces[0].id}), "as it was")
    assert [one.sticker for one in ledger.pieces()] == ["OV 0001"]
    assert ledger.verify() == []


def test_a_label_that_stays_in_force_is_said_with_the_way_to_put_it_right(ledger, tmp_path):
    """The label an import brought is its paint's latest, so new pieces begin with it; an older one is not told."""
    bring_in(ledger, sheet(tmp_path, GOOD, OTHER))
    paint = ledger.rows(Paint)[0]
    label = LabelVersion(id="brought", paint=paint.id, seen_on=date(2026, 3, 1), index_names=("PY43",))
    ledger.append([label])
    ledger.append([replace(label, id="own", index_names=("PB29",))])

    def told():
        return imported._labels(ledger, ["brought"])

    assert told() == []  # of one day, the one with the later id is the latest
    ledger.append([replace(label, seen_on=date(2026, 3, 2))], reason="the day was misread")
    assert told() == [f"the label of {paint.name} as PY43; b in Stock puts it right"]


def test_a_piece_that_was_tested_since_stays_and_is_said(ledger, tmp_path):
    """What something else was done on is not taken out; its results of the sheet go all the same."""
    bring_in(ledger, sheet(tmp_path, GOOD, OTHER))
    one = ledger.rows(Specimen)[0]
    rubric = ledger.rows(Observation)[0].rubric
    ledger.append([Trial(id="own", specimen=one.id, occasion=Occasion.OLDER_NOTES, at=NOON)])
    ledger.append([graded("mine", trial="own", rubric=rubric)])
    going = taken_back(ledger)
    assert [row.id for row in going.pieces] == [row.id for row in ledger.rows(Specimen) if row.id != one.id]
    assert any(one.sticker in line for line in going.stays)
    assert [piece.sticker for piece in ledger.pieces()] == [one.sticker]
    assert [row.observation for row in ledger.tested_rows() if not row.not_testable] == ["mine"]


def test_an_amended_result_goes_with_its_import_and_comes_back_amended(ledger, tmp_path):
    """The end of the chain is taken back, and stands again as it was amended."""
    bring_in(ledger, sheet(tmp_path, GOOD))
    seen = next(row for row in ledger.rows(Observation) if row.criterion == "rewetting_in_fives")
    ledger.append(
        [
            graded(
                "better",
                trial=seen.trial,
                criterion="rewetting_in_fives",
                rubric=seen.rubric,
                grade=4.0,
                at=seen.at,
                supersedes=seen.id,
                reason="slip",
            )
        ]
    )
    taken_back(ledger)
    assert [row for row in ledger.tested_rows() if not row.not_testable] == []
    put_back(ledger, imported.listed(ledger)[0])
    assert [row.grade for row in ledger.tested_rows() if row.criterion == "rewetting_in_fives"] == [4.0]


def test_by_command(cli, ledger, tmp_path):
    """Listed, shown first, taken back with a reason, put back."""
    bring_in(ledger, sheet(tmp_path, GOOD, OTHER))
    place = tmp_path / "mine.sqlite"
    assert "old.csv, brought in" in " ".join(cli("imports", "--ledger", place).out.split())
    shown = " ".join(cli("imports", "old", "--take-back", "--ledger", place).out.split())
    assert "goes: 4 results" in shown
    assert "Nothing was changed" in shown
    refused = cli("imports", "old", "--take-back", "--yes", "--ledger", place)
    assert (refused.code, len(refused.error_lines)) == (2, 1)
    assert len(ledger.pieces()) == 2
    assert cli("imports", "1", "--take-back", "--yes", "--reason", "wrong", "--ledger", place).code == 0
    assert ledger.pieces() == []
    assert cli("imports", "old.csv", "--undo", "--ledger", place).code == 0
    assert len(ledger.pieces()) == 2
    wrong = cli("imports", "none", "--take-back", "--ledger", place)
    assert (wrong.code, len(wrong.error_lines)) == (2, 1)
    assert ledger.get(Import, imported.listed(ledger)[0].row.id) is not None


def two_ledgers(tmp_path):
    """Bring one sheet into two testers' ledgers, and return both, the second exported to ``out``."""
    for letters, tester, name in (("OV", "Oda Vane", "one"), ("TL", "Tilo", "other")):
        with Ledger.create(tmp_path / f"{name}.sqlite", letters=letters, tester=tester, zone="Etc/UTC") as made:
            made.append([Maker(id=f"m-{maker}", name=maker) for maker in MAKERS])
            bring_in(made, sheet(tmp_path, GOOD, OTHER))
            if name == "other":
                to_folder(made, tmp_path / "out")
    return tmp_path / "one.sqlite", tmp_path / "other.sqlite"


def test_one_sheet_of_two_testers_is_said_at_merge_and_in_the_list(cli, home, tmp_path):
    """Nothing is refused; whose both are and the way out are named, until one of them is taken back."""
    place, _ = two_ledgers(tmp_path)
    assert "byte for byte" not in cli("imports", "--ledger", place).out
    merged = cli("merge", tmp_path / "out", "--ledger", place)
    told = " ".join(merged.out.split())
    assert merged.code == 0
    assert "Mind: one sheet came in twice, byte for byte: old.csv of OV, Oda Vane (" in told
    assert "and old.csv of TL, Tilo (" in told
    assert "each of its specimens stands twice. If they are the same specimens, take yours back: i in Record" in told
    assert told.endswith("or qcledger imports 1 --take-back.")
    listed = " ".join(cli("imports", "--ledger", place).out.split())
    assert "1 old.csv, brought in" in listed
    assert "byte for byte" in listed
    assert cli("imports", "1", "--take-back", "--yes", "--reason", "came in twice", "--ledger", place).code == 0
    assert "byte for byte" not in cli("imports", "--ledger", place).out
    with Ledger.open(place) as ledger:
        assert len(ledger.pieces()) == 2
        assert ledger.verify() == []


def test_more_of_one_sheet_in_a_second_daybook_is_not_said(ledger, tmp_path, home):
    """A copy of a ledger goes on in a daybook of its own: a column mapped later brings no piece in twice."""
    bring_in(
        ledger,
        sheet(tmp_path, GOOD, OTHER),
        MAP.replace("  Froth 1-10: {criterion: froth_amount", "  Froth 1-10: leave out #"),
    )
    shutil.copy(tmp_path / "mine.sqlite", tmp_path / "copy.sqlite")
    with Ledger.open(tmp_path / "copy.sqlite", write=True) as copy:
        assert bring_in(copy, sheet(tmp_path, GOOD, OTHER)).new_rows == 2
        one, other = imported.listed(copy)
        assert one.row.sha256 == other.row.sha256
        assert one.book != other.book
        assert imported.came_twice(copy) == []


def test_another_testers_import_is_not_taken_back(tmp_path, home):
    """It is no name of the list, and by its id it is refused with whose it is."""
    place, _ = two_ledgers(tmp_path)
    with Ledger.open(place, write=True) as ledger:
        merge_folder(ledger, tmp_path / "out")
        assert len(imported.listed(ledger)) == 1
        (theirs,) = [one for one in imported.listed(ledger, everyone=True) if one.made_by]
        with pytest.raises(BadInput, match="an import of TL, Tilo"):
            imported.weigh(ledger, theirs)


def test_what_another_tester_proposed_of_a_result_does_not_hold_it_back(tmp_path, home):
    """A proposed amendment stands in place of nothing: one's own result is what is taken back, and put back."""
    mine, theirs = tmp_path / "mine.sqlite", tmp_path / "theirs.sqlite"
    with Ledger.create(mine, letters="OV", tester="Oda Vane", zone="Etc/UTC") as ledger:
        ledger.append([Maker(id=f"m-{name}", name=name) for name in MAKERS])
        bring_in(ledger, sheet(tmp_path, GOOD, OTHER))
        to_folder(ledger, tmp_path / "one")
        seen = next(row for row in ledger.rows(Observation) if row.criterion == "rewetting_in_fives")
    with Ledger.create(theirs, letters="TL", tester="Tilo", zone="Etc/UTC") as other:
        merge_folder(other, tmp_path / "one")
        later = replace(seen, id="theirs", grade=5.0, tester="Tilo", supersedes=seen.id, reason="I saw more")
        other.append([later], proposing=True)
        to_folder(other, tmp_path / "two")
    with Ledger.open(mine, write=True) as ledger:
        merge_folder(ledger, tmp_path / "two")
        going = taken_back(ledger)
        assert seen.id in {row.id for row in going.results}
        own = [row for row in ledger.tested_rows() if not row.not_testable and row.observation != "theirs"]
        assert own == []
        assert put_back(ledger, imported.listed(ledger)[0]) == 4


def test_cells_are_counted_before_and_after(ledger, tmp_path):
    """Older notes have lines of their own; put back, each cell is as it was."""
    bring_in(ledger, sheet(tmp_path, GOOD, OTHER))
    (one,) = imported.listed(ledger)
    before = cells(ledger, imported.weigh(ledger, one))
    assert [change.line() for change in before if "rewetting" in change.cell] == [
        "Drumlaw, half pan, rewetting difficulty (older notes): 0 of 1 before, none after",
        "Halcyre, tube, rewetting difficulty (older notes): 0 of 1 before, none after",
    ]
    taken_back(ledger)
    back = cells(ledger, imported.weigh_back(ledger, imported.listed(ledger)[0]))
    assert [(one.cell, one.after, one.before) for one in back] == [
        (one.cell, one.before, one.after) for one in before
    ]


def test_what_counts_in_a_cell_is_counted_with_its_session(ledger, tmp_path):
    """A folder's session goes void as a whole: its cells lose what was tested in it, and say so beforehand."""
    with Ledger.create(tmp_path / "bench.sqlite", letters="OV", tester="Oda Vane", zone="Etc/UTC") as other:
        other.append([*basics(), graded("first", grade=4.0)])
        to_folder(other, tmp_path / "out")
    carry_out(ledger, plan_folder(ledger, tmp_path / "out"))
    (one,) = imported.listed(ledger)
    going = imported.weigh(ledger, one)
    (change,) = cells(ledger, going)
    assert (change.is_older, change.before, change.after) == (False, "1 of 1", "none")
    assert change.line().startswith("Quernlow, half pan, masstone")
    taken_back(ledger)
    assert ledger.verify() == []
    (back,) = cells(ledger, imported.weigh_back(ledger, imported.listed(ledger)[0]))
    assert (back.before, back.after) == ("none", "1 of 1")


def test_the_import_of_what_came_in_is_found_and_of_nothing_else(ledger, tmp_path):
    """Each observation knows its import, an amendment that of what it amends; one made here has none."""
    bring_in(ledger, sheet(tmp_path, GOOD, OTHER))
    (one,) = imported.listed(ledger)
    seen = ledger.rows(Observation)
    assert {imported.brought_with(ledger, row.id) for row in seen} == {one.row.id}
    assert sorted(imported.observations(ledger, one.row.id)) == sorted(row.id for row in seen)
    ledger.append([replace(seen[0], id="later", note="seen again", supersedes=seen[0].id, reason="looked again")])
    assert imported.brought_with(ledger, "later") == one.row.id
    ledger.append([Trial(id="own", specimen=ledger.rows(Specimen)[0].id, occasion=Occasion.OLDER_NOTES, at=NOON)])
    ledger.append([graded("mine", trial="own", rubric=seen[0].rubric)])
    assert imported.brought_with(ledger, "mine") is None
