"""What was found at unpacking, a specimen's history, its states, and stickers typed anywhere."""

import time
from dataclasses import replace
from datetime import timedelta
from types import SimpleNamespace
from zoneinfo import ZoneInfo

import pytest
from textual import events

from qcledger.bench import faults
from qcledger.bench.facts import of_session
from qcledger.bench.record import write
from qcledger.bench.result import Hand, Result
from qcledger.bench.runsheet import SheetSquare
from qcledger.errors import LedgerUnavailable
from qcledger.ledger import Ledger
from qcledger.records import MakerAnswer, Observation, Photo, Session, Specimen, Stage, Zone
from qcledger.report import kept, picked
from qcledger.report.sheet import sheet_text
from qcledger.screens.stock.history import Shot
from qcledger.vocab import TAKEN_BACK, Format, Occasion, SpecimenState, Standing
from tests.screens.stock.support import NOW, Shop


def standing(at, specimen="sp02") -> dict[str, Observation]:
    with at.ledger() as ledger:
        return {place.criterion: seen for place, seen in faults.load(ledger, specimen).seen.items()}


async def unpack(at):
    await at.press("g")
    await at.until(lambda: at.on_page == "Unpacking")
    await at.settle()


def as_tube(at):
    """Make the specimen a tube, which alone is weighed empty."""
    with Ledger.open(at.place, write=True) as ledger:
        one = ledger.get(Specimen, "sp02")
        ledger.append([replace(one, format=Format.TUBE, lot=None)], reason="a tube after all")


async def test_a_fault_with_a_photo_takes_at_most_six_keys_after_the_specimen(shop):
    """Measured: faults, the criterion's letter, the grade, the photo; both are on disk and tied together."""
    at = shop()
    async with at.run():
        at.shoot()
        before = at.presses
        await at.press("g")
        await at.until(lambda: at.on_page == "Unpacking")
        await at.settle()
        await at.press("w", "3")
        await at.until(lambda: "saved" in at.said)
        await at.press("f")
        await at.until(lambda: "shot.png filed" in at.said)
        assert at.presses - before == 4 <= 6
        seen = standing(at)["wrapper_adhesion"]
        assert seen.grade == 3
        with at.ledger() as ledger:
            (photo,) = ledger.rows(Photo)
            assert (photo.specimen, photo.observation) == ("sp02", seen.id)


async def test_grades_at_unpacking_are_amended_and_taken_back(shop):
    """Another digit supersedes; z goes back step by step, and nothing is deleted."""
    at = shop()
    async with at.run():
        await unpack(at)
        for keys in (("3",), ("c", "5")):
            await at.press(*keys)
            await at.settle()
        assert standing(at)["cracked"].grade == 5
        await at.press("z")
        await at.settle()
        assert standing(at)["cracked"].grade == 3
        await at.press("z")
        await at.settle()
        assert standing(at)["cracked"].not_testable == TAKEN_BACK
        await at.press("z")
        await at.settle()
        assert "nothing done here yet" in at.said
        with at.ledger() as ledger:
            assert len(ledger.rows(Observation, criterion="cracked")) == 4


async def test_a_digit_that_replaces_a_grade_says_which(shop):
    """The line says what was replaced, and the foot how to leave."""
    at = shop()
    async with at.run():
        await unpack(at)
        await at.press("0")
        await at.until(lambda: "OV 0003 is opened now" in at.said)
        await at.press("<", "5")
        await at.until(lambda: "graded 5, was 0; z takes it back" in at.said)
        assert " Esc back   f photo" in at.picture
        await at.press("z")
        await at.until(lambda: "Cracked or crumbling, OV 0003, 5 taken back; 0 stands again" in at.said)
        assert standing(at)["cracked"].grade == 0


