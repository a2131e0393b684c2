"""Beginning a sheet, and typing one that was filled on paper."""

from dataclasses import replace

from qcledger.bench.named import session_of
from qcledger.records import Comparison, RunRow, Session, Sheet, Specimen
from qcledger.report.closing import check_session
from qcledger.screens.bench.forms import BeginForm, PaperForm
from qcledger.screens.bench.planning import PlanForm
from qcledger.screens.dialogs import Ask
from qcledger.screens.widgets.fields import Field
from qcledger.vocab import Format
from tests.screens.support import in_front, marked_fields, picture


def field(at, name):
    return next(found for found in at.app.screen.query(Field) if found.name == name)


async def fill(at, **values):
    for name, value in values.items():
        field(at, name).value = value
    fields = list(at.app.screen.query(Field))
    fields[-1].focus_input()
    await at.pilot.pause()
    await at.press("enter")


async def test_a_sheet_is_begun_from_the_keys(bench):
    """The key b asks, what was used last stands there already, and after the last field the new sheet is at work."""
    async with bench().run((100, 40)) as at:
        await at.press("b")
        await at.until(lambda: in_front(at.app, BeginForm))
        assert field(at, "session").value == "S02"
        assert field(at, "paper").value == "cotton 300 g, cold pressed"
        field(at, "specimens").value = "OV 0002-0003"
        await at.pilot.pause()
        await at.until(lambda: "2: Kiln Red half pan, Fjell half pan" in picture(at.app))
        await fill(at, comparison="Ochres, all makers", rubric="gouache", humidity="50")
        await at.until(lambda: at.page.atwork is not None and at.page.atwork.sheet.session.code == "S02")
        assert "OV 0002" in at.picture
        with at.small.open() as ledger:
            (comparison,) = ledger.rows(Comparison, title="Ochres, all makers")
            (session,) = ledger.rows(Session, comparison=comparison.id)
            assert [row.specimen for row in ledger.rows(RunRow, session=session.id)] == ["sp01", "sp02"]


async def test_typing_replaces_the_paper_of_the_last_sheet(bench):
    """A field that came filled is marked when the cursor enters it, so a new word never joins the old one."""
    async with bench().run() as at:
        await at.press("b")
        await at.until(lambda: in_front(at.app, BeginForm))
        paper = field(at, "paper")
        paper.focus_input()
        await at.pilot.pause()
        assert paper.value == "cotton 300 g, cold pressed"
        await at.press(*"rough")
        assert paper.value == "rough"
        await at.press("down", "up", "end", "!")
        assert paper.value == "rough!"
        await at.press("escape")


async def test_a_wrong_form_is_told_and_nothing_is_lost(bench):
    """An unknown specimen, rubric or humidity is named below the form; what was typed stays, nothing is stored."""
    async with bench().run((100, 40)) as at:
        await at.press("b")
        await at.until(lambda: in_front(at.app, BeginForm))
        await fill(at, comparison="New one", rubric="oil", specimens="OV 0002")
        await at.until(lambda: "rubric: 'oil' does not fit" in picture(at.app))
        await fill(at, rubric="gouache", humidity="101")
        await at.until(lambda: "humidity: '101' does not fit" in picture(at.app))
        await at.until(lambda: field(at, "humidity").has_focus_within)
        await fill(at, specimens="OV 0002, OV 0099", humidity="")
        await at.until(lambda: "specimens: 'OV 0099' does not fit" in picture(at.app))
        assert field(at, "comparison").value == "New one"
        await at.press("escape")
        with at.small.open() as ledger:
            assert len(ledger.rows(Session)) == 1
            assert len(ledger.rows(Comparison)) == 1


async def test_an_open_comparison_goes_on(bench):
    """Its title, in whatever case, leads to it and to the rubric frozen at its start."""
    async with bench().run((100, 40)) as at:
        await at.press("b")
        await at.until(lambda: in_front(at.app, BeginForm))
        assert field(at, "comparison").value == "viridian, all makers"
        await fill(at, comparison="Viridian, ALL makers", specimens="OV 0001", rubric="")
        await at.until(lambda: at.page.atwork is not None and at.page.atwork.sheet.session.code == "S02")
        assert at.page.atwork.sheet.session.comparison == "cp"


async def test_the_first_sheet_sets_the_paper_and_says_so(bench):
    """A new comparison begun from the keys stays on the paper of its first sheet, and the page says so."""
    async with bench().run((100, 40)) as at:
        await at.press("b")
        await at.until(lambda: in_front(at.app, BeginForm))
        await fill(
            at, comparison="Ochres, all makers", rubric="gouache", specimens="OV 0002-0003", paper="rough 300 g"
        )
        await at.until(lambda: at.page.atwork is not None and at.page.atwork.sheet.session.code == "S02")
        await at.until(lambda: "this sets the comparison's paper: findings stay on rough 300 g" in at.picture)
        with at.small.open() as ledger:
            (comparison,) = ledger.rows(Comparison, title="Ochres, all makers")
        assert comparison.reference_paper == "rough 300 g"


