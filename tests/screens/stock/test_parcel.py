"""A parcel in one form."""

from dataclasses import replace

import pytest
from textual.widgets import Static

from qcledger.bench import unpacking
from qcledger.errors import NotConfirmed
from qcledger.ledger import Ledger
from qcledger.records import LabelVersion, Lot, Maker, Paint, Parcel, Specimen
from qcledger.screens.stock.label import Label
from qcledger.screens.widgets.fields import Field
from qcledger.vocab import CURRENCY_DIGITS, Format, SpecimenState
from tests.screens.stock.support import Shop
from tests.screens.support import marked_fields
from tests.small import Small, graded, ten


async def begin(at, seller="Lantern"):
    await at.press("n")
    await at.until(lambda: at.on_page == "ParcelPage")
    await at.settle()
    await at.type(seller)
    await at.press("f3")
    await at.until(lambda: at.field("paint").has_focus_within)
    await at.settle()


def bought(at) -> list[Specimen]:
    with at.ledger() as ledger:
        (parcel,) = ledger.rows(Parcel, seller="Lantern")
        return sorted(ledger.rows(Specimen, parcel=parcel.id), key=lambda one: one.sticker)


async def test_a_known_paint_takes_at_most_twelve_keys_beyond_lot_and_price(shop):
    """Measured: letters of the paint and three times Enter; the sticker is given and said, format remembered."""
    at = shop()
    async with at.run():
        await begin(at)
        before = at.presses
        await at.type("tre vi")
        await at.press("enter")
        lot_and_price = at.presses
        await at.type("T8")
        lot = at.presses - lot_and_price
        await at.press("enter")
        price = at.presses
        await at.type("5.90")
        price = at.presses - price
        await at.press("enter")
        assert at.presses - before - lot - price == 9 <= 12
        await at.saved()
        assert "OV 0004 saved" in at.said
        (one,) = bought(at)
        assert (one.sticker, one.paint, one.format, one.price_minor) == ("OV 0004", "pt0", Format.HALF_PAN, 590)
        with at.ledger() as ledger:
            assert ledger.get(Lot, one.lot).code == "T8"


async def test_what_is_said_is_about_the_field_in_front(shop):
    """Two wrong fields: the cursor is in the first, one line says what it may hold, and that another is wrong too."""
    at = shop()
    async with at.run():
        await at.press("n")
        await at.until(lambda: at.on_page == "ParcelPage")
        await at.settle()
        await at.type("Lantern")
        await at.press("enter", *"2031-02-03", "enter", *"EURO", "f3")
        await at.settle()
        assert at.field("bought_on").has_focus_within
        assert "bought on: '2031-02-03' does not fit; needed: today, 2026-03-09, or a day before (one more" in at.said
        beside = {
            name: str(at.field(name).query_one(".words", Static).render()) for name in ("bought_on", "currency")
        }
        assert beside == {
            "bought_on": "today, 2026-03-09, or a day before",
            "currency": "one of " + ", ".join(CURRENCY_DIGITS),
        }
        await at.press("ctrl+u", *"2026-02-03", "f3")
        await at.settle()
        assert at.field("currency").has_focus_within
        assert "currency: 'EURO' does not fit; needed: one of AUD, BHD" in at.said


async def test_the_same_again_is_four_times_enter(shop):
    """An empty paint line means the piece before, with its lot, and its price as a hint that Enter takes."""
    at = shop()
    async with at.run():
        await begin(at)
        await at.type("vi")
        await at.press("enter", *"T8", "enter", *"5.90", "enter")
        await at.saved()
        before = at.presses
        await at.press("enter", "enter", "enter")
        await at.until(lambda: "OV 0005 saved" in at.said)
        assert at.presses - before == 3
        first, second = bought(at)
        assert (first.lot, first.price_minor, first.format) == (second.lot, second.price_minor, second.format)