async def test_a_photo_without_a_grade_is_asked_about_and_taken_back(shop):
    """Once f refuses where no grade stands, twice it files; z takes back photo and grade in turn, and says which."""
    at = shop()
    async with at.run():
        at.shoot()
        await unpack(at)
        await at.press("3")
        await at.settle()
        await at.press("w", "f")
        await at.until(lambda: "a grade first, or f again" in at.said)
        with at.ledger() as ledger:
            assert ledger.rows(Photo) == []
        await at.press("f")
        await at.until(lambda: "without a grade; z takes it back" in at.said)
        at.shoot("two.png", shade=30)
        await at.press("c", "f")
        await at.until(lambda: "two.png filed with" in at.said)
        with at.ledger() as ledger:
            assert sorted(photo.specimen or "" for photo in ledger.rows(Photo)) == ["sp02", "sp02"]
        await at.press("z")
        await at.until(lambda: "photo of Cracked or crumbling taken back: two.png belongs to nothing" in at.said)
        await at.press("z")
        await at.until(lambda: "shot.png belongs to nothing" in at.said)
        with at.ledger() as ledger:
            assert [(photo.specimen, photo.observation) for photo in ledger.rows(Photo)] == [(None, None)] * 2
            assert {len(ledger.history("photo", photo.id)) for photo in ledger.rows(Photo)} == {2}
            assert ledger.verify() == []
        assert standing(at)["cracked"].grade == 3
        assert at.page.atwork.here == SheetSquare(2, "wrapper_adhesion")  # whose photo came back last
        await at.press("c", "f")
        await at.until(lambda: "two.png filed with Cracked" in at.said)
        with at.ledger() as ledger:
            filed = [photo for photo in ledger.rows(Photo) if photo.observation]
            assert [photo.file_name for photo in filed] == ["two.png"]
            assert len(ledger.rows(Photo)) == 2
        await at.press("z", "z")
        await at.until(lambda: "Cracked or crumbling, OV 0003, 3 taken back; the right digit" in at.said)


async def test_a_note_taken_back_is_said_to_be_one(shop):
    """The grade below stays, and the words name the note."""
    at = shop()
    async with at.run():
        await unpack(at)
        await at.press("3", "n")
        await at.settle()
        await at.press(*"soft", "escape")
        await at.settle()
        assert standing(at)["cracked"].note == "soft"
        await at.press("z")
        await at.until(lambda: "note to Cracked or crumbling, OV 0003, taken back" in at.said)
        assert (standing(at)["cracked"].note, standing(at)["cracked"].grade) == ("", 3)


def slow_saves(monkeypatch):
    append = Ledger.append

    def slowly(ledger, records, **kwargs):
        time.sleep(0.3)
        append(ledger, records, **kwargs)

    monkeypatch.setattr(Ledger, "append", slowly)


def burst(at, *keys):
    """Give keys without a pause between them."""
    for key in keys:
        at.app.post_message(events.Key(key, key if len(key) == 1 else None))


def grades(at):
    """Return what was recorded of the first criterion, oldest first; None for what was taken back."""
    with at.ledger() as ledger:
        rows = sorted(ledger.rows(Observation, criterion="cracked"), key=lambda seen: seen.id)
        return [None if seen.not_testable == TAKEN_BACK else seen.grade for seen in rows]


@pytest.mark.parametrize("settled", [True, False])
async def test_taking_back_keeps_its_place_among_the_keys(shop, monkeypatch, settled):
    """What is pressed behind z is done behind it, and leaving the page at once loses neither."""
    at = shop()
    async with at.run():
        await unpack(at)
        slow_saves(monkeypatch)
        burst(at, "3")
        if settled:
            await at.settle()
        burst(at, "z", "5", "z", "z", "1", "escape")
        await at.until(lambda: at.on_page == "Stock")
        await at.settle()
        await at.until(lambda: grades(at)[-1:] == [1])
        assert grades(at) == [3, None, 5, None, 1]


async def test_taking_back_is_not_about_an_older_step_where_the_last_one_failed(shop, monkeypatch):
    """A grade that is not saved says so; the one before it stays."""
    at = shop()
    async with at.run():
        await unpack(at)
        await at.press("3")
        await at.until(lambda: "saved" in at.said)
        await at.settle()
        with monkeypatch.context() as patch:

            def refuse(ledger, records, **kwargs):
                time.sleep(0.2)
                raise LedgerUnavailable("The ledger was moved; reopen it.")

            patch.setattr(Ledger, "append", refuse)
            burst(at, "<", "5", "z")
            await at.until(lambda: "was moved" in at.said)
            await at.settle()
        assert "not saved" in at.said
        assert grades(at) == [3]
        await at.press("z")
        await at.until(lambda: grades(at) == [3, None])


