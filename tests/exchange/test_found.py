"""Rows are found by their names as if each had been looked for anew, however many were found and planned before."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qcledger.exchange.draft import Draft
from qcledger.exchange.found import id_by_name, name_form
from qcledger.exchange.place import RowPlace
from qcledger.ledger import Ledger
from qcledger.records import Lot, Maker, Paint
from qcledger.vocab import Format
from tests.ledger.given import steady

MAKERS = ("Drumlaw", "DRUMLAW", "Quernlow")
NAMES = ("Fir", "fir", "Rose")
NUMBERS = (None, "231", "7")
STANDING = [Maker(id="m0", name="Drumlaw"), Paint(id="p0", maker="m0", name="Fir", number="231")]
PLANNED = st.lists(st.tuples(st.sampled_from(MAKERS), st.sampled_from(NAMES), st.sampled_from(NUMBERS)), max_size=8)


@pytest.fixture(scope="module")
def stocked(tmp_path_factory):
    place = tmp_path_factory.mktemp("found") / "mine.sqlite"
    with Ledger.create(place, letters="OV", tester="Oda Vane", sources=steady()) as ledger:
        ledger.append(STANDING)
        yield ledger


def planned(draft, maker, name, number):
    """Plan a maker, a paint of it and a lot of that, each under the id its name gives it."""
    rows = [Maker(id="", name=maker)]
    rows[0] = Maker(id=id_by_name(rows[0]), name=maker)
    paint = Paint(id="", maker=rows[0].id, name=name, number=number)
    rows.append(Paint(id=id_by_name(paint), maker=rows[0].id, name=name, number=number))
    lot = Lot(id="", paint=rows[1].id, format=Format.TUBE, code="Q1")
    rows.append(Lot(id=id_by_name(lot), paint=rows[1].id, format=Format.TUBE, code="Q1"))
    for row in rows:
        draft.put(row, RowPlace("old.csv line 2"))
    return rows


def anew(draft, kind, name, **within):
    """Return what `called` finds among all rows of the name, nothing remembered."""
    draft._things.clear()
    return draft._fitting(draft._index(kind).get(name_form(kind, name), []), kind, name, within)


@settings(max_examples=60)
@given(PLANNED)
def test_what_was_found_before_is_found_as_if_looked_for_anew(stocked, told):
    """After each row that is planned, makers, paints and lots are found as by a look at every row of that name."""
    draft = Draft(stocked)
    asked = [("m0", None, "p0")]
    for maker, name, number in told:
        own, paint, _ = planned(draft, maker, name, number)
        asked.append((own.id, number, paint.id))
        for maker_id, of_number, paint_id in asked:
            for one in NAMES:
                found = draft.called(Paint, one, maker=maker_id, number=of_number)
                assert found == anew(draft, Paint, one, maker=maker_id, number=of_number)
            lots = draft.called(Lot, "q1", paint=paint_id, format=Format.TUBE)
            assert lots == anew(draft, Lot, "q1", paint=paint_id, format=Format.TUBE)
        assert draft.called(Maker, "drumlaw") == anew(draft, Maker, "drumlaw")
