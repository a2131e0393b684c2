"""Stories of the page Why: the sentence first, then everything that led to it."""

import pytest

from qcledger.findings.wording import FAIR
from qcledger.ledger import Ledger
from qcledger.report.kept import of_ledger
from qcledger.report.parts import HOW_SURE, RESTS_ON, SO_FAR, WOULD_SETTLE
from qcledger.report.to_why import why_text
from qcledger.screens.findings.why import Why
from tests.screens.findings.support import findings, shelf_ledger
from tests.screens.support import frame, in_front


@pytest.fixture
def place(home, tmp_path):
    return shelf_ledger(tmp_path)


async def test_the_sentence_comes_first_and_every_part_follows(place):
    """Plain words first, the statistics one key further: the parts of the command's text, same words and order."""
    async with findings(place, (80, 200)) as at:
        await at.to("Corvannet", "enter")
        await at.until(lambda: in_front(at.app, Why))
        await at.sees("Why   Corvannet, half pan, Evenness", WOULD_SETTLE, "no photos")
        shown = [line.strip() for line in frame(at.app)]
        assert shown[2] == FAIR
        assert shown[3].startswith("Corvannet, half pan, evenness: eight specimens from eight lots")
        assert shown[shown.index(SO_FAR) + 1].startswith("Corvannet, half pan, evenness: 8 of 8 specimens faulty")
        with Ledger.open(place) as ledger:
            told = why_text(of_ledger(ledger).only(maker="mk1", criterion="evenness").findings)
        await at.press("s")
        await at.sees("Lots, each by itself")
        assert FAIR not in at.picture
        shown += [line.strip() for line in frame(at.app)]
        lines = told.partition("Without a fault")[0].splitlines()
        titles = [line for line in lines if line in shown and line[:1] > " "]
        assert [line for line in shown if line in titles] == titles
        assert titles == [
            FAIR,
            HOW_SURE,
            RESTS_ON,
            WOULD_SETTLE,
            SO_FAR,
            "Standing",
            "As counted, and pooled with the other makers",
            "Does it stand with one thing left out?",
            "Lots, each by itself",
            "Lots, pooled: each lot's share, allowing for what the others show",
            "Peers: other makers' paints of the same pigments in the same format",
            "Parcels and sellers",
            "Funnel",
            "Checks",
            "Observations",
        ]
        await at.press("s")
        await at.sees(FAIR)


async def test_what_would_settle_it_is_on_the_first_screen(place):
    """At 80 x 24 the sentence, how sure it is, and what to buy next stand above the foot, before any key."""
    async with findings(place) as at:
        await at.to("Corvannet", "enter")
        await at.sees(FAIR, HOW_SURE, "It looks like it and is not confirmed yet", WOULD_SETTLE, "bought to confirm")


async def test_a_wide_screen_has_the_statistics_beside_the_words(place):
    """From 110 columns two columns stand side by side; s goes to the statistics, which then scroll alone."""
    async with findings(place, (120, 40)) as at:
        await at.to("Corvannet", "enter")
        await at.sees(FAIR, "Standing", "As counted, and pooled with the other makers")
        assert "Standing" in frame(at.app)[2]
        await at.press("s", "space")
        await at.until(lambda: "As counted, and pooled" not in at.picture)
        assert FAIR in at.picture
        await at.pilot.resize_terminal(80, 24)
        await at.until(lambda: "Standing" not in at.picture and FAIR in at.picture)


async def test_without_photos_no_key_promises_any(place):
    """Neither foot nor help name the key; pressed all the same, it says so and opens nothing."""
    async with findings(place) as at:
        await at.to("Corvannet", "enter")
        await at.sees("no photos")
        assert frame(at.app)[-1].split()[:6] == ["Esc", "back", "s", "statistics", "o", "observations"]
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
        await at.sees("this is open.", SO_FAR)
        await at.press("s")
        await at.sees("//- to confirm: this maker's half pans")


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