async def test_a_state_still_being_saved_is_taken_back(shop, monkeypatch):
    """Used up and at once back again, on a slow disk."""
    at = shop()
    async with at.run():
        await at.press("enter")
        await at.until(lambda: at.on_page == "History")
        await at.settle()
        slow_saves(monkeypatch)
        await at.press("u", "z")
        await at.until(lambda: "is unopened again" in at.said)
        with at.ledger() as ledger:
            assert ledger.rows(Specimen, state=SpecimenState.USED_UP) == []
            assert len(ledger.history("specimen", "sp02")) == 3


async def test_a_fast_hand_outruns_no_save(shop, monkeypatch):
    """On a slow disk the keys after a digit still mean its grade: note, photo and taking back wait for it."""
    at = shop()
    async with at.run():
        at.shoot()
        await unpack(at)
        slow_saves(monkeypatch)
        await at.press("3", "n")
        await at.until(lambda: at.on_page == "NoteBox")
        await at.press(*"soft", "escape")
        await at.until(lambda: at.on_page == "Unpacking")
        await at.settle()
        assert (standing(at)["cracked"].note, standing(at)["cracked"].grade) == ("soft", 3)
        await at.press("w", "3", "f", "l")
        await at.until(lambda: "shot.png filed with" in at.said)
        with at.ledger() as ledger:
            assert [photo.observation for photo in ledger.rows(Photo)] == [standing(at)["wrapper_adhesion"].id]
        await at.press("3", "z")
        await at.settle()
        assert [
            one.not_testable for key, one in standing(at).items() if key not in ("cracked", "wrapper_adhesion")
        ] == [TAKEN_BACK]


async def test_what_was_done_is_taken_back_after_the_page_was_left(shop):
    """A grade at unpacking, a state in the history: z takes each back, also in front of another piece."""
    at = shop()
    async with at.run():
        await unpack(at)
        await at.press("3")
        await at.settle()
        await at.press("escape", "g")
        await at.until(lambda: at.on_page == "Unpacking")
        await at.settle()
        await at.press("z")
        await at.settle()
        assert standing(at)["cracked"].not_testable == TAKEN_BACK
        await at.press("escape", "enter")
        await at.until(lambda: at.on_page == "History")
        await at.settle()
        await at.press("u")
        await at.until(lambda: "is used up" in at.said)
        await at.press("escape", "down", "enter")
        await at.until(lambda: at.on_page == "History")
        await at.press("z")
        await at.until(lambda: "OV 0003 is unopened again" in at.said)
        await at.press("z")
        await at.until(lambda: "nothing is left to take back in this window" in at.said)
        with at.ledger() as ledger:
            assert ledger.rows(Specimen, state=SpecimenState.USED_UP) == []


async def test_what_is_not_offered_is_refused_in_one_line(shop):
    """The packaging scale has no 2; nothing is saved, and the words say what there is."""
    at = shop()
    async with at.run():
        await unpack(at)
        await at.press("2")
        await at.settle()
        assert "grade 2" in at.said
        assert standing(at) == {}


@pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=str)
async def test_why_a_label_proposes_a_grade_has_its_lines_at_every_criterion(shop, size):
    """The reason is in sight beside the longest ladder too; instruction and cautions give way."""
    at = shop()
    async with at.run(size):
        await unpack(at)
        for key, grade in ("p", 1), ("i", 0):
            await at.press(key)
            await at.settle()
            assert f"~ {grade} from the label's text:" in " ".join(at.picture.split())
            assert at.page.query_one("#because").size.height >= 1


async def test_a_label_proposes_its_grade_and_a_reading_too(shop):
    """A label with an index name alone proposes 1 for pigment information; a tube 12 % short proposes 3."""
    at = shop()
    as_tube(at)
    async with at.run((100, 30)):
        await unpack(at)
        await at.press("p")
        await at.settle()
        assert "~ 1 from the label's text: index names are typed, neither numbers nor" in " ".join(at.picture.split())
        await at.press("enter")
        await at.settle()
        assert standing(at)["pigment_information"].grade == 1
        await at.press("<")
        assert "from the label's text" not in " ".join(at.picture.split())
        await at.press("u", "r", *"12", "enter")
        await at.settle()
        await at.press("enter")
        await at.settle()
        seen = standing(at)["short_measure"]
        assert (seen.grade, seen.reading) == (3, 12)


async def test_a_wrong_reading_at_unpacking_stays_until_it_is_right(shop):
    """It is told, it grades nothing, and Esc leaves it."""
    at = shop()
    as_tube(at)
    async with at.run((100, 30)):
        await unpack(at)
        await at.press("u", "r", *"abc", "enter", "-", "3", "enter")
        assert "'abc-3' does not fit; needed: a number such as 23" in at.picture
        await at.press("escape")
        await at.settle()
        assert at.on_page == "Unpacking"
        assert standing(at) == {}


