"""Refusals of a merge name a row as a tester knows it, with both values and whose they are; never by an id alone."""

from dataclasses import replace
from datetime import timedelta

import pytest

from qcledger.errors import BadInput, ChainBroken
from qcledger.ledger import Ledger
from qcledger.ledger.firsts import two
from qcledger.ledger.plainly import plainly, row_plainly, value_plainly
from qcledger.records import (
    Decision,
    ExchangeRate,
    LabelVersion,
    Lot,
    Maker,
    Observation,
    Paint,
    Parcel,
    Photo,
    RunRow,
    Session,
    Specimen,
    Stage,
    Trial,
)
from qcledger.vocab import Blinding, DecisionKind
from tests.ledger.given import NOON, basics, graded, others, steady

DAY = timedelta(days=1)


@pytest.fixture
def made(places):
    """Yield two testers' ledgers, each with the same stock under the same ids made by itself."""
    ledgers = {}
    for letters in ("AN", "BE"):
        sources = steady(NOON + DAY * len(ledgers), letters.lower())
        ledgers[letters] = Ledger.create(
            places.new(letters), letters=letters, tester=f"Tester {letters}", sources=sources
        )
    yield ledgers
    for ledger in ledgers.values():
        ledger.close()


def known(rows):
    """Return what looks rows up among some."""
    by_id = {(row.TABLE, row.id): row for row in rows}
    return lambda table, id_: by_id.get((table, id_))


def test_every_table_has_words_that_no_id_stands_in_for():
    """Of the stock and what was done with it each row has a name of the trade; the rest its table and day."""
    rows = [*basics(), graded("seen", 3.0)]
    get, named = known(rows), {}
    for row in rows:
        named.setdefault(type(row), plainly(row, get))
    assert named[Maker] == "maker Quernlow"
    assert named[Paint] == "Quernlow Viridian"
    assert named[Lot].startswith("lot ")
    assert named[Specimen] == "OV 0001, Quernlow Viridian half pan"
    assert named[LabelVersion].startswith("label of Quernlow Viridian seen on ")
    assert named[Parcel].startswith("parcel from ")
    assert named[Trial].startswith("test of OV 0001 (session ")
    assert named[Observation].startswith("evenness on OV 0001 (session ")
    assert "Quernlow" not in named[Session]
    rate = ExchangeRate(id="er", on=NOON.date(), base="EUR", quote="GBP", rate="0.85", source="bank")
    assert plainly(rate, get) == f"exchange rate of {NOON.date()} (id er)"
    assert row_plainly("paint", "nobody", get) == "paint (id nobody)"


def test_a_blind_session_s_rows_tell_no_sticker():
    """Whose test it was is what its codes hide."""
    rows = [*basics(), graded("seen", 3.0)]
    hidden = [
        replace(row, blinding=Blinding.SHUFFLED, closed_at=None) if isinstance(row, Session) else row for row in rows
    ]
    get = known(hidden)
    photo = Photo(id="ph", sha256="1" * 64, kind="jpg", width=1, height=1, observation="seen", file_name="a.jpg")
    for row in (*hidden, photo):
        if isinstance(row, Trial | Observation | Photo | RunRow | Stage):
            assert "OV 0001" not in plainly(row, get), row


@pytest.mark.parametrize("blinding", list(Blinding))
def test_two_makings_of_a_place_of_a_blind_sheet_tell_neither_specimen(blinding):
    """Beside the place, whose code is on the sheet, no value of the specimen stands; of an open one both do."""
    rows = [replace(row, blinding=blinding, closed_at=None) if isinstance(row, Session) else row for row in basics()]
    other = next(replace(row, id="other", sticker="OV 0002") for row in rows if isinstance(row, Specimen))
    get = known([*rows, other])
    for row in (row for row in rows if isinstance(row, RunRow | Trial)):
        said = str(two(row, "AN", replace(row, specimen="other"), "BE", get))
        assert ("OV 0001" in said, "OV 0002" in said) == (blinding is Blinding.OPEN,) * 2
        assert "of AN, and" in said


