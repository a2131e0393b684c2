"""A small version of the calibration table: the same ledgers and the same judge as the long one, a few of each."""

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from qcledger.settings import shipped
from qcledger.stats.pooled.design import arrange
from qcledger.stats.pooled.fair_field import AccusedUnit, units_of
from qcledger.vocab import Extent
from tests.bench.calibration import kept, seeds, short, smallest, table
from tests.bench.calibration.judge import judge, wide_excess
from tests.bench.calibration.oracle import oracle
from tests.bench.calibration.program import rows_of, said_of
from tests.bench.calibration.run import one_ledger, seed_of
from tests.bench.calibration.scenarios import AFTER, HALF, LEVEL, OFTEN, RARE, SCENARIOS, make


def _made(name, ledger):
    truth = make(SCENARIOS[name], seed_of(name, ledger))
    return truth, arrange(truth.lots)


def test_fair_fields_accuse_nobody_where_the_naive_reading_does():
    """In ten fair ledgers nobody is accused; Wilson intervals above the field's rate flag somebody in most."""
    rows = [one_ledger("fair_small_0.15", ledger) for ledger in range(300, 310)]
    assert [row["accused"] for row in rows] == [()] * 10
    assert sum(row["naive"] > 0 for row in rows) >= 5


def test_a_maker_at_half_is_named():
    """A maker at 50 % against 8 % is named, as the maker or as one of its formats, in each of two ledgers."""
    for ledger in range(2):
        row = one_ledger("maker_half_small_0.15", ledger + 300)
        assert {maker for _, maker, _ in row["accused"]} == {row["guilty"][1]}
        assert not row["innocent_accused"]


def test_same_ledger_same_judgement():
    """A ledger's truth and judgement come from its seed alone."""
    name = "hard_format_small_0.5"
    truth, _ = _made(name, 1)
    assert make(SCENARIOS[name], seed_of(name, 1)).lots == truth.lots
    assert judge(SCENARIOS[name], truth) == judge(SCENARIOS[name], truth)


def test_leaving_out_the_posterior_changes_nobody():
    """Where the fair-field check alone clears everybody the program, asked in full, clears them as well."""
    for ledger in range(3):
        truth, _ = _made("fair_small_0.5", ledger + 300)
        assert said_of(truth, strict=False).accused == said_of(truth).accused


def test_rows_are_the_ledger():
    """The program sees each specimen with its grade, and lots as faulty as the truth says."""
    truth, _ = _made("cell_half_small_0.5", 0)
    rows = list(rows_of(truth))
    faulty = Counter(row.lot_code for row in rows if row.grade >= 3)
    assert len(rows) == sum(lot.tested for lot in truth.lots)
    assert [faulty[f"L{place}"] for place in range(len(truth.lots))] == [lot.faulty for lot in truth.lots]


@pytest.mark.parametrize("name", sorted(name for name in SCENARIOS if name.endswith("0.5")))
def test_grades_read_as_the_faults_say(name):
    """A lot has a grade for each specimen, at or past the fault line of 3 in as many as are faulty."""
    truth, _ = _made(name, 0)
    for lot, grades in zip(truth.lots, truth.grades, strict=True):
        assert len(grades) == lot.tested
        assert sum(grade >= 3 for grade in grades) == lot.faulty
    assert len(truth.session) == len(truth.parcel) == len(truth.paint) == len(truth.eta) == len(truth.lots)


@pytest.mark.parametrize("name", ["specialist_small_0.5", "drifted_small_0.5"])
def test_who_cannot_be_compared_cannot_be_accused(name):
    """No unit of a specialist without peers, or of a maker tested in one session, has the minimum evidence."""
    for ledger in range(3):
        truth, _ = _made(name, ledger)
        alone = {lot.maker for lot, one in zip(truth.lots, truth.session, strict=True) if one == 4}
        if name.startswith("specialist"):
            alone = {lot.maker for lot in truth.lots if str(lot.pigments[0]).startswith("S")}
        else:
            rest = {lot.maker for lot, one in zip(truth.lots, truth.session, strict=True) if one != 4}
            alone -= rest
        assert len(alone) == 1
        assert not alone & {maker for _, maker, _ in said_of(truth, strict=False).able}


def test_the_oracle_prefers_the_guilty():
    """Over ten ledgers the true cell's log likelihood ratio is on average the largest, and positive."""
    gain = []
    for ledger in range(10):
        truth, field = _made("cell_half_small_0.15", ledger)
        ratio = oracle(field, truth, HALF)
        _, maker, format_ = truth.guilty
        cell = field.makers.index(maker), field.formats.index(format_)
        guilty = units_of(field).index(AccusedUnit("cell", field.cells.index(cell)))
        gain.append(ratio[guilty] - np.delete(ratio, guilty).mean())
    assert np.mean(gain) > 5


def test_a_planted_pigment_is_harder_than_the_others():
    """The true excess of a planted pigment is that of its logit, near 30 points over a fair pigment."""
    excess = []
    for ledger in range(20):
        truth, _ = _made("hard_pigment_small_0.15", ledger)
        excess.append(wide_excess(truth, Extent.PIGMENT, f"P{truth.guilty[1]:02d}"))
    assert 0.2 < np.mean(excess) < 0.5


