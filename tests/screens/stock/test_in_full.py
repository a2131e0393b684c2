"""Nothing that a list or a form says is cut without a way to read it, on the narrowest usual screen."""

from dataclasses import replace
from datetime import date

import pytest

from qcledger.bench import correcting
from qcledger.ledger import Ledger
from qcledger.records import LabelVersion, Lot, Maker, Paint, Parcel, Question, Specimen
from qcledger.screens.findings.choose import Choose
from qcledger.screens.page import Page
from qcledger.text import one_line
from tests.screens.support import in_front

MAKER = "Corvannet and Daughters, Colour Works at the Old Lime Kiln"
PAINT = "Viridian deep genuine, first choice of the autumn washing"
LOT = "Q4471-0098-KILN-SIX"


@pytest.fixture
def long(shop):
    """Return a shop whose first piece has long names, a long lot, and a label put right in a long sentence."""
    at = shop()
    with Ledger.open(at.place, write=True) as ledger:
        lot = ledger.get(Lot, "lt0")
        parcel = replace(ledger.get(Parcel, "pc"), seller="Fenbridge Artists' Supplies and Paper Store, Upper Row")
        asked = Question(
            id="qu", maker="mk", findings=("evenness",), sentences=("Uneven.",), asked_on=date(2026, 3, 1), by="OV"
        )
        ledger.append(
            [
                replace(ledger.get(Maker, "mk"), name=MAKER),
                replace(ledger.get(Paint, "pt0"), name=PAINT),
                replace(lot, code=LOT),
                replace(parcel, bought_on=date(2026, 1, 2)),
                replace(ledger.get(Specimen, "sp00"), price_minor=1_234_567, note="kept in the drawer by the window"),
                Maker(id="other", name=f"{MAKER} (Trellmere Branch)"),
                asked,
            ],
            reason="typed as on the receipt that came with it in the second parcel",
        )
        label = ledger.get(LabelVersion, "lb0")
        wanted = correcting.weigh(
            ledger, label, {"index_names": ("PG18", "PB29", "PW6"), "warnings": "not for children"}, ledger.new_id
        )
        correcting.keep(ledger, wanted, "typed into the wrong field of the form")
    return at


def every(kind):
    return {each for sub in kind.__subclasses__() for each in (sub, *every(sub))}


@pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=str)
@pytest.mark.parametrize(
    "keys",
    [(), ("enter",), ("enter", "h"), ("m",), ("w",), ("e", "escape")],
    ids=["stock", "then and now", "whole history", "names", "asked and said", "parcel"],
)
async def test_the_marked_row_is_read_in_full(long, keys, size):
    """On each list, of each row that is marked every cell stands on the screen whole, in its column or below."""
    async with long.run(size):
        number = next(n for n in range(long.rows.count) if long.rows.at(n).id == "sp00")
        long.rows.mark(number)
        await long.settle()
        for key in keys:
            await long.press(key)
            await long.settle()
        rows = long.rows
        rows.focus()
        assert rows.count
        for number in range(rows.count):
            rows.mark(number)
            await long.until(lambda n=number: rows.at(n) is not None)
            await long.settle()
            for each in rows.at(number).cells:
                whole = one_line(each if isinstance(each, str) else " ".join(each))
                await long.until(lambda whole=whole: whole in one_line(long.picture))


