"""What is put down when a sheet begins, and how long hands are busy, as the rubrics say it."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcledger.bench import facts, wishes
from qcledger.bench.laying import EVENING, LaidStep, LaidWhen, looked_at, of_sheet, on_cells, to_put_down, workload
from qcledger.records import Session
from qcledger.report.sheet import hands_on, in_hours, put_down_text
from qcledger.report.sheet_print import Paper, run_sheet
from qcledger.rubric import load
from qcledger.settings import shipped
from qcledger.vocab import Blinding, Format
from tests.bench_table.given import new_ledger, proposed, search_shortly

SHEET = load(shipped("rubrics") / "watercolour.yaml").criteria
LASTING = load(shipped("rubrics") / "lasting.yaml").criteria
PAN, TUBE = Format.HALF_PAN, Format.TUBE


def test_steps_come_in_the_order_of_the_hand_and_shared_ones_once():
    """What must have dried comes the day before, what waits for that last; a shared field is laid once."""
    steps = to_put_down(SHEET.values(), [PAN])
    told = [one.step for one in steps]
    assert len(told) == len(set(told))
    assert told.index(SHEET["backruns"].put_down[1]) == told.index(SHEET["backruns"].put_down[0]) + 1
    line, *now, coat = steps
    assert (line.step, line.when) == (SHEET["opacity"].put_down[0], LaidWhen.DAY_BEFORE)
    assert (coat.step, coat.when) == (SHEET["wash_faintness"].put_down[1], LaidWhen.ONCE_DRY)
    assert now[0].step == SHEET["rewetting_in_fives"].put_down[0]
    assert {one.when for one in now} == {LaidWhen.AT_ONCE}
    shared = next(one for one in steps if one.step == SHEET["tack"].put_down[0])
    assert shared.tests == ("Finish when dry", "Dry rub-off", "Tack when dry")
    assert {one.title for one in SHEET.values()} == {title for step in steps for title in step.tests}


@pytest.mark.parametrize(
    ("step", "seconds"),
    [
        ("Lay this paint's own card first, and let it dry for ten minutes.", 600),
        ("Put water on the dried pan, and wait 30 s.", 30),
        ("At 60 s let fall one drop of 0.05 ml.", 60),
        ("Photograph both within a minute, while it is wet.", 60),
        ("Lay one stroke of 20 by 50 mm in 3 s with a clean brush.", None),
    ],
)
def test_a_step_tells_the_time_it_asks_to_be_kept(step, seconds):
    """A timer knows when its step's time is over; how fast a stroke is drawn is no time to wait for."""
    assert LaidStep(("Any",), step).seconds == seconds


@pytest.mark.parametrize(
    ("place", "words"),
    [(0, "row 1, cell 1"), (23, "row 8, cell 3"), (24, "row 1, cell 1 of page 2")],
)
def test_a_place_lies_on_a_cell(place, words):
    """Places fill the printed cells row by row, three across and eight down."""
    assert on_cells(place) == words


def test_nothing_is_put_down_for_a_format_that_is_not_asked():
    """A pan is not poured; a sheet of pans alone has no pour to make."""
    pours = to_put_down(LASTING.values(), [PAN])
    assert {title for one in pours for title in one.tests} == {
        "Light strip, three months",
        "Light strip, twelve months",
    }
    assert len(to_put_down(LASTING.values(), [PAN, TUBE])) == len(pours) + 2


@given(st.lists(st.sampled_from([PAN, TUBE]), max_size=24), st.sets(st.sampled_from(sorted(LASTING))))
def test_minutes_add_up_place_by_place(formats, keys):
    """The minutes of a sheet are those of each place, and a test that is not asked of a format takes none."""
    criteria = [LASTING[key] for key in sorted(keys)]
    alone = sum(workload(criteria, [one]).minutes for one in formats)
    assert workload(criteria, formats).minutes == pytest.approx(alone)
    wanted = sum(one.minutes * formats.count(form) for one in criteria for form in {*formats} & {*one.formats})
    assert alone == pytest.approx(wanted)


