"""What a budget buys: prices on file, one purchase for several questions, nothing beyond the sum."""

from datetime import date

from hypothesis import given
from hypothesis import strategies as st

from qcledger.findings import read
from qcledger.findings.shopping import LastPrice, best_errand, plan
from tests.findings.made import HALF, criterion, only, row

ODOUR = criterion("odour")
DAY = date(2026, 3, 1)


def price(minor, seller="One"):
    """Return a price in euro."""
    return LastPrice(minor, seller, DAY, f"{minor / 100:.2f} EUR")


def stray(maker="A", key="froth"):
    """Return one faulty of two of a lot."""
    return [row(maker=maker, grade=grade, criterion=key) for grade in (5, 0)]


def findings(*rows):
    """Return the findings of some rows on two criteria."""
    return read([one for some in rows for one in some], only(criterion(), ODOUR)).findings


def test_one_purchase_answers_two_questions():
    """Two more of one lot are looked at for both criteria: bought once, their chances added."""
    found = plan(findings(stray(), stray(key="odour")), {("A/Red", HALF): [price(250)]}, 1000)
    (errand,) = found.taken
    assert [answer.finding.criterion.key for answer in errand.answers] == ["froth", "odour"]
    assert (errand.pieces, errand.cost, found.spent) == (2, 500, 500)
    assert errand.hoped == sum(answer.way.chance for answer in errand.answers)


def test_what_has_no_price_is_listed_apart():
    """Maker B's paint was never bought at a known price."""
    found = plan(findings(stray("A"), stray("B")), {("A/Red", HALF): [price(250)]}, 1000)
    assert [one.answers[0].finding.maker for one in found.taken] == ["A"]
    assert [one.maker for one in found.no_price] == ["B"]


def test_the_least_of_the_last_prices_is_taken():
    """Of two sellers the one that asks less."""
    (finding,) = findings(stray())
    errand = best_errand(finding, {("A/Red", HALF): [price(300), price(250, "Two")]})
    assert errand is not None
    assert {line.price.seller for line in errand.lines} == {"Two"}
    assert best_errand(finding, {}) is None


@given(st.lists(st.integers(1, 900), min_size=1, max_size=5), st.integers(0, 3000))
def test_a_plan_keeps_within_the_budget_to_the_coin(prices, budget):
    """Whatever the prices: every piece at its price adds up to what is said to be spent."""
    makers = "ABCDE"[: len(prices)]
    known = {(f"{maker}/Red", HALF): [price(one)] for maker, one in zip(makers, prices, strict=True)}
    found = plan(findings(*map(stray, makers)), known, budget)
    assert found.spent == sum(line.count * line.price.minor for one in found.taken for line in one.lines) <= budget
    assert len(found.taken) + len(found.others) == len(prices)
    dearest = [one.cost for one in found.others]
    assert all(cost > budget - found.spent for cost in dearest)  # whatever is left buys nothing more