async def test_history_shows_then_and_now_side_by_side(shop):
    """The first and the latest photo beside each other; all observations, amended ones too, behind one key."""
    at = shop()
    async with at.run((100, 40)):
        await unpack(at)
        at.shoot("one.png", 10)
        await at.press("3")
        await at.settle()
        await at.press("f")
        await at.until(lambda: "one.png filed" in at.said)
        at.shoot("two.png", 200)
        await at.press("f")
        await at.until(lambda: "two.png filed" in at.said)
        await at.press("c", "5", "escape")
        await at.settle()
        await at.press("enter")
        await at.until(lambda: at.on_page == "History")
        await at.settle()
        shots = list(at.page.query(Shot))
        assert shots[0].region.y == shots[1].region.y
        assert shots[0]._photo.file_name == "one.png"
        assert shots[1]._photo.file_name == "two.png"
        await at.until(lambda: "▀" in at.picture and "grade 5" in at.picture)
        await at.press("h")
        await at.until(lambda: "grade 3" in at.picture and "amended" in at.picture)
        said = {row.cells[3]: row.cells[4] for row in at.page._rows if row.cells[1] == "unpacking"}
        assert said == {"grade 5 fault": "stands", "grade 3 fault": "amended"}


async def test_states_are_written_and_taken_back(shop):
    """Used up, sealed, opened; z restores the state before, each step an entry."""
    at = shop()
    async with at.run():
        for key, state in (("u", SpecimenState.USED_UP), ("s", SpecimenState.RESERVE), ("o", SpecimenState.OPENED)):
            await at.press(key)
            await at.settle()
            with at.ledger() as ledger:
                assert ledger.get(Specimen, "sp02").state is state
        for state in (SpecimenState.RESERVE, SpecimenState.USED_UP, SpecimenState.UNOPENED):
            await at.press("z")
            await at.settle()
            with at.ledger() as ledger:
                assert ledger.get(Specimen, "sp02").state is state
                assert ledger.get(Specimen, "sp02").opened_on is None or state is not SpecimenState.UNOPENED
        with at.ledger() as ledger:
            assert len(ledger.history("specimen", "sp02")) == 7


@pytest.mark.parametrize(
    "keys", [("O", *"V 0001"), ("#", *"1"), ("O", *"V0001")], ids=["scanned", "count", "no blank"]
)
async def test_a_sticker_typed_on_any_page_opens_its_history(shop, keys):
    """A capital letter begins one wherever nothing is typed, as a scanner sends it; # asks for the count alone."""
    at = shop("loose_ends")
    async with at.run():
        await at.press(*keys, "enter")
        await at.until(lambda: at.on_page == "History")
        await at.settle()
        assert "OV 0001   Trellmere Viridian half pan" in at.picture


async def test_an_unknown_sticker_is_told_and_stays(shop):
    """One line says so in front of the page, where another one can be typed."""
    at = shop("loose_ends")
    async with at.run():
        await at.press("#", *"999", "enter")
        await at.until(lambda: "sticker: '999' does not fit" in at.picture)
        await at.press(*["backspace"] * 3, "1", "enter")
        await at.until(lambda: at.on_page == "History")


async def test_a_line_is_changed_from_the_shelf(shop):
    """The line comes back into the form as it was typed; Enter amends, and once more gives the usual reason."""
    at = shop()
    async with at.run():
        await at.press("e")
        await at.until(lambda: at.on_page == "ParcelPage")
        await at.settle()
        assert at.field("lot").value == "T2"
        at.field("price").value = "3.20"
        at.field("price").focus_input()
        await at.press("enter")
        await at.until(lambda: at.on_page == "Because")
        await at.press("enter")
        await at.until(lambda: at.on_page == "ParcelPage" and "OV 0003 changed" in at.said)
        with at.ledger() as ledger:
            assert ledger.get(Specimen, "sp02").price_minor == 320


async def test_find_by_words(shop):
    """The list follows what is typed; Esc shows every specimen again."""
    at = shop()
    async with at.run():
        await at.press("/", *"kiln")
        await at.settle()
        assert (at.rows.count, "Kiln Red" in at.picture) == (1, True)
        at.field("find").value = "nothing like it"
        await at.settle()
        assert "No specimen has all these words" in at.picture
        await at.press("escape")
        await at.settle()
        assert at.rows.count == 3


