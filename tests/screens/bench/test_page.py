"""Stories of the bench: hands wet, eyes on the paper."""

import threading
from dataclasses import replace
from datetime import timedelta

import pytest
from textual import events

from qcledger.bench.cautions import SheetCautions
from qcledger.bench.runsheet import Walk
from qcledger.bench.unfiled import filed
from qcledger.errors import LedgerUnavailable, NotConfirmed
from qcledger.ledger import Ledger
from qcledger.records import Photo, Session, Stage, Trial
from qcledger.screens.bench import walking
from qcledger.screens.dialogs import Ask, KeysHelp, NoteBox, Words
from qcledger.screens.shown import shown_moment
from qcledger.settings import settings_file
from qcledger.vocab import TAKEN_BACK, Censored, StageName
from tests.hostile import HOSTILE
from tests.screens.support import Other, frame, in_front, picture, settle


def standing(at):
    """Return the grades that stand on the sheet, by place, in the order of the sheet."""
    sheet = at.page.atwork.sheet
    places = sheet.places(Walk.BY_SPECIMEN)
    return {tuple(place): sheet.result(place).grade for place in places if not sheet.is_open(place)}


TEN_KEYS = ("space", "space", "enter", "1", "0", "2", "0", "1", "2", "0", "0", "0", "enter")
"""A beat for the turns, then a digit a criterion, then the next specimen."""


async def test_ten_criteria_take_thirteen_keys(bench):
    """A ten-criterion specimen with a counted reading is graded with 13 presses (at most 20 are allowed)."""
    async with bench().run() as at:
        await at.press("space")
        at.seconds += 23
        await at.press(*TEN_KEYS[1:])
        assert at.presses == 13 <= 20
        assert at.place == (1, "turns")
        await at.saved()
        found = {seen.criterion: seen for seen in at.on_disk()}
        assert len(found) == 10
        assert (found["turns"].reading, found["turns"].grade) == (23.0, 3.0)
        assert found["shine"].choice == "satin"
        assert {seen.trial for seen in found.values()} == {found["edge"].trial}


async def test_the_page_looks_as_it_should(bench):
    """At 80x24: what is judged, its ladder, what stands, cautions, the save, the keys."""
    async with bench().run() as at:
        await at.press("3")
        await at.saved()
        shown = frame(at.app)
        assert shown[0] == " Bench   viridian, all makers   session S04, wet   tester OV   specimen 1 of 3"
        assert shown[2].startswith(" OV 0001")
        assert shown[3].startswith(" Turns")
        assert shown[3].endswith("1 of 10")
        assert "  >   3  Turns as grade 3 says. (a fault from here on)" in at.picture
        assert "[Turns 3]  Spread .  Bubbles ." in at.picture
        assert "! Do not scrape a hard pan; this sheet holds cobalt and chromium(III) colours:" in at.picture
        assert "saved " in shown[-3]
        assert shown[-1].startswith(" Enter next specimen   z undo   - not testable")
        assert shown[-1].endswith("? all keys")


async def test_a_grade_moves_on_after_a_moment(bench, monkeypatch):
    """Without another key the next criterion comes by itself."""
    monkeypatch.setattr(walking, "MOMENT_S", 2.0)
    async with bench().run() as at:
        await at.press("3")
        assert at.place == (0, "turns")
        await at.until(lambda: at.place == (0, "spread"))


async def test_saved_is_shown_only_after_the_commit(bench, monkeypatch):
    """While the disk has not answered the page shows ``...``; when it says saved, a newly opened ledger has it."""
    real, let_go, entered = Ledger.append, threading.Event(), threading.Event()

    def slow(ledger, records, **kwargs):
        entered.set()
        let_go.wait(10)
        return real(ledger, records, **kwargs)

    async with bench().run() as at:
        monkeypatch.setattr(Ledger, "append", slow)
        await at.press("3")
        await at.until(entered.is_set)
        assert at.said.saved == "..."
        assert at.on_disk() == []
        let_go.set()
        await at.until(lambda: at.said.saved.startswith("saved "))
        assert [seen.grade for seen in at.on_disk()] == [3.0]


