"""Questions to the pooled model, answered on several cores: each in a process that goes when this one does."""

import os
import signal
import sys
from collections.abc import Callable, Iterator, Sequence
from threading import Thread
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from concurrent.futures import Future
    from multiprocessing.synchronize import Event

    from qcledger.findings.model import ModelQuestion
    from qcledger.findings.pooled import Pooled

MOST = 4
"""Processes at most: each holds the model, some 150 MB."""
WORTH = 8
"""Plain questions, of some 0.4 s each, for which another process is begun: loading the model takes over a second."""
SUSPECTED = 8
"""A question with a suspect takes as long as so many plain ones."""
LOOK_S = 0.2
"""Seconds between two looks whether the answers are still wanted."""

_halted: "Event | None" = None  # of a process that answers: whether it should end with what it has


def processes(asked: "Sequence[ModelQuestion]") -> int:
    """Return in how many processes questions are best answered; 1 is this one alone."""
    effort = sum(SUSPECTED if one.suspects else 1 for one in asked)
    return max(1, min(_cores(), MOST, len(asked), effort // WORTH))


def _cores() -> int:
    """Return how many cores this process may use; where it cannot yield to the pages, one is left to them."""
    if sys.platform == "win32":
        return max(1, (os.cpu_count() or 1) - 1)
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def answers(
    asked: "Sequence[ModelQuestion]", halt: Callable[[], bool], most: int = 1
) -> "Iterator[tuple[int, Pooled]]":
    """Yield the place of each question and its answer, as they come.

    Parameters
    ----------
    asked
        The longest first.
    halt
        Looked at now and then; True ends it, and what was begun is given up.
    most
        Processes at most. A program that may be anybody's script stays with 1: a new process would run it once more.
    """
    count = min(most, processes(asked))
    yield from _here(asked, halt) if count == 1 else _apart(asked, halt, count)


def _here(asked: "Sequence[ModelQuestion]", halt: Callable[[], bool]) -> "Iterator[tuple[int, Pooled]]":
    from qcledger.findings.model import answer

    for place, one in enumerate(asked):
        if halt():
            return
        yield place, answer(one, halt)


def _apart(asked: "Sequence[ModelQuestion]", halt: Callable[[], bool], count: int) -> "Iterator[tuple[int, Pooled]]":
    from concurrent.futures import FIRST_COMPLETED, ProcessPoolExecutor, wait
    from multiprocessing import get_context

    context = get_context("spawn")  # a fork of a program with threads may hang
    halted = context.Event()
    with ProcessPoolExecutor(count, context, initializer=_begin, initargs=(halted,)) as pool:
        waiting: dict[Future[Pooled], int] = {pool.submit(_answer, one): place for place, one in enumerate(asked)}
        try:
            while waiting and not halt():
                for done in wait(waiting, LOOK_S, FIRST_COMPLETED).done:
                    yield waiting.pop(done), done.result()
        finally:
            halted.set()
            pool.shutdown(wait=True, cancel_futures=True)


def _begin(halted: "Event") -> None:
    """Prepare a process that answers: it hears when to end, leaves Ctrl-C to its parent, and never outlives it."""
    global _halted  # noqa: PLW0603 -- what is handed to a process of a pool once stands for all its questions
    _halted = halted
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    Thread(target=_go_with_parent, daemon=True).start()


def _go_with_parent() -> None:
    from multiprocessing import parent_process

    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)  # nobody is left to take an answer


def _answer(asked: "ModelQuestion") -> "Pooled":
    from qcledger.findings.model import answer

    assert _halted is not None
    return answer(asked, _halted.is_set)
