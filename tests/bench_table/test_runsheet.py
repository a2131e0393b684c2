"""The run sheet and its two walks."""

from datetime import UTC, datetime
from itertools import count

from qcledger.bench import sheets
from qcledger.bench.record import write, write_back
from qcledger.bench.result import Pencil, Result
from qcledger.bench.runsheet import SheetSquare, Walk, first_open, follow, next_group, progress, step
from qcledger.records import Observation, Stage, Trial
from qcledger.vocab import StageName
from tests.small import small_ledger

IDS = (f"new-{n}" for n in count())


def pencil():
    return Pencil(id=next(IDS), tester="OV", at=datetime(2026, 3, 9, 10, 0, tzinfo=UTC))


def sheet_of(small, stage=None):
    with small.open() as ledger:
        return sheets.load(ledger, "se", stage)


def graded(sheet, place, **result):
    return write(sheet, place, Result(**result), pencil=pencil(), new_id=lambda: next(IDS))


def test_by_specimen_goes_through_the_tests_of_one_specimen(small):
    """Ten criteria of the wet stage, then the next specimen's ten."""
    places = sheet_of(small).places(Walk.BY_SPECIMEN)
    assert len(places) == 30
    assert [place.criterion for place in places[:10]] == [place.criterion for place in places[10:20]]
    assert {place.line for place in places[:10]} == {0}


def test_by_test_goes_through_the_specimens_of_one_test(small):
    """One criterion over all specimens, then the next criterion."""
    places = sheet_of(small).places(Walk.BY_TEST)
    assert [(place.line, place.criterion) for place in places[:4]] == [
        (0, "turns"), (1, "turns"), (2, "turns"), (0, "spread"),
    ]  # fmt: skip


def test_a_grade_leads_to_the_next_test_and_stops_at_the_end_of_the_specimen(small):
    """The specimen is changed by hand, so the walk waits there."""
    sheet = sheet_of(small)
    assert follow(sheet, Walk.BY_SPECIMEN, SheetSquare(0, "turns")) == SheetSquare(0, "spread")
    assert follow(sheet, Walk.BY_SPECIMEN, SheetSquare(0, "smell")) is None
    assert follow(sheet, Walk.BY_TEST, SheetSquare(0, "turns")) == SheetSquare(1, "turns")
    assert follow(sheet, Walk.BY_TEST, SheetSquare(2, "turns")) is None


def test_the_next_specimen_is_one_that_has_something_open(small):
    """What is done is passed over, what was left out is found again after the end of the sheet."""
    sheet = sheet_of(small)
    assert next_group(sheet, Walk.BY_SPECIMEN, SheetSquare(0, "turns")) == SheetSquare(1, "turns")
    for key in sheet.criteria:
        result = {"choice": "matt"} if key == "shine" else {"grade": 0.0}
        sheet = graded(sheet, SheetSquare(1, key), **result).on(sheet)
    assert next_group(sheet, Walk.BY_SPECIMEN, SheetSquare(0, "turns")) == SheetSquare(2, "turns")
    assert next_group(sheet, Walk.BY_SPECIMEN, SheetSquare(2, "turns")) == SheetSquare(0, "turns")
    assert progress(sheet) == (10, 30)


def test_steps_stop_at_both_ends(small):
    """Back from the first place and on from the last lead nowhere else."""
    sheet = sheet_of(small)
    places = sheet.places(Walk.BY_SPECIMEN)
    assert step(sheet, Walk.BY_SPECIMEN, places[0], -1) == places[0]
    assert step(sheet, Walk.BY_SPECIMEN, places[-1], 1) == places[-1]
    assert first_open(sheet, Walk.BY_SPECIMEN) == places[0]


def test_blind_sheets_show_codes_until_the_session_is_closed(home, tmp_path):
    """A code stands for the specimen; an open session shows the sticker."""
    blind = sheet_of(small_ledger(tmp_path, blind=True))
    assert blind.is_blind
    assert blind.label(0) == "4 7 1"


def test_an_open_sheet_shows_stickers(small):
    """Without blinding a specimen goes by its sticker."""
    assert sheet_of(small).label(1) == "OV 0002"


def test_the_first_grade_brings_its_trial_and_begins_the_stage(small):
    """Three records go together; the next grade of the specimen is one."""
    sheet = sheet_of(small)
    first = graded(sheet, SheetSquare(0, "edge"), grade=3.0)
    assert [type(record) for record in first.records] == [Stage, Trial, Observation]
    assert first.records[0].started_at is not None
    second = graded(first.on(sheet), SheetSquare(0, "tint"), grade=1.0)
    assert [type(record) for record in second.records] == [Observation]
    assert second.records[0].trial == first.records[1].id


def test_what_is_written_is_found_again(small):
    """Grade, regrade and taking back leave one entry each, and the sheet loaded anew is the sheet at hand."""
    sheet = sheet_of(small)
    place = SheetSquare(0, "edge")
    with small.open(write=True) as ledger:
        first = graded(sheet, place, grade=3.0)
        ledger.append(first.records)
        sheet = first.on(sheet)
        second = graded(sheet, place, grade=4.0)
        ledger.append(second.records)
        sheet = second.on(sheet)
        back = write_back(sheet, place, first.observation, pencil=pencil())
        ledger.append(back.records)
        assert sheets.load(ledger, "se") == back.on(sheet)
        assert len(ledger.rows(Observation)) == 3
        assert ledger.rows(Stage, name=StageName.WET)[0].started_at is not None
    again = sheet_of(small)
    assert again.result(place).grade == 3.0
    assert again.seen[place].reason == "taken back"


def test_a_stage_that_is_done_gives_way_to_the_next(small):
    """When every place of the wet stage has a result, the sheet opens at the dry stage."""
    sheet = sheet_of(small)
    with small.open(write=True) as ledger:
        for place in sheet.places(Walk.BY_SPECIMEN):
            result = {"choice": "matt"} if place.criterion == "shine" else {"grade": 0.0}
            written = graded(sheet, place, **result)
            ledger.append(written.records)
            sheet = written.on(sheet)
    assert sheet_of(small).stage == "dry"
    assert list(sheet_of(small).criteria) == ["lifting"]
    assert sheet_of(small, StageName.WET).stage == "wet"


def test_open_sheets_say_how_far_they_have_come(small):
    """The list of sheets at work has stage, done and of; a closed session is not on it."""
    with small.open(write=True) as ledger:
        ledger.append(graded(sheets.load(ledger, "se"), SheetSquare(0, "edge"), grade=1.0).records)
        heads = sheets.open_sheets(ledger)
        assert [(head.session.code, head.stage, head.done, head.of) for head in heads] == [("S04", "wet", 1, 30)]


def test_cautions_are_the_union_of_the_whole_sheet(small):
    """Hazards of every pigment, tests and rubric are said once, in an order that tells nothing about the sheet."""
    found = sheet_of(small).cautions
    assert any("chromium" in caution for caution in found)
    assert any("cobalt" in caution for caution in found)
    assert "Do not scrape a hard pan." in found
    assert "Never sand dry paint." in found
    assert len(found) == len(set(found))
