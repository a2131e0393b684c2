"""What an import writes is pinned to the letter: however rows are looked up and stored, the entries stay the same."""

import csv
import itertools
from datetime import date
from pathlib import Path

import pytest

from qcledger.exchange import carry_out, plan_mapped
from qcledger.exchange.columnmap import parse
from qcledger.ledger import Ledger, Sources
from qcledger.records import Maker, SameAs
from qcledger.settings import Settings
from qcledger.vocab import Sameness
from tests.ledger.given import NOON, everything

RUBRIC = """\
rubric: two
title: Two things to judge
about: A rubric whose text no other test changes.
formats: [tube, half pan]
cautions:
  - say: Never sand dry paint.
    source: common practice, no source
criteria:
""" + "".join(
    f"""\
  {key}:
    title: {key.title()}
    how: Look at it from reading distance.
    kind: grade
    nature: fault
    seen_at: bench
    stage: wet
    anchors:
      0: None.
      1: A trace.
      3: Plain.
      5: All over.
    source: our proposal
    fault_line:
      grade: 3
      severity: minor
      source: our proposal
"""
    for key in ("froth", "streaks")
)
HEADER = [
    *("No", "Sticker", "Brand", "Colour", "Number", "Pigments", "Pan/tube", "Batch", "Bought", "From", "Price"),
    *("Froth", "Streaks", "Remarks"),
]
MAP = """\
row_key: [No]
new_makers: true
rubrics: [two.yaml]
empty: ["-"]
constants: {tested_on: 2026-03-08}
columns:
  No: leave out
  Sticker: sticker
  Brand: maker
  Colour: paint
  Number: number
  Pigments: pigments
  Pan/tube: {field: format, words: {hp: half pan, t: tube}}
  Batch: lot
  Bought: {field: bought_on, dates: day month year}
  From: seller
  Price: {field: price, currency: EUR}
  Froth: {criterion: froth, scale: {from: [1, 10]}}
  Streaks: {criterion: streaks, words: {fine: 0, some: 3}}
  Remarks: note
"""
FIRST = "356c3ae9cae95463a3651a304b3c862699ec283b94567c5f19e1c030f85c6c20"
GROWN = "7b5607e1a6aec1dd4344873e8a39f4f2f8e9d689c7351a6db8935d72a449ead5"
OTHER = "a2b9afb28a76752dc247d42e4e9f9e91f52fde3a1fc02f352ea685720d54b0c1"


def row(number: int) -> list[str]:
    """Return a row of a sheet: makers and sellers in several spellings, every third piece with its sticker."""
    brand = ("Drumlaw", "Quernlow", "DRUMLAW", "quernlow ")[number % 4]
    return [
        str(number),
        f"k {number}" if number % 3 == 0 else "",
        brand,
        ("Fir", "Quay Rose", "fir")[number % 3],
        ("", "231")[number % 5 == 0],
        ("PG18", "PV19, PR101", "")[number % 3],
        ("hp", "t")[number % 2],
        ("", "-", f"L{number % 4}")[number % 3],
        f"{1 + number % 3}.3.2024",
        ("Seller one", "seller  ONE", "Seller two")[number % 3],
        ("9.80", "", "EUR 4.75")[number % 3],
        str(1 + number % 10) if number % 4 else "",
        ("fine", "some", "-")[number % 3],
        ("", "=1+1", "a  note")[number % 3],
    ]


@pytest.fixture
def ledger(tmp_path):
    ids, salts = itertools.count(1), itertools.count(1)
    sources = Sources(now=lambda: NOON, new_id=lambda: f"id-{next(ids):06d}", salt=lambda: f"{next(salts):032x}")
    place = tmp_path / "mine.sqlite"
    (tmp_path / "two.yaml").write_text(RUBRIC, encoding="utf-8")
    with Ledger.create(place, letters="OV", tester="Oda Vane", sources=sources, zone="Europe/Berlin") as made:
        made.append([Maker(id="m-1", name="Drumlaw"), Maker(id="m-2", name="Drum Law")])
        same = SameAs(
            id="same",
            kind=Sameness.SAME,
            subject_table="maker",
            subject="m-2",
            other="m-1",
            by="Oda Vane",
            on=date(2026, 3, 9),
            reason="as on the label",
        )
        made.append([same])
        yield made


def bring_in(ledger: Ledger, folder: Path, numbers: range, name: str) -> tuple[int, int]:
    """Bring in the rows with these numbers as a sheet; returns how many were new, and how many here."""
    with (folder / name).open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream).writerows([HEADER, *map(row, numbers)])
    plan = plan_mapped(ledger, folder / name, parse(MAP, "map.yaml"), settings=Settings())
    carry_out(ledger, plan)
    return plan.new_rows, plan.rows_here


def closing(ledger: Ledger) -> str:
    """Return the hash of the daybook's last entry, which covers all before it."""
    ((_, last),) = ledger.closing_hashes().values()
    return last


def test_entries_are_these_to_the_letter(ledger, tmp_path):
    """A sheet, the same sheet grown, and another one: the chain ends in the same hash as ever; rebuilt, all is so.

    The hashes are those of the entries as this program wrote them when it looked every row up one by one.
    """
    assert bring_in(ledger, tmp_path, range(1, 41), "old.csv") == (40, 0)
    assert closing(ledger) == FIRST
    assert bring_in(ledger, tmp_path, range(1, 61), "old.csv") == (20, 40)
    assert closing(ledger) == GROWN
    assert bring_in(ledger, tmp_path, range(61, 81), "other.csv") == (20, 0)
    assert closing(ledger) == OTHER
    assert bring_in(ledger, tmp_path, range(1, 61), "old.csv") == (0, 60)
    assert closing(ledger) == OTHER
    stood = everything(ledger)
    ledger.rebuild()
    assert everything(ledger) == stood
    assert ledger.verify() == []
