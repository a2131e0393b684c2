"""How paints behave is worked out once for as long as the ledger stays the same; who listens hears how far it is."""

from datetime import timedelta
from threading import Event

import pytest

from qcledger.records import Maker
from qcledger.report import behaviour
from qcledger.report.kept import Stopped
from qcledger.screens.stock.history import HowFar
from tests.small import START, small_ledger, ticking


@pytest.fixture
def counted(monkeypatch):
    """Count how often paints are held against their peers."""
    times = []
    worked_out = behaviour.beside_peers
    monkeypatch.setattr(behaviour, "beside_peers", lambda *asked: times.append(1) or worked_out(*asked))
    return times


def test_it_is_kept_until_the_ledger_changes(home, tmp_path, counted):
    """Asked twice it is the same answer; after another entry it is worked out anew."""
    small = small_ledger(tmp_path)
    with small.open(write=True, sources=ticking(START + timedelta(days=1))) as ledger:
        first = behaviour.of_ledger(ledger)
        assert behaviour.of_ledger(ledger) is first
        behaviour.of_specimen(ledger, "sp00")
        assert len(counted) == 1
        ledger.append([Maker(id="mk9", name="Another")])
        assert behaviour.of_ledger(ledger) is not first
        assert len(counted) == 2


def test_who_ends_it_has_nothing_kept(home, tmp_path, counted):
    """What is raised by whoever listens ends the work; asked again it is worked out whole."""

    def stopped(label, items):
        raise Stopped

    with small_ledger(tmp_path).open() as ledger:
        with pytest.raises(Stopped):
            behaviour.of_ledger(ledger, stopped)
        assert behaviour.of_ledger(ledger).paints is not None
        assert len(counted) == 2


async def test_how_far_it_is_is_said_now_and_then_and_esc_ends_it():
    """Every 25th paint is told on the page; once it is stopped, no further item comes."""
    said, stop = [], Event()

    class Listening:
        def mention(self, line):
            said.append(line)

    import asyncio

    items = list(range(60))
    told = HowFar(Listening(), stop)
    assert await asyncio.to_thread(lambda: list(told("Paints", items))) == items
    await asyncio.sleep(0)
    assert said == ["Paints: 25 of 60; Esc stops", "Paints: 50 of 60; Esc stops"]
    stop.set()
    with pytest.raises(Stopped):
        list(told("Paints", items))
