"""Prices by command, held to the cent against tables that pandas works out by itself."""

import csv
import io
import json
from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal

import pandas as pd
import pytest

from qcledger.ledger import Ledger
from qcledger.records import Decision, ExchangeRate, LabelVersion, Maker, Paint, Parcel, Seller, Specimen
from qcledger.vocab import DecisionKind, Format, Source
from tests.copies import copied
from tests.screens.findings.support import shelf_ledger
from tests.small import ticking

PARCELS = [
    # id, day, seller, currency, shipping, tax included, %, discount
    ("p1", date(2026, 2, 3), "Corner shop", "EUR", 490, True, 19.0, None),
    ("p2", date(2026, 3, 9), "Corner shop", "EUR", None, True, None, 333),
    ("p3", date(2026, 3, 20), "Far shop", "JPY", 900, False, 10.0, 100),
    ("p4", date(2026, 4, 1), "Post shop", "KWD", 1250, False, 5.0, None),
    ("p5", date(2026, 5, 5), "Post shop", "KWD", 0, None, None, None),
    ("p6", date(2026, 6, 6), "Corner shop", "EUR", 300, True, 19.0, 50),
]
PIECES = [
    # id, paint, format, parcel, ml, price, pack
    ("s01", "a1", Format.HALF_PAN, "p1", "2", 590, None), ("s02", "a1", Format.HALF_PAN, "p1", "2.0", 620, None),
    ("s03", "b1", Format.HALF_PAN, "p1", "2", 415, None), ("s04", "b1", Format.TUBE, "p1", "15", 980, None),
    ("s05", "a1", Format.HALF_PAN, "p1", "2", None, None), ("s06", "b2", Format.TUBE, "p1", None, 1040, None),
    ("s07", "a1", Format.HALF_PAN, "p2", "2", 590, None), ("s08", "a2", Format.HALF_PAN, "p2", "1.5", 1999, "Box"),
    ("s09", "a1", Format.HALF_PAN, "p2", "1.5", None, "Box"),
    ("s10", "b1", Format.HALF_PAN, "p2", "1.5", None, "Box"),
    ("s11", "b2", Format.TUBE, "p2", "5", None, "Box"), ("s12", "b1", Format.HALF_PAN, "p2", "2", 0, None),
    ("s13", "a1", Format.TUBE, "p3", "15", 1240, None), ("s14", "b1", Format.TUBE, "p3", "15", 1105, None),
    ("s15", "a1", Format.TUBE, "p4", "15", 3455, None), ("s16", "b1", Format.TUBE, "p4", "15", 2990, None),
    ("s17", "b2", Format.TUBE, "p5", "15", 3001, None), ("s18", "a2", Format.TUBE, "p5", "15", 2755, None),
    ("s19", "a1", Format.HALF_PAN, "p6", "2", 650, None), ("s20", "a2", Format.HALF_PAN, "p6", "2", None, None),
]  # fmt: skip
PAINTS = {"a1": ("a", "Ochre", "PY42"), "a2": ("a", "Viridian", "PG18"), "b1": ("b", "Ochre", "PY42"),
          "b2": ("b", "Ultramarine", "PB29")}  # fmt: skip
MAKERS = {"a": "Trellmere", "b": "Aldervane"}
DIGITS = {"EUR": 2, "GBP": 2, "JPY": 0, "KWD": 3}
RATES = [(date(2026, 2, 1), "EUR", "GBP", "0.86"), (date(2026, 4, 1), "GBP", "JPY", "190.5")]


