"""The fair-field check: it finds who differs, spares who does not, and repeats itself."""

import numpy as np
import pytest

from qcledger.stats.pooled.design import arrange
from qcledger.stats.pooled.fair_field import (
    AT_MOST,
    BATCH,
    ENOUGH,
    TOP,
    AccusedUnit,
    cells_of,
    check_units,
    fair_outcomes,
    fit_fair,
    is_clear,
    strengths,
    units_of,
)
from qcledger.stats.pooled.priors import Theta
from tests.stats.pooled.fields import grid, some


def _guilty(seed=1, maker=2, format_=1, rate=0.6):
    rng = np.random.default_rng(seed)

    def faulty(m, f, _):
        return int(rng.binomial(2, rate if (m, f) == (maker, format_) else 0.07))

    return arrange(grid(8, 2, 10, 2, faulty))


def test_units_are_cells_and_makers_of_several_formats():
    """Each maker's format is a unit; a maker is one only when more than one of its formats was tested."""
    field = arrange([*some(1, makers=2), *[lot for lot in some(2, makers=3, formats=1) if lot.maker == 2]])
    kinds = [(unit.kind, unit.index) for unit in units_of(field)]
    assert kinds == [*(("cell", c) for c in range(5)), ("maker", 0), ("maker", 1)]
    assert cells_of(field, AccusedUnit("maker", 1)).tolist() == [2, 3]


def test_the_guilty_cell_is_strongest_and_passes():
    """A maker's format at 60 % against 7 % is the strongest unit, and hardly any fair field shows as much."""
    field = _guilty()
    suspect = AccusedUnit("cell", field.cells.index((2, 1)))
    fair = fit_fair(field, [suspect])
    observed = strengths(field, field.faulty[field.row_of_lot][:, None], fair.held)[:, 0]
    assert units_of(field)[int(observed.argmax())] == suspect
    (verdict,) = check_units(field, [suspect])
    assert verdict.p_value <= 0.02
    assert verdict.fields % BATCH == 0
    assert verdict.p_value == (verdict.as_strong + 1) / (verdict.fields + 1)


def test_an_ordinary_cell_does_not_pass():
    """A cell like all others is matched by most fair fields, and the check ends early."""
    field = _guilty(rate=0.07)
    (verdict,) = check_units(field, [AccusedUnit("cell", 3)])
    assert verdict.p_value > 0.2
    assert verdict.fields == BATCH


@pytest.mark.parametrize("faulty", [lambda *_: 0, lambda *_: 2], ids=["no faults", "all faulty"])
@pytest.mark.parametrize(("makers", "formats", "pigments"), [(4, 2, 4), (1, 2, 4), (4, 1, 1), (1, 1, 1)])
def test_nobody_stands_out_where_all_are_alike(makers, formats, pigments, faulty):
    """Without a fault or without a sound specimen, down to a single lot, nobody is stronger than fair fields show."""
    field = arrange(grid(makers, formats, pigments, 2, faulty))
    verdicts = check_units(field, units_of(field))
    assert len(verdicts) == len(units_of(field))
    assert verdicts[0].p_value > 0.05


def test_many_outcomes_are_taken_in_parts(monkeypatch):
    """Where the factors of all outcomes at once would not fit, they are taken in parts, with the same result."""
    field = _guilty()
    fair = fit_fair(field, [])
    faulty = fair_outcomes(field, fair, 7, np.random.default_rng(1))
    together = strengths(field, faulty, fair.held)
    monkeypatch.setattr("qcledger.stats.pooled.fair_field.ROOM", 2 * field.columns**2)
    np.testing.assert_allclose(strengths(field, faulty, fair.held), together, atol=1e-9)


def test_same_seed_same_verdict_and_stop_is_heard():
    """The same seed gives the same verdict; asked to stop, the check draws nothing more."""
    field, suspects = _guilty(), [AccusedUnit("cell", 5)]
    assert check_units(field, suspects, seed=4) == check_units(field, suspects, seed=4)
    assert check_units(field, suspects, stop=lambda: True) == ()


def test_what_overlaps_the_guilty_is_explained_by_it():
    """Of a guilty cell and its maker only the stronger is named; an innocent one after it does not pass."""
    field = _guilty()
    cell = field.cells.index((2, 1))
    found = check_units(field, [AccusedUnit("maker", 2), AccusedUnit("cell", cell), AccusedUnit("cell", 0)])
    assert found[0].unit == AccusedUnit("cell", cell)
    assert found[0].p_value <= 0.02
    assert [verdict.unit for verdict in found[1:]] == [AccusedUnit("cell", 0)]
    assert found[1].p_value > 0.02


def test_fair_fields_have_the_same_purchases_and_the_fields_rate():
    """A fair outcome keeps every lot's size, and its rate is that of the field without the suspect."""
    field = _guilty()
    suspect = AccusedUnit("cell", field.cells.index((2, 1)))
    faulty = fair_outcomes(field, fit_fair(field, [suspect]), 400, np.random.default_rng(0))
    tested = field.tested[field.row_of_lot]
    assert (faulty <= tested[:, None]).all()
    outside = field.cell_of_arm[field.arm_of_row[field.row_of_lot]] != suspect.index
    seen = field.faulty[field.row_of_lot][outside].sum() / tested[outside].sum()
    assert abs(faulty.sum() / tested.sum() / 400 - seen) < 0.03


def test_statistic_does_not_depend_on_the_other_outcomes():
    """An outcome has the same statistic alone as beside others."""
    field = _guilty()
    fair = fit_fair(field, [])
    faulty = fair_outcomes(field, fair, 5, np.random.default_rng(1))
    together = strengths(field, faulty, fair.held)
    np.testing.assert_allclose(together[:, [3]], strengths(field, faulty[:, [3]], fair.held), atol=1e-9)


def test_drawing_stops_only_whenis_clear():
    """5 of 250 at 2 % is not clear, 0 of 500 and 30 of 250 are."""
    assert not is_clear(5, 250, 0.02)
    assert is_clear(0, 500, 0.02)
    assert is_clear(30, 250, 0.02)


def test_whoever_passes_does_so_among_fields_enough():
    """Nobody passes before eight fields for the line are drawn; the strongest are kept with the scales."""
    field = _guilty()
    suspect = AccusedUnit("cell", field.cells.index((2, 1)))
    line = 0.004
    (verdict,) = check_units(field, [suspect], line=line)
    assert verdict.p_value <= line
    assert ENOUGH / line <= verdict.fields <= AT_MOST / line
    assert list(verdict.strongest) == sorted(verdict.strongest, reverse=True)
    assert len(verdict.strongest) == TOP
    held = Theta(*np.array(verdict.held)[:, None])
    again = strengths(field, field.faulty[field.row_of_lot][:, None], held)[units_of(field).index(suspect), 0]
    assert sum(one >= again for one in verdict.strongest) == verdict.as_strong
