"""Questions to the pooled model on several cores: the same answers, an end when asked, and nobody left behind."""

import multiprocessing
import os
import signal
import time
from concurrent.futures import ProcessPoolExecutor
from types import SimpleNamespace

import pytest

from qcledger.findings.model import ModelQuestion, question
from qcledger.report import cores
from qcledger.report.kept import KeptFindings
from tests.small import graded, small_ledger


@pytest.fixture
def asked(home, tmp_path) -> list[ModelQuestion]:
    """Return what the small ledger's findings ask."""
    with graded(small_ledger(tmp_path)).open() as ledger:
        found = KeptFindings().reading(ledger).asked.values()
        return [question(one.field, one.suspects, one.line) for one in found]


def plain(n: int, suspected: int = 0) -> list[SimpleNamespace]:
    """Return `n` questions that would be weighed, the first of them with somebody under suspicion."""
    return [SimpleNamespace(suspects=(("maker", None),) if place < suspected else ()) for place in range(n)]


@pytest.mark.parametrize(
    ("n", "suspected", "of", "wanted"),
    [
        (1, 0, 8, 1),
        (1, 1, 8, 1),
        (9, 0, 8, 1),
        (16, 0, 8, 2),
        (2, 2, 8, 2),
        (21, 3, 2, 2),
        (21, 3, 1, 1),
        (90, 9, 64, 4),
    ],
)
def test_another_process_is_begun_where_it_is_worth_it(monkeypatch, n, suspected, of, wanted):
    """One question, or a few plain ones, are answered here; never more processes than cores, questions, or four."""
    monkeypatch.setattr(cores, "_cores", lambda: of)
    assert cores.processes(plain(n, suspected)) == wanted


def test_two_processes_give_the_answers_that_one_gives(asked, monkeypatch):
    """Each answer belongs to its question, and is the same to the last digit."""
    assert len(asked) > 1
    here = dict(cores.answers(asked, lambda: False))
    monkeypatch.setattr(cores, "processes", lambda _: 2)
    assert dict(cores.answers(asked, lambda: False, most=2)) == here
    assert sorted(here) == list(range(len(asked)))


def test_whoever_may_be_anybodys_script_begins_no_process(asked, monkeypatch):
    """Without being told that it may, it answers in this process."""
    monkeypatch.setattr(cores, "processes", lambda _: 4)
    monkeypatch.setattr(cores, "_apart", lambda *_: pytest.fail("a process was begun"))
    assert len(list(cores.answers(asked, lambda: False))) == len(asked)


def test_it_ends_when_asked(asked, monkeypatch):
    """After the first answer nothing more comes, and no process is left."""
    monkeypatch.setattr(cores, "processes", lambda _: 2)
    came: list[int] = []
    for place, _ in cores.answers(asked, lambda: bool(came), most=2):
        came.append(place)
    assert 1 <= len(came) < len(asked) or len(asked) == 1
    assert not multiprocessing.active_children()


def _ask_for_ever(pipe):
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(1, context, initializer=cores._begin, initargs=(context.Event(),)) as pool:
        pipe.send(pool.submit(os.getpid).result())
        pool.submit(time.sleep, 600).result()


def _is_there(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    with open(f"/proc/{pid}/stat", encoding="ascii") as file:  # noqa: PTH123 -- gone meanwhile is an answer, too
        return file.read().rpartition(")")[2].split()[0] != "Z"


@pytest.mark.skipif(not os.path.isdir("/proc/self"), reason="asks /proc whether a process is there")  # noqa: PTH112
def test_a_process_that_answers_never_outlives_the_one_that_asked(home):
    """Killed outright, the one that asked leaves nobody behind who computes on."""
    context = multiprocessing.get_context("spawn")
    mine, theirs = context.Pipe(duplex=False)
    process = context.Process(target=_ask_for_ever, args=(theirs,))
    process.start()
    child = mine.recv()
    assert _is_there(child)
    os.kill(process.pid, signal.SIGKILL)
    process.join()
    for _ in range(6000):
        if not _is_there(child):
            return
        time.sleep(0.05)
    pytest.fail("the process computes on")
