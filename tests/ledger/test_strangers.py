"""What a merged daybook of somebody else says about my rows changes nothing that is read of mine."""

from dataclasses import replace
from datetime import date

import pytest

from qcledger.ledger import Ledger
from qcledger.ledger.identity import who_is_who
from qcledger.records import Decision, LabelVersion, Maker, Preparation, RunRow, SameAs, Specimen
from qcledger.vocab import DecisionKind, Format, PreparationKind, Sameness
from tests.ledger.given import NOON, basics, graded, steady
from tests.ledger.test_whose import DAY, Book, last_entry, takes, voided


def same(id, kind, **fields):  # noqa: A002 - the field's own name
    """Return a decision about two makers."""
    return SameAs(
        id=id, kind=kind, subject_table="maker", subject="maker", by="x", on=date(2026, 3, 9), reason="r", **fields
    )


def test_a_void_reinstated_stays_so_whatever_is_said_of_the_void_later(ledger):
    """A proposal about a decision is no decision: the order is that in which their own tester made them."""
    ledger.append([graded("mine"), voided(id="v")])
    ledger.append([replace(voided(id="r"), kind=DecisionKind.REINSTATE)])
    book = Book()
    book.add(replace(ledger.get(Decision, "v"), reason="again"), replaces=(last_entry(ledger, "decision", "v"),))
    takes(ledger, book)
    assert [row.void for row in ledger.tested_rows()] == [False]


def test_two_makers_kept_apart_stay_so_whatever_is_said_earlier(ledger):
    """A proposal that is dated before a decision about who is who does not move it to the front."""
    ledger.append([Maker(id="m2", name="Drumlaw")])
    ledger.append([same("s1", Sameness.SAME, other="m2")])
    ledger.append([same("s2", Sameness.DIFFERENT, other="m2")])
    book = Book(at=NOON - DAY)
    book.add(replace(ledger.get(SameAs, "s2"), reason="q"), replaces=(last_entry(ledger, "same_as", "s2"),))
    takes(ledger, book)
    known = who_is_who(ledger)
    assert known.one("maker", "m2") != known.one("maker", "maker")


@pytest.fixture
def begun(places):
    """Return a function that makes a ledger of rows."""
    made = []

    def begin(rows, name="begun", **fields):
        sources = steady(NOON + DAY, "ov")
        ledger = Ledger.create(places.new(name), letters="OV", tester="Oda Vane", sources=sources, **fields)
        made.append(ledger)
        ledger.append(rows)
        return ledger

    yield begin
    for ledger in made:
        ledger.close()


def changed(rows, kind, **fields):
    """Return rows of which those of one kind have other values."""
    return [replace(row, **fields) if isinstance(row, kind) else row for row in rows]


def test_a_specimen_without_a_label_takes_its_own_testers(begun):
    """Another tester's later label of the paint says nothing of mine; where I saw none, it is what is known."""
    ledger = begun([*changed(basics(), Specimen, label_version=None), graded("mine")])
    book = Book()
    book.add(LabelVersion(id="theirs", paint="paint", seen_on=date(2026, 3, 9), index_names=("PB29",)))
    takes(ledger, book)
    assert [row.pigments for row in ledger.tested_rows()] == [("PG18",)]
    rows = [row for row in changed(basics(), Specimen, label_version=None) if not isinstance(row, LabelVersion)]
    without = begun([*rows, graded("mine")], "without")
    takes(without, book)
    assert [row.pigments for row in without.tested_rows()] == [("PB29",)]


def test_a_tube_stays_poured_whatever_another_tester_says_of_it(begun):
    """That it was poured and dried is for the tester of the specimen or of the session to say."""
    tube = changed(basics(), Specimen, format=Format.TUBE, lot=None)
    dry = replace(basics()[6], id="dry", sticker="OV 0002")
    poured = Preparation(id="pour", specimen="specimen", kind=PreparationKind.POURED, on=date(2026, 3, 1))
    place = RunRow(id="second", session="session", sheet="sheet", position=2, specimen="dry", code="472")
    ledger = begun([*tube, dry, poured, place, graded("mine")])
    assert [row.undried for row in ledger.tested_rows()] == [False]
    book = Book()
    book.add(Preparation(id="zz", specimen="specimen", kind=PreparationKind.FRESH, on=date(2026, 3, 2)))
    takes(ledger, book)
    assert [row.undried for row in ledger.tested_rows()] == [False]