async def test_another_paper_is_asked_about_before_the_sheet_is_made(bench):
    """Esc leads back to the field with nothing stored; Enter begins the sheet, which is kept apart from findings."""
    said = "findings stay on cotton 300 g, cold pressed; sheets on rough are kept apart"
    async with bench().run((100, 40)) as at:
        await at.press("b")
        await at.until(lambda: in_front(at.app, BeginForm))
        await fill(at, specimens="OV 0001", paper="rough")
        await at.until(lambda: in_front(at.app, Ask))
        await at.until(lambda: "Begin this sheet on rough?" in picture(at.app) and said in picture(at.app))
        await at.press("escape")
        await at.until(lambda: in_front(at.app, BeginForm) and field(at, "paper").has_focus_within)
        with at.small.open() as ledger:
            assert len(ledger.rows(Session)) == 1
        await fill(at)
        await at.until(lambda: in_front(at.app, Ask))
        await at.press("enter")
        await at.until(lambda: at.page.atwork is not None and at.page.atwork.sheet.session.code == "S02")
        await at.until(lambda: said in at.picture)
        with at.small.open() as ledger:
            (session,) = ledger.rows(Session, code="S02")
            assert [row.paper for row in ledger.rows(Sheet, session=session.id)] == ["rough"]
            assert ledger.get(Comparison, "cp").reference_paper == "cotton 300 g, cold pressed"


async def test_a_plan_on_another_paper_says_so_before_it_is_kept(bench):
    """The proposal tells that the sheet is kept apart; the paper follows the comparison until it is typed over."""
    at = bench()
    with at.small.open(write=True) as ledger:
        old = ledger.get(Comparison, "cp")
        ledger.append([replace(old, id="reds", title="reds", reference_paper="rag 190 g")])
    async with at.run((100, 40)):
        await at.press("l")
        await at.until(lambda: in_front(at.app, PlanForm))
        for title, paper in (("reds", "rag 190 g"), ("viridian, all makers", "cotton 300 g, cold pressed")):
            field(at, "comparison").value = title
            await at.until(lambda paper=paper: field(at, "paper").value == paper)
        field(at, "paper").value = "rough"
        await at.until(lambda: "findings stay on cotton 300 g" in picture(at.app))
        field(at, "comparison").value = "reds"
        await at.until(lambda: "findings stay on rag 190 g" in picture(at.app))
        assert field(at, "paper").value == "rough"
        field(at, "specimens").value = "OV 0001, OV 0002"
        await at.press("f3")
        await at.until(lambda: in_front(at.app, Ask))
        await at.until(lambda: "findings stay on rag 190 g; sheets on rough are kept apart" in picture(at.app))
        await at.press("escape", "escape")


async def test_a_tube_that_has_not_dried_needs_a_reason(bench):
    """Beside half pans it is refused by sticker, the cursor comes to its field, and the reason given is noted."""
    made = bench()
    with made.small.open(write=True) as ledger:
        ledger.append([replace(ledger.get(Specimen, "sp01"), format=Format.TUBE, lot=None)])
    async with made.run((100, 40)) as at:
        await at.press("b")
        await at.until(lambda: in_front(at.app, BeginForm))
        await fill(at, specimens="OV 0001, OV 0002")
        await at.until(lambda: "reason: OV 0002 not poured; needed" in picture(at.app))
        await at.until(lambda: field(at, "although").has_focus_within)
        await fill(at, although="the reader waits")
        await at.until(lambda: at.page.atwork is not None and at.page.atwork.sheet.session.code == "S02")
        told = "not dried 7 days (OV 0002 not poured): the reader waits"
        with at.small.open() as ledger:
            (session,) = ledger.rows(Session, code="S02")
            assert session.note == told
            assert told in ledger.history("session", session.id)[0].body
            check = check_session(ledger, session_of(ledger, "S02"))
        assert "one specimen beside dry ones without drying first: OV 0002" in [line.words for line in check.lines]


