"""Stories of the page Findings: criteria by key, makers down, formats across."""

from dataclasses import replace
from threading import Event

import pytest
from PIL import Image

from qcledger.ledger import Ledger
from qcledger.records import Observation, Specimen, Trial
from qcledger.report import kept
from qcledger.report.parts import HOW_SURE
from qcledger.screens.findings import workedout
from qcledger.screens.findings.choose import Choose
from qcledger.screens.findings.photos import CellPhotos
from qcledger.screens.findings.why import Why
from qcledger.screens.widgets.lines import SaidLine
from qcledger.screens.widgets.photo import PhotoView
from qcledger.screens.widgets.strip import Panel
from qcledger.vocab import MARKS, Format, Standing
from tests.hostile import HOSTILE
from tests.screens.findings.support import MAKERS, Shelf, findings, shelf_ledger
from tests.screens.support import frame, in_front


@pytest.fixture
def place(home, tmp_path):
    return shelf_ledger(tmp_path)


async def test_it_opens_on_all_criteria_with_what_was_seen(place):
    """Each criterion is headed by all makers' counts; below it stand the makers with a fault, and only they."""
    async with findings(place) as at:
        await at.sees("Evenness: 8 of 80, 10 %: half pan 8/40", "Edge: none of 80")
        await at.sees("Corvannet", "8/8 //- to confirm:")
        assert "Aldervane" not in at.picture
        assert "all comparisons" in frame(at.app)[0]


async def test_a_heading_opens_its_criterion_and_esc_goes_back(place):
    """Makers stand below each other by name, the mark of all makers on the scale; Esc shows all criteria again."""
    async with findings(place) as at:
        await at.to("Evenness", "enter")
        await at.sees(*MAKERS, "all makers 10 % at the mark")
        lines = frame(at.app)
        names = [line.split()[0] for line in lines if line.split() and line.split()[0] in MAKERS]
        assert names == sorted(MAKERS)
        scale = next(line for line in lines if "100 %" in line)
        assert scale.split() == ["0", "┆", "50", "100", "%"]
        await at.press("escape")
        await at.sees("Edge: none of 80")


async def test_it_says_what_a_strip_is(place):
    """The pooled rate is named, and what its ends and its mark are."""
    async with findings(place) as at:
        await at.sees("strip: pooled share; darker = likelier; ends = 95 % limits; ┆ all makers")


async def test_one_format_at_a_time_at_80_columns_and_two_at_120(place):
    """Left and right change the format; with room for both they stand side by side, the chosen one signed."""
    async with findings(place) as at:
        await at.to("Evenness", "enter")
        await at.sees("> half pan", "8/8")
        line = next(line for line in frame(at.app) if "Corvannet" in line)
        assert "0/8" not in line
        await at.press("left")
        await at.sees("> tube", "0/8")
        assert "8/8" not in at.picture
        await at.press("left", "right")
        await at.sees("> half pan")
    async with findings(place, (120, 40)) as at:
        await at.to("Evenness", "enter")
        await at.sees("> half pan", "  tube")
        await at.press("left")
        await at.sees("> tube", "  half pan")
        line = next(line for line in frame(at.app) if "Corvannet" in line)
        assert line.index("0/8 -?- open") < line.index("8/8 //- to confirm: maker's format")


async def test_formats_out_of_view_are_named_with_their_findings(place):
    """Beside the title stands which formats lie left and right and what was found there; the foot names both ways."""
    async with findings(place) as at:
        await at.to("Evenness", "enter")
        assert "> half pan  left: tube" in frame(at.app)[2]
        assert "left tube" in frame(at.app)[-1]
        assert "right" not in frame(at.app)[-1]
        await at.press("left")
        assert "> tube  right: half pan 1 //-" in frame(at.app)[2]
        assert "right half pan" in frame(at.app)[-1]
    async with findings(place, (120, 40)) as at:
        await at.to("Evenness", "enter")
        assert "right:" not in at.picture
        assert "left:" not in at.picture