async def test_an_unconfirmed_save_is_tried_again_by_the_same_key(bench, monkeypatch):
    """The page says so, shows the place open, and the same key makes one observation, not two."""
    real = Ledger.append
    failures = [NotConfirmed("Disk full; not confirmed.")]

    def failing(ledger, records, **kwargs):
        entries = real(ledger, records, **kwargs)
        if failures:  # it did reach the disk, but nobody can know
            raise failures.pop()
        return entries

    async with bench().run() as at:
        monkeypatch.setattr(Ledger, "append", failing)
        await at.press("3")
        await at.until(lambda: "same key tries again" in at.said.saved)
        assert "Disk full" in at.said.said
        await at.press("3")
        await at.until(lambda: at.said.saved.startswith("saved "))
        assert [seen.grade for seen in at.on_disk()] == [3.0]


async def test_a_refused_save_shows_the_sheet_as_it_is_on_disk(bench, monkeypatch):
    """Nothing is shown as saved that is not there."""

    def refuse(ledger, records, **kwargs):
        raise LedgerUnavailable("The ledger was moved; reopen it.")

    async with bench().run() as at:
        monkeypatch.setattr(Ledger, "append", refuse)
        await at.press("3")
        await at.until(lambda: at.said.saved == "not saved")
        await at.until(lambda: at.place == (0, "turns") and "was moved" in at.said.said)
        assert at.on_disk() == []
        assert "[Turns .]" in at.picture


async def test_a_key_held_down_grades_once(bench):
    """The second press is taken back with the third, and said; what is said outlives the key that comes next."""
    async with bench().run() as at:
        for n in range(8):
            pressed = events.Key("1", "1")
            pressed.time = 100 + 0.03 * n
            at.app.post_message(pressed)
        await at.until(lambda: "held down" in at.said.said)
        await at.until(lambda: at.place == (0, "spread"))
        await at.saved()
        assert standing(at) == {(0, "turns"): 1.0}
        assert at.said.said == "1 is held down: it counts once, its second press was taken back"
        await at.press("2")
        assert at.said.said.startswith("1 is held down")
        await at.press("0")
        assert "held down" not in at.said.said
        await at.saved()
        assert standing(at) == {(0, "turns"): 1.0, (0, "spread"): 2.0, (0, "bubbles"): 0.0}


@pytest.mark.parametrize("gap", [0.0, 0.03, 0.2])
async def test_the_same_digit_twice_grades_twice_at_any_speed(bench, gap):
    """2112 typed as a machine types it lands as 2, 1, 1, 2, and a grade of nobody's making stands nowhere."""
    async with bench().run() as at:
        for n, digit in enumerate("2112"):
            pressed = events.Key(digit, digit)
            pressed.time = 100 + gap * n
            at.app.post_message(pressed)
        await at.until(lambda: len(standing(at)) == 4)
        await at.saved()
        assert list(standing(at).values()) == [2.0, 1.0, 1.0, 2.0]
        assert [key for _, key in standing(at)] == list(at.page.atwork.sheet.criteria)[:4]


async def test_undo_is_an_amendment(bench):
    """Taking back leaves both observations on disk, and the right digit is the third."""
    async with bench().run() as at:
        await at.press("3", "z", "2")
        await at.saved()
        first, back, second = at.on_disk()
        assert (back.supersedes, back.not_testable) == (first.id, TAKEN_BACK)
        assert (second.supersedes, second.grade) == (back.id, 2.0)
        assert at.place == (0, "turns")


async def test_back_and_another_digit_amends(bench):
    """Page Up goes back; the digit there supersedes with a reason."""
    async with bench().run() as at:
        await at.press("3", "1", "pageup", "4")
        await at.saved()
        last = at.on_disk()[-1]
        assert (last.grade, last.reason) == (4.0, "regraded at the bench")
        assert last.criterion == "turns"


async def test_a_grade_that_is_not_offered_is_told_and_not_stored(bench):
    """2 where 0, 1, 3 and 5 are offered: one line, nothing on disk, still there."""
    async with bench().run() as at:
        await at.press(*["pagedown"] * 5, "2")
        assert at.said.said == "Roughness: 'grade 2' does not fit; needed: 0, 1, 3, 5 for Roughness"
        assert at.place == (0, "rough")
        assert at.on_disk() == []


