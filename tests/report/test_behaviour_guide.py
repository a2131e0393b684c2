"""The guide to behaviour beside peers says the numbers that the program uses and the bench has kept."""

import re
from pathlib import Path

import pytest

from qcledger.findings import behaves
from qcledger.settings import shipped
from qcledger.stats import predictive
from tests.bench import bench_behaviour

TEXT = (shipped("guide") / "behaviour.md").read_text(encoding="utf-8")
GUIDE = " ".join(TEXT.replace("*", "").split())
KEPT = (Path(bench_behaviour.__file__).with_name("behaviour.txt")).read_text(encoding="utf-8").splitlines()
HONEST = re.compile(
    r"honest, (?P<world>.+): (?P<hit>\d+) of (?P<of>\d+) ledgers .*95 %: (?P<low>[\d.]+)% to (?P<high>[\d.]+)%"
)
PAIR = re.compile(
    r"(?P<label>\w+) with (?P<inside>.+) inside, .*: (?P<share>\d+)% .*95 %: (?P<low>\d+)% to (?P<high>\d+)%"
)


def rows(of):
    """Return what the bench has kept, line by line."""
    return [found for line in KEPT if (found := of.match(line))]


def test_honest_ledgers_are_within_the_bar():
    """At most one ledger in a hundred had a paint called unlike, of them together; each world has its line."""
    kept = rows(HONEST)
    assert [one["world"] for one in kept] == list(bench_behaviour.WORLDS)
    assert sum(int(one["hit"]) for one in kept) / sum(int(one["of"]) for one in kept) <= 0.01
    together = sum(int(one["hit"]) for one in kept), sum(int(one["of"]) for one in kept)
    assert together == (7, 1200)
    low, high = bench_behaviour.exact(*together)
    told = f"({700 / 1200:.2f} %; 95 %: {100 * low:.2f} to {100 * high:.2f} %)"
    assert f"Seven of these 1,200 ledgers had an honest paint named {told}" in GUIDE
    for one in kept:
        assert f"| {one['world']} | {one['hit']} of {one['of']} | {one['low']} to {one['high']} % |" in TEXT


@pytest.mark.parametrize("one", rows(PAIR), ids=lambda one: f"{one['label']} {one['inside']}")
def test_each_pair_is_told_as_it_was_counted(one):
    """Share and interval of each pair stand in the guide as the bench found them."""
    assert f"| {one['label']} | {one['inside']} | {one['share']} % | {one['low']} to {one['high']} % |" in TEXT


def test_pairs_that_differ_and_must_not_be_called_unlike_are_not():
    """Clear and covering grades of one name, and pigments that behave alike, are hardly ever named."""
    alike = [line for line in KEPT if "expected alike" in line or "expected allowed" in line]
    assert len(alike) == 5
    assert all(int(PAIR.match(line)["share"]) <= 5 for line in alike)


def test_numbers_are_those_of_the_code():
    """Baseline, margin, level, cap, and what it takes to level a sitting or a maker."""
    assert behaves.PEERS == 4
    assert "Under four makers there is no peer baseline" in GUIDE
    assert f"named from **{predictive.LEVEL:g} bits** on" in " ".join(TEXT.split())
    assert f"among up to {predictive.MANY} paints" in GUIDE
    assert (1 / predictive.LEAST, behaves.LEAST_TRAITS) == (2**8, 2)
    assert "No trait tells more than eight bits, and a paint is named only where two traits or more drive it" in GUIDE
    assert (predictive.GAIN, predictive.FAR, predictive.PRIOR) == (1.4, 2, 1)
    assert "by a bell 1.4 times as wide as makers lie apart on file" in GUIDE
    assert "one twice as wide that counts as one maker more" in GUIDE
    assert (behaves.ENOUGH, behaves.APART) == (5, 2)
    assert "where five other paints tell it" in GUIDE
    assert "lie two grades apart" in GUIDE