def test_an_evening_that_nobody_has_is_told():
    """The whole sheet of 24 places is told in hours, with the test that takes most, and as more than an evening."""
    work = workload(SHEET.values(), [PAN] * 24)
    title, most = work.longest
    assert (title, most) == ("Tinting strength", 24 * SHEET["tinting_ratio"].minutes)
    first, second = hands_on(work)
    assert first == f"hands-on about {in_hours(work.minutes)}, of which Tinting strength 3 h 12 min"
    assert work.evenings > 1
    assert second.startswith("more than an evening of 3 h")
    small = workload([SHEET["granulation"]], [PAN] * 24)
    assert small.minutes < EVENING
    assert list(hands_on(small)) == ["hands-on about 24 min, of which Granulation 24 min"]


def test_what_a_file_does_not_say_is_said():
    """A rubric without minutes gives no hours; its tests are named."""
    bare = replace(SHEET["salt"], minutes=None)
    work = workload([bare, SHEET["granulation"]], [PAN])
    assert (work.minutes, work.untold) == (SHEET["granulation"].minutes, ("Salt texture",))
    assert list(hands_on(workload([bare], [PAN]))) == ["no minutes are told of Salt texture"]


@pytest.mark.parametrize(("minutes", "words"), [(0.2, "1 min"), (45, "45 min"), (180, "3 h"), (399.6, "6 h 40 min")])
def test_hours_in_words(minutes, words):
    """Minutes are rounded and told in hours and minutes."""
    assert in_hours(minutes) == words


@pytest.fixture
def ledger(tmp_path, monkeypatch):
    """Give a stock to plan sheets on."""
    monkeypatch.setenv("QCLEDGER_HOME", str(tmp_path))
    search_shortly(monkeypatch)
    with new_ledger(tmp_path) as opened:
        yield opened


def test_a_plan_tells_its_hours_before_it_is_taken_and_the_sheet_its_steps(ledger):
    """The proposal and the sheet kept say the same hours; text and print list the steps and no specimen."""
    proposal = proposed(ledger)
    (before,) = facts.of_proposal(proposal)
    wishes.keep(proposal, ledger)
    after, stages = facts.of_session(ledger, before.session)
    assert before.work == after.work
    assert after.work.minutes > EVENING
    steps = of_sheet(stages)
    assert [one.step for one in steps] == [one.step for one in to_put_down(SHEET.values(), [PAN])]
    told = put_down_text(stages)
    assert told.startswith("Put down the day before, in this order:\n1 Opacity: Draw a line")
    assert "\n\nPut down when the sheet begins, in this order:\n2 Rewetting difficulty: Lay this paint's own" in told
    assert [line for line in told.splitlines() if line.startswith("Look, ")] == [
        "Look, wet:",
        "Look, dry:",
        "Look, after 24 h:",
    ]
    looks = [one for _, asked in looked_at(stages) for one in asked]
    assert [one.look for one in looks] == [one.look for sheet in stages for one in sheet.criteria.values()]
    assert max(map(len, told.splitlines())) <= 80
    page = run_sheet(after, stages, Paper.A4)
    assert page.count('<td class="tick">') == len(steps)
    assert "OV 0" not in told


def test_what_needs_the_names_is_asked_once_the_codes_are_open(ledger):
    """On a blind sheet behaviour against the label is neither asked nor counted; once it is closed it is asked."""
    proposal = proposed(ledger, rubric="watercolour, label")
    (before,) = facts.of_proposal(proposal)
    wishes.keep(proposal, ledger)
    blind, hidden = facts.of_session(ledger, before.session)
    assert "declared_behaviour" not in {key for sheet in hidden for key in sheet.criteria}
    assert before.work == blind.work
    session = ledger.get(Session, before.session.id)
    ledger.append([replace(session, blinding=Blinding.OPEN)], reason="opened early: a pan fell")
    _, seen = facts.of_session(ledger, ledger.get(Session, session.id))
    assert "declared_behaviour" in {key for sheet in seen for key in sheet.criteria}