async def test_half_steps_and_not_testable(bench):
    """+ makes 3 a 3.5 where the rubric has half steps; - asks why there is none, twice gives no reason."""
    async with bench().run() as at:
        await at.press(*["pagedown"] * 3, "3", "+")
        await at.until(lambda: "> 3.5  between 3 and 4" in at.picture)
        await at.press("-", "-")
        await at.saved()
        found = {seen.criterion: seen for seen in at.on_disk()}
        assert found["evenness"].grade == 3.5
        assert found["veil"].not_testable == "no reason noted"


async def test_why_not_is_asked_from_a_short_list(bench):
    """- shows the reasons; a letter records one, a digit none and grades nothing; Esc records nothing at all."""
    async with bench().run() as at:
        await at.press("-")
        assert "Not testable: Turns, OV 0001. Why?" in at.picture
        assert "u  used up" in at.picture
        await at.press("2")
        assert "2 gives no reason, and grades nothing here; u e s i d - o, or Esc" in at.picture
        await at.press("escape")
        assert at.app.screen is at.page
        assert at.on_disk() == []
        await at.press("-", "e", "3")
        await at.saved()
        found = {seen.criterion: seen for seen in at.on_disk()}
        assert found["turns"].not_testable == "not enough paint"
        assert "spread" not in found or found["spread"].grade == 3.0


async def test_why_not_in_own_words_is_kept_while_it_is_typed(bench):
    """O opens a line; what is typed there is recorded as the reason, and a draft of it waits if one leaves."""
    async with bench().run() as at:
        await at.press("-", "o", *"fell", "escape")
        assert at.on_disk() == []
        await at.press("-", "o", *" down", "enter")
        await at.saved()
        assert [seen.not_testable for seen in at.on_disk()] == ["fell down"]


async def test_what_enter_leaves_blank_is_named_with_its_key_back(bench):
    """By specimen the tests, by test the specimens; < goes to the first of them, and a second time one place back."""
    async with bench().run() as at:
        await at.press("3", "enter")
        assert at.place == (1, "turns")
        assert at.said.said.startswith("left blank, OV 0001: Spread, Bubbles, ")
        assert at.said.said.endswith(" and 6 more; < goes back there")
        await at.press("<")
        assert at.place == (0, "spread")
        await at.press("<")
        assert at.place == (0, "turns")
        await at.press("w", "pagedown", "enter")
        assert "left blank, Turns: OV 0002, OV 0003; < goes back there" in at.said.said


async def test_a_note_to_a_grade_to_come_stays_at_its_place(bench):
    """A note typed without a grade goes with that place's grade, and not with the next one that is given."""
    async with bench().run() as at:
        await at.press("n", *"hard", "escape")
        await at.press("pagedown", "1")
        await at.saved()
        assert [(seen.criterion, seen.note) for seen in at.on_disk()] == [("spread", "")]
        await at.press("pageup", "pageup", "3")
        await at.saved()
        assert (at.on_disk()[-1].criterion, at.on_disk()[-1].note) == ("turns", "hard")


async def test_a_beat_that_reaches_the_stop_is_above_it(bench):
    """Sixty turns without a match are a censored reading and propose the worst grade."""
    async with bench().run() as at:
        await at.press("space")
        at.seconds += 61
        await at.until(lambda: "> 60 turns: proposes 5, Enter takes it" in at.picture)
        await at.press("enter")
        await at.saved()
        (seen,) = at.on_disk()
        assert (seen.reading, seen.censored, seen.grade) == (60.0, Censored.ABOVE, 5.0)


async def test_a_reading_can_be_typed(bench):
    """R asks for it, Enter gives it, Enter takes the proposal."""
    async with bench().run() as at:
        await at.press("pagedown", "r", *"4,5", "enter")
        assert "4.5 mm at 60 s: proposes 2, Enter takes it" in at.picture
        await at.press("enter")
        await at.saved()
        assert [(seen.reading, seen.grade) for seen in at.on_disk()] == [(4.5, 2.0)]
        await at.press("r", "7", "escape")
        assert len(at.on_disk()) == 1