def fill(place):
    """Make a ledger with six parcels in three currencies, one gift and one piece that was taken out again."""
    rows = [Maker(id=key, name=name) for key, name in MAKERS.items()]
    rows.append(Seller(id="s", name="corner shop", country="DE"))
    for key, (maker, name, pigment) in PAINTS.items():
        rows.append(Paint(id=key, maker=maker, name=name))
        rows.append(LabelVersion(id=f"l{key}", paint=key, seen_on=date(2026, 1, 1), index_names=(pigment,)))
    for key, on, seller, code, shipping, included, pct, discount in PARCELS:
        rows.append(
            Parcel(id=key, bought_on=on, seller=seller, currency=code, shipping_minor=shipping,
                   tax_included=included, tax_pct=pct, discount_minor=discount)
        )  # fmt: skip
    gone = ("s21", "a1", Format.HALF_PAN, "p1", "2", 1, None)
    gift = ("s22", "a1", Format.HALF_PAN, "p1", "2", 1, None)
    for number, (key, paint, format_, parcel, ml, price, pack) in enumerate((*PIECES, gone, gift), 1):
        source = Source.GIFT if key == "s22" else Source.RETAIL
        size = None if ml is None else Decimal(ml)
        rows.append(
            Specimen(id=key, sticker=f"OV {number:04}", paint=paint, format=format_, parcel=parcel, nominal_ml=size,
                     price_minor=price, pack=pack, source=source)
        )  # fmt: skip
    rows += [
        ExchangeRate(id=f"r{n}", on=on, base=base, quote=quote, rate=Decimal(value), source="a bank")
        for n, (on, base, quote, value) in enumerate(RATES)
    ]
    rows.append(
        Decision(id="d", kind=DecisionKind.VOID, subject_table="specimen", subject="s21", by="OV",
                 on=date(2026, 6, 7), reason="taken back")
    )  # fmt: skip
    with Ledger.create(
        place, letters="OV", tester="OV", sources=ticking(datetime(2026, 7, 1, tzinfo=UTC)), zone="Etc/UTC"
    ) as ledger:
        ledger.append(rows)


@pytest.fixture
def place(home, tmp_path):
    return copied(tmp_path / "prices.sqlite", "prices", fill)


def by_pandas(into=None):
    """Return each piece's price in coins, worked out with data frames of Decimals and no line of the program."""
    frame = pd.DataFrame(PIECES, columns=["id", "paint", "format", "parcel", "ml", "price", "pack"], dtype=object)
    parcels = pd.DataFrame(
        PARCELS, columns=["parcel", "on", "seller", "code", "shipping", "included", "pct", "discount"], dtype=object
    )
    frame = frame.merge(parcels, on="parcel")
    frame["ml"] = column(Decimal(ml) if isinstance(ml, str) else None for ml in frame["ml"])
    frame["sold"] = frame["parcel"] + frame["pack"].where(frame["pack"].notna(), frame["id"])
    wholes = frame.groupby("sold")["price"].transform(lambda one: one.dropna().sum() if one.notna().any() else None)
    sizes = frame.groupby("sold")["ml"].transform(lambda one: sum(one) if one.notna().all() else None)
    frame["exact"] = column(
        None if pd.isna(whole) else Decimal(int(whole)) if pd.isna(pack) else Decimal(int(whole)) * ml / size
        for whole, pack, ml, size in zip(wholes, frame["pack"], frame["ml"], sizes, strict=True)
    )
    frame["listed"] = shared(frame, "sold", "exact")
    sums = frame.groupby("parcel")["listed"].transform(lambda one: sum(one) if one.notna().all() else None)
    frame["exact_off"] = column(
        None
        if own is None
        else Decimal(0)
        if pd.isna(off)
        else None
        if pd.isna(total)
        else off * own / Decimal(total)
        for own, off, total in zip(frame["listed"], frame["discount"], sums, strict=True)
    )
    frame["off"] = shared(frame, "parcel", "exact_off")
    frame["paid"] = column(
        None if own is None or off is None else own - off
        for own, off in zip(frame["listed"], frame["off"], strict=True)
    )
    taxed = [
        None if paid is None else rounded(paid * (1 + Decimal(str(pct)) / 100)) if out is False else paid
        for paid, out, pct in zip(frame["paid"], frame["included"], frame["pct"], strict=True)
    ]
    return frame.assign(
        money=column(converted(one, code, into) for one, code in zip(taxed, frame["code"], strict=True))
    )


