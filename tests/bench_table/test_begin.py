"""A new sheet begins with everything it needs, or not at all."""

from dataclasses import replace
from datetime import date, timedelta
from itertools import count

import pytest

from qcledger import stickers
from qcledger.bench import wishes
from qcledger.bench.begin import MOST_LINES, Conditions, SheetPlan, find
from qcledger.bench.planning import Wish, as_given
from qcledger.bench.poured import why_not_dried
from qcledger.bench.sheets import load
from qcledger.bench.worked import of_keys
from qcledger.errors import BadInput
from qcledger.records import Comparison, Preparation, RunRow, Session, Specimen, Stage
from qcledger.settings import Settings
from qcledger.vocab import Blinding, Format, PreparationKind, SpecimenState, StageName
from tests.small import START


def named(text):
    return stickers.named_in(text, "specimens", MOST_LINES)


def test_a_sheet_takes_what_the_eyes_can(small):
    """No specimen, more than 24, or one the ledger does not know is refused."""
    with small.open() as ledger:
        known = {specimen.sticker: specimen for specimen in ledger.rows(Specimen)}
    assert [found.id for found in find(("OV 0002", "OV 0001"), known)] == ["sp01", "sp00"]
    for names in ((), ("OV 0009",), tuple(f"OV {n:04}" for n in range(25))):
        with pytest.raises(BadInput, match="specimens"):
            find(names, known)


def test_a_sticker_is_found_however_it_is_written(small):
    """A ledger whose stickers have small letters or fewer zeros is as usable as any; one it has not is answered."""
    with small.open() as ledger:
        one, other, *_ = ledger.rows(Specimen)
    known = {"ab 0001": one, "AB 147": other}
    assert find(named("ab 1, ab 147"), known) == (one, other)
    with pytest.raises(BadInput, match=r"specimens: found 'AB 0002'; allowed: known stickers, such as AB 147"):
        find(named("ab 2"), known)


def test_a_count_alone_is_enough_where_one_sticker_has_it(small):
    """Where several have it one's own letters decide, or they are named; the same specimen twice is refused."""
    with small.open() as ledger:
        one, other, third, *_ = ledger.rows(Specimen)
    known = {"OV 0001": one, "OV 0002": other, "TL 0002": third}
    assert find(named("1"), known) == (one,)
    with pytest.raises(BadInput, match=r"specimens: found '0002'; allowed: one of OV 0002, TL 0002"):
        find(named("1-2"), known)
    assert find(named("1-2"), known, own="TL") == (one, third)
    with pytest.raises(BadInput, match=f"{one.sticker} twice"):
        find(named("OV 0001, 1"), known)


def test_a_begun_sheet_is_at_work(small):
    """All of it is one save, and the sheet is then open in the order its specimens were named."""
    ids = count()
    with small.open(write=True) as ledger:
        known = {specimen.sticker: specimen for specimen in ledger.rows(Specimen)}
        plan = SheetPlan(
            comparison=Comparison(
                id="c2", title="ochres", question="", started_on=date(2026, 3, 9), rubrics=(small.rubric.hash,)
            ),
            code="S05",
            tester="OV",
            paper="cotton 300 g",
            stages=[StageName.WET],
            specimens=find(("OV 0003", "OV 0001"), known),
            conditions=Conditions(water="deionised", humidity_pct=50.0),
        )
        wish = Wish(
            plan=plan,
            blinding=Blinding.OPEN,
            groups={},
            kinds={},
            testers=("OV",),
            prepared={},
            drying_days=7,
            start=START,
        )
        ledger.append(as_given(wish, at=START, new_id=lambda: f"n{next(ids)}").records)
        (session,) = ledger.rows(Session, code="S05")
        assert session.blinding is Blinding.OPEN
        assert [line.specimen.sticker for line in load(ledger, session.id).lines] == ["OV 0003", "OV 0001"]
        assert (session.seed, session.plan) == (None, "")
        (stage,) = ledger.rows(Stage, session=session.id)
        assert (stage.water, stage.due_at) == ("deionised", None)
        assert [row.position for row in ledger.rows(RunRow, session=session.id)] == [1, 2]


def test_a_plain_sheet_is_a_plan_that_asks_for_nothing_more(small):
    """It notes which preparation is tested, and refuses a piece that is used up and a code that a session has."""
    asking = wishes.Asking(Settings(), START, "c2", 0)
    typed = {
        "comparison": "one",
        "rubric": "watercolour",
        "specimens": "OV 3, OV 1",
        "session": "S09",
        "paper": "cotton",
    }
    with small.open(write=True) as ledger:
        poured = Preparation(id="p", specimen="sp02", kind=PreparationKind.POURED, on=START.date() - timedelta(9))
        ledger.append([poured])
        (session,) = wishes.begin(typed, ledger, asking).laid.sessions
        assert (session.code, session.blinding, session.seed) == ("S09", Blinding.OPEN, None)
        rows = sorted(ledger.rows(RunRow, session=session.id), key=lambda row: row.position)
        assert [(row.specimen, row.preparation, row.code) for row in rows] == [
            ("sp02", "p", None),
            ("sp00", None, None),
        ]
        with pytest.raises(BadInput, match="session: found 'S09'; allowed: a code that no session has yet"):
            wishes.begin(typed, ledger, asking)
        gone = replace(ledger.get(Specimen, "sp00"), state=SpecimenState.USED_UP)
        ledger.append([gone], reason="used up")
        with pytest.raises(BadInput, match="specimens: found 'OV 0001, used up'"):
            wishes.begin({**typed, "session": "S10"}, ledger, asking)
        assert len(ledger.rows(Session, comparison=session.comparison)) == 1


def test_a_plain_sheet_asks_the_same_of_tubes(small):
    """A tube beside half pans is refused until it has dried or a reason is given, and the reason is the note.

    Where the rubrics have nothing poured, nothing of it is asked.
    """
    with small.open(write=True) as ledger:
        pan, tube = ledger.get(Specimen, "sp00"), replace(ledger.get(Specimen, "sp01"), format=Format.TUBE, lot=None)
        on, both, way = START.date(), (pan, tube), of_keys(["watercolour"]).pouring
        with pytest.raises(BadInput, match=r"although: found OV 0002 not poured; allowed"):
            why_not_dried(both, {}, on, 7, way, " ")
        poured = {tube.id: Preparation(id="p", specimen=tube.id, kind=PreparationKind.POURED, on=on - timedelta(7))}
        assert why_not_dried(both, poured, on, 7, way, "") == ""
        assert why_not_dried((tube,), {}, on, 7, way, "") == ""
        note = why_not_dried(both, {}, on, 7, way, "the reader waits")
        assert note == "not dried 7 days (OV 0002 not poured): the reader waits"
        assert why_not_dried(both, {}, on, 7, of_keys(["pencil"]).pouring, "") == ""