def test_what_a_field_says_is_a_name_where_it_names_a_row():
    """A paint's maker is the maker's name; nothing is nothing; a grade is a number."""
    get = known(basics())
    assert value_plainly(Paint, "maker", "maker", get) == "maker Quernlow"
    assert value_plainly(Observation, "grade", 3.0, get) == "3"
    assert value_plainly(Specimen, "lot", None, get) == "nothing"


@pytest.mark.parametrize(
    ("changed", "where", "said"),
    [
        ({Observation: {"grade": 4.0}}, "evenness on OV 0001 (session", "grade '1' of AN, Tester AN, and '4' of BE"),
        ({Specimen: {"nominal_ml": None}}, "OV 0001, Quernlow Viridian half pan", "'nothing' of BE, Tester BE"),
        ({Parcel: {"seller": "Lantern"}}, "parcel from ", "seller '"),
    ],
)
def test_two_first_entries_are_told_by_the_trade_s_names(made, changed, where, said):
    """The sticker, the maker and the paint; both values; both testers."""
    rows = [*basics(), graded("seen", 1.0)]
    made["AN"].append(rows)
    made["BE"].append([replace(row, **changed.get(type(row), {})) for row in rows])
    with pytest.raises(BadInput) as refused:
        made["AN"].adopt(made["BE"].entries(), {})
    found = next(one for one in refused.value.problems if said in one.found)
    assert found.where.startswith(where), found.where
    assert "AN, Tester AN" in found.found
    assert "BE, Tester BE" in found.found


def test_a_paint_that_another_tester_hangs_on_another_maker_is_named_with_both(places):
    """Not by the ids of three rows: the paint, the maker it had and by whom, the maker it would get and by whom."""
    with Ledger.create(places.new("an"), letters="AN", tester="Anno", sources=steady(NOON, "an")) as mine:
        mine.append(
            [Maker(id="m1", name="Quernlow"), Maker(id="m2", name="Drumlaw"), Paint(id="p", maker="m1", name="Rose")]
        )
        theirs = Ledger.create(places.new("be"), letters="BE", tester="Bea", sources=steady(NOON - DAY, "be"))
        with theirs:
            theirs.append(
                [
                    Maker(id="m1", name="Quernlow"),
                    Maker(id="m2", name="Drumlaw"),
                    Paint(id="p", maker="m2", name="Rose"),
                ]
            )
            with pytest.raises(BadInput) as refused:
                mine.adopt(theirs.entries(), {})
    (problem,) = refused.value.problems
    assert problem.where == "Quernlow Rose, maker"
    assert (problem.found, problem.allowed) == ("'maker Drumlaw' of BE, Bea", "'maker Quernlow' of AN, Anno")


def test_a_daybook_that_tells_two_stories_is_told_with_both(places):
    """The number, whose daybook it is, and what stands at it here and there."""
    with Ledger.create(
        places.new("an"), letters="AN", tester="Anno", sources=steady(NOON, "an"), daybook="one"
    ) as mine:
        mine.append([Maker(id="m1", name="Quernlow")])
        other = Ledger.create(
            places.new("be"), letters="AN", tester="Anno", sources=steady(NOON, "an"), daybook="one"
        )
        with other:
            other.append([Maker(id="m1", name="Drumlaw")])
            with pytest.raises(
                ChainBroken,
                match=r"Entry 2 of AN, Anno: .* disagree .maker Quernlow .* here, maker Drumlaw",
            ):
                mine.adopt(other.entries(), {})


def test_a_decision_is_named_by_what_it_is_about():
    """Its kind, its day, and the session."""
    decided = Decision(
        id="d",
        kind=DecisionKind.VOID,
        subject_table="session",
        subject="session",
        by="OV",
        on=NOON.date(),
        reason="x",
    )
    told = plainly(decided, known(basics()))
    assert told == f"decision void of {NOON.date()} on session 4 of Viridian, all makers"


@pytest.mark.parametrize("row", [*basics(), *others(), graded("seen")], ids=lambda row: row.TABLE)
def test_no_row_is_named_by_its_id_alone(row):
    """Whatever its table: what stands there beside an id says more than the table."""
    told = plainly(row, known([*basics(), *others()]))
    assert told.removesuffix(f" (id {row.id})") not in (row.TABLE.replace("_", " "), row.id)
