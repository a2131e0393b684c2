"""Unpacking as a table: keys a piece takes, what is said of blanks and seals, and that a letter is a letter."""

from dataclasses import replace

import pytest

from qcledger.bench import faults, unpacking
from qcledger.errors import LedgerUnavailable
from qcledger.ledger import Ledger
from qcledger.records import Observation, Photo, Specimen
from qcledger.rubric import strict_yaml
from qcledger.screens.stock.unpack import Unpacking
from qcledger.vocab import TAKEN_BACK, Format, SpecimenState
from tests.screens.stock.support import NOW


def standing(at, specimen):
    with at.ledger() as ledger:
        return {place.criterion: seen for place, seen in faults.load(ledger, specimen).seen.items()}


async def unpack(at, specimen="sp00"):
    at.app.push_screen(Unpacking(at.desk, specimen))
    await at.until(lambda: at.on_page == "Unpacking" and at.page.atwork is not None)
    await at.settle()
    at.presses = 0


def change(at, specimen, **fields):
    with Ledger.open(at.place, write=True) as ledger:
        ledger.append([replace(ledger.get(Specimen, specimen), **fields)], reason="put right")


async def test_a_parcel_of_sound_pieces_takes_two_keys_a_piece(shop):
    """Space grades the rest, Enter goes on; what has no batch code takes a digit for that, and is told."""
    at = shop()
    change(at, "sp01", format=Format.TUBE, lot=None)
    async with at.run():
        await unpack(at)
        await at.press("space", "enter", "space")
        await at.until(lambda: "sound: 13 criteria; look at Batch code" in " ".join(at.said.split()))
        assert "No batch code was entered for this piece" in at.picture
        assert "batch_code" not in standing(at, "sp01")
        await at.press("0", "enter", "space", "enter")
        await at.settle()
        assert at.presses == 7 <= 3 * 4
        await at.until(lambda: "everything of this parcel is graded" in at.said)
        pan, tube = standing(at, "sp00"), standing(at, "sp01")
        assert {key: seen.grade for key, seen in pan.items() if seen.choice is None} == {
            **dict.fromkeys(("cracked", "wrapper_adhesion", "loose_in_pan", "loose_in_box", "soft_face", "mould"), 0),
            **dict.fromkeys(("name_mismatch", "batch_code", "hazard_information", "print_rub_off"), 0),
            "pigment_information": 1,  # as its label says: index names alone
        }
        assert (tube["consistency"].choice, tube["smell"].choice) == ("firm", "none")
        assert tube["short_measure"].not_testable == "not emptied"
        with at.ledger() as ledger:
            assert {row.state for row in ledger.rows(Specimen)} == {SpecimenState.OPENED}
            assert ledger.verify() == []


async def test_a_fault_with_its_photo_takes_three_keys_beside_a_sound_piece(shop):
    """Letter, digit, photo; then the rest and the next piece: five keys, and the photo is the fault's."""
    at = shop()
    async with at.run():
        at.shoot()
        await unpack(at)
        await at.press("w", "3")
        await at.until(lambda: "Wrapper stuck to the paint 3; f and n go with it" in at.said)
        await at.press("f")
        await at.until(lambda: "shot.png filed with Wrapper stuck to the paint, OV 0001" in " ".join(at.said.split()))
        await at.press("space", "enter")
        await at.settle()
        assert at.presses == 5
        seen = standing(at, "sp00")
        assert (len(seen), seen["wrapper_adhesion"].grade) == (12, 3)
        with at.ledger() as ledger:
            (photo,) = ledger.rows(Photo)
            assert photo.observation == seen["wrapper_adhesion"].id
        assert at.page.atwork.here.line == 1


