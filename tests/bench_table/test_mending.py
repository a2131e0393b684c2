"""Facts of pieces and their parcel: what became another, when, by whom and why, and several at once."""

from dataclasses import replace
from datetime import date, timedelta
from itertools import count

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcledger.bench import mending, reparcel, unpacking
from qcledger.bench.mending import Differ, Money
from qcledger.errors import BadInput
from qcledger.records import LabelVersion, Lot, Parcel, Specimen
from qcledger.settings import Settings
from qcledger.vocab import SpecimenState

DAY = timedelta(days=1)


@pytest.fixture
def ledger(small):
    with small.open(write=True) as found:
        yield found


@pytest.fixture
def new_id():
    numbers = count(1)
    return lambda: f"new-{next(numbers):03}"


def piece(ledger, id_="sp00") -> Specimen:
    return ledger.get(Specimen, id_)


def test_each_change_is_told_with_its_day_who_and_why(ledger):
    """A piece, its parcel, its lot and its label: one change a save, in the order they were made."""
    parcel = ledger.get(Parcel, "pc")
    ledger.append([Lot(id="other", paint="pt0", format="half pan", code="T8")])
    ledger.append([replace(piece(ledger), price_minor=590, lot="other")], reason="typed wrongly")
    ledger.append([replace(parcel, seller="Lantern", currency="GBP")], reason="misread")
    ledger.append([LabelVersion(id="again", paint="pt0", seen_on=parcel.bought_on, index_names=("PB29", "PW6"))])
    ledger.append([replace(piece(ledger), label_version="again")], reason="a new print")
    ledger.append([replace(piece(ledger), price_minor=None)], reason="taken back")
    found = mending.changes(ledger, "sp00")
    assert [(one.by, one.reason, one.differ) for one in found] == [
        (
            "OV",
            "typed wrongly",
            (Differ("lot", "T0", "T8"), Differ("price", None, Money(590, "EUR"))),
        ),
        (
            "OV",
            "misread",
            (
                Differ("price", Money(590, "EUR"), Money(590, "GBP")),
                Differ("seller", "Corner shop", "Lantern"),
                Differ("currency", "EUR", "GBP"),
            ),
        ),
        ("OV", "a new print", (Differ("pigments on the label", "", "PB29, PW6"),)),
        ("OV", "taken back", (Differ("price", Money(590, "GBP"), None),)),
    ]
    assert [one.at for one in found] == sorted(one.at for one in found)
    assert [one.reason for one in mending.changes(ledger, "sp01")] == ["misread"], "its parcel is the same"


def test_what_another_tester_says_of_a_piece_is_no_change_of_it(ledger, small, monkeypatch, tmp_path):
    """A proposal of another daybook stands nowhere, and no history tells it as a change."""
    from qcledger.ledger import Ledger

    other = Ledger.create(tmp_path / "other.sqlite", letters="TL", tester="TL")
    with other:
        other.adopt(list(ledger.entries()), {})
        other.append([replace(piece(other), price_minor=1)], proposing=True)
        assert mending.changes(other, "sp00") == ()


def test_a_line_typed_anew_keeps_what_no_field_holds(ledger, new_id):
    """The set it came in, the filling date and that it was advised stand after a change of its line."""
    ledger.append([replace(piece(ledger), pack="box of 12", filled="03/25", advised=True)])
    values = unpacking.piece_values(piece(ledger), "T0", "EUR", ".")
    line = unpacking.read_piece({**values, "price": "5.90"}, "pt0", "EUR", ".")
    parcel = ledger.get(Parcel, "pc")
    wanted = mending.line_change(ledger, parcel, line, "sp00", new_id)
    assert wanted.lines(",") == ["OV 0001, price: then not known, now 5,90 EUR"]
    after = unpacking.save_piece(ledger, parcel, line, "sp00", new_id, "the receipt came")
    assert (after.pack, after.filled, after.advised, after.price_minor) == ("box of 12", "03/25", True, 590)
    assert mending.changes(ledger, "sp00")[-1].reason == "the receipt came"


def test_several_pieces_of_one_new_lot_name_one_row(ledger, new_id):
    """The same code typed for two pieces of a paint is one lot; of another paint it is another."""
    pieces = [piece(ledger, id_) for id_ in ("sp00", "sp01")]
    twin = replace(pieces[0], id="sp09", sticker="OV 0009")
    ledger.append([twin])
    wanted = mending.weigh_pieces(ledger, [*pieces, twin], {"lot": "Z1", "price": "5"}, Settings(), new_id)
    assert len(wanted.lots) == 2
    mending.keep(ledger, wanted, "typed wrongly")
    first, second, third = (piece(ledger, id_) for id_ in ("sp00", "sp01", "sp09"))
    assert first.lot == third.lot != second.lot
    assert [one.sticker for one in mending.alike(ledger, first)] == ["OV 0001", "OV 0009"]
    assert mending.take_back(ledger, wanted.before, wanted.after)
    assert piece(ledger, "sp09") == twin
    assert not mending.take_back(ledger, wanted.before, wanted.after), "what was changed since stays"


