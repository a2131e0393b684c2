"""The page of prices: from the shelf, by what stands side by side, over purchases, in one currency."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

from qcledger.ledger import Ledger
from qcledger.records import ExchangeRate, Maker, Paint, Parcel, Specimen
from qcledger.vocab import Format


def buy(place):
    """Give the shelf prices, a second maker, a parcel in another currency and a rate between the two."""
    with Ledger.open(place, write=True) as ledger:
        pieces = ledger.rows(Specimen)
        priced = [
            replace(one, price_minor=590 + 10 * n, nominal_ml=Decimal(2)) for n, one in enumerate(pieces) if n < 2
        ]
        ledger.append(priced, reason="the receipt")
        ledger.append([
            Maker(id="m2", name="Alder [red]x[/red]"), Paint(id="p2", maker="m2", name="Ochre"),
            Parcel(id="pz", bought_on=date(2026, 2, 2), seller="Corner shop", currency="GBP", tax_included=True),
            Specimen(id="z", sticker="OV 0900", paint="p2", format=Format.HALF_PAN, parcel="pz",
                     nominal_ml=Decimal(2), price_minor=430),
            ExchangeRate(id="r", on=date(2026, 2, 1), base="EUR", quote="GBP", rate=Decimal("0.86"), source="a bank"),
        ])  # fmt: skip


async def test_prices_from_the_shelf(shop):
    """$ shows the marked maker, e everybody, b turns the ways, t shows purchases, i one currency; Esc goes back."""
    at = shop(currency="EUR")
    buy(at.place)
    async with at.run():
        await at.until(lambda: "OV 0900" in at.picture)
        await at.press("$")
        await at.until(lambda: at.on_page == "PricesPage" and "What was paid" in at.picture)
        mine = "Alder [red]x[/red]" if "Alder" in at.picture else "Trellmere"
        assert "by paint" in at.picture
        assert ("GBP, with tax" in at.picture) == (mine != "Trellmere")
        await at.press("e")
        await at.until(lambda: "GBP, with tax" in at.picture and "EUR, tax not said" in at.picture)
        assert "Alder [red]x[/red]" in at.picture
        await at.press("b")
        await at.until(lambda: "by pigment" in at.picture)
        await at.press("t")
        await at.until(lambda: "No paint was bought of one seller on two days" in " ".join(at.picture.split()))
        await at.press("t", "i")
        await at.until(lambda: "EUR, with tax" in at.picture)
        assert "5.00" in at.picture
        await at.press("f")
        await at.until(lambda: "no criterion is spoken of here" in at.said)
        await at.press("escape")
        await at.until(lambda: at.on_page == "Stock")


async def test_prices_from_a_specimens_history(shop):
    """$ there shows its maker's paints; Esc goes back to the history."""
    at = shop()
    buy(at.place)
    async with at.run():
        await at.until(lambda: "OV 0900" in at.picture)
        await at.press("enter")
        await at.until(lambda: at.on_page == "History")
        await at.press("$")
        await at.until(lambda: at.on_page == "PricesPage" and "What was paid" in at.picture)
        await at.press("escape")
        await at.until(lambda: at.on_page == "History")


async def test_an_empty_shelf_has_no_prices(shop):
    """$ on it says so."""
    at = shop(lines=0)
    async with at.run():
        await at.until(lambda: "No specimen yet" in at.picture)
        await at.press("$")
        await at.until(lambda: "Nothing was bought that this asks for." in at.picture)
