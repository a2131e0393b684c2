"""Facts of pieces and parcels put right: why, then and now, the whole parcel at once, and back."""

import json
from dataclasses import replace
from datetime import UTC, datetime
from decimal import Decimal

import pytest

from qcledger.bench import unpacking
from qcledger.bench.result import Pencil, Result, amend
from qcledger.bench.scales import scales
from qcledger.ledger import Ledger
from qcledger.records import Lot, Observation, Parcel, Specimen, Trial
from qcledger.screens.dialogs import Words
from qcledger.vocab import TAKEN_BACK
from tests.screens.support import in_front
from tests.small import Small, graded, ten


def reasons(at, table: str, row: str) -> list[str]:
    with at.ledger() as ledger:
        return [json.loads(entry.body)["reason"] for entry in ledger.history(table, row)]


def piece(at, id_: str = "sp02") -> Specimen:
    with at.ledger() as ledger:
        return ledger.get(Specimen, id_)


def lot_of(at, id_: str) -> str:
    with at.ledger() as ledger:
        return ledger.get(Lot, ledger.get(Specimen, id_).lot).code


async def change(at, **values: str) -> None:
    """Open the marked line, type into fields, and ask for the change."""
    await at.press("e")
    await at.until(lambda: at.on_page == "ParcelPage")
    await at.settle()
    for name, value in values.items():
        at.field(name).value = value
    at.field("price").focus_input()
    await at.press("enter")


@pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=str)
async def test_a_changed_line_asks_why_and_its_history_shows_then_and_now(shop, size):
    """One key gives the reason; the history tells each fact then and now with day, who and why; z takes it back."""
    at = shop()
    async with at.run(size):
        await change(at, price="3.20", lot="T8")
        await at.until(lambda: at.on_page == "Because" and "OV 0003, lot: then T2, now T8" in at.picture)
        for words in ("price: then not known, now 3.20 EUR", "Enter typed wrongly", "No count changes"):
            assert words in at.picture
        await at.press("m")
        await at.until(lambda: at.on_page == "ParcelPage" and "OV 0003 changed" in at.said)
        assert (piece(at).price_minor, lot_of(at, "sp02")) == (320, "T8")
        assert reasons(at, "specimen", "sp02") == ["", "misread on the specimen or the receipt"]
        await at.press("escape", "escape")
        await at.until(lambda: at.on_page == "Stock")
        await at.settle()
        await at.press("enter")
        await at.until(lambda: at.on_page == "History")
        await at.settle()
        with at.ledger() as ledger:
            day = ledger.history("specimen", "sp02")[-1].at.strftime("%Y-%m-%d")  # a ledger's own clock
        assert [row.cells for row in at.page._rows] == [
            ("lot", "T2", "", "T8", day),
            ("price", "not known", "", "3.20 EUR", day),
        ]
        await at.press("h")
        await at.settle()
        assert at.page._rows[0].cells[1:] == (
            "facts", "price", "3.20 EUR, was not known", "stands", "OV: misread on the specimen or the receipt",
        )  # fmt: skip
        assert "price" in at.picture
        await at.press("enter")
        await at.until(lambda: in_front(at.app, Words))
        await at.settle()
        for words in ("lot: then T2, now T8", "OV, because: misread on the specimen or the receipt"):
            assert words in at.picture
        await at.press("escape", "a")
        await at.until(lambda: at.on_page == "History" and "changed with e" in at.said)
        await at.press("z")
        await at.until(lambda: "OV 0003 stands as before" in at.said)
        await at.settle()
        assert piece(at).price_minor is None
        assert [row.cells[5].rpartition(": ")[2] for row in at.page._rows[:2]] == ["taken back", "taken back"]
        await at.press("h")
        await at.settle()
        assert at.page._rows == [], "what was taken back differs from nothing"


async def test_changes_stand_beside_observations_in_time(shop):
    """Every observation and every change of facts come in one order; amending still opens the marked observation."""
    at = shop()
    graded(Small(at.place, ten()))
    with Ledger.open(at.place, write=True) as ledger:
        ledger.append([replace(ledger.get(Specimen, "sp02"), price_minor=590)], reason="not known before")
    async with at.run():
        await at.press("enter")
        await at.until(lambda: at.on_page == "History")
        await at.settle()
        await at.press("h")
        await at.settle()
        assert [row.cells[1] for row in at.page._rows] == ["facts", "S04", "S04"]
        await at.press("down", "a")
        await at.until(lambda: at.on_page == "Amend")


