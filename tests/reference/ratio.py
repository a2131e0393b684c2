"""Time the engine and 2 x 1,000 NUTS draws on one ledger in one run: ``python -m tests.reference.ratio lots_532``."""

import sys
import time

import jax
import numpyro
from numpyro.infer import MCMC, NUTS

from qcledger.stats.pooled.design import arrange
from qcledger.stats.pooled.fit import fit
from tests.reference.ledgers import LEDGERS
from tests.reference.make_nuts import _terms, model


def main() -> None:
    """Print both times, wall clock and processor, and their ratio."""
    name = sys.argv[1]
    field = arrange(LEDGERS[name]())
    fit(field, seed=0)
    began, work = time.perf_counter(), time.process_time()
    found = fit(field, seed=1)
    ours, ours_work = time.perf_counter() - began, time.process_time() - work
    sampler = MCMC(NUTS(model, target_accept_prob=0.8), num_warmup=1000, num_samples=1000, num_chains=2,
                   chain_method="sequential", progress_bar=False)  # fmt: skip
    began, work = time.perf_counter(), time.process_time()
    sampler.run(jax.random.PRNGKey(1), field, jax.numpy.asarray(field.matrix.toarray()), _terms(field))
    theirs, theirs_work = time.perf_counter() - began, time.process_time() - work
    print(
        f"{name}: engine {ours:.2f} s ({ours_work:.2f} s of processor, {found.health.draws} draws); NUTS 2 x 1,000 "
        f"{theirs:.1f} s ({theirs_work:.1f} s of processor, numpyro {numpyro.__version__}, compilation included); "
        f"ratio {theirs / ours:.1f}, of processor time {theirs_work / ours_work:.1f}"
    )


if __name__ == "__main__":
    main()
