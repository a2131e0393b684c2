"""The draft of the demo: what was planted is told at its standing, and nothing else is."""

import math
import re
from pathlib import Path

import pandas as pd

from qcledger.findings.words import banned_in
from qcledger.public import told
from qcledger.public.from_findings import PublicRules
from qcledger.public.labels import public_labels
from qcledger.public.to_html import scorecard_html
from qcledger.public.to_md import scorecard_md
from qcledger.public.view import PublicStanding
from qcledger.records.finding_key import FindingKey
from tests.public.read import ReadPage, flat, numbers
from tests.public.test_faces import FIXED, known_numbers

MAKERS = (
    "Aldervane",
    "Corvannet",
    "Drumlaw",
    "Fennacre",
    "Halcyre",
    "Maslenne",
    "Quernlow",
    "Trellmere",
    "Vardelune",
)


def test_the_lot_that_was_bad_is_found_and_the_others_are_told(demo_gathered):
    """Whoever holds lot Q4471 reads what was wrong; whoever holds another lot of the paint, that it was not."""
    lots = {one.code: one for one in demo_gathered.view.lots if one.paint == "Kiln Red"}
    bad = {one.title: (one.faulty, one.tested) for one in lots["Q4471"].statements}
    assert bad["Separated binder"] == (4, 4)
    assert "Lay-down bubbles" not in bad  # still to be confirmed
    assert {one.title: one.faulty for one in lots["Q4480"].statements}["Separated binder"] == 0
    (said,) = [one for one in demo_gathered.view.of_codes if one.criterion_title == "Separated binder"]
    assert (said.maker, said.asked[0].answer) == ("Quernlow", "lot withdrawn")
    assert said.photos


def test_what_is_common_blames_nobody(demo_gathered):
    """A pigment that is hard to wet, and froth of half pans, name no maker, neither in words nor in the drawing."""
    assert len(demo_gathered.view.common) >= 2
    for one in demo_gathered.view.common:
        assert one.maker is None
        free = [line for line in one.further if "up to" in line and "none of" in line]
        told = repr(one)
        for line in free:  # who is free of it is named, and nobody else
            assert line.startswith("Drumlaw, half pan: none of 10 specimens faulty")
            told = told.replace(line, "")
        assert not [maker for maker in MAKERS if maker in told]
    assert sum("Drumlaw" in repr(one) for one in demo_gathered.view.common) == 1


def test_decoys_read_as_open(demo_gathered):
    """Two cracked pans without a code, one soft pan and one tube: no count, no word, no photo."""
    cells = {(one.maker, one.format, one.criterion): one for one in demo_gathered.view.cells}
    for key in (("Vardelune", "full pan", "cracked"), ("Drumlaw", "half pan", "soft_face")):
        assert (cells[key].standing, cells[key].faulty) == (PublicStanding.OPEN, None)
    assert "cracked" not in " ".join(one.sentence for one in demo_gathered.view.statements).casefold()


def test_a_label_is_quoted_and_has_no_rate(demo_gathered):
    """The label that contradicts itself is told word for word beside our reference and where that is from."""
    (label,) = demo_gathered.view.labels
    assert (label.maker, label.paint) == ("Fennacre", "Viridian")
    assert {"PG18", "chlorinated copper phthalocyanine"} <= set(label.printed)
    assert all("[" in one for one in label.reference)
    assert not [one for one in demo_gathered.view.statements if one.maker == "Fennacre"]


def test_a_label_whose_grade_is_kept_private_is_not_quoted(demo_found, demo_gathered):
    """Its paint may be kept private, and the label is quoted; where the grade of the label is, it is not."""
    (told_,) = demo_gathered.view.labels
    (fact,) = [one for one in demo_found.label_facts if (one.paint_name, one.maker_name) == ("Viridian", told_.maker)]
    paint = PublicRules(kept_paints=frozenset({fact.paint}))
    assert [one.printed for one in public_labels(demo_found, paint, lambda _: ())] == [told_.printed]
    grade = PublicRules(kept=frozenset({FindingKey("name_mismatch", fact.maker, fact.format)}))
    assert public_labels(demo_found, grade, lambda _: ()) == []


def test_nobodys_private_words_are_on_the_page(demo_gathered, demo_file):
    """No seller, no note, no file name, no decision and no reader's word of the demo stands on the page."""
    from qcledger.ledger import Ledger
    from qcledger.records import Decision, Parcel, Photo, ReaderNote, Session, Specimen

    view = demo_gathered.view
    text = scorecard_html(view, demo_gathered.copies) + scorecard_md(view)
    with Ledger.open(demo_file) as ledger:
        private = {one.seller for one in ledger.rows(Parcel)}
        private |= {one.note for kind in (ReaderNote, Parcel, Session, Specimen) for one in ledger.rows(kind)}
        private |= {one.reason for one in ledger.rows(Decision)}
        private |= {one.file_name for one in ledger.rows(Photo)} | {one.sha256 for one in ledger.rows(Photo)}
    assert [one for one in private if one and one in text] == []


