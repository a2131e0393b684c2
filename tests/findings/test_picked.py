"""Grading only what shows a fault does not read as a rate: what was not looked at is told, and asked for."""

from dataclasses import replace

import pytest

from qcledger.bench.due import LooseEndKind
from qcledger.findings import read
from qcledger.findings.picked import picked
from qcledger.findings.wording_of_settling import would_settle
from qcledger.findings.words import banned_in
from qcledger.records import Piece
from qcledger.report.parts import parts_of
from qcledger.report.picked import half_seen
from qcledger.report.strips import PLAIN
from qcledger.vocab import TAKEN_BACK, Occasion
from tests.findings.made import FROTH, HALF, TUBE, criterion, only, row
from tests.findings.spoken import spoken

WRAPPER = replace(criterion("torn_wrapper"), seen_at=Occasion.UNPACKING)


def seen(**more):
    """Return a specimen on which the wrapper was judged at unpacking."""
    return row(**{"criterion": "torn_wrapper", "session": None, **more})


def piece_of(one, to_hand=True):
    """Return the piece that a row is about."""
    facts = ("specimen", "sticker", "maker", "format", "parcel", "lot")
    return Piece(**{fact: getattr(one, fact) for fact in facts}, to_hand=to_hand)


def others(number=6, to_hand=True, **more):
    """Return pieces of the same parcel that nobody looked at."""
    return [piece_of(seen(**more), to_hand) for _ in range(number)]


def found(rows, pieces):
    """Return the findings in rows beside what was bought."""
    bought = [*map(piece_of, {row.specimen: row for row in rows}.values()), *pieces]
    return read(rows, only(WRAPPER, FROTH), pieces=bought)


def told(one):
    """Return the lines under "Not looked at"."""
    parts = {part.title: part.lines for part in parts_of(one, 200, PLAIN)}
    return " ".join(parts.get("Not looked at", ()))


def test_one_fault_graded_of_seven_pieces():
    """The page says that 1 of 1 may be 1 of 7, the sentence names six more, Loose ends says what settles it."""
    rows = [seen(grade=5)]
    all_ = found(rows, others())
    (one,) = all_.findings
    assert "seller of P1, 1 February 2026: 6 more half pans of this parcel were not looked at for it" in told(one)
    assert ": 1 of 1 may be 1 of 7. Grade them for it too, 0 where there is nothing to see" in told(one)
    assert "Six more half pans of the same parcel were not looked at for this." in spoken(one)
    assert banned_in(told(one) + spoken(one)) == ()
    (line,) = half_seen(all_)
    assert line.kind is LooseEndKind.LOOK
    assert line.words == (
        "Maker A, half pans bought 1 February 2026, torn wrapper: 1 of 7 looked at; "
        "grade the other 6, 0 where there is nothing"
    )
    assert line.subject == one.unseen[0].specimen


def test_a_single_piece_is_told_in_the_singular():
    """One piece *was* not looked at, whether or not the others are faulty."""
    (one,) = found([seen(grade=0)], others(1)).findings
    assert "1 more half pan of this parcel was not looked at for it. Grade" in told(one)
    assert "One more half pan of the same parcel was not looked at for this." in spoken(one)


@pytest.mark.parametrize(
    "pieces",
    [others(parcel="P2"), others(maker="B"), others(format=TUBE), []],
    ids=["another parcel", "another maker", "another format", "nothing more"],
)
def test_only_the_parcel_of_the_makers_format_counts(pieces):
    """Pieces of another parcel, maker or format leave the numbers as they are."""
    (one,) = found([seen(grade=5)], pieces).findings
    assert picked(one) == ()
    assert told(one) == ""
    assert "not looked at" not in spoken(one)


def test_what_was_looked_at_counts_as_looked_at():
    """Sound, not judgeable, a gift's neighbour in older notes: looked at; a slip taken back was not."""
    bad, sound = seen(grade=5), seen(grade=0)
    hidden = seen(grade=None, not_testable=True, why_not="wrapper thrown away")
    older = seen(grade=3, occasion=Occasion.OLDER_NOTES)
    slip = seen(grade=None, not_testable=True, why_not=TAKEN_BACK)
    (one,) = found([bad, sound, hidden, older, slip], []).findings
    assert [piece.sticker for piece in one.unseen] == [slip.sticker]
    assert ": 1 of 2 may be 1 of 3." in told(one)


def test_loose_ends_ask_for_what_can_be_settled():
    """Nothing is asked where no fault was seen, or where nothing of the parcel is to hand any more."""
    assert list(half_seen(found([seen(grade=0)], others()))) == []
    assert list(half_seen(found([seen(grade=5)], others(to_hand=False)))) == []
    two = found([seen(grade=5), seen(grade=5, parcel="P2")], [*others(), *others(2, parcel="P2")])
    assert len(list(half_seen(two))) == 2


def test_at_the_bench_a_sheet_says_what_is_judged():
    """What was not on a sheet is no picked grading."""
    (one,) = found([row(grade=5)], others()).findings
    assert one.unseen
    assert picked(one) == ()


def test_a_lone_specimen_of_a_lot_asks_for_the_shelf_first():
    """The pieces of the lot that are to hand are looked at before more are bought; without any they are bought."""
    rows = [row(grade=5), row()]
    (one,) = found(rows, [*others(1), *others(1, to_hand=False), *others(3, lot="L2")]).findings
    sticker = next(piece.sticker for piece in one.unseen if piece.to_hand and piece.lot == rows[0].lot)
    assert would_settle(one) == (
        f"Look at {sticker} of lot L1, to hand and not looked at for this yet, then buy one more specimen of it."
    )
    (many,) = found(rows, others(8)).findings
    assert "and 2 more of lot L1, to hand and not looked at for this yet." in would_settle(many)
    (none,) = found(rows, []).findings
    assert would_settle(none) == "Two more specimens of lot L1."


def test_without_a_stock_nothing_is_said_of_it():
    """Rows alone do not tell what else was bought."""
    (one,) = read([seen(grade=5)], only(WRAPPER)).findings
    assert one.format is HALF
    assert one.unseen == ()
    assert told(one) == ""
