"""Amending from where an observation is seen: Record, a closer look, a specimen's history, Why, the sheet."""

from dataclasses import replace

import pytest

from qcledger.exchange import merge_folder, to_folder
from qcledger.ledger import Ledger
from qcledger.records import Observation, Photo, Session
from qcledger.screens.findings.why import Why
from qcledger.screens.record.amend import Amend
from qcledger.screens.record.behind import Behind
from qcledger.screens.record.look import Look
from qcledger.screens.record.page import RecordPage
from qcledger.screens.widgets.rows import Rows
from qcledger.vocab import TAKEN_BACK
from tests.screens.findings.conftest import _answered, answers  # noqa: F401 - answers of the model for Why
from tests.screens.findings.support import findings, shelf_ledger
from tests.screens.record.test_page import record
from tests.screens.stock.support import Shop
from tests.small import START, graded, small_ledger

MOST_KEYS = 6
"""Keys from the row under the cursor to an amendment that is saved."""


@pytest.fixture
def small(home, tmp_path):
    """Return a ledger whose session was closed days after its grades."""
    made = graded(small_ledger(tmp_path))
    with made.open(write=True) as ledger:
        ledger.append([replace(ledger.get(Session, "se"), closed_at=START.replace(day=16))])
    return made


def edges(place):
    with Ledger.open(place) as ledger:
        return sorted(ledger.rows(Observation, criterion="edge"), key=lambda seen: (seen.at, seen.id))


async def test_a_grade_of_a_closed_session_takes_three_keys_in_record(small):
    """Then, now and the counts are in sight before and after the save, and Esc goes back to the row."""
    async with record(small) as at:
        await at.pilot.press("down")
        keys = ["a", "1", "m"]
        for key in keys[:-1]:
            await at.pilot.press(key)
        await at.sees(
            "then 4", "now 1", "Trellmere, half pan, edge: 3 of 3 before, 2 of 3 after", "m misread the scale"
        )
        await at.pilot.press(keys[-1])
        await at.sees("then 4", "now 1", "saved, because: misread the scale", "3 of 3 before, 2 of 3 after")
        assert len(keys) <= MOST_KEYS
        await at.pilot.press("escape")
        await at.until(lambda: isinstance(at.app.screen, RecordPage))
        await at.sees("9 observations")
    assert (edges(small.place)[-1].grade, edges(small.place)[-1].reason) == (1.0, "misread the scale")


@pytest.mark.parametrize("only", [0, 1])
async def test_the_mark_stays_on_what_was_amended(small, only):
    """The amendment is a new line on top; the mark is still on that observation, or on what stands in its place."""
    async with record(small) as at:
        for _ in range(only):  # everything, or what stands
            await at.pilot.press("o")
        await at.sees("standing" if only else "observations")
        await at.until(lambda: at.app.screen.query_one(Rows).row is not None)
        await at.pilot.press("down")
        await at.until(lambda: at.app.screen.query_one(Rows).row is not None)
        marked = at.app.screen.query_one(Rows).row.id
        await at.pilot.press("a", "1", "m")
        await at.sees("saved, because: misread the scale")
        await at.pilot.press("escape")
        await at.until(lambda: isinstance(at.app.screen, RecordPage))
        with Ledger.open(small.place) as ledger:
            (stands,) = [seen.id for seen in ledger.rows(Observation) if seen.supersedes == marked]
        wanted = stands if only else marked

        def is_marked():
            row = at.app.screen.query_one(Rows).row
            return row is not None and row.id == wanted

        await at.until(is_marked)


async def test_from_why_a_grade_takes_at_most_six_keys(home, tmp_path):
    """O lists exactly the observations behind the cell, faulty ones first; a there amends the marked one."""
    place = shelf_ledger(tmp_path)
    async with findings(place) as at:
        await at.to("Corvannet", "enter")
        await at.until(lambda: isinstance(at.app.screen, Why))
        await at.sees("no photos")
        await at.pilot.press("o")
        await at.until(lambda: isinstance(at.app.screen, Behind))
        await at.until(lambda: at.app.screen.query_one(Rows).row is not None)
        await at.sees("8 observations", "OV 2")
        marked = at.app.screen.query_one(Rows).row.id
        keys = ["a", "0", "l"]
        for key in keys:
            await at.pilot.press(key)
        await at.sees("saved, because: looked again", "Corvannet, half pan, evenness: 8 of 8 before, 7 of 8 after")
        assert len(keys) <= MOST_KEYS
        await at.pilot.press("escape")
        await at.until(lambda: isinstance(at.app.screen, Behind))
        await at.sees("8 observations", "amendment")
    with Ledger.open(place) as ledger:
        (made,) = ledger.rows(Observation, supersedes=marked)
    assert (made.grade, made.reason) == (0.0, "looked again at the sheet")


async def test_not_testable_asks_why_from_a_short_list(small):
    """- shows the list, a letter chooses there, a digit nothing; one's own reason is a draft until it is saved."""
    async with record(small) as at:
        await at.pilot.press("down", "a", "-")
        await at.sees("u used up")
        await at.pilot.press("2", "e")
        await at.sees("now not testable: not enough paint")
        await at.pilot.press("o", *"pan was", "escape")
        await at.until(lambda: isinstance(at.app.screen, Amend))
        await at.pilot.press("o", *" empty", "enter")
        await at.sees("saved, because: pan was empty")
    assert (edges(small.place)[-1].not_testable, edges(small.place)[-1].reason) == (
        "not enough paint", "pan was empty",
    )  # fmt: skip


