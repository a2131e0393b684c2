"""No text of any user is read as markup, runs an action, or reaches the terminal as an escape, on these pages."""

from dataclasses import replace

from qcledger.ledger import Ledger
from qcledger.records import Decision, LabelVersion, Lot, Maker, MakerAnswer, Observation, Paint, Parcel, Specimen
from qcledger.screens.loose_ends import LooseEnds
from qcledger.screens.stock.history import History
from qcledger.screens.stock.label import Label
from qcledger.screens.stock.parcel import ParcelPage as ParcelPage
from qcledger.screens.stock.unpack import Unpacking
from qcledger.text import clean, one_line
from qcledger.vocab import DecisionKind, Format
from tests.hostile import HOSTILE, MARKUP
from tests.screens.stock.support import NOW
from tests.screens.support import settle

KEPT = [text for text in HOSTILE if one_line(text) and len(clean(text)) <= 200]


def plain(shown: str) -> bool:
    return not [char for char in shown if (ord(char) < 32 and char != "\n") or 0x7F <= ord(char) < 0xA0]


def fill(ledger) -> None:
    """Put each text that a ledger takes into every place these pages show."""
    rows = []
    for n, text in enumerate(KEPT):
        rows += [
            Maker(id=f"m{n:02}", name=text),
            Paint(id=f"p{n:02}", maker=f"m{n:02}", name=text, number=text),
            LabelVersion(id=f"l{n:02}", paint=f"p{n:02}", seen_on=NOW.date(), index_names=(text,),
                         chemical_names=(text,), warnings=text, printed=text),
            Lot(id=f"o{n:02}", paint=f"p{n:02}", format=Format.TUBE, code=text),
            Parcel(id=f"q{n:02}", bought_on=NOW.date(), seller=text, currency="EUR", note=text),
            Specimen(id=f"s{n:02}", sticker=f"X {n:03}", paint=f"p{n:02}", format=Format.TUBE, parcel=f"q{n:02}",
                     lot=f"o{n:02}", note=text),
            MakerAnswer(id=f"a{n:02}", maker=f"m{n:02}", asked_on=NOW.date(), asked=text),
            Decision(id=f"d{n:02}", kind=DecisionKind.RETEST, subject_table="specimen", subject=f"s{n:02}", by=text,
                     on=NOW.date(), reason=text),
        ]  # fmt: skip
    ledger.append(rows)


async def test_stored_texts_on_every_page(shop):
    """Lists, histories, labels, unpacking, forms and loose ends show each stored text or its harmless rest."""
    at = shop()
    with Ledger.open(at.place, write=True) as ledger:
        fill(ledger)
    async with at.run((120, 90)):
        assert "[@click=app.quit]x" in at.picture
        assert "x[/]" in at.picture
        assert plain(at.picture)
        await at.pilot.resize_terminal(100, 30)
        history = History(at.desk, "s00")
        at.app.push_screen(history)
        await at.settle()
        for n, text in enumerate(KEPT):
            history.arrive(f"s{n:02}")
            await settle(at.pilot, quiet=1)
            assert plain(at.picture)
            if n < len(MARKUP):
                assert one_line(text) in at.picture
        at.app.pop_screen()
        for n in range(0, len(KEPT), 6):  # a label puts what is stored into the fields that take every text below
            at.app.push_screen(Label(at.desk, paint=f"p{n:02}"))
            await at.settle()
            assert plain(at.picture)
            if n < len(MARKUP):
                assert one_line(KEPT[n]) in at.picture
            at.app.pop_screen()
        for page in (Unpacking(at.desk, "s00"), ParcelPage(at.desk, change="s01"), LooseEnds(at.desk)):
            at.app.push_screen(page)
            await at.settle()
            assert plain(at.picture)
            for y in range(0, 30, 3):
                await at.pilot.click(offset=(5, y))
            while len(at.app.screen_stack) > 1:
                at.app.pop_screen()
            await at.settle()
        assert at.app.is_running


async def test_typed_texts_stay_plain(shop):
    """All 78 texts, typed into every field of the parcel, its lines and the label, are shown without power."""
    assert len(HOSTILE) == 78
    at = shop()
    async with at.run((100, 40)):
        await at.press("n")
        await at.settle()
        for text in HOSTILE:
            for name in ("seller", "currency", "note"):
                at.field(name).value = text
            await at.pilot.pause()
            assert plain(at.picture)
        at.field("currency").value = "EUR"
        at.field("seller").value = "[/]"
        await at.press("f3")
        await at.settle()
        for text in HOSTILE:
            for name in ("paint", "lot", "price", "format", "note"):
                at.field(name).value = text
            await at.pilot.pause()
            assert plain(at.picture)
        at.field("price").focus_input()
        await at.press("enter")
        assert plain(at.picture)
        at.app.push_screen(Label(at.desk))
        await at.settle()
        for text in HOSTILE:
            for field in at.page.query("Field"):
                field.value = text
            await at.pilot.pause()
            assert plain(at.picture)
        assert at.app.is_running


async def test_a_note_with_markup_is_shown_as_written(shop):
    """What stands at unpacking with a note shows the note's brackets."""
    at = shop()
    async with at.run((120, 40)):
        at.app.push_screen(Unpacking(at.desk, "sp00"))
        await at.settle()
        await at.press("3")
        await at.settle()
        with Ledger.open(at.place, write=True) as ledger:
            (seen,) = ledger.rows(Observation)
            note = replace(seen, id="noted", note="[@click=app.quit]x[/] [tube]", supersedes=seen.id, reason="note")
            ledger.append([note])
        await at.page.fill()
        await at.press("<")
        assert "[@click=app.quit]x[/] [tube]" in at.picture
