"""Density strips: darkness is probability, the ends are the limits, nothing depends on colour or on a font."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import beta

from qcledger.findings import read
from qcledger.findings.pooled import QUANTILES, Estimate
from qcledger.report.strips import (
    BORROWED,
    FEW,
    PLAIN,
    SHADED,
    Borrowed,
    Curve,
    axis,
    by_lot,
    curve_of,
    ink_of,
    singly,
    strips,
    with_mark,
)
from qcledger.stats.clustered import lot_aware
from tests.findings.made import only, paints

LOTS = st.lists(
    st.integers(1, 6).flatmap(lambda total: st.tuples(st.integers(0, total), st.just(total))), min_size=1, max_size=8
)


def ends(strip):
    """Return the first and the last character that are not blank."""
    inked = [place for place, sign in enumerate(strip) if sign != " "]
    return inked[0], inked[-1]


@pytest.mark.parametrize(("faulty", "tested", "low", "high"), [(3, 10, 0.0667, 0.6525), (4, 20, 0.0573, 0.4366)])
def test_strips_of_single_specimens_end_at_the_exact_limits(faulty, tested, low, high):
    """3 of 10 reaches from 6.67 to 65.25 %, 4 of 20 from 5.73 to 43.66 % (Clopper & Pearson 1934, by scipy)."""
    (strip,) = strips([singly(faulty, tested)], 100)
    assert ends(strip) == (int(low * 100), int(high * 100))


@given(LOTS)
def test_every_strip_is_whole_and_ends_at_the_lot_aware_limits(lots):
    """Whatever the lots, a strip has no gap and holds the observed rate, and its ends are those of the interval."""
    (strip,) = strips([lots], 50)
    first, last = ends(strip)
    limits = lot_aware([some for some, _ in lots], [total for _, total in lots])
    assert len(strip) == 50
    assert " " not in strip[first : last + 1]
    assert first == min(int(limits.low * 50), 49)
    assert last in (int(limits.high * 50 - 1e-9), min(int(limits.high * 50 + 1e-9), 49))


def test_darkness_is_probability():
    """A darker character is a more probable rate: the shades follow the Beta density (scipy.stats.beta)."""
    faulty, tested = 6, 20
    (strip,) = strips([singly(faulty, tested)], 40)
    inked = range(ends(strip)[0] + 1, ends(strip)[1])
    density = {
        place: beta(faulty + 0.5, tested - faulty + 0.5).cdf((place + 1) / 40)
        - beta(faulty + 0.5, tested - faulty + 0.5).cdf(place / 40)
        for place in inked
    }
    shade = {place: SHADED.shades.index(strip[place]) for place in inked}
    ordered = sorted(inked, key=density.__getitem__)
    assert [shade[place] for place in ordered] == sorted(shade.values())
    assert len(set(shade.values())) > 3


def test_small_evidence_is_wide_and_pale():
    """1 of 2 never comes near the darkest shade that 20 of 40 reach, and spans more of the scale."""
    few, many = strips([singly(1, 2), singly(20, 40)], 41)
    assert "█" in many
    assert not {"▓", "█"} & set(few)
    assert ends(few)[1] - ends(few)[0] > 2 * (ends(many)[1] - ends(many)[0])


def test_lots_that_agree_within_widen_the_strip():
    """Six faulty of twelve are less certain as two lots, one bad and one sound, than as twelve lots."""
    two, twelve = strips([[(6, 6), (0, 6)], singly(6, 12)], 41)
    assert ends(two)[1] - ends(two)[0] > ends(twelve)[1] - ends(twelve)[0]


def test_nothing_tested_is_blank():
    """A cell without specimens has no strip, beside others or alone, and no width gives none."""
    assert strips([[], singly(1, 4)], 12)[0] == " " * 12
    assert strips([[]], 12) == [" " * 12]
    assert strips([], 12) == []
    assert strips([singly(1, 4)], 0) == [""]


def test_lots_of_a_finding():
    """The pairs are those of the lots."""
    assert by_lot(read(paints("A", bad=4, pigments=("PR101",), each=2), only()).findings[0].lots) == [(2, 2), (2, 2)]


@given(LOTS, st.integers(1, 120))
def test_plain_strips_are_ascii(lots, width):
    """Where the terminal has no shades, four characters do."""
    (strip,) = strips([lots], width, PLAIN)
    assert len(strip) == width
    assert set(strip) <= {" ", ".", ":", "=", "#"}
    assert with_mark(axis(width, 0.3, PLAIN), 0.5, PLAIN).isascii()


def test_the_mark_stands_where_the_strip_is_blank():
    """Under ink the mark gives way: all makers' rate is then within the limits."""
    assert with_mark("   ▒▓▒    ", 0.1) == " ┆ ▒▓▒    "
    assert with_mark("   ▒▓▒    ", 0.45) == "   ▒▓▒    "
    assert with_mark("          ", 1.0) == "         ┆"
    assert with_mark("   ▒▓▒    ", None) == "   ▒▓▒    "
    assert with_mark("", 0.5) == ""