async def test_note_half_step_and_taking_back(small):
    """A note and a result are one amendment; z restores what stood, and says what that is."""
    async with record(small) as at:
        await at.pilot.press("down", "a", "n", *"seen twice", "escape")
        await at.sees("now 4, note: seen twice")
        await at.pilot.press("2", "k")
        await at.sees("saved, because: pressed the wrong key", "now 2, note: seen twice")
        await at.pilot.press("x", "w")
        await at.sees("now nothing stands", "wrong specimen or place")
        await at.pilot.press("z")
        await at.sees("2, note: seen twice stands again, no longer")
        await at.pilot.press("z")
        await at.sees("4 stands again, no longer 2")
        await at.pilot.press("z")
        await at.sees("nothing is left to take back in this window")
    made = edges(small.place)
    assert [seen.grade for seen in made[-4:]] == [2.0, None, 2.0, 4.0]
    assert made[-3].not_testable == TAKEN_BACK


async def test_what_is_not_offered_and_nothing_changed_save_nothing(small):
    """A refused digit changes nothing, a reason before a result is asked back, Esc leaves what was not saved."""
    async with record(small) as at:
        await at.pilot.press("down", "a", "9")
        await at.sees("grade 9")
        await at.pilot.press("m")
        await at.sees("nothing to save yet")
        await at.pilot.press("4")
        await at.sees("that stands already")
        await at.pilot.press("r")
        await at.sees("takes no reading")
        await at.pilot.press("1", "escape")
        await at.sees("nothing was saved")
        await at.pilot.press("escape")
        await at.until(lambda: isinstance(at.app.screen, RecordPage))
    assert len(edges(small.place)) == 4


async def test_an_older_one_leads_to_what_stands(small):
    """From a closer look at the first grade what stands now is amended, and it is said so."""
    first = edges(small.place)[0]
    async with record(small) as at:
        at.app.push_screen(Look(at.app.desk, first.id))
        await at.until(lambda: isinstance(at.app.screen, Look))
        await at.sees("a amend")
        await at.pilot.press("a")
        await at.sees("it was amended before: what stands now is shown", "then 4")
        await at.pilot.press("0", "m")
        await at.sees("saved, because")
        await at.pilot.press("escape")
        await at.until(lambda: isinstance(at.app.screen, Look))
        await at.sees("Amended: 3 at", "then 4 at", "then 0 at")


async def test_another_testers_observation_is_refused(small, tmp_path):
    """One line says whose it is, and no key changes anything."""
    with small.open() as ledger:
        to_folder(ledger, tmp_path / "folder")
    guest = tmp_path / "guest.sqlite"
    with Ledger.create(guest, letters="TL", tester="Tilo", zone="Etc/UTC") as ledger:
        merge_folder(ledger, tmp_path / "folder")
    async with record(replace(small, place=guest)) as at:
        await at.pilot.press("down", "a", "1", "m")
        await at.sees("an observation of OV", "only its tester")
    assert len(edges(guest)) == 4


async def test_a_photo_is_filed_with_what_stands(small, monkeypatch):
    """The newest picture of the photo folder, at once; z lets it belong to nothing again."""
    monkeypatch.setattr("qcledger.screens.camera.STILL_S", 0.0)
    at = Shop(small.place)
    async with at.run():
        await at.app.push_screen(Amend(at.desk, edges(small.place)[-1].id))
        await at.settle()
        at.shoot("one.png")
        await at.press("f")
        await at.until(lambda: "one.png filed with Edge, OV 0001" in at.said)
        with at.ledger() as ledger:
            (photo,) = ledger.rows(Photo)
            assert (photo.observation, photo.specimen) == (edges(small.place)[-1].id, "sp00")
        await at.press("z")
        await at.until(lambda: "belongs to nothing now" in at.said)


async def test_from_the_history_of_a_specimen(small):
    """A there amends the marked observation, and the history shows then and now."""
    at = Shop(small.place)
    async with at.run():
        await at.press("end", "enter")
        await at.until(lambda: at.on_page == "History")
        await at.settle()
        assert "OV 0001" in at.picture
        await at.press("a", "2", "l")
        await at.until(lambda: "saved, because" in at.picture)
        await at.press("escape", "h")
        await at.until(lambda: "grade 2" in at.picture and "grade 4" in at.picture)


async def test_while_blind_only_codes_are_shown(home, tmp_path):
    """The page names code and criterion, and no specimen, maker or cell."""
    small = graded(small_ledger(tmp_path, blind=True))
    async with record(small) as at:
        await at.pilot.press("down", "a", "1")
        await at.sees("471", "then 4", "now 1", "its cell is not shown while the sheet is blind")
        for text in ("OV 0001", "Trellmere", "Viridian", "half pan"):
            assert text not in at.picture
        await at.pilot.press("m")
        await at.sees("saved, because")
        assert "OV 0001" not in at.picture


@pytest.mark.parametrize("size", [(40, 10), (200, 60)], ids=str)
async def test_it_fits_small_and_large_windows(small, size):
    """Then and now stay in sight whatever the size."""
    async with record(small, size) as at:
        await at.pilot.press("down", "a", "1")
        await at.sees("then 4", "now 1")