async def test_a_reading_from_which_no_grade_follows_waits_for_its_digit(bench):
    """Enter after such a reading goes nowhere and says so; the digit is kept with the reading."""
    async with bench().run() as at:
        await at.press("pagedown", "pagedown", "r", *"12", "enter", "enter")
        assert "a digit grades what was read" in at.picture
        await at.press("2")
        await at.saved()
        assert [(seen.criterion, seen.reading, seen.grade) for seen in at.on_disk()] == [("bubbles", 12.0, 2.0)]


async def test_a_wrong_reading_stays_until_it_is_right(bench):
    """What was typed stays beside what is allowed, and no key of it grades; Esc leaves it."""
    async with bench().run() as at:
        await at.press("pagedown", "r", *"abc", "enter")
        assert "'abc' does not fit; needed: a number such as 23" in at.picture
        await at.press("-", "3", "enter")
        assert "'abc-3' does not fit" in at.picture
        await at.press(*["backspace"] * 5, *"12", "enter")
        assert "12 mm at 60 s: proposes" in at.picture
        await at.press("r", "x", "enter", "escape")
        assert at.app.screen is at.page
        assert "12 mm at 60 s: proposes" in at.picture
        assert at.on_disk() == []


async def test_several_timers_run_at_once(bench):
    """T starts one for this specimen and test; each goes on while grading goes on."""
    async with bench().run((120, 40)) as at:
        await at.press("t", "pagedown", "t")
        at.seconds += 18
        await at.until(lambda: "OV 0001 Turns 0:18" in at.picture and "OV 0001 Spread 0:18" in at.picture)
        await at.press("t")
        await at.until(lambda: "OV 0001 Spread 0:" not in at.picture)


async def test_a_note_amends_the_grade_it_belongs_to(bench):
    """N opens a place for several lines, Esc keeps it."""
    async with bench().run() as at:
        await at.press("3", "n")
        assert isinstance(at.app.screen, NoteBox)
        await at.press("s", "o", "enter", "a", "escape")
        await at.saved()
        last = at.on_disk()[-1]
        assert (last.note, last.grade) == ("so\na", 3.0)
        assert last.supersedes == at.on_disk()[0].id


async def test_the_newest_photo_is_filed_with_one_key(bench, tmp_path, monkeypatch):
    """F files the newest picture with the grade that stands, once."""
    from PIL import Image

    monkeypatch.setattr("qcledger.screens.camera.STILL_S", 0.0)
    folder = tmp_path / "camera"
    folder.mkdir()
    Image.new("RGB", (8, 8), "teal").save(folder / "one.png")
    async with bench(photo_folder=str(folder)).run() as at:
        await at.press("3", "f")
        await at.until(lambda: "one.png filed with Turns, OV 0001" in at.said.said)
        await at.press("f")
        await at.until(lambda: "no new picture" in at.said.said)
        with at.small.open() as ledger:
            (photo,) = ledger.rows(Photo)
            assert photo.observation == at.on_disk()[0].id
            assert ledger.photo_path(photo).exists()


async def test_a_filed_photo_is_taken_back_before_the_grade(bench, tmp_path, monkeypatch):
    """Z takes the photo, then the grade, and says which; without a grade f asks once more before it files."""
    from PIL import Image

    monkeypatch.setattr("qcledger.screens.camera.STILL_S", 0.0)
    folder = tmp_path / "camera"
    folder.mkdir()
    Image.new("RGB", (8, 8), "teal").save(folder / "one.png")
    async with bench(photo_folder=str(folder)).run() as at:
        await at.press("3", "f")
        await at.until(lambda: "one.png filed with Turns, OV 0001; z takes it back" in at.said.said)
        await at.press("z")
        await at.until(lambda: "photo of Turns taken back: one.png belongs to nothing" in at.said.said)
        with at.small.open() as ledger:
            (photo,) = ledger.rows(Photo)
            assert (photo.specimen, photo.observation) == (None, None)
            assert filed(ledger).hashes == frozenset()
        await at.press("z")
        await at.until(lambda: "Turns, OV 0001, 3 taken back; the right digit grades it anew" in at.said.said)
        await at.press("f")
        await at.until(lambda: "no grade for Turns, OV 0001" in at.said.said)
        await at.press("f")
        await at.until(lambda: "filed with Turns, OV 0001, without a grade" in at.said.said)
        with at.small.open() as ledger:
            (photo,) = ledger.rows(Photo)
            assert (photo.specimen, photo.observation) == ("sp00", None)