async def test_typing_replaces_what_a_field_offers_from_before(shop):
    """The lot of the same paint is marked: typing replaces it; End keeps it, and what was typed since is kept."""
    at = shop()
    async with at.run():
        await begin(at)
        await at.type("vi")
        await at.press("enter", *"TB-11", "enter", *"5.90", "enter")
        await at.saved()
        await at.press("enter")
        await at.settle()
        assert at.field("lot").value == "TB-11"
        lot = at.field("lot")
        await at.type("TB-13")
        assert lot.value == "TB-13"
        await at.press("enter", *"9.50", "up")
        await at.settle()
        assert lot.has_focus_within
        await at.press("end", "X", "enter")
        await at.settle()
        assert (lot.value, at.field("price").value) == ("TB-13X", "9.50")
        await at.type("7")
        assert at.field("price").value == "9.507", "what was typed just now is added to"


async def test_enters_too_many_after_a_corrected_line_add_nothing(shop):
    """After a correction the same again means nothing; the head does not count pieces that were taken out."""
    at = shop()
    async with at.run():
        await begin(at)
        for lot in ("T8", "T9"):
            await at.type("vi")
            await at.press("enter", *lot, "enter", *"5.90", "enter")
            await at.saved()
        await at.press("escape", "e")
        await at.until(lambda: "changing OV 0005" in at.picture)
        await at.press(*"T7", "enter", "enter")
        await at.until(lambda: at.on_page == "Because")
        await at.press("enter")
        await at.until(lambda: at.on_page == "ParcelPage" and "OV 0005 changed" in at.said)
        await at.settle()
        await at.press(*["enter"] * 6)
        await at.settle()
        assert len(bought(at)) == 2
        assert "a few letters of maker and paint" in at.said
        await at.press("f8")
        await at.until(lambda: "stands as before" in at.said)
        await at.press("f8")
        await at.until(lambda: "OV 0005 taken back" in at.said)
        await at.settle()
        assert "1 so far" in at.picture
        await at.press("escape", "escape")
        await at.until(lambda: at.on_page == "Stock")
        await at.settle()
        assert "4 specimens and 1 taken out" in at.picture
        await at.press("/", *"lantern", "enter")
        await at.settle()
        assert "1 specimen and 1 taken out" in at.picture


async def test_a_wrong_price_stays_and_nothing_is_saved(shop):
    """The decimal mark is the tester's: with a comma set, a point that may part thousands is refused."""
    at = shop(decimal_mark=",")
    async with at.run((100, 30)):
        await begin(at)
        await at.type("vi")
        await at.press("enter", *"T8", "enter", *"5.900", "enter")
        await at.settle()
        assert "'5.900' does not fit" in at.said
        assert at.field("price").value == "5.900"
        assert "a number such as 12,40" in at.picture
        with at.ledger() as ledger:
            assert ledger.rows(Parcel, seller="Lantern") == []
        at.field("price").value = "5,90"
        await at.press("enter")
        await at.saved()
        assert bought(at)[0].price_minor == 590


async def test_wrong_common_fields_are_told_beside_them(shop):
    """Empty seller, unknown currency: each field says what is allowed, and the form stays."""
    at = shop()
    async with at.run((100, 30)):
        await at.press("n")
        await at.settle()
        at.field("currency").value = "EURO"
        await at.press("f3")
        await at.settle()
        assert "1 to 200 characters" in at.picture
        assert "one of AUD" in at.picture
        assert at.field("seller").has_focus_within


async def test_undo_takes_the_piece_back_and_its_line_returns(shop):
    """Nothing is deleted: the specimen is taken out, its line comes back, and entered again keeps its sticker."""
    at = shop()
    async with at.run():
        await begin(at)
        await at.type("vi")
        await at.press("enter", *"T8", "enter", *"5", "enter")
        await at.saved()
        await at.press("f8")
        await at.until(lambda: "OV 0004 taken back" in at.said)
        await at.settle()
        assert "taken out" in at.picture
        assert at.field("lot").value == "T8"
        at.field("lot").value = "T9"
        await at.press("enter", "enter")
        await at.until(lambda: "OV 0004 is back in stock" in at.said)
        await at.settle()
        (one,) = bought(at)
        with at.ledger() as ledger:
            assert ledger.get(Lot, one.lot).code == "T9"
            assert len(ledger.history("specimen", one.id)) == 2
        assert "taken out" not in at.picture


