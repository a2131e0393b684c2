"""Make a reference posterior of a graded ledger by NUTS: ``python -m tests.reference.make_nuts_grades NAME``.

As make_nuts.py, for the cumulative logit. Lots are not integrated: each has an effect of its own, so the engine's
quadrature over lots is checked too.
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
from numpyro.diagnostics import split_gelman_rubin
from numpyro.infer import MCMC, NUTS

from qcledger.stats.pooled.design import PooledField
from qcledger.stats.pooled.grades import GradedLot, arrange_graded
from tests.reference.ledgers import GRADED
from tests.reference.make_nuts import _moments, merged

jax.config.update("jax_enable_x64", True)
HERE = Path(__file__).parent
NAMES = ("s_a", "s_g", "s_c", "s_d", "rho", "b", "a", "g", "c", "d", "cuts")


def model(field: PooledField, matrix, arm_of_specimen, lot_of_specimen, category, size) -> None:
    lots, categories = size
    scales = [
        numpyro.sample(f"s_{name}", dist.HalfNormal(scale))
        for name, scale in (("a", 1.0), ("g", 1.0), ("c", 1.0), ("d", 0.5))
    ]
    rho = numpyro.sample("rho", dist.Beta(1, 4))
    b = numpyro.sample("b", dist.Normal(0, 1).expand([len(field.formats)]))
    sizes = (len(field.makers), len(field.cells), len(field.pigments), len(field.paints))
    a, g, c, d = (
        numpyro.deterministic(name, scale * numpyro.sample(f"z_{name}", dist.Normal(0, 1).expand([count])))
        for name, scale, count in zip("agcd", scales, sizes, strict=True)
    )
    # Normals about 0 kept in order are not the order of normals: the flat ordered vector gets their density.
    cuts = numpyro.sample("cuts", dist.ImproperUniform(dist.constraints.ordered_vector, (), (categories - 1,)))
    numpyro.factor("cuts_prior", dist.Normal(0, 3).log_prob(cuts).sum())
    lot = numpyro.sample("z_lot", dist.Normal(0, 1).expand([lots])) * jnp.sqrt(rho / (1 - rho) / 3) * jnp.pi
    arm = matrix @ jnp.concatenate([jnp.zeros(1), b, a, g, c]) + d[field.paint_of_arm]
    eta = arm[arm_of_specimen] + lot[lot_of_specimen]
    passed = jax.nn.sigmoid(cuts[None, :] - eta[:, None])
    edges = jnp.concatenate([jnp.zeros((len(eta), 1)), passed, jnp.ones((len(eta), 1))], axis=1)
    chance = jnp.take_along_axis(edges, category[:, None] + 1, 1) - jnp.take_along_axis(edges, category[:, None], 1)
    numpyro.factor("grades", jnp.log(jnp.maximum(chance, 1e-300)).sum())


def _specimens(lots: list[GradedLot], field: PooledField) -> tuple[np.ndarray, np.ndarray, np.ndarray, int]:
    grades = sorted({grade for lot in lots for grade in lot.grades})
    cell = {cell: place for place, cell in enumerate(field.cells)}
    arm = {(int(k), int(c)): n for n, (k, c) in enumerate(zip(field.paint_of_arm, field.cell_of_arm, strict=True))}
    found = []
    for number, lot in enumerate(lots):
        where = field.makers.index(lot.maker), field.formats.index(lot.format)
        here = arm[field.paints.index(lot.paint), cell[where]]
        found += [(here, number, grades.index(grade)) for grade in lot.grades]
    arms, lot_of, category = np.array(found).T
    return arms, lot_of, category, len(grades)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("name", choices=sorted(GRADED))
    parser.add_argument("--draws", type=int, default=10_000, help="per chain, 8 chains")
    parser.add_argument("--seed", type=int, default=2026)
    parser.add_argument("--add", action="store_true", help="merge with the summary already kept, of other seeds")
    chosen = parser.parse_args()
    lots = GRADED[chosen.name]()
    field, _ = arrange_graded(lots)
    arms, lot_of, category, categories = _specimens(lots, field)
    began = time.perf_counter()
    sampler = MCMC(
        NUTS(model, target_accept_prob=0.9),
        num_warmup=1000,
        num_samples=chosen.draws,
        num_chains=8,
        chain_method="vectorized",
        progress_bar=False,
    )
    sampler.run(
        jax.random.PRNGKey(chosen.seed), field, jnp.asarray(field.matrix.toarray()), arms, lot_of, category,
        (len(lots), categories), extra_fields=("diverging", "num_steps"),
    )  # fmt: skip
    draws = {name: np.asarray(sampler.get_samples(group_by_chain=True)[name]) for name in NAMES}
    extra = sampler.get_extra_fields()
    own = draws["a"][..., field.maker_of_cell] + draws["g"]
    summary = {name: _moments(draws[name]) for name in NAMES}
    summary["maker_above"] = _moments((draws["a"] > 0).astype(float))
    summary["cell_above"] = _moments((own > 0).astype(float))
    kept = {
        "ledger": chosen.name,
        "made": datetime.now(UTC).strftime("%Y-%m-%d"),
        "seed": chosen.seed,
        "versions": {"numpyro": numpyro.__version__, "jax": jax.__version__, "numpy": np.__version__},
        "draws": 8 * chosen.draws,
        "divergences": int(extra["diverging"].sum()),
        "mean_steps": float(extra["num_steps"].mean()),
        "seconds": round(time.perf_counter() - began, 1),
        "worst_rhat": max(float(np.max(split_gelman_rubin(draws[n]))) for n in NAMES),
        "summary": summary,
    }
    out = HERE / f"{chosen.name}.json"
    if chosen.add:
        kept = merged(json.loads(out.read_text(encoding="utf-8")), kept)
    kept["least_ess"] = min(min(part["ess"]) for part in kept["summary"].values())
    out.write_text(json.dumps(kept, indent=1, allow_nan=False) + "\n", encoding="utf-8")
    print({key: value for key, value in kept.items() if key != "summary"})


if __name__ == "__main__":
    main()
