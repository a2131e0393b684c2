"""What other facts of a piece do to the counts of cells, before they are kept."""

from dataclasses import replace

import pytest

from qcledger.bench import correcting
from qcledger.findings.evidence import cell_key, gather
from qcledger.ledger import Ledger
from qcledger.records import LabelVersion, Lot, Specimen
from qcledger.report import recounted
from tests.small import graded, small_ledger


@pytest.fixture
def ledger(tmp_path):
    """Return a small ledger whose pieces were graded."""
    with Ledger.open(graded(small_ledger(tmp_path)).place, write=True) as opened:
        yield opened


def counts(ledger):
    """Return the faulty and tested specimens of each cell, as findings count them."""
    evidence = gather(ledger.tested_rows(), lambda rubric, key: ledger.rubric(rubric).criteria[key])
    found = {}
    for unit in evidence.units:
        if unit.faulty is not None:
            bad, of = found.get(cell_key(unit.row), (0, 0))
            found[cell_key(unit.row)] = (bad + unit.faulty, of + 1)
    return found


def counted_piece(ledger):
    """Return a piece that counts in a cell."""
    (row, *_) = [row for row in ledger.tested_rows() if cell_key(row) in counts(ledger)]
    return ledger.get(Specimen, row.specimen)


def test_another_lot_or_price_moves_no_count(ledger):
    """It says so, and the counts are as before once it is kept."""
    one, before = counted_piece(ledger), counts(ledger)
    lot = Lot(id="new", paint=one.paint, format=one.format, code="Z1")
    after = replace(one, lot="new", price_minor=990)
    assert recounted.of_pieces(ledger, [lot, after]) == [recounted.NONE]
    ledger.append([lot, after], reason="a slip")
    assert counts(ledger) == before


def test_another_format_moves_a_piece_to_another_cell(ledger):
    """The counts that are told are those that stand once it is kept."""
    one, before = counted_piece(ledger), counts(ledger)
    after = replace(one, format="tube", lot=None)
    told = recounted.of_pieces(ledger, [after])
    assert any("half pan" in line for line in told)
    assert any("tube" in line for line in told)
    ledger.append([after], reason="a slip")
    now = counts(ledger)
    moved = {key for key in before | now if before.get(key) != now.get(key)}
    assert len(moved) == len(told)
    for line in told:
        assert " before, " in line


def test_a_label_put_right_moves_no_count_and_says_so(ledger):
    """Other pigments give a piece other peers; how many are faulty and tested stays."""
    before = counts(ledger)
    wanted = correcting.weigh(ledger, ledger.get(LabelVersion, "lb0"), {"index_names": ("PB29",)}, ledger.new_id)
    assert recounted.of_label(ledger, wanted) == [recounted.NONE]
    correcting.keep(ledger, wanted, "mistyped")
    assert counts(ledger) == before
