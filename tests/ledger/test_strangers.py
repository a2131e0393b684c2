"""What a merged daybook of somebody else says about my rows changes nothing that is read of mine."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from sqlalchemy import update

from qcledger.bench.closing import decided
from qcledger.bench.due import LooseEndKind, due
from qcledger.bench.sheets import load
from qcledger.bench.stages import of_session
from qcledger.errors import BadInput
from qcledger.ledger import Ledger
from qcledger.ledger.identity import who_is_who
from qcledger.ledger.queries_record import chain
from qcledger.ledger.tables import TABLE
from qcledger.records import (
    Decision,
    LabelVersion,
    Maker,
    Observation,
    Preparation,
    Redaction,
    RunRow,
    SameAs,
    Session,
    Specimen,
    Stage,
    Trial,
    Zone,
)
from qcledger.vocab import DecisionKind, Format, Occasion, PreparationKind, Sameness, StageName
from tests.ledger.given import NOON, PACKED, basics, everything, graded, steady, unpacked
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

    def begin(rows, name="begun", letters="OV", tester="Oda Vane"):
        sources = steady(NOON + DAY, letters.lower())
        ledger = Ledger.create(places.new(name), letters=letters, tester=tester, sources=sources)
        made.append(ledger)
        if rows:
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


def test_a_stage_stands_as_the_sessions_own_tester_has_it(ledger):
    """Another tester's row of the same stage changes neither the checks of a session nor its sheet."""
    mine = Stage(id="stage", session="session", name=StageName.WET, started_at=NOON, humidity_pct=45.5)
    ledger.append([mine])
    book = Book()
    book.add(replace(mine, id="zz", humidity_pct=99.0, ended_at=NOON))
    takes(ledger, book)
    assert of_session(ledger, ledger.get(Session, "session")) == [mine]
    assert load(ledger, "session").stages == (mine,)


def test_what_is_decided_of_my_rows_is_mine_to_decide(ledger):
    """Neither the last word about a session nor a retest that is due moves by another tester's decision."""
    kept = replace(voided(id="k"), kind=DecisionKind.KEEP)
    again = replace(voided("specimen", "specimen", id="again"), kind=DecisionKind.RETEST)
    ledger.append([kept, again])
    book = Book()
    book.add(voided())
    book.add(replace(again, id="no", kind=DecisionKind.KEEP, on=date(2026, 3, 10)))
    book.add(replace(voided(id="theirs"), kind=DecisionKind.RETEST))
    before = [one for one in due(ledger, NOON + DAY) if one.kind is LooseEndKind.RETEST]
    takes(ledger, book)
    assert decided(ledger, "session") == kept
    assert [one for one in due(ledger, NOON + DAY) if one.kind is LooseEndKind.RETEST] == before
    assert [one.subject for one in before] == ["specimen"]


def test_a_sitting_is_the_trials_testers(begun):
    """Neither a name that another tester wrote into my trial nor a trial of theirs between mine moves my sittings."""
    rows = [*basics(), PACKED]
    for name, hours in (("a", 0), ("b", 4), ("c", 13)):
        at = NOON + timedelta(hours=hours)
        rows += [Trial(id=f"t{name}", specimen="specimen", occasion=Occasion.UNPACKING, at=at)]
        rows += [unpacked(name, trial=f"t{name}", at=at)]
    ledger = begun(rows)
    before = {row.observation: row.sitting for row in ledger.tested_rows()}
    assert before == {"a": "ta", "b": "ta", "c": "tc"}
    book = Book(at=NOON + 2 * DAY)
    book.add(unpacked("theirs", trial="tb", at=NOON + timedelta(hours=4), tester="Aa"))
    book.add(Trial(id="bridge", specimen="specimen", occasion=Occasion.UNPACKING, at=NOON + timedelta(hours=9)))
    book.add(unpacked("between", trial="bridge", at=NOON + timedelta(hours=9)))
    takes(ledger, book)
    assert before.items() <= {row.observation: row.sitting for row in ledger.tested_rows()}.items()


def test_the_zone_of_a_row_is_that_of_its_own_entry(ledger):
    """An entry about my row in another daybook that has a zone says nothing of where I was."""
    ledger.append([Zone(id="z1", name="Pacific/Honolulu")])
    ledger.append([Zone(id="z2", name="Pacific/Auckland")])
    ledger.append([graded("mine")])
    days = [row.day for row in ledger.tested_rows()]
    assert days == [date(2026, 3, 10)]
    book = Book(at=NOON + 2 * DAY)
    book.add(Maker(id="zz", name="Zz"))
    book.add(Zone(id="sz", name="Europe/Berlin"))
    book.add(graded("mine"))
    takes(ledger, book)
    assert [row.day for row in ledger.tested_rows()] == days


@pytest.mark.parametrize("circle", [{"a": "a"}, {"a": "b", "b": "a"}, {"a": "b", "b": "c", "c": "b"}])
def test_observations_in_a_circle_are_refused(ledger, circle):
    """One that supersedes itself, alone or by way of others, would stand nowhere; nothing is stored."""
    ledger.append([graded("mine")])
    book = Book()
    for name, older in circle.items():
        book.add(graded(name, supersedes=older, reason="no"))
    before = everything(ledger)
    with pytest.raises(BadInput, match="an observation that this one leads to"):
        takes(ledger, book)
    assert everything(ledger) == before


@pytest.mark.parametrize("older", [{"mine": "mine"}, {"mine": "second", "second": "mine"}])
def test_a_circle_that_stands_already_is_shown_once_round(ledger, older):
    """A ledger of before may hold one; its history ends all the same."""
    ledger.append([graded("mine")])
    ledger.append([graded("second", supersedes="mine", reason="slip")])
    table = TABLE[Observation.TABLE]
    with ledger._database.writing() as connection:
        for one, other in older.items():
            connection.execute(update(table).where(table.c.id == one).values(supersedes=other))
    with ledger.reading() as connection:
        found = [[row.id for row in chain(connection, one)] for one in ("mine", "second")]
    assert all(len(ids) == len(set(ids)) for ids in found)
    assert all(one in ids for one, ids in zip(("mine", "second"), found, strict=True) if one in older)


def test_a_name_that_comes_back_with_its_body_is_known_again(ledger, begun):
    """Who is who is told anew when the owner's whole daybook fills what a stranger's copy had emptied."""
    ledger.append([Maker(id="m2", name="Drumlaw")])
    entry, whole = last_entry(ledger, "maker", "m2"), list(ledger.entries())
    book = Book()
    book.add(Redaction(id="r1", reason="gone", entry=entry))
    emptied = [replace(one, salt=None, body=None) if one.hash == entry else one for one in whole]
    third = begun([], "third", letters="TH", tester="Third")
    third.adopt([*emptied, *book.entries], {})
    assert "Drumlaw" not in {one.name for one in who_is_who(third).all("maker")}
    third.adopt(whole, {})
    assert "Drumlaw" in {one.name for one in who_is_who(third).all("maker")}
