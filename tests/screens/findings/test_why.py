"""Stories of the page Why: the sentence first, then everything that led to it."""

import pytest

from qcledger.findings.wording import FAIR
from qcledger.ledger import Ledger
from qcledger.report.kept import of_ledger
from qcledger.report.parts import SO_FAR
from qcledger.report.to_why import why_text
from qcledger.screens.findings.why import Why
from tests.screens.findings.support import findings, shelf_ledger
from tests.screens.support import frame, in_front


@pytest.fixture
def place(home, tmp_path):
    return shelf_ledger(tmp_path)


async def test_the_sentence_comes_first_and_every_part_follows(place):
    """Enter on a cell opens its why; all parts of the command's text are there, in the same words and order."""
    async with findings(place, (80, 200)) as at:
        await at.to("Corvannet", "enter")
        await at.until(lambda: in_front(at.app, Why))
        await at.sees("Why   Corvannet, half pan, Evenness", "What would settle it", "no photos")
        shown = [line.strip() for line in frame(at.app)]
        assert shown[2] == FAIR
        assert shown[3].startswith("Corvannet, half pan, evenness: eight specimens from eight lots")
        assert shown[shown.index(SO_FAR) + 1].startswith("Corvannet, half pan, evenness: 8 of 8 specimens faulty")
        with Ledger.open(place) as ledger:
            told = why_text(of_ledger(ledger).only(maker="mk1", criterion="evenness").findings)
        lines = told.partition("Without a fault")[0].splitlines()
        titles = [line for line in lines if line in shown and line[:1] > " "]
        assert [line for line in shown if line in titles] == titles
        assert titles == [
            FAIR,
            "Standing",
            SO_FAR,
            "As counted, and pooled with the other makers",
            "Does it stand with one thing left out?",
            "Lots, each by itself",
            "Lots, pooled: each lot's share, allowing for what the others show",
            "Peers: other makers' paints of the same pigments in the same format",
            "Parcels and sellers",
            "Funnel",
            "Checks",
            "Observations",
            "What would settle it, either way",
        ]


async def test_without_photos_no_key_promises_any(place):
    """Neither foot nor help name the key; pressed all the same, it says so and opens nothing."""
    async with findings(place) as at:
        await at.to("Corvannet", "enter")
        await at.sees("no photos")
        assert frame(at.app)[-1].split()[:6] == ["Esc", "back", "o", "observations", "space", "on"]
        assert "photos" not in frame(at.app)[-1]
        await at.press("p")
        assert isinstance(at.app.screen, Why)
        await at.press("?")
        await at.sees("Keys: Why")
        assert "Show the photos" not in at.picture


async def test_what_is_to_be_confirmed_is_marked_private(place):
    """The publishable sentence says "open"; the page says what it is for its tester."""
    async with findings(place, (80, 60)) as at:
        await at.to("Corvannet", "enter")
        await at.sees("this is open.", SO_FAR, "//- to confirm: this maker's half pans")


async def test_it_reads_on_by_screens_and_goes_back(place):
    """Space and Page Up turn, the arrows go by lines, Esc and Backspace lead back to the marked cell."""
    async with findings(place) as at:
        await at.to("Corvannet", "enter")
        await at.sees(FAIR)
        await at.pilot.press("space")
        await at.until(lambda: FAIR not in at.picture)
        await at.pilot.press("pageup")
        await at.sees(FAIR)
        await at.pilot.press("backspace")
        await at.until(lambda: at.app.screen is at.page)
        assert at.strips._lines[at.strips.marked].name == "Corvannet"


async def test_a_finding_that_is_gone_is_said(place):
    """When the ledger no longer holds what is asked about, one line says so."""
    from qcledger.records import Decision
    from qcledger.vocab import DecisionKind
    from tests.small import START

    async with findings(place) as at:
        await at.to("Corvannet", "enter")
        await at.sees(FAIR)
        with Ledger.open(place, write=True) as ledger:
            ledger.append(
                [
                    Decision(
                        id=f"void{n}", kind=DecisionKind.VOID, subject_table="session", subject=f"se{n}",
                        on=START.date(), by="OV", reason="lamp failed",
                    )
                    for n in range(2)
                ]
            )  # fmt: skip
        at.app.screen.work(at.app.screen.fill)
        await at.until(lambda: "no specimen could be judged" in at.picture or "still holds" in at.picture)
