"""Stories of labels on the page Findings, and of the page that quotes one word for word."""

import pytest

from qcledger.ledger import Ledger
from qcledger.records import Decision, Question
from qcledger.screens.dialogs import Ask
from qcledger.screens.findings.labelwhy import LabelWhy
from qcledger.screens.forms.form import FormPage
from qcledger.screens.record.behind import Behind
from tests.hostile import HOSTILE
from tests.report.test_labelfacts import Labels, contradicting
from tests.screens.findings.support import findings
from tests.screens.support import in_front
from tests.small import ticking


@pytest.fixture
def place(home, tmp_path):
    """Return a ledger in which one label of two contradicts itself."""
    place = tmp_path / "l.sqlite"
    with Ledger.create(place, letters="OV", tester="OV", sources=ticking()) as ledger:
        labels = Labels(ledger)
        contradicting(labels)
        labels.piece(
            "B", "Ochre", label=labels.label("B", "Ochre", index_names=("PY42",), chemical_names=("iron oxide",))
        )
        labels.grade(labels.piece("A", "Viridian"), batch_code=5)
    return place


HEADING = "Labels, word for word: something is held against 1 of 2 labels"


@pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=str)
async def test_a_label_stands_below_the_criteria_and_opens_its_words(place, size):
    """Only what something is held against is listed; Enter quotes it with our reference; o lists its grades."""
    async with findings(place, size) as at:
        await at.sees(HEADING, "Maker A Viridian, tube:")
        assert "Ochre" not in at.picture
        await at.to("Maker A Viridian, tube:", "enter")
        await at.until(lambda: in_front(at.app, LabelWhy))
        await at.sees("Maker A Viridian, tube", "May be published once its maker was asked")
        await at.until(lambda: '"hydrated chromium oxide"' in " ".join(at.picture.split()))
        await at.pilot.press("o")
        await at.until(lambda: in_front(at.app, Behind))
        await at.sees("Label mismatch")
        await at.pilot.press("escape")
        await at.until(lambda: in_front(at.app, LabelWhy))
        await at.pilot.press("escape")
        await at.sees(HEADING)


async def test_the_heading_opens_the_list_of_labels(place):
    """Each label, those that nothing is held against too; Esc goes back to the criteria."""
    async with findings(place) as at:
        await at.sees(HEADING)
        await at.to(HEADING, "enter")
        await at.sees("Maker B Ochre, tube:", "Maker A Viridian, tube:")
        assert "Batch code" not in at.picture
        await at.press("escape")
        await at.sees("Batch code")


async def test_a_makers_card_holds_its_labels(place):
    """All of the maker's labels, and no other's."""
    async with findings(place) as at:
        await at.sees(HEADING)
        await at.to("Maker A Viridian, tube:", "m")
        await at.sees("Batch code", "Maker A Viridian, tube:")
        assert "Ochre" not in at.picture


async def test_keys_of_cells_say_that_a_label_is_none(place):
    """P on a label's line has no cell to show photos of; it says how the label is opened."""
    async with findings(place) as at:
        await at.sees(HEADING)
        await at.to("Maker A Viridian, tube:", "p")
        await at.sees("this line is about a label: Enter opens it")


async def test_a_maker_is_asked_about_its_label_and_it_is_kept_private(place):
    """Q keeps the quoted sentence, h keeps it private; both stand beside it then."""
    async with findings(place) as at:
        await at.sees(HEADING)
        await at.to("Maker A Viridian, tube:", "enter")
        await at.until(lambda: in_front(at.app, LabelWhy))
        await at.pilot.press("q")
        await at.until(lambda: in_front(at.app, FormPage) and at.app.screen._ready)
        await at.pilot.press("f3")
        await at.until(lambda: not in_front(at.app, FormPage))
        with Ledger.open(place) as ledger:
            (asked,) = ledger.rows(Question)
        assert asked.findings == ("name_mismatch | mkA | tube",)
        assert 'prints "PG7" and "hydrated chromium oxide"' in asked.sentences[0]
        await at.until(lambda: in_front(at.app, LabelWhy))
        await at.pilot.press("h")
        await at.until(lambda: in_front(at.app, FormPage) and at.app.screen._ready)
        await at.pilot.press(*"later", "f3")
        await at.until(lambda: not isinstance(at.app.screen, FormPage | Ask))
        with Ledger.open(place) as ledger:
            (kept,) = ledger.rows(Decision)
        assert kept.subject_table == "finding | name_mismatch | tube"


async def test_the_label_is_put_right_from_its_page(place):
    """B opens the form of this very label."""
    async with findings(place) as at:
        await at.sees(HEADING)
        await at.to("Maker A Viridian, tube:", "enter")
        await at.until(lambda: in_front(at.app, LabelWhy))
        await at.pilot.press("b")
        await at.until(lambda: in_front(at.app, FormPage) and at.app.screen._ready)
        await at.sees("label of Maker A Viridian", "PG7")


async def test_what_is_printed_is_shown_as_text(home, tmp_path):
    """Markup, control letters and long lines of labels are text, in the list and word for word."""
    place = tmp_path / "l.sqlite"
    texts = [text for text in HOSTILE if text.strip()]
    with Ledger.create(place, letters="OV", tester="OV", sources=ticking()) as ledger:
        labels = Labels(ledger)
        printed = " ".join(texts)[:1000]
        label = labels.label(
            "A", "[bold]Red[/]", index_names=("PG7",), chemical_names=tuple(texts[:20]), printed=printed
        )
        labels.grade(labels.piece("A", "[bold]Red[/]", label=label), name_mismatch=5)
    async with findings(place) as at:
        await at.sees("Labels, word for word", "[bold]Red[/]")
        await at.to("Maker A [bold]Red[/], tube:", "enter")
        await at.until(lambda: in_front(at.app, LabelWhy))
        await at.sees("Maker A [bold]Red[/], tube: the label prints")