async def test_a_save_that_failed_gives_the_line_back(shop, monkeypatch):
    """Not confirmed is said, the typed line returns, and Enter tries the same piece again."""
    at = shop()
    async with at.run():
        await begin(at)
        real, fails = Ledger.append, [True]

        def append(ledger, records, **kwargs):
            if fails and any(isinstance(one, Specimen) for one in records):
                fails.pop()
                raise NotConfirmed("the disk reported an error")
            return real(ledger, records, **kwargs)

        monkeypatch.setattr(Ledger, "append", append)
        await at.type("vi")
        await at.press("enter", *"T8", "enter", *"5", "enter")
        await at.until(lambda: "the disk reported" in at.said)
        assert at.field("lot").value == "T8"
        at.field("price").focus_input()
        await at.press("enter")
        await at.until(lambda: "OV 0004 saved" in at.said)
        assert len(bought(at)) == 1


async def test_a_new_paint_is_transcribed_in_place(shop):
    """An unknown paint opens its label; checks stand beside the fields as words and block nothing."""
    at = shop()
    async with at.run((100, 30)):
        await begin(at)
        await at.type("trellmere Fir")
        await at.press("enter")
        await at.until(lambda: at.on_page == "Label")
        await at.settle()
        assert (at.field("maker").value, at.field("name").value) == ("Trellmere", "Fir")
        at.field("index_names").value = "P.G. 26, XX"
        at.field("constitution_numbers").value = "74260"
        await at.settle()
        for words in ("read as PG26", "no form of a Colour Index name", "differs from our reference"):
            assert words in " ".join(at.picture.split())
        await at.press("f3")
        await at.until(lambda: at.on_page == "ParcelPage" and at.field("lot").has_focus_within)
        await at.press(*"F1", "enter", *"7", "enter")
        await at.until(lambda: at.field("format").has_focus_within)
        await at.press("t", "enter")
        await at.saved()
        (one,) = bought(at)
        assert one.format == Format.TUBE
        with at.ledger() as ledger:
            label = ledger.get(LabelVersion, one.label_version)
            assert label.index_names == ("P.G. 26", "XX")


async def test_a_name_that_has_no_form_is_kept_and_said_once_more(shop):
    """What nobody can mean by a Colour Index name is told where the label was opened from; a real one is not."""
    at = shop()
    async with at.run():
        for names, told in (("zzz, NBk6, PB15:3", "kept, but zzz: no form of a Colour Index name"), ("NR9", "")):
            at.app.push_screen(Label(at.desk, paint="pt0"))
            await at.settle()
            at.field("index_names").value = names
            await at.press("f3")
            await at.until(lambda: at.on_page == "Stock")
            await at.settle()
            assert at.said.startswith(told)
            assert ("no form" in at.said) == bool(told)
            at.page.say("")


@pytest.mark.parametrize("keys", [("enter", "f3"), ("tab", "f3"), ("f3",), ("down", "f3")], ids="-".join)
async def test_a_new_maker_is_taken_out_of_the_paints_name_however_its_field_is_left(shop, keys):
    """Both names were typed into the line: by Enter, Tab, an arrow or kept at once, the paint has its own."""
    at = shop()
    async with at.run():
        await begin(at)
        await at.type("Velmora Ochre")
        await at.press("f5")
        await at.until(lambda: at.on_page == "Label" and at.field("maker").has_focus_within)
        await at.settle()
        await at.type("Velmora")
        for key in keys:
            await at.press(key)
            await at.settle()
        await at.until(lambda: at.on_page == "ParcelPage")
        await at.settle()
        with at.ledger() as ledger:
            (maker,) = ledger.rows(Maker, name="Velmora")
            assert [one.name for one in ledger.rows(Paint, maker=maker.id)] == ["Ochre"]


async def test_the_name_a_paint_has_already_is_not_parted(shop):
    """A paint in the ledger whose own name begins with its maker's keeps it when its label is seen again."""
    at = shop()
    async with at.run():
        with Ledger.open(at.place, write=True) as ledger:
            ledger.append([Paint(id="own", maker="mk", name="Trellmere Gold")])
        at.app.push_screen(Label(at.desk, paint="own"))
        await at.settle()
        at.field("maker").focus_input()
        await at.press("tab", "f3")
        await at.until(lambda: at.on_page == "Stock")
        with at.ledger() as ledger:
            assert ledger.get(Paint, "own").name == "Trellmere Gold"


