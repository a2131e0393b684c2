"""A save that fails: the sheet shows what is in the ledger, or what stood before the key, and says which."""

import pytest

from qcledger.bench import sheets
from qcledger.errors import LedgerUnavailable, NotConfirmed
from qcledger.ledger import Ledger
from qcledger.records import Stage, Trial
from tests.screens.bench.support import Bench

LOCKED = LedgerUnavailable("In use by another terminal; not saved; try again.")


class Away:
    """A ledger that is away while a test says so: nothing can be saved, nothing read."""

    def __init__(self, monkeypatch, error=LOCKED):
        self.is_away = True
        self._error = error
        for where, name in ((Ledger, "append"), (sheets, "load")):
            monkeypatch.setattr(where, name, self._unless_away(getattr(where, name)))

    def _unless_away(self, real):
        def asked(*args, **kwargs):
            if self.is_away:
                raise self._error
            return real(*args, **kwargs)

        return asked


async def test_a_grade_that_was_not_saved_is_not_shown_though_nothing_can_be_read(bench, monkeypatch):
    """The place is open again, it says so, and nothing claims to be saved; later the same key saves."""
    async with bench().run() as at:
        ledger = Away(monkeypatch)
        await at.press("3")
        await at.until(lambda: at.said.saved == "not saved" and "stood before that key" in at.said.said)
        assert "[Turns .]" in at.picture
        assert "In use by another terminal" in at.said.said
        ledger.is_away = False
        assert at.on_disk() == []
        await at.press("4")
        await at.until(lambda: at.said.saved.startswith("saved "))
        assert [seen.grade for seen in at.on_disk()] == [4.0]
        with at.small.open() as read:
            assert len(read.rows(Trial)) == 1
            assert [row.started_at is not None for row in read.rows(Stage, id="wet")] == [True]


async def test_an_amendment_that_was_not_saved_leaves_the_grade_before_it(bench, monkeypatch):
    """What stood before the key stands there again, and can be amended once the ledger is back."""
    async with bench().run() as at:
        await at.press("3")
        await at.saved()
        ledger = Away(monkeypatch)
        await at.press("<", "5")
        await at.until(lambda: at.said.saved == "not saved" and "stood before" in at.said.said)
        assert "[Turns 3]" in at.picture
        ledger.is_away = False
        await at.press("4")
        await at.until(lambda: at.said.saved.startswith("saved "))
        assert [seen.grade for seen in at.on_disk()] == [3.0, 4.0]


async def test_of_several_keys_none_is_shown_that_was_not_saved(bench, monkeypatch):
    """Grades pressed one after the other while the ledger is away, one of them twice: all of them are open again."""
    async with bench().run() as at:
        ledger = Away(monkeypatch)
        await at.press("3", "<", "4", "2")
        await at.until(lambda: at.page._saving == 0 and "stood before" in at.said.said)
        assert at.page.atwork is not None
        assert at.page.atwork.sheet.seen == {}
        assert at.page.atwork.sheet.lines[0].trial is None
        ledger.is_away = False
        await at.press("1")
        await at.until(lambda: at.said.saved.startswith("saved "))
        assert [seen.grade for seen in at.on_disk()] == [1.0]


async def test_the_same_key_tries_again_what_was_not_confirmed_though_nothing_could_be_read(bench, monkeypatch):
    """The disk may have it: the same digit is the same observation, not a second one."""
    async with bench().run() as at:
        real = Ledger.append
        ledger = Away(monkeypatch, NotConfirmed("Disk full; not confirmed."))
        reached = []

        def append(ledger_, records, **kwargs):
            if ledger.is_away:
                reached.append(records)
                real(ledger_, records, **kwargs)
                raise NotConfirmed("Disk full; not confirmed.")
            return real(ledger_, records, **kwargs)

        monkeypatch.setattr(Ledger, "append", append)
        await at.press("3")
        await at.until(lambda: "same key tries again" in at.said.saved)
        assert "[Turns .]" in at.picture
        ledger.is_away = False
        await at.press("3")
        await at.until(lambda: at.said.saved.startswith("saved "))
        assert len(reached) == 1
        assert [seen.grade for seen in at.on_disk()] == [3.0]


@pytest.fixture
def windows(bench):
    """Return two windows on one sheet."""
    first = bench()
    return first, Bench(first.small)


async def test_two_windows_grade_one_place(windows):
    """A presses 1, B presses 3: B is told what stands there and sees it; one trial and one grade are kept."""
    first, second = windows
    async with first.run(), second.run():
        await first.press("1")
        await first.until(lambda: first.said.saved.startswith("saved "))
        await second.press("3")
        await second.until(lambda: second.said.saved == "not saved" and "[Turns 1]" in second.picture)
        await second.until(lambda: "turns 1" in second.said.said and "one trial at a place" in second.said.said)
        assert [seen.grade for seen in first.on_disk()] == [1.0]
        with first.small.open() as ledger:
            assert len(ledger.rows(Trial)) == 1
        await second.press("3")
        await second.until(lambda: second.said.saved.startswith("saved "))
        assert [(seen.grade, seen.supersedes is None) for seen in first.on_disk()] == [(1.0, True), (3.0, False)]
