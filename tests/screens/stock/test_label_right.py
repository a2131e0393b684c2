"""Stories of a label put right from the pages that show it, and of taking back what was kept of a label."""

from dataclasses import replace
from datetime import date

import pytest

from qcledger.bench.correcting import label_of
from qcledger.ledger import Ledger
from qcledger.records import LabelVersion, Paint, Parcel, Specimen
from tests.screens.stock.support import NOW

SIZES = [(80, 24), (120, 40)]


def pigments(at):
    with at.ledger() as ledger:
        assert ledger.verify() == []
        return {one.sticker: label_of(ledger, one.id).index_names for one in ledger.rows(Specimen)}


async def on_form(at, *keys):
    await at.press(*keys)
    await at.until(lambda: at.on_page == "FormPage" and at.page._ready)


async def shown(at, *texts):
    await at.until(lambda: all(text in " ".join(at.picture.split()) for text in texts))


@pytest.fixture
def two(shop):
    """Return a function that opens a shop with two pieces of one paint: OV 0001 and OV 0005."""

    def make(first="stock"):
        return shop(first, lines=5)

    return make


@pytest.mark.parametrize("size", SIZES, ids=str)
async def test_a_mistyped_label_is_put_right_for_all_pieces(two, size):
    """B shows it as it stands, then and now before it is kept, how many pieces and its peers; z takes it back."""
    at = two()
    async with at.run(size):
        at.rows.mark(0)
        await at.settle()
        await on_form(at, "b")
        await shown(at, "2 specimens carry it: OV 0001, OV 0005.")
        assert at.page.values()["index_names"] == "PG18"
        assert at.field("index_names").has_focus_within
        await at.type("PB29")
        await shown(at, "then PG18")
        at.field("reason").focus_input()
        await at.type("m")
        await shown(at, "mistyped")
        await at.press("f3")
        await at.until(lambda: at.on_page == "Ask")
        await shown(
            at, "index names: then PG18, now PB29", "2 specimens count under PB29 now, not PG18: OV 0001, OV 0005.",
            "None of these specimens was tested yet", "Because: mistyped.",
        )  # fmt: skip
        assert pigments(at)["OV 0001"] == ("PG18",)
        await at.press("escape")
        await at.until(lambda: at.on_page == "FormPage")
        assert pigments(at)["OV 0001"] == ("PG18",)
        await at.press("f3")
        await at.until(lambda: at.on_page == "Ask")
        await at.press("enter")
        await at.until(lambda: at.on_page == "Stock" and "z takes it back" in at.said)
        assert pigments(at) == {
            "OV 0001": ("PB29",), "OV 0002": ("PR101",), "OV 0003": ("PB36",), "OV 0004": ("PY42",),
            "OV 0005": ("PB29",),
        }  # fmt: skip
        with at.ledger() as ledger:
            assert '"reason":"mistyped"' in ledger.history("label_version", "lb0")[-1].body
        await at.press("z")
        await at.until(lambda: "taken back, label of Trellmere Viridian" in at.said)
        assert pigments(at)["OV 0001"] == pigments(at)["OV 0005"] == ("PG18",)


async def test_esc_leaves_the_label_and_keeps_what_was_typed(two):
    """Nothing is stored; opened again it stands there."""
    at = two()
    async with at.run():
        at.rows.mark(0)
        await at.settle()
        await on_form(at, "b")
        await at.type("PB29")
        await at.press("escape")
        await at.until(lambda: at.on_page == "Stock")
        assert pigments(at)["OV 0001"] == ("PG18",)
        await on_form(at, "b")
        assert at.page.chapter == "stock"
        assert at.page.values()["index_names"] == "PB29"
        await at.until(lambda: "taken up where it was left" in at.said)


@pytest.mark.parametrize(
    ("which", "more", "changed"),
    [("s", {"pieces": "5"}, ["OV 0005"]), ("n", {"since": "2026-02-01"}, ["OV 0005"])],
    ids=["some", "new print"],
)
async def test_some_pieces_or_a_new_print_from_its_history(two, which, more, changed):
    """The others keep theirs; what does not fit together is refused in a line, in the form."""
    at = two()
    with Ledger.open(at.place, write=True) as ledger:
        one = ledger.get(Specimen, "sp04")
        parcel = replace(ledger.get(Parcel, "pc"), id="later", bought_on=date(2026, 3, 1))
        ledger.append([parcel, replace(one, parcel="later")], reason="bought later")
    async with at.run():
        await at.until(lambda: at.rows.row is not None)
        at.rows.mark(next(n for n, row in enumerate(await at.page._load(0, 5)) if row.cells[0] == "OV 0001"))
        await at.settle()
        await at.press("enter")
        await at.until(lambda: at.on_page == "History")
        await at.settle()
        await on_form(at, "b")
        await at.type("PB29")
        at.field("which").value = which
        at.field("reason").value = "as the tube says"
        await at.press("f3")
        await at.until(lambda: "nothing stands there" in at.said and at.on_page == "FormPage")
        for name, text in more.items():
            at.field(name).value = text
        at.field("which").value = "all"
        await at.press("f3")
        await at.until(lambda: "unless it is for" in " ".join(at.said.split()))
        at.field("which").value = which
        await at.press("f3")
        await at.until(lambda: at.on_page == "Ask")
        await at.press("enter")
        await at.until(lambda: at.on_page == "History" and "z takes it back" in at.said)
        found = pigments(at)
        assert [sticker for sticker, names in found.items() if names == ("PB29",)] == changed
        assert found["OV 0001"] == ("PG18",)
        await at.press("z")
        await at.until(lambda: "taken back, label of" in at.said)
        assert pigments(at)["OV 0005"] == ("PG18",)


