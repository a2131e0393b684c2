"""Make a reference posterior by NUTS and keep its summary: ``python make_nuts.py NAME [--draws N] [--seed S]``.

Needs numpyro and jax beside qcledger (ordinary tests do not). The model is written here afresh, by its textbook
definition and with all effects non-centred; of qcledger it uses only the index arrays. Draws are kept nowhere; the
summary JSON beside this file holds means, standard deviations, probabilities, effective sizes, versions, seed, date.
"""

import argparse
import json
import time
from datetime import UTC, datetime
from pathlib import Path

import jax
import jax.numpy as jnp
import numpy as np
import numpyro
import numpyro.distributions as dist
from numpyro.diagnostics import effective_sample_size, split_gelman_rubin
from numpyro.infer import MCMC, NUTS

from qcledger.stats.pooled.design import PooledField, arrange
from tests.reference.ledgers import LEDGERS

jax.config.update("jax_enable_x64", True)
HERE = Path(__file__).parent
DELTA = 0.10


def model(field: PooledField, matrix, terms) -> None:
    scales = [
        numpyro.sample(f"s_{name}", dist.HalfNormal(scale))
        for name, scale in (("a", 1.0), ("g", 1.0), ("c", 1.0), ("d", 0.5))
    ]
    rho = numpyro.sample("rho", dist.Beta(1, 4))
    b0 = numpyro.sample("b0", dist.Normal(-2, 1.5))
    b = numpyro.sample("b", dist.Normal(0, 1).expand([len(field.formats)]))
    sizes = (len(field.makers), len(field.cells), len(field.pigments), len(field.paints))
    a, g, c, d = (
        numpyro.deterministic(name, scale * numpyro.sample(f"z_{name}", dist.Normal(0, 1).expand([size])))
        for name, scale, size in zip("agcd", scales, sizes, strict=True)
    )
    arm = matrix @ jnp.concatenate([b0[None], b, a, g, c]) + d[field.paint_of_arm]
    rate = jax.nn.sigmoid(arm)[field.arm_of_row]
    spread = rho / (1 - rho)
    steps, is_faulty, is_sound, tested = terms
    # One logarithm per product of at most max(tested) factors, each between 0 and 1 + max(tested) * spread.
    some = jnp.where(is_faulty, rate[:, None] + steps * spread, 1.0).prod(axis=1)
    rest = jnp.where(is_sound, 1 - rate[:, None] + steps * spread, 1.0).prod(axis=1)
    whole = jnp.cumsum(jnp.log1p(steps[0] * spread))[tested - 1]
    per_row = jnp.log(some) + jnp.log(rest) - whole
    numpyro.factor("lots", (per_row * field.lots).sum())


def _terms(field: PooledField):
    steps = np.arange(field.tested.max())[None, :].astype(float)
    sound = (field.tested - field.faulty)[:, None]
    return steps, steps < field.faulty[:, None], steps < sound, field.tested


def summary(field: PooledField, draws: dict[str, np.ndarray]) -> dict[str, object]:
    """Return the summaries; `draws` of shape (chains, draws, ...)."""
    found: dict[str, object] = {}
    for name in ("s_a", "s_g", "s_c", "s_d", "rho", "b0", "b", "a", "g", "c", "d"):
        found[name] = _moments(draws[name])
    maker, fmt = field.maker_of_cell, field.format_of_cell
    own = draws["a"][..., maker] + draws["g"]
    found["maker_above"] = _moments((draws["a"] > 0).astype(float))
    found["cell_above"] = _moments((own > 0).astype(float))
    field_level = draws["b0"][..., None] + draws["b"][..., fmt]
    rate = _standard(field, draws, field_level + own)
    excess = rate - _standard(field, draws, field_level)
    found["cell_rate"], found["cell_excess"] = _moments(rate), _moments(excess)
    found["cell_beyond_delta"] = _moments((excess > DELTA).astype(float))
    return found


