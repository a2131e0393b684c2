"""Prices: sets and discounts shared to the coin, tax and currency said, nothing put in that is not known."""

from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcledger.findings.exchanged import conversion, conversions
from qcledger.findings.price_groups import BY, tables, trends
from qcledger.findings.prices import NoPrice, Sold, Tax, priced
from qcledger.records import ExchangeRate, PaidPiece

DAY = date(2026, 3, 9)


def piece(specimen="1", **more):
    """Return one half pan for 5.90 EUR with tax."""
    return PaidPiece(
        **{
            "specimen": specimen, "sticker": f"OV {specimen:0>4}", "maker": "a", "maker_name": "A", "paint": "p",
            "paint_name": "Ochre", "pigments": ("PY42",), "format": "half pan", "nominal_ml": Decimal(2),
            "pack": None, "price_minor": 590, "parcel": "x", "seller": "Shop", "country": None, "bought_on": DAY,
            "currency": "EUR", "shipping_minor": 500, "discount_minor": None, "tax_included": True, "tax_pct": None,
        } | more
    )  # fmt: skip


def rate(on=DAY, base="EUR", quote="GBP", value="0.86", name="r"):
    """Return a rate of the ledger."""
    return ExchangeRate(id=name, on=on, base=base, quote=quote, rate=Decimal(value), source="a bank")


SIZES = st.decimals("0.1", 40, places=2)


@given(st.integers(0, 10**7), st.lists(SIZES, min_size=1, max_size=24), st.data())
def test_a_set_is_shared_to_the_coin(price, sizes, data):
    """The shares of a set's pieces add up to its price exactly, and what is left to it less the discount."""
    discount = data.draw(st.integers(0, price))
    pieces = [
        piece(f"{n}", pack="Box", nominal_ml=size, price_minor=price if n == 0 else None, discount_minor=discount)
        for n, size in enumerate(sizes)
    ]
    found = priced(pieces)
    assert sum(one.listed_minor for one in found) == price
    assert sum(one.minor for one in found) == price - discount
    assert all(one.minor >= 0 and one.sold is Sold.IN_SET for one in found)


@given(st.lists(st.integers(0, 10**6), min_size=1, max_size=20), st.data())
def test_a_discount_is_shared_to_the_coin(prices, data):
    """What is left of a parcel's prices is their sum less the discount, and nothing falls below zero."""
    discount = data.draw(st.integers(0, sum(prices)))
    found = priced([piece(f"{n}", price_minor=one, discount_minor=discount) for n, one in enumerate(prices)])
    assert sum(one.paid_minor for one in found) == sum(prices) - discount
    assert all(one.paid_minor >= 0 and one.listed_minor - one.discount_minor == one.paid_minor for one in found)


def test_what_is_not_known_stays_unknown():
    """No price, a set without a size, a discount that cannot be shared or is too large: said, and nothing put in."""
    plain, missing = piece("1", parcel="a"), piece("2", parcel="a", price_minor=None)
    box = [piece("3", parcel="b", pack="Box"), piece("4", parcel="b", pack="box", nominal_ml=None, price_minor=None)]
    off = [piece("5", parcel="c", discount_minor=10), piece("6", parcel="c", discount_minor=10, price_minor=None)]
    much = piece("7", parcel="d", discount_minor=591)
    free = piece("8", parcel="e", price_minor=0)
    found = priced([plain, missing, *box, *off, much, free])
    why = [None, NoPrice.NONE, NoPrice.SET, NoPrice.SET, NoPrice.DISCOUNT, NoPrice.NONE, NoPrice.TOO_MUCH, None]
    assert [one.why_not for one in found] == why
    assert [one.minor for one in found] == [590, None, None, None, None, None, None, 0]
    assert found[4].listed_minor == 590
    assert [one.per_ml for one in found[:2]] == [295, None]
    assert found[7].per_ml == 0
    assert priced([piece(nominal_ml=None)])[0].per_ml is None


def test_a_set_without_a_size_shares_the_discount_of_its_parcel_all_the_same():
    """The other pieces know their share, for the set's price is known as a whole."""
    box = [piece("1", pack="Box", nominal_ml=None, price_minor=900, discount_minor=150),
           piece("2", pack="Box", price_minor=None, discount_minor=150)]  # fmt: skip
    *_, alone = priced([*box, piece("3", price_minor=600, discount_minor=150)])
    assert (alone.discount_minor, alone.minor) == (60, 540)


@pytest.mark.parametrize(
    ("included", "pct", "tax", "minor", "with_tax", "without"),
    [
        (True, 19.0, Tax.WITH, 590, 590, 496),  # 590 / 1.19 = 495.8
        (True, None, Tax.WITH, 590, 590, None),
        (False, 19.0, Tax.WITH, 702, 702, 590),  # 702.1
        (False, 7.7, Tax.WITH, 635, 635, 590),  # 635.43
        (False, 0.0, Tax.WITH, 590, 590, 590),
        (False, None, Tax.WITHOUT, 590, None, 590),
        (None, 19.0, Tax.UNSAID, 590, None, None),
    ],
)
def test_tax(included, pct, tax, minor, with_tax, without):
    """Tax is added where its per cent are known; where nobody said, the price stays as paid and stands apart."""
    (one,) = priced([piece(tax_included=included, tax_pct=pct)])
    assert (one.tax, one.minor, one.with_tax_minor, one.without_tax_minor) == (tax, minor, with_tax, without)


