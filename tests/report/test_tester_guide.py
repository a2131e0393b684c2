"""The guide to the tester's figures says the numbers that the program uses and the benches have kept."""

import re
from pathlib import Path

import pytest

from qcledger.settings import shipped
from qcledger.stats.agreement import ENOUGH, KAPPA_FROM
from qcledger.stats.alpha import ALPHA_FROM
from tests.bench.bench_agreement import HELD, SEED

TEXT = (shipped("guide") / "tester.md").read_text(encoding="utf-8")
BENCH = Path(__file__).parents[1] / "bench"
SUMMED = re.compile(r"^\d+ pairs, (.+?) +([.\d]+) to ([.\d]+), mean [.\d]+, (\d+) of", re.MULTILINE)


def kept(name, table):
    """Return from a table kept, for each method in the order of pairs, least and most percent and how many inside."""
    text = (BENCH / name).read_text(encoding="utf-8").split("Share of sets whose")[table + 1]
    found: dict[str, list[str]] = {}
    for method, low, high, inside in SUMMED.findall(text):
        found.setdefault(method, []).append(f"{100 * float(low):.1f} to {100 * float(high):.1f}, {inside}")
    return found


def told(start):
    """Return the cells of the guide's row that begins with these words."""
    (row,) = [line for line in TEXT.splitlines() if line.replace("*", "").startswith(f"| {start} |")]
    return [cell.strip(" *") for cell in row.split("|")[2:-1]]


@pytest.mark.parametrize(
    ("start", "method"),
    [
        ("usual (kappa -+ 1.96 standard errors)", "usual"),
        ("percentile bootstrap", "bootstrap"),
        ("F, as for an intraclass correlation", "F"),
        ("Fisher's z", "Fisher z"),
        ("jackknife of z", "jackknife z"),
        ("the same, its variance mixed with the normal one", "mixed z"),
        ("weighted pairs, no slip among them", "no slips"),
        ("weighted pairs, in use", "in use"),
    ],
)
def test_the_table_of_methods_is_the_kept_one(start, method):
    """Each row is what the bench kept of the testers without slips."""
    assert told(start) == kept("agreement_coverage.txt", 0)[method]


@pytest.mark.parametrize(
    ("start", "method"),
    [
        ("bootstrap over specimens", "bootstrap"),
        ("jackknife of z for alpha", "jackknife z"),
        ("weighted places, in use", "in use"),
    ],
)
def test_the_table_of_methods_for_alpha_is_the_kept_one(start, method):
    """Each row is what the bench kept of the pairs of testers without slips."""
    assert told(start) == kept("alpha_coverage.txt", 0)[method]


def test_the_tables_of_testers_held_out_are_the_kept_ones():
    """The second set held out, and the pairs of testers; the seeds are told."""
    held = kept("agreement_held_out.txt", 1)
    rows = [line for line in TEXT.splitlines() if re.match(r"\| \*{0,2}in use", line)]
    of_kappa, of_alpha = ([cell.strip(" *") for cell in row.split("|")[2:-1]] for row in rows)
    assert of_kappa == held["in use"]
    assert of_alpha == kept("alpha_held_out.txt", 0)["in use"]
    assert told("no slip among the weighted pairs") == held["no slips"]
    assert f"seed {SEED}" in TEXT
    assert f"seed {max(HELD)}" in TEXT


def test_the_least_numbers_are_those_of_the_code():
    """From how many pairs each figure is given; and from how many a share could have an interval."""
    given = {row.split("|")[1].strip(): row.split("|")[3].strip() for row in TEXT.splitlines() if row.count("|") == 5}
    assert given["weighted kappa"] == f"from {KAPPA_FROM} pairs"
    assert given["two testers"] == f"from {ALPHA_FROM} specimens"
    assert given["repeatability of readings"] == f"from {ENOUGH} pairs"
    shares = (BENCH / "share_coverage.txt").read_text(encoding="utf-8")
    least = [int(one) for one in re.findall(r"to 0.95 from (\d+) pairs on", shares)]
    most = [int(one) for one in re.findall(r"to 0.99 from (\d+) pairs on", shares)]
    assert f"only from {min(least)} pairs on" in " ".join(TEXT.split())
    assert f"from {min(most)} on" in " ".join(TEXT.split())