async def test_a_reason_in_own_words_is_kept_as_a_draft_until_it_is_given(shop):
    """Esc changes nothing and the line stays as typed; what was typed of a reason stands there again."""
    at = shop()
    async with at.run():
        await change(at, price="3.20")
        await at.until(lambda: at.on_page == "Because")
        await at.press("escape")
        await at.until(lambda: at.on_page == "ParcelPage" and "nothing was saved" in at.said)
        assert (at.field("price").value, piece(at).price_minor) == ("3.20", None)
        await at.press("enter")
        await at.until(lambda: at.on_page == "Because")
        await at.press("o")
        await at.until(lambda: at.on_page == "KeptLine")
        await at.type("the receipt")
        await at.press("escape")
        await at.until(lambda: at.on_page == "ParcelPage")
        assert piece(at).price_minor is None
        await at.press("enter")
        await at.until(lambda: at.on_page == "Because")
        await at.press("o")
        await at.until(lambda: at.on_page == "KeptLine")
        await at.type(" came later")
        await at.press("enter")
        await at.until(lambda: at.on_page == "ParcelPage" and "OV 0003 changed" in at.said)
        assert reasons(at, "specimen", "sp02")[-1] == "the receipt came later"
        assert at.desk.drafts.get("why sp02") == ""


async def test_a_line_that_says_what_stands_is_refused(shop):
    """Nothing is asked and nothing written; the line stays open."""
    at = shop()
    async with at.run():
        await change(at)
        await at.until(lambda: "what stands already" in at.said)
        assert at.on_page == "ParcelPage"
        assert len(reasons(at, "specimen", "sp02")) == 1


def bought_again_at(at) -> None:
    """Give the fifth piece, which is of the first one's paint, a price and an amount of its own."""
    with Ledger.open(at.place, write=True) as ledger:
        known = replace(ledger.get(Specimen, "sp04"), price_minor=590, nominal_ml=Decimal("1.8"))
        ledger.append([known], reason="not known before")


async def test_a_changed_line_shows_what_stands_and_takes_nothing_from_another_piece(shop):
    """What is not known of a piece is empty in its form, and Enter there is no change; another fact changes alone."""
    at = shop(lines=5)
    bought_again_at(at)
    async with at.run():
        await at.press("end", "e")
        await at.until(lambda: at.on_page == "ParcelPage")
        await at.settle()
        assert (at.field("price").value, at.field("ml").value) == ("", "")
        assert "as last time" not in at.picture
        at.field("price").focus_input()
        await at.press("enter")
        await at.until(lambda: "what stands already" in at.said)
        assert len(reasons(at, "specimen", "sp00")) == 1
        at.field("weight").value = "7.5"
        at.field("price").focus_input()
        await at.press("enter")
        await at.until(lambda: at.on_page == "Because" and "weight g: then not known, now 7.5" in at.picture)
        assert "5.90" not in at.picture
        assert "1.8" not in at.picture
        await at.press("enter")
        await at.until(lambda: at.on_page == "ParcelPage" and "OV 0001 changed; z takes it back" in at.said)
        assert (piece(at, "sp00").price_minor, piece(at, "sp00").nominal_ml) == (None, None)
        await at.settle()
        await at.type("virid")  # a new line of the same paint still begins with what the last piece had
        await at.press("enter")
        await at.until(lambda: "5.90 as last time" in at.picture)


async def test_a_piece_that_is_put_back_comes_back_as_it_stood(shop):
    """Nothing is laid into what is not known of it; the question and the line say which results stay taken back."""
    at = shop(lines=5)
    bought_again_at(at)
    small = Small(at.place, ten())
    graded(small)
    with Ledger.open(at.place, write=True) as ledger:
        known, (trial,) = scales(ledger), ledger.rows(Trial, specimen="sp00")
        every = ledger.rows(Observation, trial=trial.id)
        older = {row.supersedes for row in every}
        for seen in (row for row in every if row.id not in older and not row.not_testable):
            pencil = Pencil(tester="OV", at=datetime.now(UTC), id=ledger.new_id())
            criterion, nothing = known[seen.rubric, seen.criterion], Result(not_testable=TAKEN_BACK)
            ledger.append([amend(seen, nothing, criterion=criterion, reason="wrong", pencil=pencil)], reason="wrong")
        unpacking.take_out(ledger, ledger.get(Specimen, "sp00"), ledger.new_id)
        stays = unpacking.stays_back(ledger, "sp00")
        assert stays.endswith("taken back")
    async with at.run():
        await at.press("end", "e")
        await at.until(lambda: at.on_page == "Ask")
        assert stays in " ".join(at.picture.split())
        await at.press("enter")
        await at.until(lambda: at.on_page == "ParcelPage" and "putting back OV 0001" in at.picture)
        await at.settle()
        assert at.field("price").value == ""
        at.field("price").focus_input()
        await at.press("enter")
        await at.until(lambda: f"OV 0001 is back in stock, {stays}; z takes it out again" in at.said)
    with at.ledger() as ledger:
        one = ledger.get(Specimen, "sp00")
        assert (one.price_minor, one.nominal_ml, unpacking.is_out(ledger, "sp00")) == (None, None, False)