async def test_after_a_new_label_the_cursor_stands_in_what_is_still_to_be_filled(shop):
    """A lot typed before the label is not asked for again; without a batch code, Enter passes it empty."""
    at = shop()
    async with at.run((100, 30)):
        await begin(at)
        at.field("lot").value = "F1"
        await at.press(*"trellmere Fir", "enter")
        await at.until(lambda: at.on_page == "Label")
        await at.settle()
        await at.press("f3")
        await at.until(lambda: at.on_page == "ParcelPage" and at.field("price").has_focus_within)
        assert at.field("lot").value == "F1"
        await at.press(*"7", "enter")
        await at.until(lambda: at.field("format").has_focus_within)
        at.field("lot").value = ""
        await at.press(*"t", "enter")
        await at.until(lambda: at.field("lot").has_focus_within)
        await at.press("enter", "enter")
        await at.saved()
        assert (bought(at)[0].lot, bought(at)[0].format) == (None, Format.TUBE)


async def test_what_a_parcel_and_its_lines_need_is_marked(shop):
    """Seller, day and currency; then the paint until one is taken up again, and the format of a paint that is new."""
    at = shop()
    async with at.run((100, 30)):
        with Ledger.open(at.place, write=True) as ledger:
            ledger.append([Paint(id="fir", maker="mk", name="Fir")])
        await at.press("n")
        await at.settle()
        assert marked_fields(at.app)[:3] == ["seller", "bought_on", "currency"]
        assert "* must be filled in" in at.picture
        for name in ("seller", "bought_on", "currency"):
            stood, at.field(name).value = at.field(name).value or "Lantern", ""
            await at.press("f3")
            await at.settle()
            assert at.field(name).has_focus_within
            at.field(name).value = stood
        await at.press("f3")
        await at.settle()
        assert marked_fields(at.app)[3:] == ["paint"]
        await at.press(*"fir", "enter")
        assert marked_fields(at.app)[3:] == ["format"]
        await at.press("enter", "enter", "t", "enter")
        await at.saved()
        assert marked_fields(at.app)[3:] == []
        await at.press("enter")
        assert at.field("lot").has_focus_within


async def test_ten_pieces_as_the_guide_tells_it(shop):
    """A parcel of ten: three kinds, the same again for the others, one of them kept sealed."""
    at = shop()
    async with at.run():
        await begin(at)
        for letters, lot, price in (("vi", "T8", "5.90"), ("ki", "K1", "9.80"), ("fj", "", "4")):
            await at.type(letters)
            await at.press("enter", *lot, "enter", *price, "enter")
            await at.settle()
        for _ in range(6):
            await at.press("enter", "enter", "enter")
            await at.settle()
        await at.press("enter")
        at.field("state").value = "s"
        at.field("state").focus_input()
        await at.press("enter")
        await at.until(lambda: "OV 0013 saved" in at.said)
        found = bought(at)
        assert [one.sticker for one in found] == [f"OV {n:04}" for n in range(4, 14)]
        assert [one.price_minor for one in found] == [590, 980, *[400] * 8]
        assert found[-1].state == "sealed reserve"
        assert found[2].lot is None


@pytest.mark.parametrize("size", [(80, 24), (60, 20), (20, 5)], ids=str)
async def test_a_piece_can_be_entered_in_any_window(shop, size):
    """At 80x24, 60x20 and 20x5 the field at work is on the screen and the piece is saved."""
    at = shop()
    async with at.run(size):
        await begin(at)
        await at.type("vi")
        await at.until(lambda: "vi" in at.picture)
        await at.press("enter", *"T8", "enter")
        await at.until(lambda: at.field("price").region.height == 1)
        await at.press(*"5", "enter")
        await at.settle()
        assert len(bought(at)) == 1
        assert all(len(line) <= size[0] for line in at.picture.splitlines())


async def test_a_seller_seen_before_is_offered(shop):
    """A beginning and the right arrow give the whole name."""
    at = shop()
    async with at.run():
        await at.press("n")
        await at.settle()
        await at.type("cor")
        await at.settle()
        await at.press("right")
        await at.settle()
        assert at.field("seller").value == "Corner shop"


