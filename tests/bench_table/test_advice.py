"""What was named to buy is marked when it is entered, and only that."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest

from qcledger.bench import advice, unpacking
from qcledger.bench.advice import AdvisedRows, marked, named, remember
from qcledger.findings.chances import WantedPieces
from qcledger.findings.shopping import Errand, ErrandLine, LastPrice
from qcledger.records import Parcel, Specimen
from qcledger.vocab import Format, Source, WhyBought
from tests.small import START, small_ledger, ticking

HALF = Format.HALF_PAN
TODAY = START.date()
PRICE = LastPrice(640, "Corner shop", TODAY, "6.40 EUR")
PARCEL = Parcel(id="p9", bought_on=TODAY, seller="Another shop", currency="EUR")


def errand(paint="pt0", **more):
    """Return a purchase of two pieces of a paint."""
    return Errand((ErrandLine(paint, WantedPieces((paint,), HALF, 2, **more), 2, PRICE, False),), ())


@pytest.fixture
def ledger(home, tmp_path):
    """Return the small ledger, which has lots T0 to T3 on file."""
    with small_ledger(tmp_path).open(write=True, sources=ticking(START)) as opened:
        yield opened


def piece(**more):
    """Return a new line of the form."""
    return unpacking.Typed(**{"paint": "pt0", "format": HALF, "lot_code": "NEW", **more})


def test_nothing_is_marked_before_something_was_named(ledger):
    """A piece stays as typed."""
    assert marked(ledger, PARCEL, piece()) == piece()


@pytest.mark.parametrize(("confirms", "why"), [(True, WhyBought.TO_CONFIRM), (False, WhyBought.PLANNED)])
def test_a_piece_that_was_named_is_marked_with_its_reason(ledger, confirms, why):
    """Written as advised, to confirm or planned; another paint, another format and a gift are not."""
    remember(ledger, [errand(confirms=confirms)])
    kept = unpacking.save_piece(ledger, PARCEL, marked(ledger, PARCEL, piece()), "new", ledger.new_id)
    assert (kept.advised, kept.why) == (True, why)
    for other in (piece(paint="pt1"), piece(format=Format.TUBE), piece(source=Source.GIFT)):
        assert marked(ledger, PARCEL, other) == other


def test_what_was_typed_stands(ledger):
    """Another reason, or a no, is a word of the tester's; the same reason is no objection."""
    remember(ledger, [errand(confirms=True)])
    for typed in (piece(why=WhyBought.PLANNED), piece(advised=False)):
        assert marked(ledger, PARCEL, typed) == typed
    assert marked(ledger, PARCEL, piece(why=WhyBought.TO_CONFIRM)).advised


def test_another_lot_is_another_lot(ledger):
    """A lot on file is not what was asked for, nor to confirm a piece without a code; that lot, where it was."""
    remember(ledger, [errand(confirms=True)])
    for code in ("T0", "t0", None):
        assert marked(ledger, PARCEL, piece(lot_code=code)).advised is None
    remember(ledger, [errand(paint="pt1"), errand(confirms=True, lot="T0")])
    assert marked(ledger, PARCEL, piece(lot_code="t0")).why is WhyBought.TO_CONFIRM
    assert marked(ledger, PARCEL, piece(paint="pt1", lot_code=None)).why is WhyBought.PLANNED


def test_seller_and_day_must_fit(ledger):
    """Not from a seller of whom no more was wanted, not bought before it was named, nor half a year after."""
    remember(ledger, [errand(confirms=True, not_from=frozenset({"Another shop"}))])
    assert marked(ledger, PARCEL, piece()).advised is None
    fine = replace(PARCEL, seller="A third shop")
    assert marked(ledger, fine, piece()).advised
    for day in (TODAY - timedelta(days=1), TODAY + advice.REMEMBERED + timedelta(days=1)):
        assert marked(ledger, replace(fine, bought_on=day), piece()).advised is None


def test_what_was_named_before_stays_and_a_spoilt_file_marks_nothing(ledger):
    """Both lists are remembered, each piece once; a file cut short is no reason to stop entering a parcel."""
    remember(ledger, [errand()])
    remember(ledger, [errand("pt1"), errand()])
    assert sorted(one.paint for one in named(ledger)) == ["pt0", "pt1"]
    advice._place(ledger).write_text('[{"paint": "pt0"', encoding="utf-8")
    assert named(ledger) == ()
    assert marked(ledger, PARCEL, piece()) == piece()


def test_rows_of_an_import_are_marked_alike(ledger):
    """A new specimen with its parcel and code, as the form would."""
    row = Specimen(id="x", sticker="OV 0900", paint="pt0", format=HALF, parcel="p9", nominal_ml=Decimal(1))
    assert AdvisedRows(ledger)(row, PARCEL, "NEW") == row
    remember(ledger, [errand(confirms=True)])
    rows = AdvisedRows(ledger)
    assert rows(row, PARCEL, "NEW") == replace(row, advised=True, why=WhyBought.TO_CONFIRM)
    assert rows(row, PARCEL, "T0") == row
    assert rows(row, replace(PARCEL, bought_on=date(2026, 1, 1)), "NEW") == row