async def test_z_takes_the_rest_back_at_once(shop):
    """What one key has given one key takes back, and the piece is unopened again."""
    at = shop()
    async with at.run():
        await unpack(at)
        await at.press("w", "3", "space")
        await at.until(lambda: "the rest of OV 0001 is sound: 11 criteria" in at.said)
        await at.settle()
        await at.press("z")
        await at.until(lambda: "11 results of OV 0001 taken back" in at.said)
        await at.settle()
        now = standing(at, "sp00")
        assert now.pop("wrapper_adhesion").grade == 3
        assert {seen.not_testable for seen in now.values()} == {TAKEN_BACK}
        await at.press("z")
        await at.until(lambda: "OV 0001 is unopened again" in at.said)
        with at.ledger() as ledger:
            assert ledger.get(Specimen, "sp00").state is SpecimenState.UNOPENED


async def test_digits_grade_what_is_shown_and_go_on(shop):
    """2112 at machine speed where 0 to 5 are offered: four criteria in their order, none shifted."""
    at = shop()
    async with at.run():
        await unpack(at)
        shown = []
        for digit in "0110":
            shown.append(at.page.atwork.ahead.criterion)
            await at.pilot.press(digit)
        await at.settle()
        assert [standing(at, "sp00")[key].grade for key in shown] == [0, 1, 1, 0]


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (60, 20)], ids=str)
async def test_the_table_shows_every_letter_and_the_criterion_at_work(shop, size):
    """Letters above, pieces below, the marked criterion with its anchors, whatever the window."""
    at = shop(lines=4)
    change(at, "sp01", format=Format.TUBE, lot=None)
    async with at.run(size):
        await unpack(at)
        await at.press("m")
        await at.settle()
        shown = at.picture
        letters = next(line for line in shown.splitlines() if " c " in f"{line} " and " w " in line and ">m" in line)
        for key in "cwlxdsomktayeupibhg":
            assert key in letters
        for text in ("OV 0001", "OV 0002", "m Mould", "0  None seen", "5  Spread over"):
            assert text in shown
        assert all(len(line) <= size[0] for line in shown.splitlines())


async def test_leaving_blanks_is_said_and_the_key_back_leads_there(shop):
    """Enter names what it leaves blank on a piece; < goes back to the first of it."""
    at = shop()
    async with at.run((100, 30)):
        await unpack(at)
        await at.press("0", "enter")
        await at.until(lambda: "left blank, OV 0001: Wrapper stuck to the paint" in at.said)
        assert "8 more; < goes back there" in at.said
        assert at.page.atwork.here.line == 1
        await at.press("<")
        assert (at.page.atwork.here.line, at.page.atwork.here.criterion) == (0, "wrapper_adhesion")


@pytest.mark.parametrize("letter", ["d", "q"])
async def test_a_digit_behind_a_letter_that_leads_nowhere_grades_nothing(shop, letter):
    """It was meant for another criterion than the one in front; pressed again it grades that one, which is named."""
    at = shop()
    change(at, "sp01", format=Format.TUBE, lot=None)
    async with at.run():
        await unpack(at)
        title = at.page.atwork.sheet.criteria[at.page.atwork.ahead.criterion].title
        await at.press(letter, "3")
        assert f"{letter} leads nowhere here, so 3 graded nothing; 3 again grades {title}" in " ".join(
            at.said.split()
        )
        assert not at.page.atwork.sheet.seen
        await at.press("3")
        await at.until(lambda: len(at.page.atwork.sheet.seen) == 1)
        await at.press(letter, "right", "3")
        await at.until(lambda: len(at.page.atwork.sheet.seen) == 2)


async def test_a_letter_that_does_not_fit_the_piece_says_so(shop):
    """It goes nowhere: neither to another criterion nor to a piece of another format."""
    at = shop()
    change(at, "sp01", format=Format.TUBE, lot=None)
    async with at.run():
        await unpack(at)
        before = at.page.atwork.ahead
        await at.press("d")
        assert "Dried tube is not asked of a half pan" in at.said
        await at.press("q")
        assert "no criterion of this parcel has the letter q" in " ".join(at.said.split())
        assert at.page.atwork.ahead == before
        await at.press("down", "d")
        assert at.page.atwork.ahead.criterion == "stiff_tube"


