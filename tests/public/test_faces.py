"""Every face tells what the view holds, no more and no less; texts stay texts."""

import csv
import io
import json
import re
from collections import defaultdict
from dataclasses import fields, is_dataclass, replace
from datetime import date
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from markdown_it import MarkdownIt

from qcledger.findings.checks import percent
from qcledger.findings.words import banned_in, number
from qcledger.public import to_html, told
from qcledger.public.photos import ReducedPhoto
from qcledger.public.to_csv import scorecard_csv
from qcledger.public.to_html import policy, scorecard_html
from qcledger.public.to_json import scorecard_json
from qcledger.public.to_md import scorecard_md
from qcledger.public.view import (
    DrawnLot,
    GradeSeen,
    LotStatement,
    PriceSpan,
    PublicAsking,
    PublicChange,
    PublicLabel,
    PublicLot,
    PublicMaker,
    PublicPhoto,
    PublicStanding,
    PublicStatement,
    PublicView,
    WayOfTesting,
    public_cell,
)
from qcledger.text import clean
from qcledger.vocab import Extent
from tests.hostile import HOSTILE
from tests.public import made
from tests.public.read import ReadPage, flat, numbers

DAY = date(2026, 3, 4)
COUNT = st.integers(0, 40)


def full_view(text="Aldervane", counts=(7, 5, 3)):
    """Return a view in which every text is `text`, and that fills every section."""
    tested, faulty, few = counts
    one_ = (text,)
    asked = (PublicAsking(text, DAY, "Asked 4 March 2026; answered.", f"{text}\n{text}"),)
    said = {
        "criterion": "froth", "criterion_title": text, "subject": f"lot {text}",
        "sentence": f"{text}: {few} of {tested}.", "further": (f"{text}: {tested}.", text),
        "tested": tested, "faulty": faulty, "lots": few,
        "fault_words": text, "asked": asked, "held_up": text, "judged": one_, "changed": one_,
        "grades": (GradeSeen(3.5, text, few),),
        "gifts": few, "reader_notes": 1,
    }  # fmt: skip
    drawn = (DrawnLot(text, text, tested, faulty),)
    cell = {"maker": text, "criterion": "froth", "criterion_title": text, "format": text, "tested": tested,
            "lots": few, "without_code": 0, "paints": 1, "sellers": 1}  # fmt: skip
    base, one = made.view(made.found_of({})), (text,)
    return replace(
        base,
        title=text,
        question=text,
        edition=replace(base.edition, address=text, reasons=(text,), missing=(text,)),
        methods=replace(base.methods, sessions=one, void=one, in_question=one, rubrics=one, paper=text, limits=text,
                        ways=(WayOfTesting(text, few, one), WayOfTesting("not blind", 0, one))),
        money=replace(base.money, bought=tested, gifts=few, disclosed=text),
        makers=(PublicMaker("m-1", text, tested, (text,), (price(text, few),), asked),),
        statements=(
            PublicStatement(id="s-1", extent=Extent.LOT, maker=text, low=None, high=None, drawn=drawn, **said),
            PublicStatement(id="s-2", extent=Extent.MAKER, maker=text, low=0.25, high=0.5, drawn=drawn, **said),
            PublicStatement(id="s-3", extent=Extent.FORMAT, maker=None, low=0.25, high=0.5, drawn=drawn, **said),
        ),
        labels=(PublicLabel(id="label-1", maker=text, paint=text, format=text, seen_on=DAY, printed=(text,),
                            reference=(text,), asked=asked),),
        cells=(
            public_cell(PublicStanding.NONE_FOUND, **cell, faulty=0, still_allowed=0.3, sentence=text, gifts=few),
            public_cell(PublicStanding.OPEN, **cell),
            public_cell(PublicStanding.SETTLED, **cell, faulty=faulty, statements=("s-1",)),
        ),
        lots=(PublicLot(id="l-1", maker=text, paint=text, format=text, code=text, tested=tested, open=True,
                        bought_first=DAY, bought_last=DAY, none_found=one,
                        statements=(LotStatement("s-1", text, tested, faulty),)),),
        changes=(PublicChange(text, text, DAY, text, text),),
    )  # fmt: skip