async def test_what_is_typed_into_the_label_becomes_a_correction(two):
    """F4 on the label carries what was typed into the form; names are no part of it; a new paint has none yet."""
    at = two()
    async with at.run():
        at.rows.mark(0)
        await at.settle()
        await at.press("l")
        await at.until(lambda: at.on_page == "Label" and at.field("index_names").value == "PG18")
        await at.settle()
        at.field("claims").value = "lightfast I"
        at.field("name").value = "Viridian deep"
        await at.press("f4")
        await at.until(lambda: "are no part of this" in " ".join(at.said.split()))
        at.field("name").value = "Viridian"
        await on_form(at, "f4")
        assert at.page.values()["claims"] == "lightfast I"
        at.field("reason").value = "l"
        await at.press("f3")
        await at.until(lambda: at.on_page == "Ask")
        await shown(at, "claims: then nothing, now lightfast I", "Findings compare them with the same paints")
        await at.press("enter")
        await at.until(lambda: at.on_page == "Stock" and "z takes it back" in at.said)
        with at.ledger() as ledger:
            assert ledger.get(LabelVersion, "lb0").claims == ("lightfast I",)
            assert len(ledger.rows(LabelVersion)) == 4


async def test_a_label_kept_from_its_form_is_taken_back(two):
    """A new version, and a name typed over: z lets both stand as before, and takes back nothing older."""
    at = two()
    async with at.run():
        at.rows.mark(0)
        await at.settle()
        await at.press("o")
        await at.until(lambda: "is opened" in at.said)
        await at.press("l")
        await at.until(lambda: at.on_page == "Label" and at.field("index_names").value == "PG18")
        await at.settle()
        at.field("index_names").value = "PG18, PB29"
        at.field("name").value = "Viridian deep"
        await at.press("f3")
        await at.until(lambda: at.on_page == "Stock")
        await at.settle()
        with at.ledger() as ledger:
            assert ledger.get(Paint, "pt0").name == "Viridian deep"
        await at.press("z")
        await at.until(lambda: "taken back: the label of Viridian says what it said before" in at.said)
        assert pigments(at)["OV 0001"] == ("PG18",)
        with at.ledger() as ledger:
            assert ledger.get(Paint, "pt0").name == "Viridian"
        await at.press("z")
        await at.until(lambda: "is unopened again" in at.said)


async def test_a_new_paint_is_not_taken_back_and_z_says_so(shop):
    """Z after a new label says what to do instead, and takes back nothing older in its place."""
    from qcledger.screens.stock.label import Label

    at = shop()
    async with at.run():
        await at.press("o")
        await at.until(lambda: "is opened" in at.said)
        at.app.push_screen(Label(at.desk, maker="Trellmere", name="Fir"))
        await at.until(lambda: at.on_page == "Label" and at.page._reference is not None)
        await at.press("f4")
        await at.until(lambda: "no label is kept yet" in at.said)
        await at.press("f3")
        await at.until(lambda: at.on_page == "Stock")
        await at.settle()
        await at.press("z")
        await at.until(lambda: "Fir is a new paint and stays" in at.said)
        with at.ledger() as ledger:
            assert ledger.get(Specimen, "sp02").state == "opened"


async def test_another_testers_piece_or_label_is_refused_before_a_form_opens(two, tmp_path):
    """One line says whose it is."""
    at = two()
    with Ledger.create(tmp_path / "guest.sqlite", letters="TL", tester="Tilo", zone="Etc/UTC") as guest:
        with Ledger.open(at.place) as mine:
            guest.adopt(mine.entries(), {})
            one = mine.get(Specimen, "sp00")
            pc = replace(mine.get(Parcel, "pc"), id="tl pc")
        label = LabelVersion(id="tl", paint="pt1", seen_on=NOW.date(), index_names=("PR102",))
        guest.append([pc, replace(one, id="tl sp", sticker="TL 0001", parcel="tl pc"), label])
        theirs = list(guest.entries(guest.daybook.id))
    with Ledger.open(at.place, write=True) as mine:
        mine.adopt(theirs, {})
        mine.append([replace(mine.get(Specimen, "sp01"), label_version="tl")], reason="as theirs")
    async with at.run():
        for sticker, told in (("TL 0001", "is a specimen of TL"), ("OV 0002", "a label of TL")):
            at.rows.mark(next(n for n, row in enumerate(await at.page._load(0, 9)) if row.cells[0] == sticker))
            await at.settle()
            await at.press("b")
            await at.until(lambda told=told: told in " ".join(at.said.split()))
            assert at.on_page == "Stock"


async def test_hostile_texts_of_a_label_are_shown_as_text(two):
    """Whatever a label holds, the form opens, shows it as text and leaves it as it stood."""
    at = two()
    text = "[bold]red[/bold] \u202e\x1b[2J"
    with Ledger.open(at.place, write=True) as ledger:
        ledger.append([replace(ledger.get(LabelVersion, "lb0"), claims=("[bold]red[/bold]",), warnings="a\n[b]c")])
    async with at.run():
        at.rows.mark(0)
        await at.settle()
        await on_form(at, "b")
        assert "[bold]red[/bold]" in at.picture
        at.field("reason").value = text
        await at.press("f3")
        await at.until(lambda: "other than the label declares" in " ".join(at.said.split()))
        at.field("source").value = text
        await at.press("f3")
        await at.until(lambda: at.on_page == "Ask")
        await shown(at, "read on: then nothing, now [bold]red[/bold]")
        await at.press("escape")