async def test_all_criteria_show_only_what_the_format_has_where_one_fits(home, tmp_path):
    """At 80 columns a maker not tested in the chosen format has no line; the heading says where it was seen."""
    place = shelf_ledger(tmp_path)
    with Ledger.open(place, write=True) as ledger:
        one = ledger.get(Specimen, "sp1.0.1.0")
        ledger.append([replace(one, id="stick", sticker="OV 9", format=Format.STICK, lot=None)])
        trial = ledger.get(Trial, "tr1.0.1.0")
        ledger.append([replace(trial, id="tr-stick", specimen="stick")])
        seen = ledger.get(Observation, "ob1.0.1.0evenness")
        ledger.append([replace(seen, id="ob-stick", trial="tr-stick", grade=5.0)])
    async with findings(place) as at:
        await at.sees("Evenness: 9 of 81, 11 %: half pan 8/40, stick 1/1", "Corvannet", "8/8")
        await at.press("right", "right")
        await at.sees("> stick", "1/1", "open: parcel?")
        await at.to("Evenness", "enter")
        await at.sees("not tested")


async def test_criterion_is_chosen_from_a_list_or_turned_by_key(place):
    """The list has every criterion with its counts; n and < go through them in order."""
    async with findings(place) as at:
        first, last = (
            line.name.partition(":")[0]
            for line in at.strips._lines
            if not (line.panels or line.name.startswith("Labels"))
        )
        await at.press("c")
        await at.sees("Which criterion?", "all criteria", "Evenness, 8 of 80 specimens", "Edge, 0 of 80 specimens")
        await at.press("end", "enter")
        await at.sees(f"Findings   {last}   all comparisons")
        await at.press("<")
        await at.sees(f"Findings   {first}")
        await at.press(">", ">")
        await at.sees("Findings   all criteria")
        await at.press("c", "escape")
        await at.sees("Findings   all criteria")


async def test_a_criterion_is_found_by_typing(place):
    """Letters filter the list, Backspace takes one back, Enter takes what is left; Esc leaves all as it was."""
    async with findings(place) as at:
        await at.press("c")
        await at.sees("Which criterion?", "Evenness, 8 of 80", "Edge, 0 of 80")
        await at.press(*"edgx")
        await at.until(lambda: "Edge, 0 of 80" not in at.picture)
        await at.press("backspace", "e")
        await at.sees("Which criterion? edge", "Edge, 0 of 80")
        assert "Evenness, 8 of 80" not in at.picture
        await at.press("enter")
        await at.sees("Findings   Edge")
        await at.press("c", *"even", "escape")
        await at.sees("Findings   Edge")


async def test_a_makers_card_has_every_criterion_and_no_total(place):
    """Criteria down for one maker; from the card, m leads to the criterion at each maker, Enter to the why."""
    async with findings(place) as at:
        await at.to("Corvannet", "m")
        await at.sees("Findings   Corvannet", "Evenness", "Edge", "to confirm: maker's format", "0/8 -?-")
        words = at.picture.casefold()
        assert not [word for word in ("total", "score", "overall", "average", "★") if word in words]
        await at.press("m")
        await at.sees("Findings   Evenness", *MAKERS)
        await at.press("escape", "escape")
        await at.sees("Findings   all criteria")


async def test_prices_of_a_makers_card(place):
    """On the card of a maker $ shows what its paints cost, and nobody else's; Esc goes back to the card."""
    async with findings(place) as at:
        await at.to("Corvannet", "m")
        await at.sees("Findings   Corvannet", "Edge")
        await at.press("$")
        await at.sees("Prices   by paint", "Corvannet", "What was paid")
        assert "Aldervane" not in at.picture
        await at.press("f")
        await at.sees("Price beside what was found:", "Nothing that was sold by itself has a price here.")
        await at.press("f")
        await at.sees("Prices   by paint")
        await at.press("escape")
        await at.sees("Findings   Corvannet", "Edge")


async def test_what_to_buy_next_for_a_sum(place):
    """With b stands what to look at and to buy; e types a sum, wrong ones are refused; what it buys is within it."""
    async with findings(place) as at:
        await at.press("b")
        await at.sees("What to buy   no sum typed yet", "e types one")
        await at.press("e")
        await at.sees("The sum to spend")
        await at.press(*"much", "enter")
        await at.sees("needed: a sum and its currency")
        await at.press("ctrl+u", *"40 EUR", "enter")
        await at.sees("What to buy   for 40 EUR")
        assert "no sum yet" not in at.picture
        await at.press("escape")
        await at.sees("Findings   all criteria")


