"""A field's columns against counting lot by lot."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings

from qcledger.findings.evidence import gather, side_by_side
from qcledger.findings.field import empty_field
from qcledger.findings.field import fields as fields_of
from qcledger.findings.lots import grouped, rate_of, sums, tally, units_of
from tests.findings.made import FROTH, HALF, TUBE, criterion, only, paints, row
from tests.findings.test_extent import fields


def the_field(rows):
    """Return the field of the only criterion."""
    return fields_of(gather(rows, only()))["froth"]


@settings(max_examples=25, deadline=None)
@given(fields())
def test_counts_are_those_of_the_lots(rows):
    """Counts of everybody, of each maker and of each cell equal what tallying their lots gives."""
    whole = the_field(rows)
    assert whole.counts == tally(whole.lots)
    for column, counts, by in (
        (whole.shelf.maker, whole.makers, lambda lot: lot.row.maker),
        (whole.shelf.cell, whole.cells, lambda lot: (lot.row.maker, lot.row.format)),
    ):
        for name, lots in grouped(whole.lots, by).items():
            number, wanted = column.number[name], tally(lots)
            assert (counts.faulty[number], counts.tested[number]) == (wanted.faulty, wanted.tested)
            assert (counts.lots[number], counts.faulty_lots[number]) == (wanted.lots, wanted.faulty_lots)
            assert counts.paints[number] == wanted.paints
            assert (counts.peer_faulty[number], counts.peer_tested[number]) == sums(whole.peers(lots))


@settings(max_examples=25, deadline=None)
@given(fields())
def test_peers_are_other_makers_of_the_same_kind(rows):
    """Peers are found by going through every lot."""
    whole = the_field(rows)
    own = whole.of_cell("A", HALF)
    kinds = {lot.kind for lot in own}
    assert set(whole.peers(own)) == {lot for lot in whole.lots if lot.kind in kinds and lot.row.maker != "A"}
    others = [lot for lot in whole.lots if lot.row.maker != "A"]
    assert whole.rate_without("A") == pytest.approx(rate_of(others))


@settings(max_examples=25, deadline=None)
@given(fields())
def test_who_sits_side_by_side_is_what_the_specimens_say(rows):
    """The sittings that lots share with others, and the near ones, are those found by looking at each specimen."""
    whole = the_field(rows)
    for maker in whole.shelf.maker.names:
        own = whole.numbers(whole.shelf.maker, maker)
        others = np.setdiff1d(np.arange(len(whole.shelf)), own)[::-1]  # in any order
        faulty = [unit for unit in units_of(whole.some(own)) if unit.faulty]
        sound = [unit for unit in units_of(whole.some(others)) if not unit.faulty]
        assert whole.side_by_side(own, others) == side_by_side(faulty, sound)


def test_lots_left_out_are_gone():
    """A field without some lots counts, lists and compares only what is left."""
    whole = the_field(paints("A", bad=4) + paints("B", bad=4, each=2))
    drop = frozenset(lot.key for lot in whole.lots if lot.row.maker == "B")
    left = whole.without(drop)
    assert {lot.row.maker for lot in left.lots} == {"A"}
    assert left.counts == tally(left.lots)
    assert left.peers(left.lots) == ()
    assert left.rate_without("A") is None
    assert whole.without(frozenset()) is whole


def test_undeclared_pigments_are_nobodys_peers():
    """Paints that declare no pigment cannot be compared."""
    whole = the_field([row(pigments=(), grade=4), row(maker="B", pigments=())])
    assert whole.peers(whole.of_cell("A", HALF)) == ()
    assert whole.makers.peer_tested.tolist() == [0, 0]


def test_order_of_declared_pigments_does_not_matter():
    """A mix of two is the same kind whichever is named first."""
    whole = the_field([row(pigments=("PB29", "PV19")), row(maker="B", pigments=("PV19", "PB29"))])
    assert len(whole.peers(whole.of_cell("A", HALF))) == 1


def test_each_criterion_has_its_own_field():
    """Lots tested on one criterion only are not in the other's field, though both share a shelf."""
    first, other = row(), row(format=TUBE)
    faint = replace(other, criterion="faint", observation="f")
    found = fields_of(gather([first, other, faint], only(FROTH, criterion("faint"))))
    assert [len(found[key].lots) for key in ("froth", "faint")] == [2, 1]
    assert found["froth"].shelf is found["faint"].shelf


def test_nothing_tested():
    """An empty field has no lots, no counts and no rate."""
    none = empty_field(FROTH, gather([], only()))
    assert (none.lots, none.counts.tested, none.rate_without("A"), none.of_cell("A", HALF)) == ((), 0, None, ())
    assert none.cells.tested.tolist() == []
    assert none.without(frozenset({("x", "y", HALF)})).counts.tested == 0
    assert np.array_equal(none.peer_numbers(np.zeros(0, np.intp)), np.zeros(0))
