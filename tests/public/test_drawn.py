"""Specimens as they are drawn: as many shapes as were tested, the faulty ones marked, each photo where it opens."""

import re
from collections import Counter
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcledger.findings import read
from qcledger.public import from_findings
from qcledger.public.drawn import glyphs
from qcledger.public.outlines import HEIGHT, hatching, outline_of, placed
from qcledger.public.to_html import scorecard_html
from qcledger.vocab import Format
from tests.findings.made import only
from tests.public import made
from tests.public.made import MadeCell, settled
from tests.public.read import ReadPage

FORMATS = st.sampled_from([*map(str, Format), "cartridge", "<script>"])


@given(FORMATS, st.integers(0, 30), st.integers(0, 30), st.integers(0, 8))
def test_shapes_are_as_many_as_specimens(format_, sound, faulty, opening):
    """Each specimen is one shape, each faulty one is hatched, and only faulty ones open a photo."""
    anchors = [f"s-1-{n}" for n in range(opening)]
    page = ReadPage(f"<body>{glyphs(format_, sound + faulty, faulty, anchors)}</body>")
    kinds = Counter(one.attributes.get("class") for one in page.named("g"))
    assert (kinds["sound"], kinds["faulty"]) == (sound, faulty)
    links = page.named("a")
    assert [one.attributes["href"] for one in links] == [f"#{one}" for one in anchors[:faulty]]
    assert all(one.attributes["aria-label"] for one in links)
    (drawing,) = page.named("svg")
    assert ("aria-hidden" in drawing.attributes) == (not links)  # what is hidden from aids must hold no link


def test_an_anchor_is_plain():
    """What would leave its attribute is refused, whoever asks for it."""
    with pytest.raises(ValueError, match="onload"):
        glyphs("tube", 1, 1, ['x" onload="alert(1)'])


@given(FORMATS, st.floats(0.2, 8), st.floats(1, 40))
def test_hatching_stays_inside_and_fills(format_, scale, gap):
    """Each stroke lies within its shape's box, at 45 degrees, and none is missing as long as the gap is narrow."""
    outline = outline_of(format_)
    corners = placed(outline, 10, 20, scale)
    strokes = list(hatching(corners, gap))
    for (x1, y1), (x2, y2) in strokes:
        assert 10 - 1e-6 <= min(x1, x2) <= max(x1, x2) <= 10 + outline.width * scale + 1e-6
        assert 20 - 1e-6 <= min(y1, y2) <= max(y1, y2) <= 20 + HEIGHT * scale + 1e-6
        assert abs((x1 + y1) - (x2 + y2)) < 1e-6 * (1 + scale * 50)
    sums = [x + y for x, y in corners]
    assert len({round(x1 + y1, 6) for (x1, y1), _ in strokes}) == len(
        [n for n in range(1000) if min(sums) + gap / 2 + n * gap < max(sums)]
    )


def test_on_the_page_each_link_in_a_drawing_opens_a_photo(demo_gathered):
    """Faulty specimens with a photo link to it, each photo has one place in its statement, and anchors are single."""
    page = ReadPage(scorecard_html(demo_gathered.view, demo_gathered.copies))
    ids = Counter(one.attributes["id"] for one in page.tags if "id" in one.attributes)
    assert set(ids.values()) == {1}
    figures = {one.attributes["id"] for one in page.named("figure") if "id" in one.attributes}
    links = [one.attributes["href"][1:] for one in page.named("a") if "aria-label" in one.attributes]
    assert links
    assert set(links) <= figures
    for one in demo_gathered.view.statements:
        opened = [sha256 for lot in one.drawn for sha256 in lot.photos]
        assert set(opened) <= {photo.sha256 for photo in one.photos}
        assert all(len(lot.photos) <= lot.faulty for lot in one.drawn)
        assert len(one.photos) <= 4


def test_drawn_specimens_are_those_that_are_counted(demo_gathered):
    """What a statement counts can be counted in its drawing; of none found each specimen is drawn, none hatched."""
    view = demo_gathered.view
    for one in view.statements:
        meant = [lot for lot in one.drawn if lot.meant]
        assert (sum(lot.tested for lot in meant), sum(lot.faulty for lot in meant)) == (one.tested, one.faulty)
    nothing = view.standing(from_findings.PublicStanding.NONE_FOUND)
    assert nothing
    for cell in nothing:
        assert sum(lot.tested for lot in cell.drawn) == cell.tested
        assert {lot.faulty for lot in cell.drawn} == {0}
    assert not [one for one in view.cells if one.drawn and one not in nothing]


def test_a_lot_of_a_paint_that_is_kept_private_is_not_named_in_a_drawing():
    """It is counted and drawn, for the count is the maker's; neither its colour nor its code stands in any face."""
    rows = made.rows_of({"Aldervane": MadeCell("settled", ((4.0, 4.0), (4.0, 0.0)))})
    rows = [
        replace(one, paint="hidden", paint_name="Sallowmark Red") if one.lot_code == "L00" else one for one in rows
    ]
    found = read(rows, only())
    found = replace(found, findings=tuple(settled(one) for one in found.findings))
    kept = from_findings.PublicRules(kept_paints=frozenset({"hidden"}))
    (said,) = made.view(found, kept).statements
    assert sorted((lot.name == from_findings.UNNAMED, lot.tested) for lot in said.drawn) == [(False, 2), (True, 2)]
    assert made.private_in(made.faces(made.view(found, kept)).values()) == []
    assert made.private_in(made.faces(made.view(found)).values()) == [made.SECRET]
    assert not [face for face in made.faces(made.view(found, kept)).values() if re.search(r"\bL00\b", face)]
