"""What a merged daybook of somebody else says about my rows changes nothing that is read of mine."""

from dataclasses import replace
from datetime import date, timedelta

from qcledger.ledger.identity import who_is_who
from qcledger.records import Decision, Maker, SameAs
from qcledger.vocab import DecisionKind, Sameness
from tests.ledger.given import NOON, basics, graded
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