def column(values):
    """Return values as a column in which None stays None, and no whole number becomes another kind."""
    return pd.Series(list(values), dtype=object)


def rounded(exact):
    return int(exact.quantize(Decimal(1), rounding="ROUND_HALF_UP"))


def shared(frame, over, exact):
    """Return exact shares as whole coins: down, and the rest to the largest fractions within each of `over`."""
    found = column([None] * len(frame))
    for _, part in frame.groupby(over):
        known = part[part[exact].notna()]
        down = known[exact].map(int)
        rest = rounded(sum(known[exact])) - down.sum() if len(known) else 0
        order = (known[exact] - down).astype(float).sort_values(ascending=False, kind="stable").index
        found[known.index] = down
        for place in order[:rest]:
            found[place] += 1
    return found


def converted(coins, code, into):
    """Return coins in another currency by the one rate there is between the two."""
    if coins is None or into in (None, code):
        return coins
    for _, base, quote, value in RATES:
        units = Decimal(coins).scaleb(-DIGITS[code])
        if (base, quote) == (code, into):
            return rounded((units * Decimal(value)).scaleb(DIGITS[into]))
        if (base, quote) == (into, code):
            return rounded((units / Decimal(value)).scaleb(DIGITS[into]))
    return None


def table(told):
    return list(csv.DictReader(io.StringIO(told.out)))


def number(text):
    return int(text) if text else None


@pytest.mark.parametrize("into", [None, "GBP", "KWD"])
def test_every_price_is_right_to_the_coin(cli, place, into):
    """Three currencies, tax in and out, a set, discounts, nothing and not known: each piece as pandas has it."""
    option = ("--in", into) if into else ()
    told = cli("price", "--by", "piece", "--as", "csv", *option, "--ledger", place)
    assert (told.code, told.err) == (0, "")
    ours = {row["specimen"]: row for row in table(told)}
    theirs = by_pandas(into)
    assert [number(ours[one]["price_minor"]) for one in theirs["id"]] == list(theirs["money"])
    steps = ("listed_minor", "discount_minor", "paid_minor")
    for name, other in zip(steps, ("listed", "off", "paid"), strict=True):
        assert [number(ours[one][name]) for one in theirs["id"]] == list(theirs[other])
    for row, ml in zip(theirs.itertuples(), theirs["ml"], strict=True):
        exact = None if row.money is None or ml is None else rounded(Decimal(row.money) / ml)
        assert number(ours[row.id]["per_ml_minor"]) == exact


def test_the_pieces_by_hand():
    """The tables that everything is held against say what was worked out on paper.

    The set of 19.99 by 1.5:1.5:1.5:5 ml is 3.16, 3.16, 3.15 and 10.52; 3.33 off 25.89 takes 0.76 of 5.90.
    """
    found = by_pandas().set_index("id")
    assert list(found.loc[["s08", "s09", "s10", "s11"], "listed"]) == [316, 316, 315, 1052]
    assert found.loc["s07", "off"] == 76
    assert (found.loc["s13", "money"], found.loc["s15", "money"]) == (1306, 3628)
    assert (found.loc["s12", "money"], found.loc["s05", "money"], found.loc["s19", "money"]) == (0, None, None)


