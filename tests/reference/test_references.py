"""The engine against long NUTS runs kept in this folder; see make_nuts.py for how they were made."""

import json
from pathlib import Path

import numpy as np
import pytest

from qcledger.stats.pooled.correct import ChainPlan
from qcledger.stats.pooled.design import arrange
from qcledger.stats.pooled.fit import Effort, fit
from qcledger.stats.pooled.graded import fit_grades
from qcledger.stats.pooled.priors import NAMES
from tests.reference.ledgers import GRADED, LEDGERS

HERE = Path(__file__).parent
KEPT = sorted(path.stem for path in HERE.glob("*.json"))
MANY = Effort(points=512, plan=ChainPlan(chains=400, kept=30))
PROBABILITY, MEAN, SPREAD = 0.02, 0.05, 0.10
EFFECTS = ("a", "g", "c", "b", "b0", "d", *NAMES)
COUNTED = [name for name in KEPT if name in LEDGERS]
BY_GRADES = [name for name in KEPT if name in GRADED]
PROBABILITIES = ("cell_above", "maker_above", "cell_beyond_delta")
RATES = ("cell_rate", "cell_excess")


def quantities(found):
    """Return draws of everything that is compared, each (size, N)."""
    effects = {name: found.block(name) for name in ("a", "g", "c", "b", "b0")}
    theta = {name: values[None] for name, values in zip(NAMES, found.theta.stacked(), strict=True)}
    rates = {"cell_rate": found.cell_rate, "cell_excess": found.cell_excess}
    signs = {
        "cell_above": found.own > 0,
        "maker_above": found.block("a") > 0,
        "cell_beyond_delta": found.cell_excess > 0.1,
    }
    return effects | theta | rates | {"d": found.draws.d} | {name: part.astype(float) for name, part in signs.items()}


def differences(name, effort, seed):
    """Return per quantity the largest difference of means and the largest ratio of deviations less 1."""
    kept = json.loads((HERE / f"{name}.json").read_text(encoding="utf-8"))["summary"]
    found = fit(arrange(LEDGERS[name]()), seed=seed, effort=effort)
    table = {}
    for key, draws in quantities(found).items():
        mean, sd = np.array(kept[key]["mean"]), np.array(kept[key]["sd"])
        spread = np.zeros(1) if key in PROBABILITIES else np.abs(draws.std(axis=1) / sd - 1)
        table[key] = (np.abs(draws.mean(axis=1) - mean).max(), spread.max())
    return table, found


@pytest.mark.parametrize("name", COUNTED)
def test_engine_agrees_with_nuts(name, capsys):
    """Probabilities and rates agree within 0.02, effects within 0.05, deviations within 10 %, chance included."""
    table, found = differences(name, MANY, seed=11)
    worst = {
        "probability": max(table[key][0] for key in PROBABILITIES),
        "effect": max(table[key][0] for key in EFFECTS),
        "rate": max(table[key][0] for key in RATES),
        "deviation": max(part[1] for part in table.values()),
    }
    with capsys.disabled():
        print(f"\n{name}: largest differences", {key: round(float(value), 4) for key, value in worst.items()})
    assert worst["probability"] <= PROBABILITY
    assert worst["effect"] <= MEAN
    assert worst["rate"] <= PROBABILITY
    assert worst["deviation"] <= SPREAD
    assert not found.health.warnings


@pytest.mark.parametrize("name", BY_GRADES)
def test_graded_engine_agrees_with_nuts(name, capsys):
    """The same bars hold for grades, against NUTS runs in which every lot has an effect of its own."""
    kept = json.loads((HERE / f"{name}.json").read_text(encoding="utf-8"))["summary"]
    found = fit_grades(
        GRADED[name](), seed=11, effort=Effort(points=256, plan=ChainPlan(chains=400, kept=30))
    ).effects
    effects = {key: found.block(key) for key in ("a", "g", "c", "b")} | {"d": found.draws.d}
    effects["cuts"] = found.draws.x[found.field.columns :]
    effects |= {key: values[None] for key, values in zip(NAMES, found.theta.stacked(), strict=True)}
    signs = {"cell_above": found.own > 0, "maker_above": found.block("a") > 0}
    probability = max(np.abs(part.mean(axis=1) - kept[key]["mean"]).max() for key, part in signs.items())
    effect = max(np.abs(part.mean(axis=1) - kept[key]["mean"]).max() for key, part in effects.items())
    deviation = max(np.abs(part.std(axis=1) / kept[key]["sd"] - 1).max() for key, part in effects.items())
    with capsys.disabled():
        print(f"\n{name}: largest differences in a probability {probability:.4f}, an effect {effect:.4f}", end="")
        print(f", a deviation {deviation:.1%}")
    assert probability <= PROBABILITY
    assert effect <= MEAN
    assert deviation <= SPREAD
    assert not found.health.warnings


@pytest.mark.parametrize("name", KEPT)
def test_reference_says_how_it_was_made(name):
    """Each kept reference names versions, seed, date and sizes, its chains agreed, and every figure is a number."""
    kept = json.loads((HERE / f"{name}.json").read_text(encoding="utf-8"), parse_constant=_refuse)
    assert {"made", "seed", "versions", "draws", "divergences", "least_ess"} <= set(kept)
    assert kept["worst_rhat"] < 1.01
    assert kept["divergences"] < kept["draws"] / 1000
    assert kept["least_ess"] == min(min(part["ess"]) for part in kept["summary"].values()) >= 50_000


def _refuse(constant):
    raise AssertionError(f"{constant} is not JSON")
