"""What a budget buys: prices on file, one purchase for several questions, nothing beyond the sum."""

from dataclasses import replace
from datetime import date

from hypothesis import given
from hypothesis import strategies as st

from qcledger.findings import read
from qcledger.findings.shopping import LastPrice, best_errand, plan
from qcledger.records import Piece
from qcledger.vocab import Occasion
from tests.findings.made import HALF, criterion, only, paints, row

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


def test_what_other_makers_cost_is_the_middle_of_what_is_on_file():
    """Three makers' paints of the pigment cost 2, 3 and 9: a fourth maker's is reckoned at 3, no paint is named."""
    pigment = [one for maker in "ABC" for one in paints(maker, bad=4, pigments=("PR101",))]
    beside = [one for maker in "ABCDEF" for one in paints(maker, pigments=("PY42", "PB29", "PG7"), lots=("L1",))]
    found = findings(pigment, beside)
    prices = {(f"{maker}/Paint PR101", HALF): [price(minor)] for maker, minor in (("A", 200), ("B", 900), ("C", 300))}
    errand = best_errand(next(one for one in found if one.maker == "A"), prices)
    (line,) = errand.lines
    assert (line.paint, line.alike, line.price.minor) == ("", 3, 300)
    assert errand.cost == 300 * line.count
    del prices["C/Paint PR101", HALF]
    assert best_errand(next(one for one in found if one.maker == "A"), prices).lines[0].price.minor == 200
    assert best_errand(next(one for one in found if one.maker == "A"), {}) is None


def test_what_cannot_be_foreseen_has_about_a_price():
    """A piece with a batch code costs what one without it did; without a price nothing is said; a session is free."""
    found = findings([row(grade=5, lot=None)])
    (asked,) = plan(found, {("A/Red", HALF): [price(250), price(240, "Two")]}, 0).not_foreseen
    assert asked.about == 250  # the last price of each paint, at whichever seller
    (asked,) = plan(found, {}, 0).not_foreseen
    assert asked.about is None


def test_what_is_to_be_unpacked_together():
    """A plan for a fault seen at unpacking names what is here of other makers; what was unpacked is not named."""
    seen = replace(criterion(), seen_at=Occasion.UNPACKING)
    rows = [row(maker="A", grade=grade, session=None) for grade in (5, 0)] + [row(maker="B", session=None)]
    kinds = (("x", "B", True), ("y", "B", False), ("z", "A", True), (rows[-1].specimen, "B", True))
    pieces = [
        Piece(specimen=name, sticker=f"OV {name}", maker=maker, format=HALF, parcel="P", lot=None, to_hand=here)
        for name, maker, here in kinds
    ]
    found = plan(read(rows, only(seen), pieces=pieces).findings, {("A/Red", HALF): [price(250)]}, 1000)
    assert found.taken
    (one,) = found.together
    assert (one.format, one.makers, [piece.sticker for piece in one.pieces]) == (HALF, ("Maker A",), ["OV x"])
    assert plan(findings(stray()), {("A/Red", HALF): [price(250)]}, 1000).together == ()