async def test_a_label_that_was_being_typed_is_taken_up_again(shop):
    """After a stop, and after Esc, what was typed stands there again; emptied or kept, it does not come back."""
    at = shop()
    async with at.run():
        at.app.push_screen(Label(at.desk, maker="Trellmere", name="Fir"))
        await at.settle()
        at.field("warnings").value = "gloves, [/] no dust"
        await at.until(lambda: "gloves" in at.desk.drafts.get("label of a new paint"))
    at = Shop(at.place)
    async with at.run():
        at.app.push_screen(Label(at.desk))
        await at.settle()
        assert at.field("warnings").value == "gloves, [/] no dust"
        assert at.field("maker").value == "Trellmere"
        await at.type("PG7")
        await at.press("escape")
        at.app.push_screen(Label(at.desk, name="Fir"))
        await at.settle()
        assert at.field("warnings").value == "gloves, [/] no dust"
        assert "taken up" in at.said
        assert "PG7" in at.desk.drafts.get("label of a new paint")
        for field in at.page.query(Field):
            field.value = ""
        await at.settle()
        await at.press("escape")
        assert at.desk.drafts.get("label of a new paint") == ""


async def test_the_label_of_one_paint_is_not_taken_up_for_another(shop):
    """A draft comes back for the paint it was begun for, and stays for it; a label only looked at leaves none."""
    at = shop()
    async with at.run():
        at.app.push_screen(Label(at.desk, maker="Trellmere", name="Fir"))
        await at.settle()
        at.field("warnings").value = "gloves"
        await at.settle()
        await at.press("escape")
        at.app.push_screen(Label(at.desk, maker="Trellmere", name="Ochre"))
        await at.settle()
        assert (at.field("name").value, at.field("warnings").value) == ("Ochre", "")
        await at.press("escape")
        assert "gloves" in at.desk.drafts.get("label of a new paint")
        at.app.push_screen(Label(at.desk, paint="pt0"))
        await at.settle()
        await at.press("escape")
        await at.settle()
        assert at.desk.drafts.get("label pt0") == ""


async def leave(at):
    """Leave the parcel, through its list when there is one."""
    for _ in range(2):
        if at.on_page == "ParcelPage":
            await at.press("escape")
            await at.settle()
    assert at.on_page == "Stock"


async def test_a_half_typed_line_is_taken_up_again_in_its_parcel(shop):
    """After leaving and beginning again the line stands where it was, in the same parcel; saved, nothing is left."""
    at = shop()
    async with at.run():
        await begin(at)
        await at.press(*"vi", "enter", *"T8", "enter", *"5.90", "enter")
        await at.saved()
        await at.press(*"vi", "enter", *"T9")
        await leave(at)
        await at.press("n")
        await at.until(lambda: at.on_page == "ParcelPage" and "taken up" in at.said)
        await at.settle()
        assert "1 so far" in at.picture
        assert (at.field("lot").value, at.field("price").value) == ("T9", "")
        at.field("lot").focus_input()
        await at.press("enter", *"6.10", "enter")
        await at.saved()
        assert [one.price_minor for one in bought(at)] == [590, 610]
        await leave(at)
        await at.press("n")
        await at.until(lambda: at.on_page == "ParcelPage")
        await at.settle()
        assert (at.field("seller").value, at.field("lot").value) == ("", "")


async def test_a_parcel_that_was_not_begun_is_kept_while_it_is_typed(shop):
    """Once the hand rests, common fields and line are on disk: another program finds them, the cursor in front.

    Where the line comes to the front, it is said once more that it is an old one.
    """
    at = shop()
    async with at.run():
        await begin(at)
        await at.type("tre")
        await at.until(lambda: "tre" in at.desk.drafts.get("parcel"))
    other = Shop(at.place)
    async with other.run():
        await other.press("n")
        await other.until(lambda: other.on_page == "ParcelPage" and "taken up" in other.said)
        assert other.field("seller").value == "Lantern"
        assert other.field("paint").value == "tre"
        assert other.field("seller").has_focus_within
        await other.press("f3")
        await other.until(lambda: other.field("paint").has_focus_within)
        assert "a half-typed line was taken up" in other.said
        await other.press("f6", "f3")
        await other.settle()
        assert "taken up" not in other.said