def test_every_page_with_a_list_tells_its_marked_row():
    """A page says itself what its marked row is, with a line for it, or the page's own line below does."""
    import qcledger.screens.bench.page
    import qcledger.screens.findings.opening
    import qcledger.screens.findings.page
    import qcledger.screens.forms.said
    import qcledger.screens.loose_ends
    import qcledger.screens.publishing
    import qcledger.screens.record.before
    import qcledger.screens.record.behind
    import qcledger.screens.record.oneimport  # noqa: F401 - each defines pages

    own = {page.__name__ for page in every(Page) if page.TELLS_MARKED and page.__module__.startswith("qcledger")}
    assert own <= {
        "Said",
        "Imports",
        "OneImport",
        "BeforeImport",
        "SheetRowPage",
        "LooseEnds",
        "RecordPage",
        "Behind",
        "FindingsPage",
        "FindingsOpening",
        "PublishPage",
        "PutDown",
        "SheetMap",
    }
    for name in sorted(own - {"LooseEnds", "FindingsOpening", "SheetMap"}):  # whose rows are whole sentences
        page = next(one for one in every(Page) if one.__name__ == name and one.__module__.startswith("qcledger"))
        assert any("Rows.Marked" in str(one) or "Marked" in str(one) for one in _handled(page)), name


def _handled(page):
    return [message for cls in page.__mro__ for message in cls.__dict__.get("_decorated_handlers", {})]


async def test_a_row_that_fits_says_nothing_below(shop):
    """Where every cell has its room, no line is taken from the list."""
    at = shop()
    async with at.run((120, 40)):
        await at.settle()
        assert at.rows.left_out() == ""
        assert not at.page.query_one("#in_full").display


async def test_the_line_below_follows_the_width(long):
    """Made wider, the row shows what it had no room for, and the line goes."""
    async with long.run((80, 24)):
        number = next(n for n in range(long.rows.count) if long.rows.at(n).id != "sp00")
        long.rows.mark(number)
        await long.until(lambda: "bought: 2026-01-02" in long.picture)
        await long.pilot.resize_terminal(200, 40)
        await long.until(lambda: "bought: " not in long.picture)
        await long.pilot.resize_terminal(80, 24)
        await long.until(lambda: "bought: 2026-01-02" in long.picture)


async def test_beside_a_form_no_row_is_told(long):
    """While a line of a parcel is typed the list has no mark: nothing is told of a row; with the keys it is."""
    async with long.run():
        await long.press("e")
        await long.until(lambda: long.on_page == "ParcelPage")
        await long.settle()
        assert "bought: " not in long.picture
        await long.press("escape")
        await long.until(lambda: long.rows.has_focus and "bought: 2026-01-02" in long.picture)
        await long.press("n")
        await long.until(lambda: "bought: " not in long.picture)


async def test_a_long_answer_to_choose_is_read_in_full(shop):
    """In the list to choose from, too, the marked answer stands whole."""
    at = shop()
    title = f"{MAKER}, half pans and tubes beside each other, {PAINT}, two papers"
    async with at.run():
        at.app.push_screen(Choose("Which comparison?", [("a", "all"), ("b", title)]))
        await at.until(lambda: in_front(at.app, Choose))
        await at.settle()
        await at.press("down")
        await at.until(lambda: title in one_line(at.picture.replace("|", " ")))


@pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=str)
async def test_what_a_field_says_is_read_in_full(long, size):
    """A hint longer than its line, and words longer than their half of the screen, are wrapped and not cut."""
    async with long.run(size):
        await long.press("w")
        await long.until(lambda: long.on_page == "Said")
        await long.settle()
        number = next(n for n, one in enumerate(long.page._lines) if one.table == Question.TABLE)
        long.rows.mark(number)
        await long.settle()
        await long.press("enter")
        await long.until(lambda: long.on_page == "FormPage" and long.page._ready)
        long.field("kind").focus_input()
        hint = long.field("kind").query_one("Input").placeholder
        await long.until(lambda: one_line(hint) in one_line(long.picture))
        assert "no answer" in hint
        await long.press("d")
        await long.until(lambda: "disputes" in one_line(long.picture))


def test_the_history_is_a_list_of_this_ledger(long):
    """The long ledger has a piece whose history holds facts and a label put right."""
    from qcledger.bench.history import load

    with long.ledger() as ledger:
        facts = [one.fact for change in load(ledger, "sp00").changes for one in change.differ]
    assert {"price", "label, index names", "label, warnings"} <= set(facts)
