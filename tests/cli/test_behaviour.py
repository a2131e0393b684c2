"""``qcledger behaviour``: the demo's paints beside their peers, as text, CSV and JSON."""

import csv
import io
import json

import pytest

from tests.studio.truths import EXPECTED_LABELS


@pytest.fixture(scope="module")
def demo(demo_file):
    """Return the place of a ledger with the committed demo in it."""
    return demo_file


def test_the_demo_names_one_paint(demo, cli):
    """The paint whose label contradicts itself behaves unlike its peers; the label's words stand elsewhere."""
    told = cli("behaviour", "--ledger", demo)
    assert (told.code, told.err) == (0, "")
    plain = " ".join(told.out.split())
    assert "One paint behaves unlike peers; no sign of it in 47; no peer baseline for 3." in plain
    assert (
        "Fennacre, Viridian: behaves unlike PG18 at eight other makers: less rewetting difficulty, more staining"
        in plain
    )
    assert "chlorinated" not in plain
    assert "What would tell: an outside analysis" in plain
    assert "Nearest" not in plain
    assert max(map(len, told.out.splitlines())) <= 80
    assert any(one.maker == "Fennacre" for one in EXPECTED_LABELS)


def test_the_nearest_stands_behind_an_option_with_its_caution(demo, cli):
    """Only who asks is told, and is told with it that it says nothing of what is inside."""
    told = " ".join(cli("behaviour", "--ledger", demo, "--nearest").out.split())
    assert "Nearest among the other pigments on file:" in told
    assert "pigments that behave alike are alike here" in told


def test_two_red_oxides_of_one_name_are_no_mismatch(demo, cli):
    """A clear and a covering paint of PR101 at one maker: neither is named, and opacity is left out for the name."""
    told = cli("behaviour", "--ledger", demo, "--maker", "trellmere")
    plain = " ".join(told.out.split())
    for paint in ("Rust", "Brick"):
        assert f"Trellmere, {paint}: no sign that it behaves unlike PR101 at eight other makers." in plain
    assert "Left out, for one maker's own paints of PR101 differ in it: opacity" in plain


def test_tables_hold_each_paint_and_trait(demo, cli):
    """CSV has a line a paint and trait, JSON the same below each paint; the nearest only where it is asked for."""
    rows = list(csv.DictReader(io.StringIO(cli("behaviour", "--ledger", demo, "--as", "csv").out)))
    told = json.loads(cli("behaviour", "--ledger", demo, "--as", "json").out)
    assert len({(row["maker"], row["paint"], row["pigments"]) for row in rows}) == len(told["paints"]) == 51
    first = told["paints"][0]
    assert first["verdict"] == "behaves unlike"
    assert "nearest" not in first
    mine = [row for row in rows if (row["maker"], row["paint"]) == (first["maker"], first["paint"])]
    assert sum(float(row["trait_bits"]) for row in mine) == pytest.approx(first["bits"])
    assert {row["verdict"] for row in rows if not row["criterion"]} == {"no peer baseline"}
    near = json.loads(cli("behaviour", "--ledger", demo, "--as", "json", "--nearest").out)["paints"]
    assert near[0]["nearest"]
    assert not any(one["nearest"] for one in near[1:])


def test_a_maker_that_is_not_there_is_refused_in_one_line(demo, cli):
    """What was found, and what is allowed."""
    told = cli("behaviour", "--ledger", demo, "--maker", "Nobody")
    assert told.code != 0
    assert told.err.count("\n") == 1
