"""What forms say: what they would make, what was refused for as long as it is so, and what z takes back."""

import pytest

from qcledger.records import Daybook, LabelVersion
from qcledger.screens.widgets.lines import SaidLine
from qcledger.text import one_line


def refused(at):
    line = at.page.query_one(SaidLine)
    return line.said if line.is_problem else ""


async def on_form(at, *keys):
    await at.press(*keys)
    await at.until(lambda: at.on_page == "FormPage" and at.page._ready)


async def shown(at, *texts):
    await at.until(lambda: all(text in one_line(at.picture) for text in texts))


@pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=str)
async def test_the_arrows_move_between_the_fields_of_a_label_put_right(shop, size):
    """Down goes to the next field and Up to the one before, however many fields have no room on the screen."""
    at = shop()
    async with at.run(size):
        await on_form(at, "b")
        names = [one.name for one in at.page._fields]
        assert at.field(names[0]).has_focus_within
        for name in names[1:]:
            await at.press("down")
            await at.until(lambda name=name: at.field(name).has_focus_within)
        for name in names[-2::-1]:
            await at.press("up")
            await at.until(lambda name=name: at.field(name).has_focus_within)


async def test_a_label_says_what_it_would_make_and_what_it_made(shop):
    """Nothing, another label with the pieces that go by it, and behind it that it was kept; z takes it back."""
    at = shop()
    async with at.run():
        await at.press("l")
        await at.until(lambda: at.on_page == "Label")
        await shown(at, "F3 changes nothing: kept so.")
        await at.press("f3")
        await at.until(lambda: at.on_page == "Stock" and "nothing was changed on the label" in at.said)
        await at.press("l")
        await at.until(lambda: at.on_page == "Label")
        await at.settle()
        at.field("claims").focus_input()
        await at.type("pure")
        await shown(at, "F3 makes another label, seen 2026-03-09; 1 specimen", "F4: the one kept was mistyped")
        with at.ledger() as ledger:
            count = len(ledger.rows(LabelVersion))
        await at.press("f3")
        await at.until(lambda: at.on_page == "Stock" and "another label is kept; z takes it back" in at.said)
        with at.ledger() as ledger:
            assert len(ledger.rows(LabelVersion)) == count + 1
        await at.press("z")
        await at.until(lambda: "says what it said before" in at.said)


async def test_the_forms_for_several_pieces_say_what_stands_there(shop):
    """Which pieces are offered, that all is the whole parcel, and what a label may be put right for."""
    at = shop(lines=5)
    async with at.run((120, 40)):
        await on_form(at, "p")
        await shown(at, "those of the marked one's paint and format stand there; all is every specimen of the parcel")
        await at.press("escape")
        await at.until(lambda: at.on_page == "Stock")
        await on_form(at, "b")
        await shown(at, "For: all specimens that carry it stand there; some takes stickers below, new print a day")


async def test_a_price_mended_says_what_it_does_to_counts(shop):
    """Before it is kept: the facts then and now, and that no count changes."""
    at = shop()
    async with at.run():
        await on_form(at, "p")
        at.field("price").focus_input()
        await at.type("3.20")
        await at.press("f3")
        await at.until(lambda: at.on_page == "Ask")
        await shown(at, "price: then not known, now 3.20 EUR", "No count changes")
        await at.press("enter")
        await at.until(lambda: at.on_page == "Stock" and "1 specimen changed; z takes it back" in at.said)


@pytest.mark.parametrize(
    ("keys", "name", "wrong", "right"),
    [(("r",), "told_on", "never", "x"), (("p",), "price", "much", "x"), (("l",), "seen_on", "never", "x")],
    ids=["form", "several", "label"],
)
async def test_what_was_refused_is_said_until_its_field_is_changed(shop, keys, name, wrong, right):
    """A change elsewhere leaves the line, one in the field it is about ends it."""
    at = shop()
    async with at.run():
        await at.press(*keys)
        await at.until(lambda: at.on_page in ("FormPage", "Label"))
        await at.settle()
        for needed in ("maker", "fault"):
            for one in (one for one in at.page.query("Field") if one.name == needed and not one.value):
                one.value = "Trellmere"
        at.field(name).value = wrong
        await at.settle()
        await at.press("f3")
        await at.until(lambda: wrong in refused(at))
        await at.until(lambda: at.field(name).has_focus_within)
        at.field(next(one.name for one in at.page.query("Field") if one.name != name)).value = "Maslenne"
        await at.settle()
        assert wrong in refused(at)
        at.field(name).focus_input()
        await at.type(right)
        await at.until(lambda: not refused(at))


async def test_a_line_of_a_parcel_forgets_what_was_refused_too(shop):
    """The refusal of a price stands until the price is changed."""
    at = shop()
    async with at.run():
        await at.press("n")
        await at.until(lambda: at.on_page == "ParcelPage")
        await at.settle()
        at.field("bought_on").value = "never"
        at.field("seller").value = "Fenbridge"
        await at.settle()
        await at.press("f3")
        await at.until(lambda: "never" in refused(at))
        at.field("bought_on").value = "2026-03-01"
        await at.until(lambda: not refused(at))


async def test_a_rename_taken_back_says_what_it_is_called_again(shop):
    """In plain words: its name again, no longer the other one."""
    at = shop()
    async with at.run():
        await at.press("c")
        await at.until(lambda: at.on_page == "TypeLine")
        at.page.query_one("Input").value = "Halvermoor"
        await at.press("enter")
        await at.until(lambda: "is called Halvermoor now; z takes it back" in at.said)
        await at.settle()
        await at.press("z")
        await at.until(
            lambda: "taken back: maker Trellmere is called Trellmere again, no longer Halvermoor" in at.said
        )


@pytest.mark.parametrize(
    ("letters", "tester", "told"),
    [
        ("OV", "Oda Vane", "OV, Oda Vane"),
        ("OV", "OV, Brinefold Studio", "OV, Brinefold Studio"),
        ("OV", "OV", "OV"),
        ("OV", "ov of Brinefold", "ov of Brinefold"),
        ("O", "Ovid Lane", "O, Ovid Lane"),
    ],
)
def test_letters_are_told_once(letters, tester, told):
    """A name that begins with the letters is not told with them again."""
    assert Daybook(id="d", letters=letters, tester=tester).signed == told