def test_each_sentence_is_short_and_counts(demo_gathered):
    """A sentence has at most forty words and none that accuses; what is said of a maker carries its count."""
    for one in demo_gathered.view.statements:
        for sentence in told.blocks(one.sentence, most=1):
            assert len(sentence.split()) <= 40, sentence
        assert len(one.sentence.split()) <= 40
        assert banned_in(" ".join((one.sentence, *one.further))) == ()
        assert re.search(r"\d+ of \d+", one.sentence)


def test_each_sentence_that_names_a_maker_counts_what_was_tested(demo_gathered):
    """Quoted alone, whatever names a maker carries its count and says that it is about what we tested."""
    view = demo_gathered.view
    said = [one.sentence for one in (*view.statements, *view.cells) if one.sentence]
    said += [line for one in view.statements for line in one.further]
    page = ReadPage(scorecard_html(view, {}))
    said += [flat(one.text) for one in page.tags if one.name in ("p", "li")]
    named = [one for text in said for one in told.blocks(text, most=1) if any(maker in one for maker in MAKERS)]
    assert len(named) > 2 * len(view.of_makers)
    assert [one for one in named if not re.search(r"(\d+|none) of \d+", one) or "in what we tested" not in one] == []


def test_the_page_of_the_demo_holds_its_numbers_and_is_light(demo_gathered):
    """Numbers are the view's; the first sections are small, the page with its photos is below five megabytes."""
    view = demo_gathered.view
    page = scorecard_html(view, demo_gathered.copies)
    assert numbers(ReadPage(page).text) <= known_numbers(view) | FIXED | {"0123"}
    assert page.index('id="codes"') < 300_000
    assert 10_000 < len(page.encode()) < 5_000_000


def test_photos_carry_nothing_but_pixels(demo_gathered):
    """A reduced copy is a JPEG without EXIF, comment or profile, no larger than it may be."""
    from io import BytesIO

    from PIL import Image

    assert demo_gathered.copies
    for copy in demo_gathered.copies.values():
        with Image.open(BytesIO(copy.content)) as seen:
            assert (seen.format, max(seen.size) <= 480) == ("JPEG", True)
            assert set(seen.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
            assert not seen.getexif()


def test_a_to_z(demo_gathered):
    """Makers, lots and what is said of makers stand A to Z, so that no place says more than the alphabet."""
    view = demo_gathered.view
    assert [one.name for one in view.makers] == sorted(MAKERS)
    assert [one.maker for one in view.lots] == sorted(one.maker for one in view.lots)
    assert [one.maker for one in view.of_makers] == sorted(one.maker for one in view.of_makers)
    assert "A to Z" in flat(ReadPage(scorecard_html(view, {})).text)


def test_prices_are_those_of_the_folder(demo_gathered):
    """Each maker's lowest and highest price by format, size and currency, as the demo's own files have them."""
    folder = Path(__file__).parents[2] / "demo_ledger"
    tables = {
        name: pd.read_csv(folder / f"{name}.csv", dtype=str) for name in ("specimen", "parcel", "paint", "maker")
    }
    parcels = tables["parcel"].rename(columns={"id": "parcel"})[["parcel", "currency"]]
    paints = tables["paint"].rename(columns={"id": "paint", "name": "colour"})[["paint", "maker"]]
    makers = tables["maker"].rename(columns={"id": "maker", "name": "maker_name"})[["maker", "maker_name"]]
    bought = tables["specimen"].merge(parcels, on="parcel").merge(paints, on="paint").merge(makers, on="maker")
    bought = bought[bought["source"] == "retail"].astype({"price_minor": int, "nominal_ml": float})
    of = bought.groupby(["maker_name", "format", "nominal_ml", "currency"])["price_minor"].agg(
        ["min", "max", "count"]
    )
    told_ = [(maker.name, one) for maker in demo_gathered.view.makers for one in maker.prices]
    assert len(told_) == len(of)
    for maker, one in told_:
        low, high, count = of.loc[maker, one.format, float(one.nominal.removesuffix(" ml")), one.currency]
        assert low <= one.low_minor <= one.high_minor <= high
        assert 0 < one.count <= count
        assert one.low == one.low_minor / 100
        assert one.low_per_ml_minor == math.floor(one.low_minor / float(one.nominal.removesuffix(" ml")) + 0.5)