# Loose ends


async def test_loose_ends_with_their_keys(shop):
    """The sheet at work, unfiled photos, an answer awaited and the missing backup, each with a letter."""
    at = shop("loose_ends")
    at.shoot()
    with Ledger.open(at.place, write=True) as ledger:
        ledger.append([MakerAnswer(id="an", maker="mk", asked_on=(NOW - timedelta(days=9)).date(), asked="?")])
    async with at.run():
        told = ("5 to do", "wet, 0 of", "1 photo in camera", "asked 9 days ago", "no backup", "not unpacked yet")
        for words in told:
            assert words in at.picture
        await at.press("c")
        await at.until(lambda: at.on_page == "FormPage")
        await at.press("o", "tab", "tab", "tab", *"done", "f3")
        await at.until(lambda: at.on_page == "Ask")
        await at.press("enter")
        await at.until(lambda: at.on_page == "LooseEnds")
        await at.settle()
        with at.ledger() as ledger:
            assert ledger.get(MakerAnswer, "an").answer == "done"
        assert "4 to do" in at.picture
        await at.press("b")
        await at.until(lambda: at.on_page == "UnfiledPhotos")
        await at.settle()
        await at.press("enter", *"OV 0002", "enter")
        await at.until(lambda: "filed with OV 0002" in at.said)
        await at.press("z", *"3", "enter")
        await at.until(lambda: "moved" in at.said)
        with at.ledger() as ledger:
            (photo,) = ledger.rows(Photo)
            assert photo.specimen == "sp02"
        await at.press("escape")
        await at.settle()
        assert "3 to do" in at.picture


async def test_no_loose_ends_are_said(shop, tmp_path):
    """When nothing is due the page says so."""
    at = shop("loose_ends")
    with Ledger.open(at.place, write=True) as ledger:
        ledger.append([replace(ledger.get(Session, "se"), closed_at=NOW)], reason="closed")
        ledger.append([replace(one, state=SpecimenState.OPENED) for one in ledger.rows(Specimen)], reason="opened")
        ledger.backup(tmp_path / "copy")
    async with at.run():
        assert "no loose ends" in at.picture


@pytest.mark.parametrize(("choice", "note"), [("a", ""), ("b", "cracked")])
async def test_a_dispute_is_settled_from_its_line(shop, tmp_path, choice, note):
    """What another tester says of my specimen is a line; its key shows both sides, and a letter lets one stand."""
    at = shop("loose_ends")
    with Ledger.open(at.place, write=True) as ledger:
        entries, mine = list(ledger.entries()), ledger.get(Specimen, "sp01")
        with Ledger.create(tmp_path / "guest.sqlite", letters="TL", tester="Tilo") as guest:
            guest.adopt(entries, {})
            guest.append([replace(mine, note="cracked")], proposing=True)
            ledger.adopt(guest.entries(), {})
    async with at.run((140, 24)):
        line = "which stands? specimen OV 0002: note nothing (OV); or note cracked (TL, Tilo)"
        assert line in at.picture
        key = next(text.split()[0] for text in at.picture.splitlines() if line in text)
        await at.press(key)
        await at.until(lambda: "b note cracked (TL, Tilo)" in at.picture)
        assert "a note nothing (OV, stands now)" in at.picture
        await at.press("c")  # there is no third side
        assert "which stands?" in at.picture
        await at.press(choice)
        await at.until(lambda: "which stands?" not in at.picture)
        with at.ledger() as ledger:
            assert ledger.get(Specimen, "sp01").note == note
            assert ledger.disputes() == []


async def test_a_piece_of_another_tester_says_whose_it_is(shop, tmp_path):
    """Neither its line nor its state can be changed: each key says whose it is, no form opens, nothing is stored."""
    at = shop("stock")
    with Ledger.open(at.place, write=True) as ledger:
        with Ledger.create(tmp_path / "guest.sqlite", letters="TL", tester="Tilo") as guest:
            guest.adopt(list(ledger.entries()), {})
            guest.append([replace(ledger.get(Specimen, "sp01"), id="theirs", sticker="TL 0001")])
            ledger.adopt(guest.entries(), {})
        entries = len(list(ledger.entries()))
    async with at.run((140, 24)):
        at.rows.mark(next(n for n in range(at.rows.count) if at.rows.at(n).id == "theirs"))
        said = "TL 0001 is a specimen of TL, Tilo, who alone changes it"
        for page in ("Stock", "History"):
            for key in "eou":
                await at.press(key)
                await at.until(lambda: said in at.said)
                assert at.on_page == page
                await at.press("down")
                await at.press("up")
                at.page.say("")
            if page == "Stock":
                await at.press("enter")
                await at.until(lambda: at.on_page == "History")
                await at.until(lambda: "a specimen of TL, Tilo; lot T1" in at.picture)
        with at.ledger() as ledger:
            assert len(list(ledger.entries())) == entries


