"""Supporters' cards: dealt evenly, printed to scale with their cautions, and telling later what the page tells."""

import re
from collections import Counter
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcledger.errors import BadInput
from qcledger.findings import read
from qcledger.public import cards, from_findings, to_html
from qcledger.public.cards import PrintedCard, Swatch, card_code, dealt, since
from qcledger.public.to_cards import cards_html
from qcledger.public.view import PublicCard, PublicLot
from qcledger.records import Card
from qcledger.rubric import pigments
from qcledger.settings import shipped
from qcledger.text import clean
from tests.findings.made import only
from tests.hostile import HOSTILE
from tests.public import made
from tests.public.made import MadeCell
from tests.public.read import ReadPage, flat
from tests.public.test_faces import DAY, full_view


def swatch(number: int, lot: int, text: str = "Aldervane", names: tuple[str, ...] = ()) -> Swatch:
    """Return a specimen of a lot, in which every text is `text`."""
    return Swatch(f"s{number}", text, text, text, text, (f"lot {lot}", text, text), names)


SHELF = st.lists(st.integers(1, 4), min_size=1, max_size=12).map(
    lambda sizes: [swatch(10 * lot + n, lot) for lot, size in enumerate(sizes) for n in range(size)]
)


@given(SHELF, st.integers(1, 20), st.integers(1, 12))
def test_swatches_are_dealt_evenly(shelf, count, places):
    """No specimen is on a card twice; each lies on as many cards as any other, or on one more; lots come in turn."""
    found = dealt(shelf, count, places)
    assert len(found) == count
    times = Counter(one.specimen for some in found for one in some)
    every = [times[one.specimen] for one in shelf]
    assert max(every) - min(every) <= 1
    lots = len({one.lot for one in shelf})
    for some in found:
        assert len(some) == len({one.specimen for one in some}) == min(places, len(shelf))
    assert len({one.lot for one in found[0]}) == min(lots, places)


def test_makers_lie_on_cards_by_turns():
    """The first card holds a lot of each maker before a second one of any."""
    shelf = [replace(swatch(n, n), maker=maker) for n, maker in enumerate(("A", "A", "A", "B", "C", "C"))]
    first, second = dealt(shelf, 2, 3)
    assert [one.maker for one in first] == ["A", "B", "C"]
    assert [one.maker for one in second] == ["A", "C", "A"]


@pytest.mark.parametrize(("count", "places"), [(0, 12), (501, 12), (1, 0), (1, 13)])
def test_numbers_that_make_no_cards_are_refused(count, places):
    """The line says what was found and what is allowed."""
    with pytest.raises(BadInput, match="allowed: 1 to"):
        dealt([swatch(1, 1)], count, places)
    with pytest.raises(BadInput, match="nothing tested"):
        dealt([], 1, 12)


def test_what_is_kept_private_lies_on_no_card():
    """A paint that is kept private is not dealt, and asked for by its sticker it is refused."""
    rows = made.rows_of({"Aldervane": MadeCell("open", ((4.0,), (0.0,)))})
    rows = [replace(one, paint="hidden") if one.lot_code == "L00" else one for one in rows]
    found, kept = read(rows, only()), from_findings.PublicRules(kept_paints=frozenset({"hidden"}))
    assert len(cards.swatches_of(found, from_findings.PublicRules())) == 2
    (one,) = cards.swatches_of(found, kept)
    assert one.code == "L01"
    (hidden,) = [row.sticker for row in rows if row.paint == "hidden"]
    with pytest.raises(BadInput, match="not kept private"):
        cards.swatches_of(found, kept, [hidden])


def test_a_hazardous_pigment_has_its_caution_with_its_place():
    """Cobalt and cadmium are named with their places; label and data sheet win; of others nothing is said."""
    reference = pigments.load(shipped("rubrics") / "pigments.yaml")
    shelf = [swatch(1, 1, names=("PB28",)), swatch(2, 2), swatch(3, 3, names=("PR108", "PB28"))]
    row = Card(id="c", code="OV K0001", planned_on=DAY, specimens=("s1", "s2", "s3"))
    (one,) = cards.printed([row], {each.specimen: each for each in shelf}, reference)
    assert re.search(r"1, 3: cobalt\b", one.mind)
    assert re.search(r"\b3: cadmium\b", one.mind)
    assert one.mind.endswith(cards.WINS)
    eight = [swatch(n, n, names=("PB28",) if n != 4 else ()) for n in range(1, 9)]
    row8 = replace(row, specimens=tuple(each.specimen for each in eight))
    (many,) = cards.printed([row8], {each.specimen: each for each in eight}, reference)
    assert "1-3, 5-8: cobalt" in many.mind
    (plain,) = cards.printed([replace(row, specimens=("s2",))], {"s2": shelf[1]}, reference)
    assert plain.mind == ""


@pytest.mark.parametrize("text", [*HOSTILE, "x" * 10_000, "</style><script>"])
def test_hostile_texts_stay_texts_on_cards(text):
    """Whatever makers, paints and addresses are called: the same elements, and nothing that runs or is fetched."""
    text = (clean(text) and text) or "Aldervane"
    pages = [cards_html([PrintedCard(one, (swatch(1, 1, one),), one)] * 5, "A4", one) for one in ("Aldervane", text)]
    plain, seen = map(ReadPage, pages)
    assert seen.shape == plain.shape
    assert not seen.named("script")
    assert not re.search("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\u200f]", pages[1])


def test_a_number_is_typed_back_as_it_comes():
    """Case, blanks, marks and noughts do not count."""
    plain = to_html.codes.plain_code
    assert {plain(text) for text in (card_code("OV", 7), "ovk7", "OV-K 007", "ov K7")} == {"ovk7"}
    assert plain(card_code("OV", 17)) != plain(card_code("OV", 7))


def test_a_card_tells_what_the_page_tells_of_its_lots():
    """Counts of settled things, of what is open no more than how many; where nothing may be told that is said."""
    view = full_view()
    view = replace(view, cards=(PublicCard("OV K0001", ("l-1",), 2),))
    lines = list(since(Card(id="c", code="OV K0001", planned_on=DAY, specimens=("a", "b", "c")), view))
    assert lines[0].startswith("Aldervane Aldervane, Aldervane, Aldervane: 7 tested. Aldervane: 5 of 7.")
    assert lines[1] == "Nothing is told of 2 of its swatches."
    unknown = Card(id="d", code="OV K0002", planned_on=DAY, specimens=("a",))
    assert list(since(unknown, view)) == ["Nothing is told of 1 of its swatches."]


def test_the_page_knows_cards_by_their_numbers():
    """A lot's row bears the numbers of the cards it lies on; without a script they stand in a list with links."""
    view = full_view()
    other = PublicLot(
        id="l-2", maker="Drumlaw", paint="Rust", format="tube", code="D1", tested=1, bought_first=DAY, bought_last=DAY
    )
    view = replace(view, lots=(*view.lots, other), cards=(PublicCard("OV K0001", ("l-2",)),))
    page = ReadPage(to_html.scorecard_html(view, {}))
    assert page.by_id("l-2").attributes["data-cards"] == "ovk1"
    assert "data-cards" not in page.by_id("l-1").attributes
    (listed,) = [one for one in page.named("li") if "OV K0001" in one.text]
    assert "Drumlaw Rust, tube, D1" in flat(listed.text)
    assert "your card" in flat(page.named("label")[0].text)
    assert "card" not in flat(ReadPage(to_html.scorecard_html(full_view(), {})).named("label")[0].text)
