"""Prices beside what was found: in upper limits, so that little tested never looks best."""

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcledger.findings import read
from qcledger.findings.price_beside import beside
from qcledger.findings.prices import priced
from qcledger.report.price_plot import NOTE, plot_lines, plot_rows
from qcledger.stats.proportion import upper_limit
from tests.findings.made import only, row
from tests.findings.test_prices import piece


def looked(maker, *lots):
    """Return a maker's half pans: the grades of the specimens of each lot."""
    return [
        row(maker=maker, maker_name=maker, lot=f"{maker}{n}", lot_code=f"L{n}", grade=grade)
        for n, lot in enumerate(lots)
        for grade in lot
    ]


def pieces(**prices):
    """Return half pans of 2 ml of makers at prices in cents."""
    each = [(maker, minor) for maker, some in prices.items() for minor in some]
    return priced(
        piece(f"{n}", maker=name, maker_name=name, price_minor=minor) for n, (name, minor) in enumerate(each)
    )


def points(bought, rows):
    (found,) = beside(bought, read(rows, only()).findings)
    return {one.maker: one for one in found.points}


@given(st.integers(1, 12), st.integers(1, 12))
def test_little_tested_never_looks_best(few, more):
    """Of two makers without a fault the one looked at less stands no lower; one not looked at stands at the top."""
    few, more = sorted((few, more))
    found = points(
        pieces(A=[500], B=[500], C=[500]), [*looked("A", [0.0] * few), *looked("B", *([0.0] for _ in range(more)))]
    )
    assert found["C"].up_to == 1 > found["A"].up_to >= found["B"].up_to
    assert found["A"].up_to >= upper_limit(0, few, 0.95)
    assert (found["A"].tested, found["B"].tested, found["C"].tested) == (few, more, 0)


def test_the_limit_is_one_sided_and_exact():
    """None of 59 allows 4.95 %: 1 - 0.05 ** (1 / 59), Clopper & Pearson 1934 [mem]; never the rate, which is 0."""
    found = points(pieces(A=[500]), looked("A", *([0.0] for _ in range(59))))
    assert found["A"].up_to == pytest.approx(1 - 0.05 ** (1 / 59), abs=0.02)
    assert found["A"].up_to >= 1 - 0.05 ** (1 / 59) - 1e-9


def test_only_single_pieces_with_a_price_are_drawn():
    """Shares of sets and what has no price are left out; formats, sizes and currencies have drawings of their own."""
    bought = priced([
        piece("1", maker_name="A"), piece("2", maker_name="B", price_minor=None, parcel="y"),
        piece("3", maker_name="C", pack="Box", parcel="z"),
        piece("4", maker_name="A", format="tube", nominal_ml=Decimal(8)),
    ])  # fmt: skip
    found = beside(bought, [])
    assert [(one.of.format, [point.maker for point in one.points]) for one in found] == [
        ("half pan", ["A"]), ("tube", ["A"])
    ]  # fmt: skip


def test_the_drawing_begins_at_nothing_and_names_makers_a_to_z():
    """Price across from 0, the share that may be faulty up to 100 %; a letter a maker, counts and prices below."""
    bought = pieces(Zed=[1000], Ann=[500, 600], Mid=[1000])
    rows = [*looked("Ann", *([0.0] for _ in range(30))), *looked("Zed", [4.0, 4.0])]
    lines = plot_lines(beside(bought, read(rows, only()).findings), "Froth", width=60)
    assert max(map(len, lines)) <= 60
    top = next(line for line in lines if line.startswith("  100 %|"))
    assert top.rstrip().endswith("*")  # Mid, of whom nothing was looked at, and Zed, at one price
    (ann,) = [line for line in lines if "|" in line and line.rstrip().endswith("a")]
    assert ann.index("a") == 8 + -(-51 * 500 // 1000)
    assert 0 < lines.index(top) < lines.index(ann)
    plain = " ".join(" ".join(lines).split())
    assert "a Ann: 5.00 in the middle, 5.00 to 6.00; none of 30 faulty, up to" in plain
    assert "b Mid: 10.00; not looked at for this" in plain
    assert "c Zed: 10.00; 2 of 2 faulty, up to 100 % possible" in plain
    assert " ".join(NOTE.split()) in plain
    assert not {"best", "worst", "winner", "value"} & set(plain.casefold().split())


def test_one_pigment_counts_its_own_lots():
    """Where one pigment is asked for, lots of others are counted no more."""
    rows = [*looked("A", [4.0]), *(replace(one, pigments=("PG18",)) for one in looked("A", [], [0.0, 0.0]))]
    found = read(rows, only()).findings
    counts = {}
    for pigment in (None, "PG18", "PB29"):
        ((one,),) = (each.points for each in beside(pieces(A=[500]), found, pigment))
        counts[pigment] = (one.faulty, one.tested)
    assert counts == {None: (1, 3), "PG18": (0, 2), "PB29": (0, 0)}


def test_points_as_named_values():
    """Coins, counts and the share from 0 to 1 that they allow."""
    rows = list(plot_rows(beside(pieces(Ann=[500]), read(looked("Ann", [4.0]), only()).findings), "froth"))
    assert rows == [{
        "criterion": "froth", "format": "half pan", "nominal_ml": 2.0, "sold": "single", "currency": "EUR",
        "minor_digits": 2, "tax": "with tax", "maker": "Ann", "priced": 1, "low_minor": 500, "middle_minor": 500,
        "high_minor": 500, "tested": 1, "faulty": 1, "up_to": 1.0,
    }]  # fmt: skip


def test_what_nobody_looked_at_is_said_and_not_drawn():
    """A format of which nothing was looked at for the criterion has a line, and no drawing of nothing."""
    plain = " ".join(" ".join(plot_lines(beside(pieces(Ann=[500]), []), "Froth")).split())
    assert "With a price, and not looked at for this: half pan, 2 ml, EUR, with tax." in plain
    assert "100 %|" not in plain


def test_without_prices_that_is_said():
    """An empty drawing says why."""
    assert "Nothing that was sold by itself has a price here." in plot_lines([], "Froth")