async def test_a_photo_is_filed_with_what_stands_once_it_was_looked_at(bench, tmp_path, monkeypatch):
    """A grade amended meanwhile has the photo; z right behind f takes back the photo, however late it comes."""
    from PIL import Image

    looked = threading.Event()
    monkeypatch.setattr("qcledger.screens.camera.STILL_S", 0.0)
    monkeypatch.setattr("qcledger.screens.camera.is_still", lambda _: looked.wait(60))
    folder = tmp_path / "camera"
    folder.mkdir()
    Image.new("RGB", (8, 8), "teal").save(folder / "one.png")
    async with bench(photo_folder=str(folder)).run() as at:
        await at.press("3", "f", "z")
        looked.set()
        await at.until(lambda: "photo of Turns taken back: one.png belongs to nothing now" in at.said.said)
        assert [one.grade for one in at.on_disk()] == [3]
        with at.small.open() as ledger:
            assert [one.observation for one in ledger.rows(Photo)] == [None]
        looked.clear()
        await at.press("left", "1", "f", "left", "4")
        await at.saved()
        looked.set()
        await at.until(lambda: "one.png filed with Turns, OV 0001" in at.said.said)
        with at.small.open() as ledger:
            (photo,) = ledger.rows(Photo)
        assert photo.observation == at.on_disk()[-1].id


async def test_without_a_photo_folder_the_key_says_what_to_set(bench, tmp_path, monkeypatch):
    """The line names the file and what to write into it; once that is done the same key files, without a restart."""
    from PIL import Image

    monkeypatch.setattr("qcledger.screens.camera.STILL_S", 0.0)
    async with bench().run() as at:
        await at.press("3", "f")
        await at.until(lambda: f"{settings_file()}: photo_folder = " in at.said.said)
        folder = tmp_path / "camera"
        folder.mkdir()
        Image.new("RGB", (8, 8), "teal").save(folder / "one.png")
        settings_file().parent.mkdir(parents=True, exist_ok=True)
        settings_file().write_text(f"photo_folder = '{folder}'\n", encoding="utf-8")
        await at.press("f")
        await at.until(lambda: "one.png filed with Turns" in at.said.said)


async def test_a_wrong_photo_folder_is_mended_without_a_restart(bench, tmp_path, monkeypatch):
    """The folder is the one that the settings name when the key is pressed, not the one they named before."""
    from PIL import Image

    monkeypatch.setattr("qcledger.screens.camera.STILL_S", 0.0)
    settings_file().parent.mkdir(parents=True, exist_ok=True)
    settings_file().write_text('photo_folder = "/nope/none"\n', encoding="utf-8")
    async with bench(photo_folder="/nope/none").run() as at:
        await at.press("3", "f")
        await at.until(lambda: "/nope/none" in at.said.said)
        for name in ("one", "two"):
            folder = tmp_path / name
            folder.mkdir()
            Image.new("RGB", (8, 8), "teal" if name == "one" else "navy").save(folder / f"{name}.png")
            settings_file().write_text(f"photo_folder = '{folder}'\n", encoding="utf-8")
            await at.press("f")
            await at.until(lambda name=name: f"{name}.png filed with Turns" in at.said.said)


async def test_by_test_and_through_the_stages(bench):
    """W walks by test; s goes to the dry stage, whose first grade begins it."""
    async with bench().run() as at:
        await at.press("w", "3", "2")
        assert at.place == (1, "turns")
        await at.press("s")
        await at.until(lambda: at.page.atwork.sheet.stage == "dry")
        await at.press("1")
        await at.saved()
        with at.small.open() as ledger:
            stages = {stage.name: stage.started_at is not None for stage in ledger.rows(Stage)}
            assert stages == {StageName.WET: True, StageName.DRY: True}
            assert len(ledger.rows(Trial)) == 2