async def test_a_piece_is_taken_back_after_the_page_was_left(shop):
    """On a parcel page opened anew the last piece is still taken back: its parcel and its line come to the front."""
    at = shop()
    async with at.run():
        await begin(at)
        await at.press(*"vi", "enter", *"T8", "enter", *"5", "enter")
        await at.saved()
        await leave(at)
        await at.press("n")
        await at.until(lambda: at.on_page == "ParcelPage")
        await at.settle()
        await at.press("f8")
        await at.until(lambda: "OV 0004 taken back" in at.said)
        await at.settle()
        assert "putting back OV 0004" in at.picture
        assert "Lantern" in at.picture
        assert (at.field("lot").value, at.field("price").value) == ("T8", "5.00")
        at.field("price").value = "6"
        await at.press("enter", "enter")
        await at.until(lambda: "OV 0004 is back in stock" in at.said)
        await at.settle()
        assert [(one.sticker, one.price_minor) for one in bought(at)] == [("OV 0004", 600)]
        assert "taken out" not in at.picture


async def test_what_was_taken_out_is_put_back_only_when_asked_and_z_takes_it_out_again(shop):
    """E on its line asks first, Esc leaves it out; put back, changed or not, z takes it out with its old line."""
    at = shop()
    with Ledger.open(at.place, write=True) as ledger:
        unpacking.take_out(ledger, ledger.get(Specimen, "sp02"), ledger.new_id)
        before = len(list(ledger.entries()))
    async with at.run():
        await at.press("e")
        await at.until(lambda: at.on_page == "Ask")
        for words in ("OV 0003 was taken out on 20", "entered by mistake", "Enter yes   Esc no"):
            assert words in at.picture
        await at.press("escape")
        await at.until(lambda: at.on_page == "Stock" and "it stays out" in at.said)
        with at.ledger() as ledger:
            assert len(list(ledger.entries())) == before
        for price, then in (("", None), ("3.20", 320)):
            await at.press("e")
            await at.until(lambda: at.on_page == "Ask")
            await at.press("enter")
            await at.until(lambda: at.on_page == "ParcelPage" and "putting back OV 0003" in at.picture)
            await at.settle()
            at.field("price").value = price
            at.field("price").focus_input()
            await at.press("enter")
            await at.until(lambda: "OV 0003 is back in stock; z takes it out again" in at.said)
            with at.ledger() as ledger:
                assert (unpacking.is_out(ledger, "sp02"), ledger.get(Specimen, "sp02").price_minor) == (False, then)
            await at.settle()
            await at.press("escape", "escape")
            await at.until(lambda: at.on_page == "Stock")
            await at.settle()
            await at.press("z")
            await at.until(lambda: "OV 0003 is taken out again, as before" in at.said)
            await at.settle()
            assert "taken out" in at.picture
            with at.ledger() as ledger:
                assert unpacking.is_out(ledger, "sp02")
                assert ledger.get(Specimen, "sp02").price_minor is None
    with at.ledger() as ledger:
        assert ledger.verify() == []


async def test_a_piece_that_was_put_back_and_used_since_stays(shop):
    """Taking it out again would leave what was observed on it without its piece: z says so, once."""
    at = shop()
    with Ledger.open(at.place, write=True) as ledger:
        unpacking.take_out(ledger, ledger.get(Specimen, "sp02"), ledger.new_id)
    async with at.run():
        await at.press("e")
        await at.until(lambda: at.on_page == "Ask")
        await at.press("enter")
        await at.until(lambda: at.on_page == "ParcelPage" and "putting back OV 0003" in at.picture)
        await at.settle()
        at.field("price").focus_input()
        await at.press("enter")
        await at.until(lambda: "is back in stock" in at.said)
        await at.settle()
        graded(Small(at.place, ten()))
        await at.press("escape", "escape")
        await at.until(lambda: at.on_page == "Stock")
        await at.settle()
        await at.press("z")
        await at.until(lambda: "OV 0003 stays in stock: observations of it" in at.said)
        await at.press("z")
        await at.until(lambda: "nothing is left to take back in this window" in at.said)
    with at.ledger() as ledger:
        assert not unpacking.is_out(ledger, "sp02")