def known_numbers(part):
    """Return every number that a part of the view holds, as the faces may print it, in figures and in words."""
    if isinstance(part, PriceSpan):
        coins = (part.low_minor, part.high_minor, part.low_per_ml_minor, part.high_per_ml_minor)
        told_ = (f"{one / 10**part.minor_digits:.{part.minor_digits}f}" for one in coins)
        return numbers(f"{part.count} {part.nominal} {' '.join(told_)}")
    if isinstance(part, PublicView):
        coins = defaultdict(list)
        for one in (span for maker in part.makers for span in maker.prices):
            coins[one.format, one.nominal, one.currency, one.tax, one.sold] += [one.low_minor, one.high_minor]
        times = numbers(" ".join(f"{max(some) / min(some):.2f}" for some in coins.values()))
        return times.union(*(known_numbers(getattr(part, one.name)) for one in fields(part)))
    if is_dataclass(part):
        return set().union(*(known_numbers(getattr(part, one.name)) for one in fields(part)))
    if isinstance(part, tuple):
        return numbers(str(len(part))).union(*map(known_numbers, part))
    if isinstance(part, date):
        return {str(part.year), str(part.month), str(part.day)}
    if isinstance(part, float):
        return numbers(percent(part)) | numbers(f"{part:,.2f}") | numbers(f"{part:g}")
    return numbers(str(part))


FIXED = {"95", "0", "5", "1"}
"""Numbers that the page's own words hold: the level and the ends of the scale."""


@given(st.tuples(COUNT, COUNT, COUNT))
def test_each_number_on_the_page_and_in_markdown_is_the_views(counts):
    """No number is printed that the view does not hold, and what a statement counts is printed in its place."""
    view = full_view(counts=counts)
    html, text = ReadPage(scorecard_html(view, {})), scorecard_md(view)
    known = known_numbers(view) | FIXED
    assert numbers(html.text) <= known | {"0123"}
    assert numbers(text) <= known
    for one in view.statements:
        counted = told.counted(one)
        assert f"{counted} faulty." in flat(html.by_id(one.id).text)
        assert f"{counted} faulty." in text
    (lot,) = view.lots
    assert f"{lot.tested} tested." in flat(html.by_id("l-1").text)
    assert all(told.allows(one) in text for one in view.statements)


@given(st.tuples(COUNT, COUNT, COUNT))
def test_csv_and_json_hold_the_view(counts):
    """JSON is the view itself; each number of a CSV line is that of its statement, cell or lot."""
    view = full_view(counts=counts)
    kept = json.loads(scorecard_json(view))
    assert [one["tested"] for one in kept["statements"]] == [one.tested for one in view.statements]
    assert [one["faulty"] for one in kept["cells"]] == [one.faulty for one in view.cells]
    rows = list(csv.DictReader(io.StringIO(scorecard_csv(view))))
    for what, parts in (("statement", view.statements), ("cell", view.cells), ("lot", view.lots)):
        lines = [row for row in rows if row["what"] == what]
        assert len(lines) == len(parts)
        for line, part in zip(lines, parts, strict=True):
            for name in ("tested", "faulty", "lots", "low", "high", "still_allowed", "gifts", "reader_notes"):
                if hasattr(part, name):
                    kept_ = getattr(part, name)
                    assert line[name] == ("" if kept_ is None else repr(kept_)), (what, name)


def price(text, few):
    """Return what specimens of one size cost, every text of it `text`."""
    return PriceSpan(text, "8 ml", "EUR", 1.5, 2.25, few, text, text, 2, 150, 225, 19, 28)


def test_prices_stand_like_beside_like_and_by_no_price():
    """Makers go A to Z, sizes rise, sets follow what was sold singly; digits are those of the currency."""

    def span(format_, nominal, code, digits, low, high, sold="single"):
        return PriceSpan(format_, nominal, code, 0.0, 0.0, 1 + (low != high), "with tax", sold, digits, low, high)

    dear = PublicMaker("m-1", "Aldervane", 9, ("tube",), (
        span("tube", "15 ml", "EUR", 2, 980, 1240), span("tube", "8 ml", "EUR", 2, 900, 900),
        span("tube", "15 ml", "EUR", 2, 700, 700, "share of a set"), span("half pan", "", "KWD", 3, 1500, 1500),
    ))  # fmt: skip
    free = PublicMaker("m-2", "Corvannet", 9, ("tube",), (
        span("tube", "15 ml", "EUR", 2, 490, 490), span("tube", "15 ml", "JPY", 0, 1240, 2480),
        span("tube", "8 ml", "EUR", 2, 0, 0),
    ))  # fmt: skip
    view = replace(full_view(), makers=(dear, free))
    found = told.prices_alike(view)
    assert [(one.alike, [maker for maker, _ in one.spans]) for one in found] == [
        ("half pan, no size said, KWD, with tax", ["Aldervane"]),
        ("tube, 8 ml, EUR, with tax", ["Aldervane", "Corvannet"]),
        ("tube, 15 ml, EUR, with tax", ["Aldervane", "Corvannet"]),
        ("tube, 15 ml, share of a set, EUR, with tax", ["Aldervane"]),
        ("tube, 15 ml, JPY, with tax", ["Corvannet"]),
    ]
    assert [told.each_paid(one) for table in found for _, one in table.spans] == [
        "1.500", "9.00", "0.00", "9.80 to 12.40", "4.90", "7.00", "1,240 to 2,480"
    ]  # fmt: skip
    times = ["", "", "The highest price here is 2.53 times the lowest.", "",
             "The highest price here is 2.00 times the lowest."]  # fmt: skip
    assert [one.times for one in found] == times
    shown = made.faces(view)
    assert all("1,240 to 2,480" in shown[face] and times[2] in shown[face] for face in ("html", "md"))
    rows = [row for row in csv.DictReader(io.StringIO(shown["csv"])) if row["what"] == "price"]
    assert [(row["maker"], row["low_price_minor"]) for row in rows[-2:]] == [
        ("Corvannet", "1240"),
        ("Corvannet", "0"),
    ]