async def test_one_comparison_or_all(place):
    """Within a comparison only its own specimens count."""
    async with findings(place) as at:
        await at.to("Evenness", "enter", "k")
        await at.sees("Which comparison?", "all comparisons", "autumn", "spring")
        await at.press("end", "enter")
        await at.sees("spring", "4/4", "0/4")
        await at.press("escape")
        await at.sees("all comparisons", "8/8")


async def test_marks_are_beside_their_words_and_need_no_colour(place, monkeypatch):
    """With NO_COLOR the picture is the same: marks, words, counts and strips are characters."""
    async with findings(place) as at:
        await at.to("Evenness", "enter")
        await at.sees("//- to confirm", "-?- open" if "-?-" in at.picture else "--- none found")
        coloured = at.picture
    monkeypatch.setenv("NO_COLOR", "1")
    async with findings(place) as at:
        await at.to("Evenness", "enter")
        await at.sees("//- to confirm")
        assert at.picture == coloured
    assert MARKS[Standing.TO_CONFIRM] == "//-"


async def test_ascii_where_the_terminal_has_no_shades(place, monkeypatch):
    """In the C locale strips are dots, colons and hashes."""
    monkeypatch.setenv("LC_ALL", "C")
    async with findings(place) as at:
        await at.to("Evenness", "enter")
        await at.sees("=#", "| all makers")
        assert at.picture.isascii()


async def test_findings_follow_the_ledger(place):
    """What was written while another page was in front is there on coming back; what did not change is not redone."""
    async with findings(place) as at:
        await at.to("Evenness", "enter")
        kept = at.page._kept
        first = kept._read[None]
        await at.press("comma", "s")
        await at.press("comma", "f")
        assert kept._read[None] is first
        with Ledger.open(place, write=True) as ledger:
            old = ledger.get(Observation, "ob0.0.1.0evenness")
            ledger.append(
                [
                    Observation(
                        id="new", trial=old.trial, criterion=old.criterion, rubric=old.rubric, tester="OV",
                        at=old.at, grade=5.0, supersedes=old.id, reason="misread",
                    )
                ]
            )  # fmt: skip
        await at.press("comma", "s")
        await at.press("comma", "f")
        await at.press("left")
        await at.sees("1/8")


def held(patch):
    """Hold the next reading of the ledger until it is no longer wanted; return what is set once it has begun."""
    begun = Event()

    goes_on = kept.go_on

    def hold(wanted):
        if not begun.is_set():
            begun.set()
            wanted.wait(20)
        goes_on(wanted)

    patch.setattr(kept, "go_on", hold)
    return begun


async def test_work_is_said_and_can_be_stopped(place, monkeypatch):
    """While findings are computed the page says so; Esc stops it, r begins again."""
    async with findings(place) as at:
        await at.to("Evenness", "enter")
        shown = at.page._shown
        with monkeypatch.context() as patch:
            begun = held(patch)
            at.page._kept._read.clear()
            await at.pilot.press("r")
            await at.until(begun.is_set)
            await at.sees("working on the findings; Esc stops")
            await at.pilot.press("down")
            assert at.strips.marked == 1, "keys are answered meanwhile"
            await at.pilot.press("escape")
            await at.sees("stopped; r works on the findings again")
            assert at.page._shown is shown
        await at.press("r")
        await at.until(lambda: at.page._shown is not shown)
        await at.sees("strip: pooled")


async def test_esc_goes_back_while_nothing_is_said_to_be_worked_on(place, monkeypatch):
    """A page that only looks again whether the ledger has changed is left by Esc, not stopped."""
    async with findings(place) as at:
        await at.to("Evenness", "enter")
        await at.to("Corvannet", "m")
        await at.sees("Findings   Corvannet")
        await at.until(lambda: not at.page._is_beside)
        with monkeypatch.context() as patch:
            patch.setattr(workedout, "PATIENCE_S", 60.0)
            begun = held(patch)
            at.page._kept._read.clear()
            await at.pilot.press("r")
            await at.until(begun.is_set)
            await at.pilot.press("escape")
        await at.sees("Findings   Evenness")
        assert "stopped" not in at.picture