async def test_the_list_of_a_parcel_is_marked_on_the_piece_that_was_opened(shop):
    """After Esc from its line the list means that piece, not the one at its top."""
    at = shop(lines=5)
    async with at.run():
        await at.press("end", "up", "e")  # the list begins with the last one, OV 0005
        await at.until(lambda: at.on_page == "ParcelPage" and "changing OV 0002" in at.picture)
        await at.settle()
        await at.press("escape")
        await at.until(lambda: at.rows.has_focus and at.rows.row is not None)
        await at.settle()
        assert at.rows.row.id == "sp01"
        await at.press("v")
        await at.until(lambda: at.on_page == "FormPage")
        await at.settle()
        assert at.field("pieces").value == "OV 0002"


async def test_what_is_common_asks_why_too_and_comes_back(shop):
    """F6: days and seller of a parcel that stands need a reason, z restores them, a discount no field holds stays."""
    at = shop()
    with Ledger.open(at.place, write=True) as ledger:
        ledger.append([replace(ledger.get(Parcel, "pc"), discount_minor=100)])
    async with at.run():
        await at.press("e")
        await at.until(lambda: at.on_page == "ParcelPage")
        await at.settle()
        await at.press("f6")
        at.field("bought_on").value = "2026-01-03"
        await at.press("f3")
        asked = "the parcel, bought on: then 2026-01-02, now 2026-01-03"
        await at.until(lambda: at.on_page == "Because" and asked in at.picture)
        await at.press("enter")
        await at.until(lambda: at.on_page == "ParcelPage" and at.field("lot").display)
        await at.settle()
        with at.ledger() as ledger:
            parcel = ledger.get(Parcel, "pc")
            assert (str(parcel.bought_on), parcel.discount_minor) == ("2026-01-03", 100)
        assert reasons(at, "parcel", "pc")[-1] == "typed wrongly"
        await at.press("f8")
        await at.until(lambda: "common to the parcel stands as before" in at.said)
        with at.ledger() as ledger:
            assert str(ledger.get(Parcel, "pc").bought_on) == "2026-01-02"


@pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=str)
async def test_price_and_lot_of_a_whole_parcel_are_mended_at_once(shop, size):
    """A key opens the pieces like the marked one; all means the parcel; each is shown then and now; z takes back."""
    at = shop(lines=5)  # OV 0001 and OV 0005 are of one paint
    async with at.run(size):
        await at.press("p")
        await at.until(lambda: at.on_page == "FormPage")
        await at.settle()
        assert at.field("pieces").value == "OV 0001, OV 0005"
        at.field("price").value = "6.20"
        at.field("lot").value = "T77"
        await at.press("f3")
        await at.until(lambda: at.on_page == "Ask" and "OV 0005, lot: then T0, now T77" in at.picture)
        await at.press("enter")
        await at.until(lambda: at.on_page == "Stock" and "2 specimens changed" in at.said)
        await at.settle()
        assert [piece(at, f"sp{n:02}").price_minor for n in range(5)] == [620, None, None, None, 620]
        assert piece(at, "sp00").lot == piece(at, "sp04").lot, "one new lot, not one a specimen"
        assert reasons(at, "specimen", "sp04")[-1] == "typed wrongly"
        await at.press("p")
        await at.until(lambda: at.on_page == "FormPage")
        await at.settle()
        at.field("pieces").value = "all"
        at.field("price").value = "5"
        at.field("reason").value = "k"
        await at.press("f3")
        await at.until(lambda: at.on_page == "Ask")
        await at.press("enter")
        await at.until(lambda: at.on_page == "Stock" and "5 specimens changed" in at.said)
        await at.settle()
        assert {piece(at, f"sp{n:02}").price_minor for n in range(5)} == {500}
        assert reasons(at, "specimen", "sp01")[-1] == "not known before"
        await at.press("z")
        await at.until(lambda: "as before" in at.said)
        await at.press("z")
        await at.until(lambda: "OV 0001, OV 0005 as before" in at.said)
        assert {piece(at, f"sp{n:02}").price_minor for n in range(5)} == {None}
        assert lot_of(at, "sp04") == "T0"


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({}, "price: 'no price and no lot' does not fit"),
        ({"price": "x"}, "price: 'x' does not fit"),
        ({"price": "5", "pieces": "OV 0099"}, "specimens: 'OV 0099' does not fit"),
        ({"price": "5", "pieces": ","}, "specimens: ',' does not fit"),
        ({"lot": "T0", "pieces": "OV 0001"}, "what stands already"),
        ({"price": "5", "reason": " "}, "because: nothing stands there"),
    ],
)
async def test_what_the_form_of_several_cannot_read_is_said_and_nothing_is_written(shop, fields, said):
    """One line names the field, what was found and what is allowed."""
    at = shop()
    async with at.run():
        await at.press("p")
        await at.until(lambda: at.on_page == "FormPage")
        await at.settle()
        for name, value in fields.items():
            at.field(name).value = value
        await at.press("f3")
        await at.until(lambda: said in at.said)
        assert at.on_page == "FormPage"
        assert all(len(reasons(at, "specimen", f"sp{n:02}")) == 1 for n in range(3))