@pytest.mark.parametrize(
    ("reason", "meanwhile", "said"),
    [(" ", None, "reason"), ("x", 700, "changed meanwhile")],
    ids=["no reason", "another window"],
)
def test_what_cannot_be_kept_is_refused(ledger, new_id, reason, meanwhile, said):
    """No reason, or a piece that somebody changed since it was looked at: nothing is written."""
    wanted = mending.weigh_pieces(ledger, [piece(ledger)], {"price": "5"}, Settings(), new_id)
    if meanwhile:
        ledger.append([replace(piece(ledger), price_minor=meanwhile)])
    with pytest.raises(BadInput, match=said):
        mending.keep(ledger, wanted, reason)
    assert piece(ledger).price_minor == meanwhile


@given(
    price=st.none() | st.integers(1, 10**8),
    note=st.text(st.characters(categories=["L", "N"]), max_size=20),
    state=st.sampled_from(["unopened", "opened", "sealed reserve"]),
)
def test_a_piece_written_as_a_form_and_read_again_is_the_same_piece(price, note, state):
    """What `piece_values` writes, `read_piece` reads: a line opened and entered untouched changes nothing."""
    one = Specimen(
        id="a", sticker="OV 0001", paint="p", format="tube", parcel="pc", price_minor=price, note=note, state=state
    )
    read = unpacking.read_piece(unpacking.piece_values(one, None, "EUR", ","), "p", "EUR", ",")
    assert (read.price_minor, read.state, read.format, read.lot_code) == (price, state, "tube", None)


OPENED = date(2026, 2, 5)


@pytest.fixture
def opened(ledger):
    """Give a ledger in which sp00 came the day before OPENED, and was opened on that day."""
    ledger.append([replace(ledger.get(Parcel, "pc"), bought_on=OPENED - DAY)], reason="x")
    ledger.append([replace(piece(ledger), state=SpecimenState.OPENED, opened_on=OPENED)], reason="x")
    return ledger


@pytest.mark.parametrize("days", [{"bought_on": OPENED + DAY}, {"bought_on": OPENED, "received_on": OPENED + DAY}])
def test_a_piece_is_in_no_parcel_that_came_after_it_was_opened(opened, days):
    """Neither by moving it, to one that stands or a new one, nor by the parcel's days; on the day itself it is."""
    parcel, late = opened.get(Parcel, "pc"), f"OV 0001: found 'opened on {OPENED}'"
    with pytest.raises(BadInput, match=late):
        reparcel.weigh_parcel(opened, [piece(opened)], replace(parcel, id="other", **days))
    opened.append([replace(parcel, id="other", **days)])
    with pytest.raises(BadInput, match=late):
        reparcel.weigh_parcel(opened, [piece(opened)], opened.get(Parcel, "other"))
    with pytest.raises(BadInput, match=late):
        mending.weigh(opened, [parcel], [replace(parcel, **days)])
    assert mending.weigh(opened, [parcel], [replace(parcel, bought_on=OPENED)]).differ
    assert mending.weigh(opened, [piece(opened, "sp01")], [replace(piece(opened, "sp01"), parcel="other")]).differ


def test_a_piece_that_is_unopened_has_no_day_of_opening(opened, new_id):
    """Its state alone is refused; with its day taken away it is kept."""
    for state in ("unopened", "sealed reserve"):
        with pytest.raises(BadInput, match=f"state: found '{state}, of a specimen opened on {OPENED}'"):
            mending.weigh_pieces(opened, [piece(opened)], {"state": state}, Settings(), new_id)
    both = {"state": "unopened", "opened_on": ""}
    (after,) = mending.weigh_pieces(opened, [piece(opened)], both, Settings(), new_id).after
    assert (after.state, after.opened_on) == (SpecimenState.UNOPENED, None)


def test_what_cannot_have_been_and_stands_already_hinders_no_other_change(opened, new_id):
    """A ledger of before may hold such a piece: its price is mended all the same, and its day put right."""
    opened.append([replace(piece(opened), state=SpecimenState.UNOPENED, opened_on=OPENED - 9 * DAY)], reason="x")
    for typed in ({"price": "5.90"}, {"state": "opened", "opened_on": str(OPENED)}, {"opened_on": ""}):
        assert mending.weigh_pieces(opened, [piece(opened)], typed, Settings(), new_id).differ
