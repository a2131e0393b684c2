"""The last prices of a ledger, in one currency, and the faces of what to buy next."""

import json
from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from qcledger.bench.advice import remember
from qcledger.errors import BadInput
from qcledger.findings import read
from qcledger.records import ExchangeRate, Parcel, Specimen
from qcledger.report import ink_of, shopping
from qcledger.report.parts import WOULD_SETTLE, parts_of
from qcledger.report.shopping_text import PURCHASE, shopping_text, with_purchase
from qcledger.vocab import Format
from tests.findings.made import only, row
from tests.small import small_ledger, stock

HALF = Format.HALF_PAN


@pytest.fixture
def ledger(tmp_path):
    """Return the small ledger, with a piece in pounds, one in a set, one without a price, one at nothing."""
    small = small_ledger(tmp_path)
    with small.open(write=True) as opened:
        specimen = next(one for one in stock(1) if one.TABLE == "specimen")
        parcel = Parcel(id="p2", bought_on=date(2026, 5, 1), seller="Far", currency="GBP")
        later = Parcel(id="p3", bought_on=date(2026, 6, 1), seller="Far", currency="JPY")
        some = (
            ("p2", 301, None, "pt0"), ("p2", 999, "six", "pt1"), ("p2", None, None, "pt1"), ("p3", 480, None, "pt2"),
        )  # fmt: skip
        pieces = [
            replace(
                specimen, id=f"new{n}", sticker=f"OV {900 + n:04}", parcel=of, price_minor=minor, pack=pack,
                paint=paint, lot=None, label_version=None,
            )
            for n, (of, minor, pack, paint) in enumerate(some)
        ]  # fmt: skip
        rate = ExchangeRate(
            id="r1", on=date(2026, 4, 1), base="EUR", quote="GBP", rate=Decimal("0.86"), source="a bank's list"
        )
        opened.append([parcel, later, rate, *pieces])
        yield opened


def test_prices_are_the_last_on_file_in_one_currency(ledger):
    """301 pence at 1 EUR = 0.86 GBP are 3.50 EUR; yen have no rate; a set and a missing price tell nothing."""
    found = shopping.last_prices(ledger, "EUR")
    (far,) = [one for one in found["pt0", HALF] if one.seller == "Far"]
    assert (far.minor, far.paid) == (350, "3.01 GBP")
    assert "a bank's list" in far.rate
    assert not [one for one in found.get(("pt1", HALF), []) if one.seller == "Far"]
    assert not [one for one in found.get(("pt2", HALF), []) if one.seller == "Far"]
    assert shopping.last_prices(ledger, "JPY")["pt2", HALF][0].minor == 480
    assert shopping.usual_currency(ledger) == "JPY"


@pytest.mark.parametrize(
    ("text", "sum_"), [("60 EUR", (6000, "EUR")), ("EUR 7.5", (750, "EUR")), ("6000 JPY", (6000, "JPY"))]
)
def test_a_budget_is_a_sum_and_its_currency(text, sum_):
    """In either order."""
    assert shopping.budget(text) == sum_


@pytest.mark.parametrize("text", ["", "60", "60 of it", "-3 EUR", "1.234 EUR", "six EUR", "60 EUR EUR"])
def test_what_is_no_budget_is_refused(text):
    """In one line that names the option."""
    with pytest.raises(BadInput, match="--budget"):
        shopping.budget(text)


def _stray(ledger):
    rows = [row(maker="mk", paint="x", grade=grade, format=HALF) for grade in (5, 0)]
    rows = [replace(one, paint="pt0", paint_name="Viridian") for one in rows]
    return shopping.shopping_plan(ledger, read(rows, only()).findings, shopping.Budget(800, "EUR"))


def test_three_faces_tell_the_same(ledger):
    """What is bought, for how much, why and how likely it settles."""
    found, paints = _stray(ledger), shopping.paint_names(ledger)
    text = " ".join(shopping_text(found, "EUR", paints).split())
    csv, told = shopping.shopping_csv(found, "EUR", paints), json.loads(shopping.shopping_json(found, "EUR", paints))
    (errand,) = told["errands"]
    assert errand["cost_minor"] == found.spent == told["spent_minor"]
    assert f"{errand['chance']:.0%}".replace("%", " %") in text
    assert f"{found.spent / 100:.2f} EUR of 8.00 EUR" in text
    assert f",{found.spent},EUR,froth," in csv
    assert "a verdict" in text


def test_the_command_on_a_ledger_with_nothing_to_settle(tmp_path, cli):
    """It says so, and takes the rates without a ledger; the higher one first."""
    told = cli("shopping", "--ledger", small_ledger(tmp_path).place, "--budget", "60 EUR")
    assert told.code == 0
    assert "Nothing to buy" in told.out
    assert cli("shopping", "--tell", "50", "8").out.startswith(
        "9 lots, one specimen of each, tell 50 % from a known 8 %"
    )
    assert cli("shopping", "--tell", "8", "50").code != 0


def test_why_tells_the_likeliest_purchase_behind_what_would_settle_it(ledger):
    """At the price on file, in the currency of the newest parcel; without one, that there is none."""
    rows = [replace(row(maker="mk", paint="x", grade=grade, format=HALF), paint="pt2") for grade in (5, 0)]
    (finding,) = read(rows, only()).findings
    parts = parts_of(finding, 70, ink_of("utf-8", {}))
    told = with_purchase(parts, ledger, finding, 70)
    titles = [part.title for part in told]
    assert titles.index(PURCHASE) == titles.index(WOULD_SETTLE) + 1
    lines = told[titles.index(PURCHASE)].lines
    assert "480 JPY each" in " ".join(lines)
    assert max(map(len, lines)) <= 70


IMPORT = """\
columns:
  Maker: maker
  Paint: paint
  Code: lot
constants: {format: half pan, bought_on: 2026-12-02, seller: Third shop, currency: EUR}
"""


def test_what_the_command_named_is_marked_when_it_is_imported_and_a_command_changes_it(ledger, tmp_path, cli):
    """The list prints a further lot to buy; the sheet that brings it in says nothing of why, amend says no."""
    plan = _stray(ledger)
    remember(ledger, [replace(one, lines=tuple(_of_another_lot(one))) for one in plan.taken])
    sheet, map_file = tmp_path / "bought.csv", tmp_path / "bought.yaml"
    sheet.write_text("Maker,Paint,Code\nTrellmere,Viridian,NEW\nTrellmere,Viridian,T0\n", encoding="utf-8")
    map_file.write_text(IMPORT.replace("2026-12-02", str(ledger.day())), encoding="utf-8")
    place = tmp_path / "small.sqlite"
    assert cli("import", sheet, "--map", map_file, "--ledger", place).code == 0
    fresh, other = sorted(ledger.rows(Specimen), key=lambda one: one.sticker)[-2:]
    assert (fresh.advised, other.advised) == (True, False)
    asked = ("amend", fresh.sticker, "--advised", "no", "--reason", "own idea", "--ledger", place)
    assert "bought as advised: then yes, now no" in cli(*asked).out
    assert cli(*asked).code != 0  # what stands already


def _of_another_lot(errand):
    return [replace(line, pieces=replace(line.pieces, lot=None)) for line in errand.lines]