async def test_keys_about_a_maker_say_why_a_heading_has_none(place):
    """M and p on a heading are answered, and the answer stands until the next key."""
    async with findings(place) as at:
        await at.until(lambda: at.page._place is not None)
        while at.page._place.maker is not None:
            await at.pilot.press("up")
        for key in ("m", "p"):
            await at.pilot.press("down", "up", key)
            await at.sees("this line is a heading")


async def test_a_cell_without_a_finding_says_so(home, tmp_path):
    """Where nothing was tested there is nothing to open."""
    place = shelf_ledger(tmp_path)
    with Ledger.open(place, write=True) as ledger:
        old = ledger.get(Observation, "ob0.0.0.0evenness")
        ledger.append(
            [
                Observation(
                    id="trait", trial=old.trial, criterion="shine", rubric=old.rubric, tester="OV", at=old.at,
                    choice=next(iter(ledger.rubric(old.rubric).criteria["shine"].choices)),
                )
            ]
        )  # fmt: skip
    async with findings(place) as at:
        await at.press("c", "end", "enter")
        await at.sees("Findings   Shine")
        await at.press("enter", "p")
        assert "there is nothing to explain" in at.page.query_one(SaidLine).said
        assert at.app.screen is at.page


async def test_an_empty_ledger_says_so(home, tmp_path):
    """Nothing graded, nothing shown, and every key is harmless."""
    place = tmp_path / "empty.sqlite"
    Ledger.create(place, letters="OV", tester="OV").close()
    async with findings(place) as at:
        await at.sees("Nothing has been graded yet, so there are no findings.")
        await at.press("enter", "m", "p", ">", "<", "left", "right", "escape", "up", "down")
        await at.press("c", "escape", "k", "escape")
        assert at.app.is_running


async def test_photos_of_a_cell(place, tmp_path):
    """One key shows the photos of the cell's specimens, + goes closer, Esc comes back."""
    path = tmp_path / "bad.png"
    Image.new("RGB", (40, 30), (200, 10, 10)).save(path)
    with Ledger.open(place, write=True) as ledger:
        ledger.append([ledger.add_photo(path, specimen="sp1.0.0.0", caption="grey veil")])
    async with findings(place) as at:
        await at.to("Corvannet", "p")
        await at.until(lambda: in_front(at.app, CellPhotos))
        await at.sees("photo 1 of 1", "grey veil", "▀")
        await at.pilot.press("+")
        await at.sees("x2")
        assert at.app.screen.query_one(PhotoView).zoom == 2
        await at.pilot.press("escape")
        await at.until(lambda: at.app.screen is at.page)
        await at.press("enter")
        await at.sees("Why   Corvannet", "1 photo")
        await at.pilot.press("p")
        await at.sees("photo 1 of 1", "grey veil")


async def test_where_there_are_no_photos_the_page_says_so(place):
    """No empty page opens; the words name the keys that file one."""
    async with findings(place) as at:
        await at.to("Corvannet", "p")
        await at.sees("no photos behind this cell")
        assert at.app.screen is at.page


@pytest.mark.parametrize("size", [(120, 40), (80, 24), (60, 20), (20, 5), (10, 3), (3, 2), (1, 1)], ids=str)
async def test_no_size_breaks_the_pages(place, size):
    """Both pages and both lists open at any size, resize there and back, and no line is too long."""
    async with findings(place, size) as at:
        await at.to("Evenness", "enter", "left", "right", "down", "c", "escape", "k", "escape", "m", "escape")
        assert all(len(line) <= size[0] for line in frame(at.app))
        await at.to("Drumlaw", "enter")
        await at.until(lambda: in_front(at.app, Why))
        await at.press("space", "pageup", "down", "up")
        assert all(len(line) <= size[0] for line in frame(at.app))
        await at.pilot.resize_terminal(80, 24)
        await at.sees("Why   Drumlaw, half pan, Evenness", "Fair wording. Ask the maker first")
        await at.press("escape")
        await at.sees("Findings   Evenness", "> half pan", *MAKERS)


@pytest.mark.parametrize("size", [(60, 20), (20, 5)], ids=str)
async def test_name_count_and_mark_stay_in_small_windows(place, size):
    """Words go first, then the strip."""
    async with findings(place, size) as at:
        await at.to("Evenness", "enter", "down")
        await at.sees("Corva", "8/8", "//-")