async def test_a_sealed_reserve_takes_no_grade_of_what_is_inside(shop):
    """A digit is refused with the way out; space grades what can be seen from outside."""
    at = shop()
    with Ledger.open(at.place, write=True) as ledger:
        unpacking.set_state(ledger, "sp00", SpecimenState.RESERVE, NOW.date(), "kept")
    async with at.run((100, 30)):
        await unpack(at)
        await at.press("c", "3")
        assert "inside a sealed reserve" in at.said
        await at.press("space")
        await at.settle()
        with at.ledger() as ledger:
            assert ledger.get(Specimen, "sp00").state is SpecimenState.RESERVE
            sheet = faults.load(ledger, "sp00")
            assert {place.criterion for place in sheet.seen} == {
                key for key, one in sheet.criteria.items() if one.unopened
            }


async def test_what_was_done_elsewhere_is_told_before_z_takes_it_back(shop):
    """The first z says so and takes nothing; another key forgets it; the second z in a row does it."""
    at = shop()
    async with at.run():
        await at.press("u")
        await at.until(lambda: "is used up; z takes it back" in at.said)
        await unpack(at)
        await at.press("z")
        assert "z once more takes back what was done last on Stock" in " ".join(at.said.split())
        await at.press("right", "z")
        assert "z once more" in " ".join(at.said.split())
        with at.ledger() as ledger:
            assert ledger.rows(Specimen, state=SpecimenState.USED_UP)
        await at.press("z")
        await at.until(lambda: "is unopened again" in at.said)
        with at.ledger() as ledger:
            assert not ledger.rows(Specimen, state=SpecimenState.USED_UP)


async def test_no_key_reads_a_scale_file(shop, monkeypatch):
    """Once the page is open, digits, letters, the rest, Enter and z parse nothing."""
    at = shop()
    async with at.run():
        await unpack(at)
        read = []
        monkeypatch.setattr(strict_yaml, "read", lambda *_: read.append(1))
        monkeypatch.setattr("qcledger.rubric.build.read", lambda *_: read.append(1))
        await at.press("w", "3", "space", "enter", "0", "z", "down", "m", "0")
        await at.settle()
        assert standing(at, "sp00")["wrapper_adhesion"].grade == 3
        assert read == []


async def test_a_rubric_s_excuse_is_one_key(shop):
    """Behind - stand the criterion's own excuses, each with a letter; the reasons that need a sheet are left out."""
    at = shop()
    async with at.run():
        await unpack(at)
        await at.press("w", "-")
        await at.until(lambda: at.on_page == "Reasons")
        assert "a  no wrapper" in at.picture
        assert "place on the sheet" not in at.picture
        await at.press("a")
        await at.settle()
        assert standing(at, "sp00")["wrapper_adhesion"].not_testable == "no wrapper"


async def test_cautions_of_unpacking_are_read_in_full(shop):
    """The rules stand on a fresh page, and ! reads every one."""
    at = shop()
    async with at.run():
        await unpack(at)
        await at.press("!")
        await at.until(lambda: at.on_page == "Words")
        assert any("local law win" in words for words in at.page._words)
        assert any(words.startswith("Mould: Keep it in the bag") for words in at.page._words)


async def test_a_save_that_fails_takes_the_whole_rest_off_the_table(shop, monkeypatch):
    """Nothing of what one key gave stands when it was not saved, and that is said."""
    at = shop()
    async with at.run():
        await unpack(at)
        with monkeypatch.context() as patch:

            def refuse(*_, **__):
                raise LedgerUnavailable("The ledger was moved; reopen it.")

            patch.setattr(Ledger, "append", refuse)
            await at.press("space")
            await at.until(lambda: "was moved" in at.said)
            await at.settle()
        assert at.page.atwork.sheet.seen == {}
        with at.ledger() as ledger:
            assert ledger.rows(Observation) == []