async def test_a_stage_that_is_not_due_says_when_it_is(bench):
    """S before the hour is answered with the hour; once it is past, with nothing."""
    async with bench().run() as at:
        with at.small.open() as ledger:
            dry = next(stage for stage in ledger.rows(Stage) if stage.name == StageName.DRY)
        later = replace(dry, due_at=at.desk.now() + timedelta(hours=2))
        await at.desk.save(lambda ledger: ledger.append([later], reason="later"))
        await at.press("s")
        await at.until(lambda: at.page.atwork.sheet.stage == "dry")
        due = shown_moment(at.desk.now() + timedelta(hours=2), at.desk.settings)
        await at.until(lambda: f"early: the stage dry is due at {due}" in at.said.said)


async def test_a_refusal_stands_until_the_next_key(bench, monkeypatch):
    """A digit that is refused after the last criterion is not hidden by what comes after the moment."""
    monkeypatch.setattr(walking, "MOMENT_S", 0.5)
    async with bench().run() as at:
        await at.press(*["pagedown"] * (len(at.page.atwork.sheet.criteria) - 1), "3", "4")
        await at.until(lambda: at.said.has_class("-problem"))
        said = at.said.said
        await at.pilot.pause(1.2)
        assert at.said.said == said
        await at.press("enter")
        await at.until(lambda: at.said.said != said)


async def test_instructions_and_cautions_use_the_lines_there_are(bench):
    """At 80x24 a long instruction is whole; at 120x40 so is every rule, before anything was graded."""
    how = " ".join(["Wet the strip and wait until the last bubble on it is"] * 3 + ["gone at last."])
    for size in ((80, 24), (120, 40)):
        async with bench().run(size) as at:
            sheet = at.page.atwork.sheet
            here = at.page.atwork.here.criterion
            longer = {**sheet.criteria, here: replace(sheet.criteria[here], how=how)}
            rules = tuple(f"Rule {n}: keep this away from everything that is warm." for n in range(12))
            at.page.atwork.sheet = replace(sheet, criteria=longer, to_mind=SheetCautions(rules))
            at.page.show()
            await at.pilot.pause()
            await at.until(lambda: "gone at last." in at.picture)
            assert ("(! reads on)" in at.picture) == (size[1] == 24)
            if size[1] == 40:
                assert "Rule 11" in at.picture
                assert "…" not in at.picture


async def test_the_rules_are_shown_once_and_one_line_stays(bench):
    """Before the first grade the rules stand there; then one line, with every family of the sheet named, and !."""
    async with bench().run((120, 40)) as at:
        assert "Never sand dry paint." in at.picture
        await at.press("3")
        await at.saved()
        assert "Never sand dry paint." not in at.picture
        assert "cobalt and chromium(III) colours" in at.picture
        assert "reads the rules" in at.picture
        await at.press("!")
        assert "Never sand dry paint." in at.picture
        assert "may bring on asthma" in at.picture


async def test_a_stage_without_anything_to_judge_is_said(bench):
    """The key that goes on is named."""
    async with bench().run() as at:
        await at.press("s")
        await at.until(lambda: at.page.atwork.sheet.stage == "dry")
        await at.press("s")
        await at.until(lambda: "nothing to judge" in at.said.said)
        await at.press("3", "enter", "z", "space", "n", "f", "t", "r", "pageup", "+", "-", "w")
        assert at.on_disk() == []


async def test_a_digit_without_a_sheet_says_that_it_does_nothing(bench):
    """Esc shows the list of sheets; 2 opens nothing there, and Enter opens the sheet again where it was left."""
    async with bench().run() as at:
        await at.press("3")
        await at.press("escape")
        await at.until(lambda: at.page.atwork is None and "S04" in at.picture)
        assert "1 of 30" in at.picture
        await at.pilot.press("?")
        await at.until(lambda: isinstance(at.app.screen, KeysHelp))
        await at.pilot.press("escape")
        await settle(at.pilot)
        assert at.page.atwork is None, "help read at the list opens no sheet whose digits would grade"
        await at.pilot.press("2")
        assert at.said.said == "2 does nothing here; ? lists the keys, , opens pages"
        assert at.on_disk()[-1].criterion == "turns"
        await at.pilot.press("comma", "s")
        await at.until(lambda: in_front(at.app, Other))
        at.app.switch_mode("bench")
        await at.until(lambda: at.page.atwork is not None)
        assert at.place == (0, "spread")


