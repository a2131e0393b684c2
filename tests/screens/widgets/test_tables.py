"""Tables of the guide at any width."""

import pytest
from textual.content import Content

from qcledger.screens.widgets.tables import table_lines

HEADERS = [Content(text) for text in ("scenario", "measured", "beside it")]
ROWS = [
    [Content("bad_lot_small"), Content("7 of 1,000: 0.7% (0.3 to 1.4)"), Content("")],
    [Content("cell_half"), Content("24 of 24"), Content("oracle 24 at 0.3% false")],
]


def told(width: int) -> list[str]:
    return [line.plain for line in table_lines(HEADERS, ROWS, width)]


def test_where_columns_fit_a_row_is_a_line():
    """The titles above, a rule below them, the columns below each other."""
    assert told(80)[:3] == [
        "scenario       measured                       beside it",
        "-" * len("bad_lot_small  7 of 1,000: 0.7% (0.3 to 1.4)  oracle 24 at 0.3% false"),
        "bad_lot_small  7 of 1,000: 0.7% (0.3 to 1.4)",
    ]


def test_where_they_do_not_each_row_is_a_block():
    """Each value stands behind the title of its column; an empty one is left out."""
    assert told(30)[:4] == ["scenario: bad_lot_small", "  measured: 7 of 1,000: 0.7%", "    (0.3 to 1.4)", ""]


@pytest.mark.parametrize("width", [200, 80, 56, 40, 30, 16, 6])
def test_no_word_is_lost_and_no_line_is_too_wide(width):
    """Whatever the width, every character of every cell is there."""
    lines = told(width)
    assert max(map(len, lines)) <= max(width, 6)
    shown = sorted("".join(lines).replace(" ", "").replace("-", ""))
    for cell in (cell for row in ROWS for cell in row):
        assert all(shown.count(char) >= cell.plain.count(char) for char in set(cell.plain) - {" "})


def test_links_and_styles_stay():
    """What is bold or leads somewhere in a cell still does, wrapped or not."""
    linked = Content.styled("settings of the pages", "underline")
    for width in (80, 14):
        lines = table_lines([Content("page")], [[linked]], width)
        spans = [line.plain[span.start : span.end] for line in lines for span in line.spans if "under" in str(span)]
        assert "".join(spans).replace(" ", "") == "settingsofthepages"