def test_half_a_coin_is_rounded_up():
    """250 without tax at 5 % are 262.5."""
    (one,) = priced([piece(price_minor=250, tax_included=False, tax_pct=5.0)])
    assert one.minor == 263


def test_which_rate():
    """The nearest day counts, either way round; of two as near the earlier one; the last entered of one day."""
    early, near, late = rate(date(2026, 1, 1), value="0.8"), rate(date(2026, 3, 8)), rate(date(2026, 3, 10), name="l")
    assert conversion([early, near, late], "EUR", "GBP", DAY).rate is near
    assert conversion([early], "EUR", "GBP", DAY).rate is early
    back = rate(date(2026, 3, 9), base="GBP", quote="EUR", value="1.25", name="b")
    assert conversion([near, back], "EUR", "GBP", DAY).of(1000) == 800
    again = rate(date(2026, 3, 8), value="0.9", name="s")
    assert conversion([near, again], "EUR", "GBP", DAY).of(1000) == 900
    assert conversion([near], "EUR", "JPY", DAY) is None
    through = [rate(base="EUR", quote="USD", value="1.1"), rate(base="USD", quote="JPY", value="150")]
    assert conversion(through, "EUR", "JPY", DAY) is None


@pytest.mark.parametrize(
    ("base", "to", "value", "minor", "coins"),
    [("EUR", "JPY", "161.5", 590, 953), ("JPY", "EUR", "0.0062", 953, 591), ("EUR", "KWD", "0.3312", 590, 1954),
     ("KWD", "JPY", "487.9", 1954, 953)],
)  # fmt: skip
def test_coins_of_one_currency_become_those_of_another(base, to, value, minor, coins):
    """No digit is lost between currencies with none, two and three of them: 5.90 x 161.5 = 952.85."""
    assert conversion([rate(base=base, quote=to, value=value)], base, to, DAY).of(minor) == coins


def test_no_rate_is_no_price():
    """A piece whose currency has no rate has none in the other; one that is in it already keeps its own."""
    pieces = [piece("1"), piece("2", currency="GBP", parcel="y"), piece("3", currency="JPY", parcel="z")]
    found = priced(pieces, conversions(pieces, [rate()], "GBP"))
    assert [(one.minor, one.currency, one.why_not) for one in found] == [
        (507, "GBP", None), (590, "GBP", None), (None, "JPY", NoPrice.RATE)
    ]  # fmt: skip
    assert found[1].rate.rate is None


def test_only_like_is_compared_with_like():
    """Formats, sizes, currencies, tax and sets stand apart; 2 ml and 2.0 ml are one size."""
    pieces = [
        piece("1"), piece("2", nominal_ml=Decimal("2.0"), price_minor=295), piece("3", nominal_ml=Decimal("1.5")),
        piece("4", format="tube"), piece("5", currency="GBP", parcel="y"), piece("6", tax_included=None, parcel="z"),
        piece("7", pack="Box", parcel="b"), piece("8", nominal_ml=None, parcel="n"),
    ]  # fmt: skip
    found = tables(priced(pieces))
    sizes = [None if one.of.nominal_ml is None else float(one.of.nominal_ml) for one in found]
    assert sizes == [1.5, 2, 2, 2, 2, None, 2]
    assert [one.whole.dearest_over_cheapest for one in found] == [None, 2, None, None, None, None, None]
    assert [one.of.format for one in found] == ["half pan"] * 6 + ["tube"]


def test_nothing_stands_by_price():
    """Groups go A to Z whatever they cost, tables by format and size; nothing for nothing is no ratio."""
    names = ("b", "C", "a")
    pieces = [piece(f"{n}", maker_name=name, price_minor=100 * n) for n, name in enumerate(names)]
    for order in (pieces, pieces[::-1]):
        (table,) = tables(priced(order))
        assert [name for name, _ in table.groups] == ["a", "b", "C"]
        assert (table.whole.low, table.whole.dearest_over_cheapest) == (0, None)


@pytest.mark.parametrize(
    ("by", "name"),
    [("maker", "A"), ("paint", "A Ochre"), ("pigment", "PY42"), ("seller", "Shop"), ("country", "DE"),
     ("pack", "single"), ("month", "2026-03"), ("piece", "OV 0001 A Ochre")],
)  # fmt: skip
def test_by_what_prices_are_told(by, name):
    """Each of the names that prices may be grouped by."""
    (table,) = tables(priced([piece(country="DE")]), by)
    assert [one for one, _ in table.groups] == [name]
    assert set(BY) >= {by}


def test_the_price_of_a_gram_is_of_what_was_weighed():
    """5.90 for 1.18 g of dry paint are 5.00 a gram; the other piece of the paint says nothing of it."""
    (table,) = tables(priced([piece("1", dry_g=Decimal("1.18")), piece("2")]))
    assert (table.whole.per_dry_g, table.whole.weighed) == ((Fraction(500), Fraction(500)), 1)


def test_trends_are_of_one_paint_seller_and_size():
    """The middle price of each day, oldest first; a set's share and another seller's price are no part of it."""
    later = date(2026, 5, 2)
    pieces = [
        piece("1"), piece("2", price_minor=610), piece("3", bought_on=later, price_minor=649, parcel="y"),
        piece("4", bought_on=later, seller="Other", parcel="z"), piece("5", bought_on=later, pack="Box", parcel="b"),
        piece("6", bought_on=date(2026, 6, 1), price_minor=None, parcel="n"),
    ]  # fmt: skip
    (found,) = trends(priced(pieces))
    assert found.days == ((DAY, 590), (later, 649))
    assert found.change == Fraction(1, 10)