async def test_due_hours_are_told_by_the_clock_of_the_sheet(shop, monkeypatch):
    """Loose ends and the sheet in words say one hour, the tester's, wherever the machine is."""
    at = shop("loose_ends")
    monkeypatch.setenv("TZ", "Asia/Kolkata")
    time.tzset()
    with Ledger.open(at.place, write=True) as ledger:
        due = NOW + timedelta(hours=1)
        rows = [replace(row, due_at=due) for row in ledger.rows(Stage, session="se") if row.name == "wet"]
        ledger.append(rows, reason="planned")
        told = sheet_text(*of_session(ledger, ledger.get(Session, "se")))
    hour = "2026-03-09 15:02"
    assert f"wet due {hour}" in told
    try:
        async with at.run((140, 24)):
            assert hour in next(line for line in at.picture.splitlines() if "session S04" in line)
    finally:
        monkeypatch.undo()
        time.tzset()


async def test_where_the_tester_works_is_asked_once(shop, monkeypatch):
    """A machine that moved is a line; its key asks, a wrong name is refused where it stands, the answer is kept."""
    at = shop("loose_ends")
    monkeypatch.setenv("TZ", "Asia/Kolkata")
    async with at.run():
        assert "this machine is in Asia/Kolkata, your" in at.picture
        assert at.desk.zone == ZoneInfo("Etc/UTC")
        key = next(row.id for row in map(at.rows.at, range(at.rows.count)) if "Asia/Kolkata" in row.cells[1])
        await at.press(key)
        await at.until(lambda: "Your time zone" in at.picture)
        await at.press(*"x", "enter")
        await at.until(lambda: "an IANA name, as in" in at.picture)
        await at.press("backspace", "enter")
        await at.until(lambda: "days are told by Asia/Kolkata" in at.said)
        await at.settle()
        assert "this machine is in" not in at.picture
        with at.ledger() as ledger:
            assert sorted(row.name for row in ledger.rows(Zone)) == ["Asia/Kolkata", "Etc/UTC"]
        assert at.desk.zone == ZoneInfo("Asia/Kolkata")


@pytest.mark.parametrize("size", [(80, 24), (60, 20), (20, 5), (10, 3), (1, 1)], ids=str)
async def test_no_window_breaks_these_pages(shop, size):
    """Every page of the stock opens at any size and no line is wider than the window."""
    at = shop("loose_ends")
    at.shoot()
    async with at.run(size):
        for keys in (("2",), ("g", "right", "escape"), ("l", "f1", "escape", "escape"), ("enter", "h", "escape"),
                     ("n", "escape"), ("/", "x", "escape"), ("1",)):  # fmt: skip
            await at.press(*keys)
            await at.settle()
            assert all(len(line) <= size[0] for line in at.picture.splitlines())
        assert at.app.is_running


async def test_a_note_at_unpacking_is_an_amendment(shop):
    """The note stands with the grade, the older observation stays, and no draft is left behind."""
    at = shop()
    async with at.run():
        await unpack(at)
        await at.press("3")
        await at.settle()
        await at.press("n", *"by the post", "escape")
        await at.until(lambda: standing(at)["cracked"].note == "by the post")
        await at.settle()
        assert "note kept with Cracked or crumbling, OV 0003" in at.said
        await at.press("<")
        assert "note: by the post" in at.picture
        assert at.desk.drafts.get("unpacking sp02 cracked") == ""
        assert standing(at)["cracked"].grade == 3


