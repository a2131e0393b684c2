"""Pictures: what is counted can be counted, the limit stands within, and every text stays a text."""

import io
import re
import xml.etree.ElementTree as Xml
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from qcledger.errors import BadInput
from qcledger.public.pictured import letters
from qcledger.public.pictured.files import files_of, write_files
from qcledger.public.pictured.layout import EDGE, drawing
from qcledger.public.pictured.marks import DARK, LIGHT, Band, DrawnSpecimen, Letters, Shape, TextLine
from qcledger.public.pictured.subjects import Pictured, of_cell, of_statement
from qcledger.public.pictured.to_png import picture_png
from qcledger.public.pictured.to_svg import picture_svg
from qcledger.public.view import DrawnLot, Edition, PublicStanding
from qcledger.text import clean, one_line
from tests.hostile import HOSTILE
from tests.public.test_faces import DAY, full_view

SVG = "{http://www.w3.org/2000/svg}"
EDITION = Edition(3, DAY, "OV")
LOT = st.builds(
    lambda name, tested, faulty, meant: DrawnLot(name, "half pan", tested, min(faulty, tested), meant),
    st.sampled_from(("", "Kiln Red Q4471", "x" * 200)), st.integers(1, 12), st.integers(0, 12), st.booleans(),
)  # fmt: skip
LOTS = st.lists(LOT, min_size=1, max_size=25).map(tuple)
NINE = (DrawnLot("Kiln Red Q4471", "tube", 9, 7),)
SHAPES = st.sampled_from(list(Shape))


def pictured(text="Aldervane", lots=NINE) -> Pictured:
    """Return what a picture says in which every text is `text`."""
    said = replace(full_view(text).statements[1], drawn=tuple(lots))
    return of_statement(said, EDITION)


def words(picture):
    """Return the lines of text of a picture."""
    return [one for one in picture.marks if isinstance(one, TextLine)]


def specimens(picture):
    """Return the specimens of a picture."""
    return [one for one in picture.marks if isinstance(one, DrawnSpecimen)]


@given(LOTS, SHAPES)
def test_what_is_counted_is_drawn(lots, shape):
    """Each specimen is drawn once, within the picture and upon no other; faulty ones alone are hatched."""
    drawn = specimens(drawing(pictured(lots=lots), shape))
    assert len(drawn) == sum(lot.tested for lot in lots)
    assert sum(one.faulty for one in drawn) == sum(lot.faulty for lot in lots)
    assert all(bool(one.hatching) == one.faulty for one in drawn)
    boxes = []
    for one in drawn:
        xs, ys = zip(*one.outline, strict=True)
        boxes.append((min(xs), min(ys), max(xs), max(ys)))
    for n, (left, top, right, foot) in enumerate(boxes):
        upon = [o for o in boxes[:n] if o[0] < right and left < o[2] and o[1] < foot and top < o[3]]
        assert not upon


@given(LOTS, SHAPES, st.sampled_from(("Aldervane", "word " * 40, "x" * 200)))
def test_nothing_stands_at_the_edge_and_no_line_upon_another(lots, shape, text):
    """All marks keep off the edges, whatever the texts; lines and specimens stand beneath one another."""
    picture = drawing(pictured(text, lots), shape)
    for one in words(picture):
        wide = letters.width(one.text, one.size, one.letters)
        assert one.x >= EDGE - 1
        assert one.x + wide <= picture.width - EDGE + 1
        assert EDGE <= one.y <= picture.height - EDGE + one.size
    for one in specimens(picture):
        for x, y in one.outline:
            assert EDGE <= x <= picture.width - EDGE
            assert EDGE <= y <= picture.height - EDGE
    full = [one for one in words(picture) if one.x == EDGE]
    assert all(upper.y + 5 < lower.y for upper, lower in pairwise(full))


@given(LOTS, SHAPES, st.sampled_from(("Aldervane", "word " * 40)))
def test_no_cut_parts_a_count_from_its_limit(lots, shape, text):
    """Limit and edition stand on a band between head and specimens, "in what we tested" in the line that counts."""
    one = pictured(text, lots)
    picture = drawing(one, shape)
    (band,) = [mark for mark in picture.marks if isinstance(mark, Band)]
    on_band = [mark for mark in words(picture) if band.y < mark.y < band.y + band.height]
    assert " ".join(mark.text for mark in on_band).replace("\u00a0", " ") == one.limit
    assert "Edition 3, 4 March 2026." in one.limit
    assert "The share may be 25 % to 50 %" in one.limit
    head = [mark for mark in words(picture) if mark.y < band.y]
    (count,) = [mark for mark in words(picture) if "in what we tested" in mark.text and mark.y > band.y][:1]
    assert head
    assert count.y < min(y for mark in specimens(picture) for _, y in mark.outline)


