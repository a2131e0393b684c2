"""Prices of a ledger: what was weighed, and what the guide says of it."""

import re
from datetime import date
from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from qcledger.findings.price_groups import tables
from qcledger.findings.prices import priced
from qcledger.ledger import Ledger
from qcledger.records import Observation, Trial
from qcledger.report.price_rows import group_row, piece_row, table_row
from qcledger.report.prices import Prices, dry_weights, prices_of
from qcledger.report.prices_text import prices_lines
from qcledger.rubric import parse
from qcledger.settings import shipped
from qcledger.vocab import Censored, Occasion
from tests.findings.test_prices import piece
from tests.small import START, stock, ticking


def weighing():
    """Return the scale file that the guide shows."""
    text = (shipped("guide") / "price.md").read_text(encoding="utf-8")
    return parse(re.search(r"```yaml\n(.*?)```", text, re.DOTALL)[1], "the guide")


def test_dry_paint_counts_where_it_was_weighed(home, tmp_path):
    """The last exact reading of a piece; one beyond a limit, one in another unit and other pieces say nothing."""
    rubric = weighing()
    with Ledger.create(tmp_path / "l.sqlite", letters="OV", tester="OV", sources=ticking(), zone="Etc/UTC") as ledger:
        ledger.append([ledger.keep_rubric(rubric), *stock(3)])
        for n, (reading, censored) in enumerate([(1.18, Censored.EXACT), (20.0, Censored.ABOVE)]):
            ledger.append([
                Trial(id=f"t{n}", specimen=f"sp{n:02}", occasion=Occasion.UNPACKING, at=START),
                Observation(id=f"o{n}", trial=f"t{n}", criterion="dry_paint", rubric=rubric.hash, tester="OV",
                            at=START, reading=reading, censored=censored, grade=3.0),
            ])  # fmt: skip
        assert dry_weights(ledger) == {"sp00": Decimal("1.18")}
        found = {one.piece.specimen: one.piece.dry_g for one in prices_of(ledger).pieces}
        assert found == {"sp00": Decimal("1.18"), "sp01": None, "sp02": None}
        assert ledger.day(START) == date(2026, 3, 9)


@given(st.integers(32, 120), st.sampled_from([".", ","]))
def test_lines_fit_and_no_name_is_cut(width, mark):
    """Whatever the width, no line is wider and each name stands whole; decimals have the tester's mark."""
    long = "A maker whose name is long enough to need a line"
    pieces = priced([piece("1", maker_name=long), piece("2", maker_name="B", price_minor=None, parcel="y")])
    lines = prices_lines(Prices(tuple(pieces)), "maker", mark, width)
    assert max(map(len, lines)) <= width
    plain = " ".join(" ".join(lines).split())
    assert long in plain
    assert f"5{mark}90" in plain
    assert "no price was written down" in plain


def test_the_guide_names_every_column():
    """Each name that a table of prices has, and each step of a piece, stands in the chapter."""
    told = (shipped("guide") / "price.md").read_text(encoding="utf-8")
    (one,) = priced([piece("1")])
    (table,) = tables([one])
    steps = {name for name in piece_row(one) if name.endswith("_minor")} | {"rate", "why_no_price"}
    names = {*table_row(table), *group_row("x", table.whole), *steps}
    assert {name for name in names if f"`{name}`" not in told} == set()