async def test_the_day_a_piece_was_opened_is_mended_from_its_line(shop):
    """Then, now and why, and z; a day that has not come, or before it was bought, is refused beside the field."""
    at = shop()
    async with at.run((100, 30)):
        await at.press("o")
        await at.until(lambda: "OV 0003 is opened" in at.said)
        opened = piece(at).opened_on
        for wrong in ("2031-01-01", "2025-12-31"):
            await change(at, opened_on=wrong)
            await at.until(lambda: "needed: " in at.said)
            assert piece(at).opened_on == opened
            await at.press("escape", "escape")
            await at.until(lambda: at.on_page == "Stock")
            await at.settle()
        await change(at, opened_on="2026-02-03")
        await at.until(lambda: at.on_page == "Because" and "opened on: then 20" in at.picture)
        assert "now 2026-02-03" in at.picture
        await at.press("m")
        await at.until(lambda: at.on_page == "ParcelPage" and "OV 0003 changed" in at.said)
        assert str(piece(at).opened_on) == "2026-02-03"
        assert reasons(at, "specimen", "sp02")[-1] == "misread on the specimen or the receipt"
        await at.press("f8")
        await at.until(lambda: "stands as before" in at.said)
        assert piece(at).opened_on == opened


@pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=str)
async def test_a_piece_is_moved_to_another_parcel_that_stands_or_was_not_entered_yet(shop, size):
    """Its parcels are listed by number; what becomes another is shown then and now; z moves it back each time."""
    at = shop()
    with Ledger.open(at.place, write=True) as ledger:
        bought = replace(ledger.get(Parcel, "pc"), id="other", seller="Lantern", currency="GBP")
        ledger.append([bought, replace(ledger.get(Specimen, "sp02"), price_minor=590)])
    async with at.run(size):
        await at.press("v")
        await at.until(lambda: at.on_page == "FormPage" and "1: Lantern, 2026-01-02, GBP, 0 specimens" in at.picture)
        await at.settle()
        at.field("parcel").value = "1"
        await at.press("f3")
        await at.until(lambda: at.on_page == "Ask" and "OV 0003, seller: then Corner shop, now Lantern" in at.picture)
        assert "price: then 5.90 EUR, now 5.90 GBP" in at.picture
        await at.press("enter")
        await at.until(lambda: at.on_page == "Stock" and "OV 0003 moved to another parcel" in at.said)
        await at.settle()
        assert piece(at).parcel == "other"
        assert reasons(at, "specimen", "sp02")[-1] == "typed wrongly"
        await at.press("z")
        await at.until(lambda: "OV 0003 as before" in at.said)
        assert piece(at).parcel == "pc"
        await at.settle()
        await at.press("v")
        await at.until(lambda: at.on_page == "FormPage")
        await at.settle()
        given = {
            "pieces": "OV 0001, ov 3",
            "parcel": "new",
            "bought_on": "2026-01-05",
            "currency": "EUR",
            "reason": "w",
        }
        for name, value in given.items():
            at.field(name).value = value
        await at.press("f3")
        await at.until(lambda: "seller: nothing stands there" in at.said)
        at.field("seller").value = "Wharf stores"
        await at.press("f3")
        await at.until(lambda: at.on_page == "Ask" and "OV 0001, bought on: then 2026-01-02" in at.picture)
        await at.press("enter")
        await at.until(lambda: at.on_page == "Stock" and "OV 0001, OV 0003 moved" in at.said)
        assert piece(at).parcel == piece(at, "sp00").parcel
        with at.ledger() as ledger:
            assert ledger.get(Parcel, piece(at).parcel).seller == "Wharf stores"
        await at.settle()
        await at.press("z")
        await at.until(lambda: "OV 0001, OV 0003 as before" in at.said)
        assert {piece(at).parcel, piece(at, "sp00").parcel} == {"pc"}
    with at.ledger() as ledger:
        assert ledger.verify() == []