@pytest.mark.parametrize(("by", "key"), [("maker", "maker"), ("paint", "paint"), ("seller", "seller")])
def test_groups_are_right_to_the_coin(cli, place, by, key):
    """Lowest, middle and highest, how many, and dearest over cheapest of what may be compared, as pandas has them."""
    frame = by_pandas()
    frame["maker"] = frame["paint"].map(lambda one: MAKERS[PAINTS[one][0]])
    frame["paint"] = frame["paint"].map(lambda one: f"{MAKERS[PAINTS[one][0]]} {PAINTS[one][1]}")
    frame["ml"] = frame["ml"].map(lambda one: "" if one is None else str(float(one)))
    frame["tax"] = frame["included"].map(lambda one: "tax not said" if one is None else "with tax")
    frame["set"] = frame["pack"].map(lambda one: "share of a set" if isinstance(one, str) else "single")
    alike = ["format", "ml", "set", "code", "tax"]
    frame["money"] = pd.array(list(frame["money"]), dtype="Int64")
    wanted = {
        (*map(str, group),): (
            len(part), int(part["money"].count()), part["money"].min(),
            part["money"].dropna().quantile(0.5, interpolation="lower") if part["money"].count() else pd.NA,
            part["money"].max(),
        )
        for group, part in frame.groupby([*alike, key])
    }  # fmt: skip
    told = table(cli("price", "--by", by, "--as", "csv", "--ledger", place))
    names = ("format", "nominal_ml", "sold", "currency", "tax", "name")
    found = {
        tuple(row[name] for name in names): tuple(
            number(row[name]) for name in ("specimens", "priced", "low_minor", "middle_minor", "high_minor")
        )
        for row in told
    }
    plain = {key: tuple(None if one is pd.NA else int(one) for one in values) for key, values in wanted.items()}
    assert found == plain
    whole = frame.groupby(alike)["money"].agg(["min", "max", "count"])
    for row in told:
        least, most, count = whole.loc[tuple(row[name] for name in names[:-1])]
        ratio = "" if count < 2 or not least else f"{most / least:.4f}"
        assert (f"{float(row['dearest_over_cheapest']):.4f}" if row["dearest_over_cheapest"] else "") == ratio


def test_json_says_the_same_and_what_was_left_out(cli, place):
    """Pieces, tables, trends, shipping apart, rates, and how many have no price and why."""
    told = json.loads(cli("price", "--as", "json", "--ledger", place).out)
    assert told["form"] == 1
    assert len(told["pieces"]) == len(PIECES)
    assert told["without_price"] == {
        "no price was written down": 2,
        "a discount of a parcel that has pieces without a price": 1,
    }
    assert told["shipping"] == [
        {"currency": "EUR", "minor": 790, "parcels": 3, "parcels_not_said": 1},
        {"currency": "JPY", "minor": 900, "parcels": 1, "parcels_not_said": 0},
        {"currency": "KWD", "minor": 1250, "parcels": 2, "parcels_not_said": 0},
    ]
    assert [(one["bought_on"], one["price_minor"]) for one in told["trends"] if one["maker"] == "Trellmere"] == [
        ("2026-02-03", 590), ("2026-03-09", 514)
    ]  # fmt: skip
    assert told["rates"] == []
    other = json.loads(cli("price", "--as", "json", "--in", "GBP", "--ledger", place).out)
    assert [(one["on"], one["base"], one["quote"], one["rate"]) for one in other["rates"]] == [
        ("2026-02-01", "EUR", "GBP", "0.86"), ("2026-04-01", "GBP", "JPY", "190.5")
    ]  # fmt: skip
    assert other["without_price"]["no exchange rate"] == 4


def test_text_fits_a_terminal_and_says_what_it_compares(cli, place):
    """No line is wider than 80 columns; the reasons stand below; nothing stands by price."""
    told = cli("price", "--ledger", place)
    assert max(map(len, told.out.splitlines())) <= 80
    plain = " ".join(told.out.split())
    assert "half pan, 2 ml, EUR, with tax" in told.out
    assert "half pan, 1.5 ml, share of a set, EUR, with tax" in told.out
    assert "cheapest 1105" not in told.out
    assert "tube, 15 ml, JPY, with tax" in told.out
    assert "Shipping, in no price above: 7.90 EUR for three parcels (1 not said), 900 JPY for one parcel" in plain
    assert "Without a price that can be compared: 2 specimens, no price was written down." in plain
    assert told.out.index("Aldervane") < told.out.index("Trellmere")
    trend = cli("price", "--trend", "--ledger", place)
    assert "Trellmere Ochre at Corner shop: 2026-02-03 5.90, 2026-03-09 5.14 (-12.9 %)" in " ".join(trend.out.split())


