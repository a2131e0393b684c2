"""Ledgers that reference posteriors are made for: drawn once from the model at fixed truths, by seed."""

from collections.abc import Callable

import numpy as np

from qcledger.stats.pooled.design import PooledLot
from qcledger.stats.pooled.grades import GradedLot


def draw(
    seed: int,
    *,
    makers: int,
    formats: int,
    pigments: int,
    lots: tuple[int, int],
    specimens: tuple[int, int],
    level: float = -2.6,
    scales: tuple[float, float, float, float] = (0.5, 0.3, 0.7, 0.3),
    rho: float = 0.25,
    bad_cells: tuple[tuple[int, int], ...] = (),
    spare: float = 0.0,
) -> list[PooledLot]:
    """Return lots of `makers` x `formats` x `pigments`; a share `spare` of the maker's paints is not sold.

    `bad_cells` (maker, format) get 2.5 on the logit scale; every fifth paint is a mixture of two pigments.
    """
    rng = np.random.default_rng(seed)
    s_a, s_g, s_c, s_d = scales
    a, g = rng.normal(0, s_a, makers), rng.normal(0, s_g, (makers, formats))
    for cell in bad_cells:
        g[cell] += 2.5
    c, b = rng.normal(0, s_c, pigments), rng.normal(0, 0.3, formats)
    found = []
    for m in range(makers):
        for p in range(pigments):
            if rng.random() < spare:
                continue
            mix = (p, (p + 1) % pigments) if p % 5 == 4 else (p,)
            d = rng.normal(0, s_d)
            for f in range(formats):
                rate = 1 / (1 + np.exp(-(level + b[f] + a[m] + g[m, f] + c[list(mix)].mean() + d)))
                for _ in range(rng.integers(lots[0], lots[1] + 1)):
                    tested = int(rng.integers(specimens[0], specimens[1] + 1))
                    strength = (1 - rho) / rho
                    faulty = int(rng.binomial(tested, rng.beta(rate * strength, (1 - rate) * strength)))
                    names = tuple(f"P{one:03d}" for one in mix)
                    found.append(
                        PooledLot(
                            maker=f"M{m:02d}",
                            format=f"F{f}",
                            paint=f"M{m:02d}-{p:03d}",
                            pigments=names,
                            tested=tested,
                            faulty=faulty,
                        )
                    )
    return found


def _zeros() -> list[PooledLot]:
    lots = draw(44, makers=8, formats=2, pigments=10, lots=(1, 2), specimens=(1, 3), scales=(1.0, 0.5, 0.7, 0.5))
    clean = {("M00", "F0"), ("M00", "F1"), ("M01", "F0"), ("M05", "F1"), ("M06", "F0"), ("M06", "F1")}
    return [PooledLot(**{**_fields(lot), "faulty": 0}) if (lot.maker, lot.format) in clean else lot for lot in lots]


def _fields(lot: PooledLot) -> dict[str, object]:
    return {name: getattr(lot, name) for name in PooledLot.__slots__}


LEDGERS: dict[str, Callable[[], list[PooledLot]]] = {
    "demo_like": lambda: draw(
        41, makers=12, formats=2, pigments=16, lots=(1, 2), specimens=(1, 4), bad_cells=((2, 1),), spare=0.1
    ),
    "small": lambda: draw(
        42, makers=12, formats=2, pigments=12, lots=(1, 1), specimens=(1, 2), bad_cells=((3, 0), (3, 1))
    ),
    "large": lambda: draw(43, makers=12, formats=2, pigments=25, lots=(1, 3), specimens=(1, 3), bad_cells=((7, 0),)),
    "zero_cells": _zeros,
    "tiny": lambda: draw(45, makers=4, formats=2, pigments=5, lots=(1, 2), specimens=(1, 6), bad_cells=((1, 0),)),
    "lots_532": lambda: draw(46, makers=12, formats=2, pigments=22, lots=(1, 1), specimens=(1, 3)),
}


def draw_grades(
    seed: int, *, makers: int, formats: int, pigments: int, lots: tuple[int, int], specimens: tuple[int, int]
) -> list[GradedLot]:
    """Return graded lots from the cumulative logit with lots as normal effects; maker 1 is 1.5 harder in format 0."""
    rng = np.random.default_rng(seed)
    a, g = rng.normal(0, 0.5, makers), rng.normal(0, 0.3, (makers, formats))
    g[1, 0] += 1.5
    c, cuts, found = rng.normal(0, 0.7, pigments), np.array([0.3, 1.3, 2.2, 3.2, 4.4]), []
    for m in range(makers):
        for p in range(pigments):
            d = rng.normal(0, 0.3)
            for f in range(formats):
                for _ in range(rng.integers(lots[0], lots[1] + 1)):
                    eta = a[m] + g[m, f] + c[p] + d + rng.normal(0, 0.9)
                    noise = rng.logistic(size=int(rng.integers(specimens[0], specimens[1] + 1)))
                    grades = tuple(float((eta + one > cuts).sum()) for one in noise)
                    found.append(
                        GradedLot(
                            maker=f"M{m:02d}",
                            format=f"F{f}",
                            paint=f"M{m:02d}-{p:03d}",
                            pigments=(f"P{p:03d}",),
                            grades=grades,
                        )
                    )
    return found


GRADED: dict[str, Callable[[], list[GradedLot]]] = {
    "graded_tiny": lambda: draw_grades(51, makers=4, formats=2, pigments=5, lots=(1, 2), specimens=(1, 4)),
    "graded_small": lambda: draw_grades(52, makers=8, formats=2, pigments=10, lots=(1, 1), specimens=(1, 2)),
}