@pytest.mark.parametrize("group", range(13))
async def test_hostile_names_are_text(home, tmp_path, group):
    """Makers, paints and their lots called anything at all: nothing is markup, runs, or steers the terminal."""
    names = [name for name in HOSTILE[group::13] if name.strip() and name.isprintable() and len(name) <= 200]
    makers = list(dict.fromkeys(names)) or ["plain"]
    place = shelf_ledger(tmp_path, Shelf(makers, bad=(makers[0], Shelf(makers).bad[1])))
    async with findings(place, (120, 40)) as at:
        await at.to("Evenness", "enter")
        for _ in makers:
            await at.press("enter")
            await at.until(lambda: in_front(at.app, Why))
            await at.sees("Standing", HOW_SURE)
            _nothing_steers(at.picture)
            await at.press("escape", "m")
            await at.sees("Edge")
            _nothing_steers(at.picture)
            await at.pilot.click(offset=(20, 0))
            await at.press("escape", "down")
        await at.press("c", "escape", "k", "escape")
        assert at.app.is_running


def _nothing_steers(shown):
    assert not [char for char in shown if (ord(char) < 32 and char != "\n") or 0x7F <= ord(char) < 0xA0]


async def test_choosing_keeps_what_stands_marked(place):
    """The list opens at what is shown now."""
    async with findings(place) as at:
        lines = [line.name for line in at.strips._lines if not line.panels and not line.name.startswith("Labels")]
        last = lines[-1].partition(":")[0]
        await at.press("c", "end", "enter")
        await at.sees(f"Findings   {last}")
        await at.pilot.press("c")
        await at.until(lambda: in_front(at.app, Choose))
        await at.pilot.press("enter")
        await at.sees(f"Findings   {last}")


async def test_counts_come_first_and_answers_follow(place, unanswered, home):
    """Without an answer the accusation reads checking; it is worked out beside the page, and the page takes it in."""
    async with findings(place) as at:
        await at.to("Evenness", "enter")
        await at.until(lambda: at.page._is_beside)
        assert "... checking" in at.picture
        await at.sees("Esc stops, r goes on")
        pressed = at.strips.marked
        await at.pilot.press("down")
        assert at.strips.marked == pressed + 1, "keys are answered meanwhile"
        for _ in range(240):  # a process of its own has to load the model
            await at.pilot.pause(0.5)
            if "strip: pooled share; darker" in at.picture:
                break
        await at.sees("//- to confirm: maker's format", "strip: pooled share; darker")
        assert not at.page._is_beside
        assert list((home / "worked_out").glob("*.json"))


async def test_what_is_worked_out_beside_can_be_stopped(place, unanswered):
    """Esc ends the process; only r begins it again; leaving the program leaves none behind."""
    async with findings(place) as at:
        await at.until(lambda: at.page._is_beside)
        process = at.page._beside._process
        await at.pilot.press("escape")
        await at.sees("stopped; r goes on", " r goes on   Enter why")
        assert not process.is_alive()
        await at.pilot.pause(1.5)
        await at.sees("stopped; r goes on")
        await at.press("greater_than_sign")
        assert not at.page._is_beside
        await at.press("r")
        await at.until(lambda: at.page._is_beside)
        process = at.page._beside._process
    assert not process.is_alive()


async def test_the_name_of_the_marked_line_is_whole_and_a_trait_says_what_its_grades_are(place):
    """At 120 columns a long title is cut in the list and whole in the head; median and range are named."""
    async with findings(place, (120, 40)) as at:
        await at.to("Evenness", "enter")
        await at.to("Corvannet", "m")
        name = "Paint loose in its pan, or pan loose in its box"
        at.page._lines[0] = replace(at.page._lines[0], name=name)
        at.strips.mark(0)
        at.page._head()
        await at.pilot.pause()
        await at.until(lambda: name in frame(at.app)[0])
        panel = Panel("", "12", "", "median 1.5, range 1.5 to 2.5", "")
        drawn = "".join(segment.text for segment in at.strips._panel(panel, None))
        assert drawn.rstrip() == "median 1.5, range 1.5 to 2.5; 12 tested"
