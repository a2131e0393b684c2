"""Words in as many lines as there is room for."""

import pytest
from rich.cells import cell_len

from qcledger.screens.widgets.wrapped import Wrapped

WIDE = "bought 2026-03-09 from 東雲彩色工房東雲彩色工房 in the arcade, 8.50 EUR; opened; retail, planned; label: PG18"


@pytest.mark.parametrize("width", [78, 40, 21])
def test_wide_letters_take_two_cells(width):
    """No line is wider than the window, so none loses its end; every word is there."""
    wrapped = Wrapped(20, id="w")
    wrapped.show(WIDE)
    lines = wrapped._lines(width, 20)
    assert max(map(cell_len, lines)) <= width
    assert "".join(lines).replace(" ", "") == WIDE.replace(" ", "")


def test_what_has_no_room_is_said():
    """Where the lines are used up an ellipsis stands at the end."""
    wrapped = Wrapped(1, id="w")
    wrapped.show(WIDE)
    (line,) = wrapped._lines(60, 1)
    assert line.endswith(" …")
    assert cell_len(line) <= 60