def test_the_scale_has_its_labels_where_the_rates_are():
    """0, 50 and 100 % stand at the rates; a label that the mark would break gives way whole."""
    assert axis(21) == "0        50     100 %"
    assert axis(21, 0.14) == "0 ┆      50     100 %"
    assert axis(21, 0.0) == "┆        50     100 %"
    assert axis(21, 0.47) == "0        ┆      100 %"
    assert axis(21, 0.9) == "0        50       ┆  "
    assert axis(9, 0.2) == "0┆  100 %"
    assert axis(3) == "0  "
    assert axis(0, 0.5) == ""


@pytest.mark.parametrize(
    ("encoding", "environment", "ink"),
    [
        ("utf-8", {}, SHADED),
        ("UTF-8", {"TERM": "xterm-256color", "LANG": "de_DE.UTF-8"}, SHADED),
        ("utf-8", {"LC_ALL": "C"}, PLAIN),
        ("utf-8", {"LC_ALL": "C.UTF-8"}, SHADED),
        ("utf-8", {"LC_ALL": "", "LANG": "POSIX"}, PLAIN),
        ("utf-8", {"TERM": "dumb"}, PLAIN),
        ("iso8859-1", {}, PLAIN),
        (None, {}, PLAIN),
    ],
)
def test_shades_only_where_the_terminal_has_them(encoding, environment, ink):
    """An encoding without them, the C locale, and terminals known for it get ASCII."""
    assert ink_of(encoding, environment) is ink


def test_a_curve_ends_at_its_95_per_cent_limits_and_is_darkest_where_it_is_steepest():
    """Quantiles of a Beta(2, 8) (scipy.stats.beta): blank outside 2.8 % and 48.2 %, most ink near its mode, 1/8."""
    width = 40
    curve = Curve(beta.ppf(QUANTILES, 2, 8).tolist())
    (drawn,) = strips([curve], width)
    inked = [place for place, sign in enumerate(drawn) if sign != " "]
    low, high = beta.ppf([0.025, 0.975], 2, 8)
    assert (inked[0], inked[-1]) == (int(low * width), int(high * width))
    assert drawn.index("█") <= int(0.125 * width) <= drawn.rindex("█")


def test_an_estimate_is_drawn_as_the_beta_of_its_mean_and_deviation():
    """Mean and standard deviation of a Beta(3, 5) give its quantiles back (scipy.stats.beta)."""
    found = curve_of(Estimate(beta.mean(3, 5), beta.std(3, 5), 0, 1))
    assert found == pytest.approx(tuple(beta.ppf(QUANTILES, 3, 5)), abs=1e-9)
    for mean, sd in ((0.0, 0.0), (1.0, 0.0), (0.5, 0.6)):
        curve = curve_of(Estimate(mean, sd, 0, 1))
        assert list(curve) == sorted(curve)
        assert len(strips([curve], 20)[0]) == 20


def test_the_label_says_what_was_drawn():
    """Of counts, of posteriors, of both; an empty cell is neither."""
    curve, pairs = Curve(QUANTILES), [(1, 2)]
    assert "own counts; darker = likelier" in SHADED.label_of([pairs, ()])
    assert SHADED.label_of([curve, ()]).startswith("strip: pooled share; darker = likelier")
    assert f"below {FEW} own counts" in SHADED.label_of([curve, pairs])
    assert all(len(SHADED.label_of(some)) <= 78 for some in ([curve], [pairs], [curve, pairs]))
    assert "pooled" in PLAIN.label_of([curve])


def test_what_is_borrowed_has_its_limits_and_no_shade():
    """A pooled share of few specimens of one's own is drawn from limit to limit, without the look of evidence."""
    curve = curve_of(Estimate(beta.mean(3, 30), beta.std(3, 30), 0, 1))
    shaded, borrowed = strips([curve, Borrowed(curve)], 40)
    assert {*shaded} & {*SHADED.shades}
    assert {*borrowed} == {" ", BORROWED}
    assert [sign == " " for sign in shaded] == [sign == " " for sign in borrowed]