def test_the_table_counts():
    """A line of the table is a plain count of the ledgers kept."""
    row = {"innocent_accused": False, "under_delta": False, "naive": 1, "on": "2026-11-25", "commit": "abc"}
    rows = [dict(row), dict(row, innocent_accused=True, under_delta=True)]
    (line,) = table.lines("ordinary_small_0.5", rows)
    assert line[:2] == ("innocent accused", "2 % (12 of 1,000)")
    assert line[2:] == ("1 of 2: 50.0% (1.3 to 98.7)", "true excess under 10 points: 1")


def test_the_guide_shows_what_was_kept():
    """The table of the guide is the one that the ledgers kept make."""
    guide = (shipped("guide") / "calibration.md").read_text(encoding="utf-8")
    for told in (table.table, short.short, short.worlds, seeds.told):
        assert "\n".join(told()) in guide
    assert short.still() in guide


@pytest.mark.parametrize("name", sorted(AFTER))
def test_worlds_looked_at_twice_have_what_they_say(name):
    """Makers, base rate, gaps and the second guilty are those of the recipe."""
    recipe, truth = AFTER[name], make(AFTER[name], seed_of(name, 0))
    assert {lot.maker for lot in truth.lots} == set(range(recipe.makers))
    usual = make(replace(recipe, level=LEVEL), seed_of(name, 0))
    levels, usually = (np.unique(one.eta.round(6)) for one in (truth, usual))
    assert levels == pytest.approx(usually + recipe.level - LEVEL, abs=1e-5)
    assert recipe.level == (RARE if "rare" in name else OFTEN if "often" in name else LEVEL)
    full = recipe.makers * recipe.size.pigments * 2
    assert (len(truth.lots) < 0.75 * full) == bool(recipe.gaps)
    assert (truth.also is not None) == ("_and_" in name)
    if "maker_and_lot" in name:
        assert truth.lots[truth.also[1]].maker != truth.guilty[1]


def test_a_maker_and_a_lot_are_settled_after_confirmation():
    """A maker at fault and a bad lot of another: both to confirm, both are settled by what is then bought."""
    row = one_ledger("after_maker_and_lot_0.5", 900)
    assert row["guilty"] in row["to_confirm"]
    assert row["guilty"] in row["settled"]
    assert row["also"][1] in row["lot"]
    assert row["also"][1] in row["lot_settled"]
    assert not row["innocent"]


def test_the_table_counts_what_is_looked_at_twice():
    """Named, settled, cleared and wronged are plain counts of the ledgers kept."""
    row = {
        "guilty": ["cell", 1, 0], "also": ["pigment", 3, -1], "to_confirm": [["cell", 1, 0]],
        "confirmed": [["cell", 1, 0]], "settled": [], "innocent": False, "innocent_settled": False, "lot": [],
        "lot_settled": [], "paint": [], "paint_settled": [], "pigment": ["P03"], "none_found": [[2, 0]],
    }  # fmt: skip
    rows = [
        row,
        row | {"settled": [["cell", 1, 0]]},
        row | {"to_confirm": [], "confirmed": [], "none_found": [[1, 0]]},
    ]
    told = {what: (measured.partition(":")[0], beside) for what, _, measured, beside in table.lines("after_x", rows)}
    assert told["innocent maker or format to confirm"] == ("0 of 3", "settled: 0")
    assert told["right unit named"] == ("2 of 3", "settled: 1")
    assert told["pigment named"] == ("3 of 3", "settled: 3")
    assert told["right claims confirmed that are settled"] == ("1 of 2", "")
    assert told["guilty called none found"] == ("1 of 3", "")


def test_the_guide_shows_the_smallest_patterns():
    """What the guide says of lots, paints and parcels is what the program says of such ledgers."""
    guide = (shipped("guide") / "calibration.md").read_text(encoding="utf-8")
    for line in smallest.table((Extent.LOT, Extent.PAINT, Extent.PARCEL)):
        assert line in guide


def test_what_is_kept_comes_back_and_is_written_whole(tmp_path, monkeypatch):
    """Rows go in and come out as they were; one that tells other fields is refused, and the file stays."""
    monkeypatch.setattr(kept, "RESULTS", tmp_path)
    rows = [{"ledger": n, "accused": [["lot", n, -1]], "p": 0.5 / (n + 1)} for n in range(3)]
    kept.keep("fair", rows)
    with pytest.raises(ValueError, match="ledger, accused, p"):
        kept.keep("fair", [*rows, {"ledger": 3}])
    assert kept.rows("fair") == rows
    assert kept.names() == ["fair"]
    assert kept.rows("never run") == []


def test_rows_that_read_otherwise_are_told():
    """A row moved where its standing, or the extent of what is to confirm or settled, is another one."""
    before = {"froth 1 tube": "open", "froth 2 tube": "settled, maker"}
    assert seeds.moved(before, dict(before)) == []
    after = before | {"froth 2 tube": "to confirm, maker"}
    assert seeds.moved(before, after) == [["froth 2 tube", "settled, maker", "to confirm, maker"]]


def test_ledgers_of_the_seeds_are_their_own():
    """None of the ledgers answered anew is among those that the other tables count, and each is the same again."""
    world, row = "maker_half_small_0.5", seeds._new("maker_half_small_0.5", 3)
    truth = make(SCENARIOS[world], seed_of(world, 3))
    mine = {(one.maker, one.lot_code, one.grade) for one in seeds.evidence_of(row["world"], row["number"]).rows}
    assert mine != {(one.maker, one.lot_code, one.grade) for one in rows_of(truth)}
    assert mine == {(one.maker, one.lot_code, one.grade) for one in seeds.evidence_of(world, 3).rows}