async def test_arrows_go_from_field_to_field_where_the_form_is_longer_than_the_window(bench):
    """Down and Up move the cursor and never scroll it out of sight; what is typed stands where it was meant."""
    async with bench().run() as at:
        await at.press("l")
        await at.until(lambda: in_front(at.app, PlanForm))
        names = [one.name for one in at.app.screen.query(Field)]
        here = next(n for n, name in enumerate(names) if field(at, name).has_focus_within)
        for name in names[here + 1 :]:
            await at.press("down")
            await at.until(lambda name=name: field(at, name).has_focus_within)
        await at.press("up", *"rag")
        await at.until(lambda: field(at, names[-2]).value.endswith("rag"))
        assert "rag" in at.picture
        await at.press("escape")


async def test_everything_wrong_with_a_form_is_told_at_once(bench):
    """A plan for a new comparison with no rubric, a wrong sticker and no paper gives one answer, a line for each."""
    async with bench().run() as at:
        await at.press("l")
        await at.until(lambda: in_front(at.app, PlanForm))
        for name, value in {"comparison": "A new one", "specimens": "OV 0099", "paper": "", "rubric": ""}.items():
            field(at, name).value = value
        await at.press("f3")
        told = ["specimens: 'OV 0099' does not fit", "paper: nothing stands there", "rubric: nothing stands there"]
        await at.until(lambda: all(line in picture(at.app) for line in told))
        await at.until(lambda: field(at, "specimens").has_focus_within)
        field(at, "specimens").value = ""
        field(at, "paper").value = "rag"
        field(at, "rubric").value = "gouache"
        await at.press("f3")
        await at.until(lambda: "nothing tested yet" in picture(at.app))
        await at.press("escape")


async def refuses_each_marked_field(at, give, kept=()):
    """Empty each marked field in turn: it is refused in sight; then give the marked and the `kept` ones alone."""
    marked = marked_fields(at.app)
    assert "* must be filled in" in picture(at.app)
    for name in marked:
        stood, field(at, name).value = field(at, name).value, ""
        field(at, "humidity").focus_input()
        await at.pilot.pause()
        await at.press(give)
        await at.until(lambda name=name: field(at, name).has_focus_within and f"{name}: " in picture(at.app))
        await at.until(lambda name=name: f"| {name} *" in picture(at.app))  # the field at work is in sight
        field(at, name).value = stood
    for other in at.app.screen.query(Field):
        if other.name not in (*marked, *kept):
            other.value = ""
    field(at, "humidity").focus_input()
    await at.pilot.pause()
    await at.press(give)


async def test_what_a_sheet_needs_is_marked(bench):
    """A sign without colour stands at exactly the fields without which no sheet begins; said once, in words."""
    async with bench().run((80, 24)) as at:
        await at.press("b")
        await at.until(lambda: in_front(at.app, BeginForm))
        assert marked_fields(at.app) == ["comparison", "specimens", "session", "paper"]
        field(at, "specimens").value = "OV 0001"
        await refuses_each_marked_field(at, "enter")
        await at.until(lambda: at.page.atwork is not None and at.page.atwork.sheet.session.code == "S02")


async def test_what_a_plan_needs_is_marked(bench):
    """The same on the form that lays out a blind sheet: a new comparison takes a rubric and specimens besides."""
    async with bench().run((80, 24)) as at:
        await at.press("l")
        await at.until(lambda: in_front(at.app, PlanForm))
        assert marked_fields(at.app) == ["comparison", "blinding", "paper"]
        field(at, "comparison").value, field(at, "specimens").value = "Ochres, all makers", "OV 0001-0003"
        await refuses_each_marked_field(at, "f3", kept=("rubric", "specimens"))
        await at.until(lambda: in_front(at.app, Ask))
        await at.press("escape", "escape")


async def test_a_filled_sheet_is_typed_one_line_a_specimen(bench):
    """Each line is saved by its Enter: a whole specimen in one transaction; the next line has the cursor."""
    async with bench().run((100, 40)) as at:
        await at.press("p")
        assert isinstance(at.app.screen, PaperForm)
        await at.pilot.press(*"=23", "space", *"110+.32-00", "enter")
        await at.until(lambda: "saved " in picture(at.app))
        await at.until(lambda: field(at, "1").has_focus_within)
        found = {seen.criterion: seen for seen in at.on_disk()}
        assert len(found) == 9
        assert (found["turns"].grade, found["turns"].reading) == (3.0, 23.0)
        assert found["evenness"].grade == 0.5
        assert found["edge"].not_testable
        await at.press("escape")
        assert "Turns 3" in at.picture


async def test_a_wrong_line_is_told_and_stores_nothing(bench):
    """The mark is named; the line stays to be put right."""
    async with bench().run((100, 40)) as at:
        await at.press("p")
        await at.pilot.press(*"0000021000", "enter")
        await at.until(lambda: "mark 6" in picture(at.app))
        assert field(at, "0").value == "0000021000"
        assert at.on_disk() == []
        await at.press("escape")