async def test_what_was_changed_since_is_not_overwritten_by_an_undo(shop):
    """A state given on the shelf is taken back only while the specimen is as it was left there."""
    at = shop()
    async with at.run():
        await at.press("u")
        await at.until(lambda: "is used up" in at.said)
        with Ledger.open(at.place, write=True) as ledger:
            (used,) = ledger.rows(Specimen, state=SpecimenState.USED_UP)
            ledger.append([replace(used, note="seen by a second pair of eyes")], reason="note")
        await at.press("2", "z")
        await at.until(lambda: "was changed since, and stays as it is" in at.said)
        with at.ledger() as ledger:
            assert ledger.get(Specimen, used.id).note == "seen by a second pair of eyes"
            assert ledger.get(Specimen, used.id).state is SpecimenState.USED_UP


async def test_going_back_to_what_is_common_keeps_the_line(shop):
    """F6 and F3 leave a half-typed line as it is."""
    at = shop()
    async with at.run():
        await begin(at)
        await at.press(*"vi", "enter", *"T8", "f6")
        await at.settle()
        await at.press("f3")
        await at.settle()
        assert at.field("lot").value == "T8"
        assert at.field("paint").value


async def test_a_makers_name_typed_with_the_paint_leaves_it_once_it_has_its_own_field(shop):
    """Of maker and paint typed in one, the part that is typed as the maker leaves the name of the paint."""
    at = shop()
    async with at.run():
        await begin(at)
        await at.type("Northmoor Quay Blue")
        await at.press("enter")
        await at.until(lambda: at.on_page == "Label")
        await at.settle()
        await at.press(*"northmoor", "enter")
        assert at.field("name").value == "Quay Blue"


async def test_arrows_move_the_cursor_also_where_the_form_scrolls(shop):
    """In a window too low for the form, down and up go from field to field; nothing scrolls away from the cursor."""
    at = shop()
    async with at.run((60, 14)):
        await begin(at)
        await at.press(*"vi", "enter")
        await at.settle()
        await at.press("down", "5", "up", "T")
        assert (at.field("lot").value, at.field("price").value) == ("T", "5")


async def test_the_mark_stays_on_its_line_whatever_was_opened_from_it(shop):
    """Back from faults, label, history and a change the mark is where it was; no grade lands elsewhere."""
    at = shop()
    async with at.run():
        await begin(at)
        for lot in ("T6", "T7", "T8", "T9"):
            await at.type("vi")
            await at.press("enter", *lot, "enter", *"5.90", "enter")
            await at.saved()
        await at.press("escape")
        await at.settle()
        await at.press("down", "down")
        assert at.rows.row.cells[0] == "OV 0005"
        for key, opened in (("g", "Unpacking"), ("l", "Label"), ("enter", "History")):
            await at.press(key)
            await at.until(lambda opened=opened: at.on_page == opened)
            await at.settle()
            await at.press("escape")
            await at.until(lambda: at.on_page == "ParcelPage")
            await at.settle()
            assert at.rows.row.cells[0] == "OV 0005"
        await at.press("e")
        await at.until(lambda: "changing OV 0005" in at.picture)
        await at.press("escape")
        await at.settle()
        assert at.rows.row.cells[0] == "OV 0005"
        await at.press("down", "g")
        await at.until(lambda: at.on_page == "Unpacking")
        await at.settle()
        assert "OV 0004" in at.picture


async def test_while_a_line_is_typed_the_faults_are_those_of_the_piece_entered_last(shop):
    """A mark left in the list says nothing then, and is not drawn; a line that is changed means its own piece."""
    at = shop()
    async with at.run():
        await begin(at)
        for lot in ("T6", "T7"):
            await at.type("vi")
            await at.press("enter", *lot, "enter", *"5.90", "enter")
            await at.saved()
        await at.press("escape", "down", "n")
        await at.settle()
        assert [at.rows._style(n, at.rows.at(n)) for n in (0, 1)] == [at.rows.rich_style] * 2
        await at.press("f4")
        await at.until(lambda: at.on_page == "Unpacking")
        await at.settle()
        assert "OV 0005" in at.picture
        await at.press("escape", "escape")
        await at.settle()
        await at.press("e")
        await at.until(lambda: "changing OV 0004" in at.picture)
        await at.press("f4")
        await at.until(lambda: at.on_page == "Unpacking")
        await at.settle()
        assert "OV 0004" in at.picture
