"""A whole import is taken back as one act, put back as one, and brought in again corrected, with the same pieces."""

import pytest

from qcledger.bench import imported
from qcledger.errors import BadInput
from qcledger.ledger import Ledger
from qcledger.records import Import, Maker, Observation, Specimen, Trial
from qcledger.vocab import Occasion
from tests.exchange.test_mapped import GOOD, MAKERS, bring_in, sheet
from tests.ledger.given import NOON, graded

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
    assert sorted(row.grade for row in standing if row.criterion == "rewetting") == [0, 5]
    assert len(standing) == 4
    again = bring_in(ledger, sheet(tmp_path, corrected, OTHER))
    assert (again.new_rows, again.rows_here) == (0, 2)
    with pytest.raises(BadInput, match="came in again since"):
        put_back(ledger, imported.find(ledger, old.row.id))
    assert ledger.verify() == []


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
    seen = next(row for row in ledger.rows(Observation) if row.criterion == "rewetting")
    ledger.append(
        [
            graded(
                "better",
                trial=seen.trial,
                criterion="rewetting",
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
    assert [row.grade for row in ledger.tested_rows() if row.criterion == "rewetting"] == [4.0]


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
