"""The desk: one thread reads, one thread writes, and no save is dropped."""

import asyncio
import shutil
import threading
import time
from pathlib import Path

import pytest

from qcledger.door import Door
from qcledger.errors import LedgerUnavailable, NotConfirmed
from qcledger.records import Maker
from qcledger.screens.desk import Desk
from qcledger.settings import Settings
from tests.screens.support import GivenDoor, Nothing, desk_of
from tests.small import small_ledger


async def test_nothing_is_opened_before_the_first_paint():
    """A question asked early waits until the desk is opened; so no heavy import runs before the first paint."""
    made = []
    behind = Nothing()
    desk = desk_of(lambda: made.append(1) or behind)
    asked = asyncio.create_task(desk.read(lambda ledger: ledger))
    await asyncio.sleep(0.05)
    assert made == []
    desk.open()
    assert await asked is behind
    desk.close()


async def test_saves_run_one_by_one_in_the_order_of_the_keys():
    """Twenty saves run in one thread, in order, and each returns only after its own work is done."""
    desk = desk_of()
    desk.open()
    done: list[tuple[int, str]] = []

    def job(number):
        def work(_):
            time.sleep(0.001)
            done.append((number, threading.current_thread().name))
            return number

        return work

    assert await asyncio.gather(*(desk.save(job(n)) for n in range(20))) == list(range(20))
    assert [number for number, _ in done] == list(range(20))
    assert len({name for _, name in done}) == 1
    desk.close()


async def test_a_long_read_does_not_hold_up_a_save():
    """Reads and saves have a thread each."""
    desk = desk_of()
    desk.open()
    let_go = threading.Event()
    slow = asyncio.create_task(desk.read(lambda _: let_go.wait(5)))
    assert await asyncio.wait_for(desk.save(lambda _: "saved"), 4) == "saved"
    let_go.set()
    assert await slow is True
    desk.close()


async def test_a_save_whose_page_has_gone_is_still_made():
    """Cancelling the one who waits cancels no save, not even one that still stands in the queue."""
    desk = desk_of()
    desk.open()
    let_go = threading.Event()
    kept: list[int] = []
    waiting = [asyncio.create_task(desk.save(lambda _: let_go.wait(5)))]
    waiting += [asyncio.create_task(desk.save(lambda _, n=n: kept.append(n))) for n in range(5)]
    await asyncio.sleep(0.02)
    for task in waiting:
        task.cancel()
    await asyncio.gather(*waiting, return_exceptions=True)
    let_go.set()
    await asyncio.to_thread(desk.close)
    assert kept == [0, 1, 2, 3, 4]
    assert desk.unsaved == []


async def test_a_failed_save_nobody_waits_for_is_remembered():
    """What failed after its page had gone is told by the one who started the pages."""
    desk = desk_of()
    desk.open()
    let_go = threading.Event()

    def fail(_):
        let_go.wait(5)
        raise NotConfirmed("disk full; not confirmed")

    task = asyncio.create_task(desk.save(fail))
    await asyncio.sleep(0.02)
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)
    let_go.set()
    await asyncio.to_thread(desk.close)
    assert [str(save.error) for save in desk.unsaved] == ["disk full; not confirmed"]


async def test_an_error_of_the_ledger_comes_to_the_one_who_asked():
    """The page that asked for the save gets its error, and the next save goes on."""
    desk = desk_of()
    desk.open()

    def fail(_):
        raise NotConfirmed("not confirmed")

    with pytest.raises(NotConfirmed):
        await desk.save(fail)
    assert await desk.save(lambda _: 2) == 2
    desk.close()
    desk.close()


async def test_a_question_to_a_closed_desk_is_dropped():
    """A key that comes while one is leaving ends quietly, as a cancelled one does."""
    desk = desk_of()
    desk.open()
    desk.close()
    for ask in (desk.read, desk.save):
        with pytest.raises(asyncio.CancelledError):
            await ask(lambda _: 1)


async def test_closing_drops_questions_but_no_saves():
    """Reads that have not begun are not waited for; every save is."""
    desk = desk_of()
    desk.open()
    let_go, began = threading.Event(), threading.Event()

    def slow(_):
        began.set()
        return let_go.wait(5)

    kept: list[int] = []
    first = asyncio.create_task(desk.read(slow))
    second = asyncio.create_task(desk.read(lambda _: kept.append(0)))
    save = asyncio.create_task(desk.save(lambda _: kept.append(1)))
    await asyncio.to_thread(began.wait, 5)
    closing = asyncio.create_task(asyncio.to_thread(desk.close))
    await save
    await asyncio.sleep(0.05)
    let_go.set()
    await closing
    assert await first is True
    with pytest.raises(asyncio.CancelledError):
        await second
    assert kept == [1]


async def test_what_is_read_behind_the_saves_is_read_from_the_ledger_for_reading(tmp_path):
    """Where nothing can be written one still looks around; only a save is refused, in the ledger's words."""
    opened = []

    def refuse():
        opened.append("writing")
        raise LedgerUnavailable("cannot be written here")

    for_reading = Nothing()
    desk = Desk(GivenDoor(lambda: for_reading), GivenDoor(refuse), Settings())
    desk.open()
    assert await desk.read(lambda ledger: ledger, after_saves=True) is for_reading
    assert opened == []
    with pytest.raises(LedgerUnavailable):
        await desk.save(lambda ledger: ledger)
    assert await desk.read(lambda ledger: ledger, after_saves=True) is for_reading
    desk.close()


def test_looking_around_in_a_copy_begins_no_daybook(tmp_path, home):
    """Doors opened again and again leave ledger and settings as they were; the first save begins the daybook."""
    copy = Path(shutil.copyfile(small_ledger(tmp_path).place, tmp_path / "copy.sqlite"))
    before, kept = copy.read_bytes(), sorted(home.rglob("*"))
    for _ in range(3):
        door = Door(copy, write=True)
        assert door.ledger.daybook.letters == "OV"
        door.close()
    assert copy.read_bytes() == before
    assert sorted(home.rglob("*")) == kept
    door = Door(copy, write=True)
    door.ledger.append([Maker(id="new", name="Halcyre")])
    assert len(door.ledger.closing_hashes()) == 2
    door.close()
