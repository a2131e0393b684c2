"""Where a tester works is asked once: where it is not recorded, and when the machine has moved."""

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from qcledger.bench import closing, unpacking, whereabouts, wishes
from qcledger.bench.due import LooseEndKind, due
from qcledger.errors import BadInput
from qcledger.ledger import Ledger, new_id
from qcledger.records import Comparison, Daybook, Decision, Parcel, Session, Specimen, Zone
from qcledger.vocab import DecisionKind, SpecimenState
from tests.bench_table.given import proposed, search_shortly, shelf
from tests.small import START, ticking

MORNING = datetime(2026, 3, 8, 21, tzinfo=UTC)
"""Ten in the morning of 9 March in Auckland, when it is the 8th in Greenwich."""


def begun(place, zone, start=START):
    """Return a ledger with nothing in it, begun in a zone."""
    return Ledger.create(place, letters="AB", tester="Ada", zone=zone, sources=ticking(start))


@pytest.fixture
def ledger(tmp_path):
    with begun(tmp_path / "mine.sqlite", "Europe/Berlin") as made:
        yield made


def asked(ledger):
    """Return the loose ends about the time zone."""
    return [one.words for one in due(ledger, START) if one.kind is LooseEndKind.ZONE]


def test_nothing_is_asked_where_the_machine_is_where_the_daybook_is(ledger, monkeypatch):
    """Nor under another name of the place, nor where the clock is the same, nor where nobody tells."""
    for here in ("Europe/Berlin", "Europe/Vienna", "XYZ-7"):
        monkeypatch.setenv("TZ", here)
        assert asked(ledger) == []


def test_a_daybook_without_a_zone_is_asked_about_until_it_has_one(tmp_path):
    """What a ledger of before knows nothing of is asked; once answered, no more."""
    with begun(tmp_path / "mine.sqlite", None) as ledger:
        assert asked(ledger) == ["your time zone is not recorded; say where you work"]
        assert whereabouts.proposed(ledger) == "Etc/UTC"
        assert whereabouts.answer(ledger, " Etc/UTC ") == "Etc/UTC"
        assert asked(ledger) == []


@pytest.mark.parametrize("stays", ["Europe/Berlin", "Asia/Kolkata"])
def test_a_machine_that_moved_is_asked_about_once(ledger, monkeypatch, stays):
    """Whether the tester moved with it or not; only a further move asks again."""
    monkeypatch.setenv("TZ", "Asia/Kolkata")
    (words,) = asked(ledger)
    assert words == "this machine is in Asia/Kolkata, your daybook in Europe/Berlin; say where you work"
    whereabouts.answer(ledger, stays)
    assert asked(ledger) == []
    assert [row.name for row in ledger.rows(Zone)] == list(dict.fromkeys(["Europe/Berlin", stays]))
    monkeypatch.setenv("TZ", "Pacific/Auckland")
    assert len(asked(ledger)) == 1


def test_a_command_says_it_once(ledger, monkeypatch):
    """Not at every command, until the machine moves again; Loose ends goes on asking."""
    monkeypatch.setenv("TZ", "Asia/Kolkata")
    assert whereabouts.unsaid(ledger, START) == asked(ledger)[0]
    whereabouts.said(ledger.where)
    assert whereabouts.unsaid(ledger, START) == ""
    assert asked(ledger)
    monkeypatch.setenv("TZ", "Pacific/Auckland")
    assert "Pacific/Auckland" in whereabouts.unsaid(ledger, START)


def test_a_name_that_is_none_changes_nothing(ledger):
    """It is refused in one line, and what was recorded stands."""
    with pytest.raises(BadInput, match="an IANA name, as in Europe/Berlin"):
        whereabouts.answer(ledger, "Berlin")
    assert [row.name for row in ledger.rows(Zone)] == ["Europe/Berlin"]


def test_a_ledger_just_begun_has_nothing_to_lose(ledger, monkeypatch):
    """Its daybook and time zone alone need no backup."""
    monkeypatch.setenv("TZ", "Europe/Berlin")
    assert len(ledger.rows(Daybook)) == len(ledger.rows(Zone)) == 1
    assert [one.kind for one in due(ledger, START)] == []


# Days that are written


def test_what_came_today_can_be_planned_today(tmp_path, monkeypatch):
    """In Auckland on the morning it was received, and no day before; a comparison begins on that day."""
    search_shortly(monkeypatch)
    with begun(tmp_path / "mine.sqlite", "Pacific/Auckland", MORNING) as ledger:
        rows = shelf()
        today = replace(rows[0], id="today", bought_on=date(2026, 3, 9), received_on=date(2026, 3, 9))
        ledger.append([today, *(replace(one, parcel="today") if isinstance(one, Specimen) else one for one in rows)])
        assert isinstance(ledger.get(Parcel, "today"), Parcel)
        monkeypatch.setattr("tests.bench_table.given.START", MORNING)
        wishes.keep(proposed(ledger), ledger)
        (comparison,) = ledger.rows(Comparison)
        assert comparison.started_on == date(2026, 3, 9)
        monkeypatch.setattr("tests.bench_table.given.START", MORNING.replace(hour=10))
        with pytest.raises(BadInput, match="here from 2026-03-09 on'; allowed: what is there on 2026-03-08"):
            proposed(ledger, session="S09")


def test_an_hour_is_that_of_the_testers_clock(tmp_path, monkeypatch):
    """A start typed as nine in the morning is nine where the tester works, whatever the machine's clock shows."""
    search_shortly(monkeypatch)
    with begun(tmp_path / "mine.sqlite", "Asia/Kolkata") as ledger:
        ledger.append(shelf())
        proposal = proposed(ledger, start="2026-03-10 09:00")
        assert proposal.wish.start == datetime(2026, 3, 10, 3, 30, tzinfo=UTC)


def test_decisions_and_openings_are_dated_by_the_daybook(tmp_path):
    """Each way of deciding something, at one moment, writes one day: the tester's."""
    with begun(tmp_path / "mine.sqlite", "Pacific/Auckland", MORNING) as ledger:
        ledger.append(shelf())
        ledger.append([Comparison(id="cp", title="pans", question="", started_on=date(2026, 3, 9))])
        session = Session(id="se", code="S01", comparison="cp", tester="Ada", blinding="open", started_at=MORNING)
        ledger.append([session])
        who = {"by": "Ada", "at": MORNING, "new_id": new_id, "zone": ledger.zone}
        ledger.append(closing.void(session, "lamp failed", **who))
        unpacking.take_out(ledger, ledger.get(Specimen, "sp01"), new_id)
        unpacking.set_state(ledger, "sp02", SpecimenState.OPENED, ledger.day(MORNING), "now opened")
        assert {row.kind: row.on for row in ledger.rows(Decision)} == {DecisionKind.VOID: date(2026, 3, 9)}
        assert len(ledger.rows(Decision)) == 2
        assert ledger.get(Specimen, "sp02").opened_on == date(2026, 3, 9)