def test_without_prices_there_is_no_section_of_them():
    """No heading, no empty table and no link to one."""
    view = replace(full_view(), makers=())
    assert all(told.SECTIONS["prices"] not in made.faces(view)[face] for face in ("html", "md"))


@pytest.mark.parametrize("text", [*HOSTILE, "x" * 10_000, "\u202eabc", "[bold]x", "=cmd()", "</style><script>"])
def test_hostile_texts_stay_texts(text):
    """Whatever makers, answers and captions say: same elements, same Markdown, no formula, nothing that steers."""
    plain, view = full_view("Aldervane"), full_view((clean(text) and text) or "Aldervane")
    page = scorecard_html(view, {})
    assert ReadPage(page).shape == ReadPage(scorecard_html(plain, {})).shape
    assert _tokens(scorecard_md(view)) == _tokens(scorecard_md(plain))
    for row in csv.reader(io.StringIO(scorecard_csv(view))):
        assert not [cell for cell in row if cell[:1] in ("=", "+", "@", "\t", "\r", "\uff1d")]
        assert not [cell for cell in row if cell[:1] == "-" and not re.fullmatch(r"-?[\d.]+", cell)]
    for face in (page, scorecard_md(view), scorecard_csv(view), scorecard_json(view)):
        assert not re.search("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\u200f]", face.replace("\r", ""))


def _tokens(text):
    """Return what Markdown makes of a text: its blocks, and what marks up within them."""
    told_ = []
    for token in MarkdownIt("commonmark").enable(["table", "strikethrough"]).parse(text):
        told_ += [token.type, *(one.type for one in token.children or () if one.type not in ("text", "softbreak"))]
    return told_


def test_the_page_lets_nothing_in_or_out():
    """It names no address but its own anchors; its policy allows its own style and script by their hashes alone."""
    view = full_view()
    page = ReadPage(scorecard_html(view, {}))
    for tag in page.tags:
        for name in ("src", "href", "action", "srcset", "data"):
            assert (tag.attributes.get(name) or "#").startswith(("#", "data:image/jpeg;base64,")), tag
        assert not [name for name in tag.attributes if name.startswith("on") or name == "style"], tag
    (meta,) = [one for one in page.named("meta") if one.attributes.get("http-equiv") == "Content-Security-Policy"]
    source = scorecard_html(view, {})
    style, script = (re.search(f"<{tag}>(.*?)</{tag}>", source, re.S)[1] for tag in ("style", "script"))
    assert meta.attributes["content"] == policy(style, script)
    assert "default-src 'none'" in meta.attributes["content"]
    assert "innerHTML" not in script


def test_the_page_reads_in_order_for_a_screen_reader():
    """One first heading, no level skipped, each section has a name, each table heads, each input a label."""
    page = ReadPage(scorecard_html(full_view(), {}))
    levels = [int(one.name[1]) for one in page.tags if re.fullmatch("h[1-6]", one.name)]
    assert levels.count(1) == 1
    assert all(later <= earlier + 1 for earlier, later in pairwise(levels))
    ids = {one.attributes["id"] for one in page.tags if "id" in one.attributes}
    assert all(one.attributes["aria-labelledby"] in ids for one in page.named("section"))
    assert len(page.named("caption")) == len(page.named("table"))
    labels = {one.attributes["for"] for one in page.named("label")}
    assert {one.attributes["id"] for one in page.named("input")} <= labels
    assert all("alt" in one.attributes for one in page.named("img"))