async def test_closing_a_session_asks_first(bench):
    """Esc keeps it open, Enter closes it, and it leaves the list."""
    async with bench().run() as at:
        await at.press("c")
        await at.until(lambda: "Checks" in at.picture)
        await at.press("c")
        assert isinstance(at.app.screen, Ask)
        await at.press("escape", "c", "enter")
        await at.until(lambda: "closed 2026" in at.picture)
        await at.press("escape")
        await at.until(lambda: "No sheet is at work" in at.picture)
        with at.small.open() as ledger:
            assert ledger.rows(Session)[0].closed_at is not None


async def test_cautions_and_help_can_be_read_in_full(bench):
    """! shows every caution, ? every key of the bench."""
    async with bench().run((100, 50)) as at:
        await at.press("!")
        assert isinstance(at.app.screen, Words)
        assert "Never sand dry paint." in picture(at.app)
        await at.press("3")
        assert "3 does nothing here; Esc closes" in "\n".join(
            str(one.render()) for one in at.app.screen.query(".wrong")
        )
        await at.press("escape", "?")
        assert isinstance(at.app.screen, KeysHelp)
        assert "Record that it could not be tested." in picture(at.app)
        assert "bench.not_testable" not in picture(at.app)
        await at.press("n", *["pagedown"] * 2)
        assert "bench.not_testable" in "\n".join(str(one.render()) for one in at.app.screen.query(".name"))
        assert at.app.screen.query(".name").first().display
        await at.press("escape")


@pytest.mark.parametrize("size", [(120, 40), (60, 20), (20, 5), (10, 3), (1, 1)], ids=str)
async def test_no_size_stops_the_work(bench, size):
    """Grading goes on at any size; at 60x20 and 20x5 the criterion, its mark and the save are seen."""
    async with bench().run(size) as at:
        await at.press("3")
        await at.saved()
        await at.pilot.pause()
        await at.until(lambda: len(at.on_disk()) == 1)
        if size[0] >= 20:
            assert "Turns 3" in at.picture or "! 3 Turns" in at.picture
            assert "saved " in at.picture
            assert "? all keys" in frame(at.app)[-1]


async def test_codes_stand_for_specimens(bench):
    """A blind sheet shows no sticker, paint or maker."""
    async with bench(blind=True).run() as at:
        await at.until(lambda: "4 7 1" in at.picture)
        assert "OV 00" not in at.picture
        assert "Trellmere" not in at.picture


async def test_hostile_texts_are_shown_as_text(bench):
    """Titles, anchors, notes, codes and cautions may hold anything: each of 78 is shown plainly and runs nothing."""
    async with bench().run((120, 40)) as at:
        sheet = at.page.atwork.sheet
        for text in HOSTILE:
            criteria = {
                key: replace(criterion, title=text, how=text, anchors=dict.fromkeys(criterion.anchors, text))
                for key, criterion in sheet.criteria.items()
            }
            session = replace(sheet.session, code=text, tester=text)
            at.page.atwork.sheet = replace(
                sheet, comparison=text, session=session, to_mind=SheetCautions((text,)), criteria=criteria
            )
            at.page.atwork.note = text
            at.page.show()
            at.page.action_timer()
            at.page.say(text)
            await at.pilot.pause()
            shown = at.picture
            assert not [char for char in shown if (ord(char) < 32 and char != "\n") or 0x7F <= ord(char) < 0xA0]
            if text in ("[@click=app.quit]x", "x[/]", "100% [tube]", "[bold]x"):
                assert shown.count(text) >= 10
        for y in range(0, 40, 3):
            await at.pilot.click(offset=(3, y))
        assert at.app.is_running
        at.page.atwork.sheet = sheet