async def test_accusations_to_confirm_are_found_beside_the_page(shop, monkeypatch):
    """Only findings whose standing is to confirm become lines, marked as private; they lead to the findings."""

    def finding(maker, standing):
        return SimpleNamespace(
            maker_name=maker,
            format=Format.TUBE,
            criterion=SimpleNamespace(title="Froth", seen_at=Occasion.BENCH),
            standing=standing,
            claim=None,
            unconfirmed=standing is Standing.TO_CONFIRM,
        )

    made = [finding("Quernlow", Standing.TO_CONFIRM), finding("Drumlaw", Standing.SETTLED)]
    monkeypatch.setattr(kept.KeptFindings, "findings", lambda *_, **__: SimpleNamespace(findings=made))
    monkeypatch.setattr(picked, "would_settle", lambda _: "Two specimens of another lot from another seller.")
    monkeypatch.setattr("qcledger.report.shopping_text.next_buy", lambda *_: [])
    monkeypatch.setattr("qcledger.screens.loose_ends._by_update", lambda *_: [])
    at = shop("loose_ends")
    async with at.run():
        told = " ".join(at.picture.split())
        needs = "two specimens of another lot from another seller."
        assert f"//- to confirm: Quernlow tube, froth. It needs: {needs}" in told
        assert "Drumlaw" not in at.picture
        assert "working out findings" not in at.picture


async def test_a_parcel_looked_at_in_part_is_a_loose_end(shop):
    """One stuck wrapper of three pans: the line says how it is settled and leads to the first of the other pans."""
    at = shop("loose_ends")
    with Ledger.open(at.place, write=True) as ledger:
        hand = Hand(tester="OV", now=lambda: NOW, new_id=iter(f"f{n}" for n in range(9)).__next__)
        found, place = faults.load(ledger, "sp00"), SheetSquare(0, "wrapper_adhesion")
        written = write(found, place, Result(grade=5), pencil=hand.pencil(), new_id=hand.new_id)
        ledger.append(written.records)
    async with at.run((140, 24)):
        line = "Trellmere, half pans bought 2 January 2026, wrapper stuck to the paint: 1 of 3 looked at; grade the"
        assert line in at.picture
        key = next(text.split()[0] for text in at.picture.splitlines() if line in text)
        await at.press(key)
        await at.until(lambda: at.on_page == "History")
        await at.settle()
        assert "OV 0002" in at.picture


async def test_leaving_the_page_stops_the_search(shop, monkeypatch):
    """The reading thread is free for the next page at once, and what is known so far stays shown."""
    stopped = []

    def slow(self, ledger, comparison=None, stop=None):
        assert stop.wait(20)
        stopped.append(True)
        raise kept.Stopped

    monkeypatch.setattr(kept.KeptFindings, "findings", slow)
    at = shop("loose_ends")
    async with at.app.run_test(size=(80, 24)) as at.pilot:
        await at.until(lambda: "working out findings" in at.picture)
        assert "wet, 0 of" in at.picture
        await at.press("comma", "s")
        await at.until(lambda: "3 specimens" in at.picture)
        await at.until(lambda: stopped == [True])
    at.desk.close()


async def test_an_empty_ledger_says_where_to_begin(home, tmp_path):
    """With nothing recorded yet Loose ends names the page and the key of a first parcel, and the guide's key."""
    with Ledger.create(tmp_path / "new.ledger", letters="AB", tester="AB"):
        pass
    at = Shop(tmp_path / "new.ledger", "loose_ends")
    async with at.run():
        assert ", s opens Stock, n there begins a parcel; F9" in at.said


async def test_a_save_is_told_by_the_testers_own_clock(shop):
    """A tester in Auckland, whatever the machine says: 14:02 in Greenwich is three in the morning."""
    at = shop()
    with Ledger.open(at.place, write=True) as ledger:
        ledger.set_zone("Pacific/Auckland")
    async with at.run():
        await at.press("o")
        await at.until(lambda: "saved 03:02:31" in at.said)


async def test_how_a_paint_behaves_beside_its_peers_is_shown_in_a_window(shop):
    """A key in a specimen's history; in a ledger of one maker it says that there is nothing to hold it against."""
    at = shop()
    async with at.run():
        await at.press("enter")
        await at.until(lambda: at.on_page == "History")
        await at.settle()
        await at.press("w")
        await at.until(lambda: at.on_page == "Words")
        shown = " ".join(at.picture.split())
        assert "Beside peers: OV" in shown
        assert "Nothing of this paint that tells how it behaves was graded yet" in shown
        assert "for you alone" in shown
        await at.press("escape")
        await at.until(lambda: at.on_page == "History")