def _standard(field: PooledField, draws: dict[str, np.ndarray], level: np.ndarray) -> np.ndarray:
    """Average the rate over the field's mix of pigments and over paints, by 9 Gauss-Hermite nodes."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(9)
    total = np.zeros_like(level)
    for share, p in zip(field.pigment_shares, range(len(field.pigments)), strict=True):
        for node, weight in zip(nodes, weights / weights.sum(), strict=True):
            eta = level + (draws["c"][..., p] + node * draws["s_d"])[..., None]
            total += share * weight / (1 + np.exp(-eta))
    return total


def _moments(values: np.ndarray) -> dict[str, list[float]]:
    flat = values.reshape(*values.shape[:2], -1)
    mean, sd = flat.mean(axis=(0, 1)), flat.std(axis=(0, 1))
    with np.errstate(invalid="ignore"):
        size = np.atleast_1d(effective_sample_size(flat))
    # A quantity that never changed, or in one chain only, has no autocorrelation to measure: it is as good as known.
    size = np.where(np.isfinite(size), size, flat.shape[0] * flat.shape[1])
    return {"mean": np.round(mean, 6).tolist(), "sd": np.round(sd, 6).tolist(), "ess": np.round(size, 0).tolist()}


def merged(one: dict, two: dict) -> dict:
    """Return the summary of two independent runs together: means by draws, effective sizes added."""
    n, m = one["draws"], two["draws"]
    found = {}
    for name, part in one["summary"].items():
        a, b = (
            {key: np.array(value) for key, value in side[name].items()} for side in (one["summary"], two["summary"])
        )
        mean = (n * a["mean"] + m * b["mean"]) / (n + m)
        square = (n * (a["sd"] ** 2 + a["mean"] ** 2) + m * (b["sd"] ** 2 + b["mean"] ** 2)) / (n + m)
        found[name] = {
            "mean": np.round(mean, 6).tolist(),
            "sd": np.round(np.sqrt(np.maximum(square - mean**2, 0)), 6).tolist(),
            "ess": np.where(np.isnan(a["ess"] + b["ess"]), n + m, a["ess"] + b["ess"]).tolist(),
        }
        assert len(part["mean"]) == len(mean)
    both = dict(two, draws=n + m, summary=found, seconds=round(one["seconds"] + two["seconds"], 1))
    both["seed"] = [*np.atleast_1d(one["seed"]).tolist(), *np.atleast_1d(two["seed"]).tolist()]
    both["divergences"] = one["divergences"] + two["divergences"]
    both["worst_rhat"] = max(one["worst_rhat"], two["worst_rhat"])
    return both


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("name", choices=sorted(LEDGERS))
    parser.add_argument("--draws", type=int, default=10_000, help="per chain, 8 chains")
    parser.add_argument("--seed", type=int, default=2026)
    parser.add_argument("--add", action="store_true", help="merge with the summary already kept, of other seeds")
    parser.add_argument("--out", type=Path, default=None)
    chosen = parser.parse_args()
    field = arrange(LEDGERS[chosen.name]())
    matrix = jnp.asarray(field.matrix.toarray())
    began = time.perf_counter()
    sampler = MCMC(
        NUTS(model, target_accept_prob=0.85),
        num_warmup=1000,
        num_samples=chosen.draws,
        num_chains=8,
        chain_method="vectorized",
        progress_bar=False,
    )
    sampler.run(
        jax.random.PRNGKey(chosen.seed), field, matrix, _terms(field), extra_fields=("diverging", "num_steps")
    )
    draws = {name: np.asarray(value) for name, value in sampler.get_samples(group_by_chain=True).items()}
    extra = sampler.get_extra_fields()
    took = time.perf_counter() - began
    kept = {
        "ledger": chosen.name,
        "made": datetime.now(UTC).strftime("%Y-%m-%d"),
        "seed": chosen.seed,
        "versions": {"numpyro": numpyro.__version__, "jax": jax.__version__, "numpy": np.__version__},
        "draws": 8 * chosen.draws,
        "divergences": int(extra["diverging"].sum()),
        "mean_steps": float(extra["num_steps"].mean()),
        "seconds": round(took, 1),
        "worst_rhat": max(
            float(np.max(split_gelman_rubin(draws[n]))) for n in ("s_a", "s_g", "s_c", "s_d", "rho", "a", "g", "c")
        ),
        "summary": summary(field, draws),
    }
    out = chosen.out or HERE / f"{chosen.name}.json"
    if chosen.add:
        before = json.loads(out.read_text(encoding="utf-8"))
        assert chosen.seed not in np.atleast_1d(before["seed"]), "the same draws must not count twice"
        kept = merged(before, kept)
    least = min(min(part["ess"]) for part in kept["summary"].values())
    kept["least_ess"] = least
    out.write_text(json.dumps(kept, indent=1, allow_nan=False) + "\n", encoding="utf-8")
    print(
        chosen.name,
        "seconds",
        kept["seconds"],
        "least ESS",
        least,
        "rhat",
        kept["worst_rhat"],
        "div",
        kept["divergences"],
    )


if __name__ == "__main__":
    main()
