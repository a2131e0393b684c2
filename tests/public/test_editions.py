"""Editions of the demo: what is missing, what is recorded, and what changed since."""

from dataclasses import replace
from datetime import date

import pytest

from qcledger.ledger import Ledger
from qcledger.public import editions
from qcledger.public.gather import rules_of
from qcledger.records import Decision, Publication, Statement
from qcledger.records.finding_key import FindingKey
from qcledger.vocab import DecisionKind

TODAY = date(2026, 11, 30)


@pytest.fixture
def ledger(home, demo_file, tmp_path):
    """Return a copy of the demo that may be written to."""
    import shutil

    place = tmp_path / "demo.ledger"
    shutil.copy(demo_file, place)
    with Ledger.open(place, write=True, letters="OV", tester="OV, Brinefold Studio") as own:
        yield own


@pytest.fixture
def now(ledger, demo_found):
    """Return what the demo would say."""
    return editions.said_now(demo_found, rules_of(ledger))


def recorded(ledger, view, now):
    """Record an edition and return its statements."""
    rows = editions.rows_of(view, now, (), "0" * 64, ledger.new_id)
    ledger.append(rows)
    return [one for one in ledger.rows(Statement) if one.standing == editions.SETTLED]


def test_what_is_missing_in_the_demo(demo_gathered):
    """A maker that was not asked, one whose answer is awaited, a session in question, disclosures and the address."""
    gaps = [str(one) for one in editions.missing(demo_gathered.view, 1, TODAY)]
    for said in ("Aldervane, Dried tube", "Fennacre, label of Viridian", "S07", "health",
                 "--disclosed", "--address"):  # fmt: skip
        assert [one for one in gaps if said in one], said
    assert not [one for one in gaps if "Quernlow" in one or "Trellmere" in one or "Corvannet" in one]


def test_an_edition_is_kept_word_for_word(ledger, demo_gathered, now):
    """Each settled thing is one row with its words; what is common to makers is kept under none of them."""
    kept = recorded(ledger, _edition(demo_gathered.view), now)
    assert sorted(one.sentence for one in kept) == sorted(one.sentence for one in demo_gathered.view.statements)
    assert {one.maker is None for one in kept if "pigment" in one.extent} == {True}
    (row,) = ledger.rows(Publication)
    assert len(row.closing) == len(demo_gathered.view.closing)


def _edition(view):
    return replace(view, edition=replace(view.edition, number=1))


def test_nothing_changed_is_no_change(ledger, demo_gathered, now):
    """The same findings again say nothing new, and before the first edition there is nothing to compare."""
    assert editions.changes(ledger, now, TODAY) == []
    recorded(ledger, _edition(demo_gathered.view), now)
    assert editions.changes(ledger, now, TODAY) == []


def test_each_change_is_dated_and_named(ledger, demo_gathered, now):
    """New, said otherwise, no longer standing and withdrawn are told apart, each with what was said before."""
    first, second, third, *rest = now
    before = [replace(first, sentence="It said something else."), second, third]
    kept = recorded(ledger, _edition(demo_gathered.view), before)
    told = {one.about: one for one in editions.changes(ledger, [first, *rest], TODAY)}
    assert (told[first.about].how, told[first.about].before) == (editions.OTHERWISE, "It said something else.")
    assert {told[one.about].how for one in rest} == {editions.NEW}
    gone = [one for one in told.values() if one.how == editions.GONE]
    assert sorted(one.before for one in gone) == sorted((second.sentence, third.sentence))
    assert {one.on for one in told.values()} == {TODAY}
    wrong = next(one for one in kept if one.sentence == third.sentence and one.maker)
    key = FindingKey.read(wrong.finding)
    wrongly = Decision(
        id=ledger.new_id(),
        kind=DecisionKind.CORRECT,
        subject_table=key.subject_table,
        subject=key.maker,
        by="OV",
        on=TODAY,
        reason="The wrong tube.",
    )
    ledger.append([wrongly])
    hows = [one.how for one in editions.changes(ledger, [first, *rest], TODAY) if one.before == third.sentence]
    assert hows == [editions.WITHDRAWN]


def test_what_may_concern_health_is_released_by_the_maker_asked_and_a_decision(ledger):
    """Kept private and taken back, a finding is released where the maker was asked, and not elsewhere."""
    from qcledger.bench.public.deciding import about_finding
    from qcledger.public.asked import Askings, released
    from qcledger.records import Maker

    names = {row.name: row.id for row in ledger.rows(Maker)}
    keys = [FindingKey("mould", names[one], "half pan") for one in ("Corvannet", "Drumlaw")]
    assert released(ledger, Askings(ledger).about) == frozenset()
    for kind in (DecisionKind.HOLD_BACK, DecisionKind.PUBLISH):
        given = {"reason": "maker, seller and authority know", "by": "OV", "on": TODAY, "new_id": ledger.new_id}
        ledger.append([about_finding(kind, key, **given) for key in keys])
    assert released(ledger, Askings(ledger).about) == {keys[0]}