def test_filters_leave_sets_and_discounts_as_they_were(cli, place):
    """One maker's share of a set stays what it was among all of its pieces."""
    told = table(
        cli("price", "--by", "piece", "--maker", "aldervane", "--pigment", "py 42", "--format", "half pan",
            "--as", "csv", "--ledger", place)
    )  # fmt: skip
    assert [(row["specimen"], row["listed_minor"]) for row in told] == [("s03", "415"), ("s10", "315"), ("s12", "0")]
    assert {row["country"] for row in told} == {"DE"}
    assert "Nothing was bought" in cli("price", "--maker", "aldervane", "--pigment", "PG18", "--ledger", place).out


@pytest.mark.parametrize(
    ("given", "line"),
    [
        (("--in", "XYZ"), "--in: found 'XYZ'; allowed: one of AUD, "),
        (("--maker", "Nobody"), "--maker: found 'Nobody'; allowed: Aldervane, Trellmere"),
        (("--pigment", "PB99"), "--pigment: found 'PB99'; allowed: "),
        (("--by", "price"), "'price' is not one of 'maker'"),
    ],
)
def test_what_is_not_there_is_refused_in_a_line(cli, place, given, line):
    """One line says what was found and what is allowed."""
    told = cli("price", *given, "--ledger", place)
    assert (told.code, len(told.error_lines)) == (2, 1)
    assert line in told.err


@pytest.fixture
def tested(home, tmp_path):
    """Return a ledger of five makers that were looked at, half pans of one with a fault; one parcel has prices."""
    place = shelf_ledger(tmp_path)
    with Ledger.open(place, write=True) as ledger:
        some = [one for one in ledger.rows(Specimen) if one.parcel == "pc0"]
        ledger.append([replace(one, price_minor=590, nominal_ml=Decimal(2)) for one in some], reason="the receipt")
    return place


def test_prices_stand_beside_what_was_found_in_upper_limits(cli, tested):
    """A drawing a format and size; each maker with its counts and the share that they allow, in each face."""
    told = cli("price", "--found", "evenness", "--ledger", tested)
    assert max(map(len, told.out.splitlines())) <= 80
    plain = " ".join(told.out.split())
    assert "b Corvannet: 5.90; 8 of 8 faulty, up to 100 % possible" in plain
    assert "a Aldervane: 5.90; none of 8 faulty, up to 31 % possible" in plain
    assert "For you only" in plain
    rows = table(cli("price", "--found", "Evenness", "--format", "half pan", "--as", "csv", "--ledger", tested))
    assert [(row["maker"], row["faulty"], row["tested"]) for row in rows][:2] == [
        ("Aldervane", "0", "8"), ("Corvannet", "8", "8")
    ]  # fmt: skip
    assert float(rows[0]["up_to"]) == pytest.approx(1 - 0.05 ** (1 / 8), abs=5e-5)
    kept = json.loads(cli("price", "--found", "evenness", "--as", "json", "--ledger", tested).out)
    assert (kept["criterion"], len(kept["points"])) == ("evenness", 10)


@pytest.mark.parametrize(
    ("given", "line"),
    [(("--found", "nothing"), "--found: found 'nothing'"), (("--found", "edge", "--trend"), "one of the two")],
)
def test_what_cannot_be_drawn_is_refused_in_a_line(cli, tested, given, line):
    """A criterion that is none, and two things at once."""
    told = cli("price", *given, "--ledger", tested)
    assert (told.code, len(told.error_lines)) == (2, 1)
    assert line in told.err