def test_of_one_lot_no_share_is_given_and_that_is_said():
    """What is about one lot says that it tells nothing of others; a draft says that it is none that was published."""
    said = full_view().statements[0]
    assert "about one lot; of others it tells nothing" in of_statement(said, EDITION).limit
    assert of_statement(said, Edition(0, DAY, "OV")).limit.startswith("DRAFT, not published.")


def test_where_none_was_found_the_share_that_is_left_is_said():
    """None of how many, and up to which share could be faulty even so."""
    (cell,) = full_view().standing(PublicStanding.NONE_FOUND)
    one = of_cell("n-x", cell, EDITION)
    assert one.count == "None of 7 faulty, in what we tested"
    assert "up to 30 % could be faulty (95 %)" in one.limit


def test_too_many_to_be_told_apart_are_refused():
    """A hundred thousand specimens make no picture; the line says how many there were."""
    with pytest.raises(BadInput, match="100000 specimens in 1000 lots"):
        drawing(pictured(lots=[DrawnLot("", "tube", 100, 1)] * 1000), Shape.WIDE)


@pytest.mark.parametrize("text", [*HOSTILE, "]]>", "<!--", "\ud800", "\ufffe", '" onload="x', "&#0;"])
def test_hostile_texts_stay_texts_in_svg(text):
    """Whatever makers and lots are called: the same elements and attributes, nothing that runs or is fetched."""
    lots = [DrawnLot(text, "tube", 3, 1), DrawnLot(text, text, 2, 0, meant=False)]
    one = pictured((clean(text) and text) or "Aldervane", lots)
    for shape in Shape:
        source = picture_svg(drawing(one, shape), LIGHT)
        root = Xml.fromstring(source)  # refuses what is no XML
        kinds = {(part.tag.removeprefix(SVG), *sorted(part.attrib)) for part in root.iter()}
        assert {kind[0] for kind in kinds} <= {"svg", "title", "desc", "style", "rect", "text", "g", "path"}
        assert not [name for kind in kinds for name in kind[1:] if name.startswith("on") or "href" in name]
        assert not re.search("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\u200f]", source)
        assert "url(" not in source
        assert root.find(f"{SVG}desc").text == one_line(one.told).replace("\ufffe", "")  # which XML has no place for


@pytest.mark.parametrize("tints", [LIGHT, DARK])
def test_a_picture_reads_in_greys_and_says_itself_in_words(tints):
    """As PNG it has its size, its title and all it says; without colours faulty specimens are the inkier ones."""
    one = pictured(lots=[DrawnLot("Kiln Red", "half pan", 2, 1)])
    picture = drawing(one, Shape.SQUARE)
    with Image.open(io.BytesIO(picture_png(picture, tints))) as seen:
        assert (seen.format, seen.size) == ("PNG", (1080, 1080))
        assert seen.text == {"Title": one_line(picture.title), "Description": one_line(one.told)}
        grey = seen.convert("L")
    paper = grey.getpixel((2, 2))
    inked = []
    for mark in specimens(picture):
        xs, ys = zip(*mark.outline, strict=True)
        box = grey.crop((round(min(xs)), round(min(ys)), round(max(xs)), round(max(ys))))
        inked.append(sum(abs(pixel - paper) > 60 for pixel in box.tobytes()) / (box.width * box.height))
    assert inked[0] > 2 * inked[1] > 0


def test_what_no_font_has_is_not_drawn_as_boxes(tmp_path):
    """With a character that no font here has there is no PNG, and the SVG, whose reader may have it, is there."""
    strange = "\U000104a0"
    if not letters.lacking(strange, Letters.TEXT):
        pytest.skip("this machine has a font for it")
    files = list(files_of(pictured(strange), [Shape.WIDE], ["light"], ["svg", "png"]))
    assert {one.lacking for one in files if one.name.endswith(".png")} == {strange}
    assert sorted(path.suffix for path in write_files(tmp_path / "out", files)) == [".svg", ".txt"]


def test_files_are_written_once(tmp_path):
    """A second time is refused before anything is written, until it is forced."""
    files = list(files_of(pictured(), [Shape.WIDE], ["light"], ["svg"]))
    written = write_files(tmp_path, files)
    assert [path.name for path in written] == ["s-2-wide-light.svg", "s-2.txt"]
    with pytest.raises(BadInput, match="--force"):
        write_files(tmp_path, [*files_of(replace(pictured(), id="s-9"), [Shape.WIDE], ["light"], ["svg"]), *files])
    assert not (tmp_path / "s-9.txt").exists()
    assert write_files(tmp_path, files, force=True) == written


@given(st.text(st.characters(codec="utf-8"), max_size=120), st.integers(20, 60), st.integers(100, 900))
def test_lines_keep_each_word_and_their_room(text, size, room):
    """A text on lines is the same text, and no line is wider than its room unless it is one character."""
    plain = one_line(text)
    lines = letters.lines(plain, size, Letters.PLAIN, room)
    assert "".join("".join(lines).split()) == "".join(plain.split())
    assert all(letters.width(line, size, Letters.PLAIN) <= room or len(line) == 1 for line in lines)