def test_what_is_folded_beneath_a_sentence_is_in_every_face():
    """Each line stands under its statement: folded on the page, a list in Markdown and JSON, joined in CSV."""
    base = full_view()
    lines = ("Bought from two sellers.", "We have not tested later lots.")
    view = replace(base, statements=(replace(base.statements[0], further=lines),))
    page = ReadPage(scorecard_html(view, {}))
    (folded,) = [one for one in page.named("details") if lines[0] in one.text]
    assert lines[1] in folded.text
    assert "open" not in folded.attributes
    assert all(f"\n- {line}" in scorecard_md(view) for line in lines)
    assert json.loads(scorecard_json(view))["statements"][0]["further"] == list(lines)
    (row,) = [one for one in csv.DictReader(io.StringIO(scorecard_csv(view))) if one["what"] == "statement"]
    assert row["further"] == " ".join(lines)


def test_what_is_settled_stands_first_in_a_line_each():
    """Page and Markdown name each settled thing before their sections, with its count; of many only the number."""
    view = full_view()
    of_code, of_maker, label, common = told.at_a_glance(view)
    assert [one.anchor for one in (of_code, of_maker, label, common)] == ["s-1", "s-2", "label-1", "s-3"]
    assert (common.maker, of_maker.maker) == ("", "Aldervane")
    for one in (of_code, of_maker):
        assert one.count == "5 of 7 faulty, in what we tested"
    html, md = scorecard_html(view, {}), scorecard_md(view)
    for text, first in ((html, 'id="yours"'), (md, "## ")):
        assert "5 of 7 faulty, in what we tested" in text[: text.index(first)]
    (one, *_) = view.statements
    many = replace(view, statements=tuple(replace(one, id=f"s-{n}") for n in range(told.MOST_AT_A_GLANCE + 1)))
    assert told.at_a_glance(many) == []
    assert "21 things" in scorecard_html(many, {})
    none = replace(view, statements=(), labels=())
    assert "Settled so far" not in scorecard_html(none, {})


def test_a_page_holds_no_more_photos_than_there_is_room_for(monkeypatch):
    """Photos fill a page up to its bytes, one in several places counted in each; the others are links alone."""
    view = full_view()
    shot = [PublicPhoto(f"{n}" * 64, "<&" * 9, 4, 3) for n in range(1, 6)]
    copies = {one.sha256: ReducedPhoto(bytes(10_000), one.sha256, 4, 3) for one in shot}
    photos = (shot[0], *shot)
    view = replace(view, statements=tuple(replace(one, photos=photos) for one in view.statements))
    bare = len(scorecard_html(view, {}, "beside").encode())
    whole = scorecard_html(view, copies, "beside")
    assert whole.count("data:image/jpeg;base64,") == 3 * 6
    monkeypatch.setattr(to_html, "PAGE_BYTES", bare + 150_000)
    page = scorecard_html(view, copies, "beside")
    assert bare < len(page.encode()) <= bare + 150_000
    assert page.count("data:image/jpeg;base64,") == 3 * 3  # the first takes six places, which is too many
    assert all(f"beside/{one.sha256}.jpg" in page for one in shot)


def test_a_draft_is_marked_and_an_edition_is_not():
    """A draft says so at its head, in print on each page, and in every face; an edition bears its number."""
    view = full_view()
    draft, edition = view, replace(view, edition=replace(view.edition, number=3))
    for face in (lambda one: scorecard_html(one, {}), scorecard_md, scorecard_csv):
        assert "draft" in face(draft).casefold()
        assert "Edition 3" in face(edition)
    assert "DRAFT" not in ReadPage(scorecard_html(edition, {})).text
    assert [one.text for one in ReadPage(scorecard_html(draft, {})).tags if one.attributes.get("class") == "mark"]


def test_the_pages_own_words_accuse_of_nothing():
    """None of the words that say more than specimens can stands in the page's own text, and no ranking."""
    for text in (ReadPage(scorecard_html(full_view(), {})).text, scorecard_md(full_view())):
        assert banned_in(text) == ()
        assert not re.search(r"\b(best|worst buy|winner|stars?|recommended|rank \d|score)\b", text, re.IGNORECASE)


def test_blocks_are_short_and_keep_each_word():
    """A text in blocks is the same text, and no block is longer than forty words unless one sentence is."""
    text = "One two three. " * 30
    parts = told.blocks(text)
    assert " ".join(parts) == text.strip()
    assert max(len(one.split()) for one in parts) <= told.MOST_WORDS
    assert number(2) == "two"
