"""Names on the pages: the same, not the same, now called, each with its undo; and a maker retyped on a label."""

from qcledger.ledger import Ledger
from qcledger.ledger.identity import who_is_who
from qcledger.records import Maker, Paint, SameAs
from qcledger.screens.widgets.rows import Rows


def with_makers(at, *names):
    """Put more makers into the ledger before the pages open."""
    with Ledger.open(at.place, write=True) as ledger:
        ledger.append([Maker(id=f"more{n}", name=name) for n, name in enumerate(names)])
    return at


def called(at):
    """Return what the maker of the stock is called now, and what it counts as."""
    with at.ledger() as ledger:
        known = who_is_who(ledger)
        return known.name("maker", "mk", "Trellmere"), known.one("maker", "mk")


async def names(at, key="m"):
    await at.press(key)
    await at.until(lambda: at.on_page == ("Names" if key == "m" else "TypeLine"))
    await at.settle()


async def test_a_maker_is_said_to_be_the_same_and_it_is_taken_back(shop):
    """The near spelling stands first; Enter says what it unites, Enter again unites, z takes it back."""
    at = with_makers(shop(), "Fennacre", "Trelmere")
    async with at.run():
        await names(at)
        assert "maker Trellmere" in at.picture
        assert at.picture.index("Trelmere") < at.picture.index("Fennacre")
        await at.press("enter")
        await at.until(lambda: at.on_page == "Ask")
        assert "4 paints, 3 specimens" in at.picture
        await at.press("enter")
        await at.until(lambda: "maker Trellmere is the same as Trelmere" in at.said)
        assert called(at) == ("Trelmere", "more1")
        await at.settle()
        assert "Also spelled Trellmere" in at.picture
        await at.press("escape")
        await at.until(lambda: at.on_page == "Stock" and "Trelmere" in at.picture)
        await names(at)
        await at.press("z")
        await at.until(lambda: "taken back: maker Trellmere and Trelmere are no longer one" in at.said)
        assert called(at) == ("Trellmere", "mk")


async def test_a_maker_is_kept_apart(shop):
    """A key says that two are not the same; the list says so from then on."""
    at = with_makers(shop(), "Trelmere")
    async with at.run():
        await names(at)
        await at.press("d")
        await at.until(lambda: "is not the same as T" in at.said)
        await at.until(lambda: "Trelmere" in at.picture and "not the same" in at.picture)
        with at.ledger() as ledger:
            (row,) = ledger.rows(SameAs)
            assert (row.subject, row.other, row.by) == ("mk", "more0", "OV")
        await at.press("z")
        await at.until(lambda: "are no longer said to be two" in at.said)
        with at.ledger() as ledger:
            assert [row.undone for row in ledger.rows(SameAs)] == [True]


async def test_a_maker_is_called_something_else_now(shop):
    """A key at Stock opens the line for the new name; every list shows it, and the old one still finds the pieces."""
    at = shop()
    async with at.run():
        await names(at, "c")
        await at.press(*["backspace"] * len("Trellmere"))
        await at.type("Aldervane")
        await at.press("enter")
        await at.until(lambda: at.on_page == "Names" and "is called Aldervane now" in at.said)
        assert called(at) == ("Aldervane", "mk")
        await at.press("escape")
        await at.until(lambda: at.on_page == "Stock" and "Aldervane" in at.picture)
        await at.press("/")
        await at.type("trellmere")
        await at.until(lambda: at.rows.count == 3 and "with trellmere" in at.picture)


async def test_the_names_of_paint_and_seller_are_behind_one_key(shop):
    """The same page goes on from the maker to the paint and the seller."""
    at = shop()
    async with at.run():
        await names(at)
        await at.press("t")
        await at.until(lambda: "paint" in at.picture and "Viridian" in at.picture)
        await at.press("t")
        await at.until(lambda: "seller Corner shop" in at.picture)
        assert "There is no other seller" in at.picture


async def retype(at, name):
    """Open the label of the marked piece and type another maker over its own."""
    await at.press("l")
    await at.until(lambda: at.on_page == "Label" and at.field("maker").value == "Trellmere")
    await at.settle()
    at.field("maker").value = name
    await at.press("f3")
    await at.until(lambda: at.on_page == "Either" and "is the maker here" in at.picture)


async def test_a_maker_retyped_on_a_label_is_asked_about(shop):
    """Enter renames the maker with all its paints; Esc goes back to the label and nothing is saved."""
    at = shop()
    async with at.run():
        await retype(at, "Trell Moor")
        assert "with all" in at.picture
        assert "its 4 paints?" in at.picture
        await at.press("escape")
        await at.until(lambda: at.on_page == "Label")
        assert called(at) == ("Trellmere", "mk")
        await at.press("f3")
        await at.until(lambda: at.on_page == "Either")
        await at.press("enter")
        await at.until(lambda: at.on_page == "Stock" and "Trell Moor" in at.picture)
        assert called(at) == ("Trell Moor", "mk")
        with at.ledger() as ledger:
            assert {row.maker for row in ledger.rows(Paint)} == {"mk"}


async def test_a_label_may_be_another_makers(shop):
    """N says that the paint is another maker's: it alone goes there."""
    at = shop()
    async with at.run():
        await retype(at, "Drumlaw")
        await at.press("n")
        await at.until(lambda: at.on_page == "Stock" and "Drumlaw" in at.picture)
        with at.ledger() as ledger:
            makers = [row.maker for row in ledger.rows(Paint)]
            assert makers.count("mk") == 3
            assert {row.name for row in ledger.rows(Maker)} == {"Trellmere", "Drumlaw"}


async def test_a_question_at_loose_ends_opens_the_names(shop):
    """A near spelling of another tester stands at Loose ends until it is answered there."""
    at = shop("loose_ends")
    with (
        Ledger.open(at.place, write=True) as ledger,
        Ledger.create(
            at.place.with_name("theirs.sqlite"), letters="TL", tester="Tam Lark", daybook="theirs"
        ) as theirs,
    ):
        theirs.append([Maker(id="other", name="Trelmere")])
        ledger.adopt(theirs.entries(), {})
    async with at.run():
        await at.until(lambda: "Are makers Trellmere and" in at.picture)
        line = next(row for row in at.picture.splitlines() if "Are makers" in row)
        await at.press(line.split()[0].strip("│> "))
        await at.until(lambda: at.on_page == "Names")
        await at.settle()
        assert at.page.query_one(Rows).count == 1
        await at.press("-")
        await at.until(lambda: "not the same" in at.said)
        await at.press("escape")
        await at.until(lambda: at.on_page == "LooseEnds" and "Are makers" not in at.picture)
