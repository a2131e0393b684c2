"""How much memory it takes to read a spreadsheet: asked of a process of its own, which does nothing else."""

import multiprocessing
import resource
import sys
from multiprocessing.connection import Connection
from pathlib import Path

from qcledger.errors import BadInput
from qcledger.exchange.spreadsheet import read

_CONTEXT = multiprocessing.get_context("forkserver")
_CONTEXT.set_forkserver_preload([__name__])  # so that a process is there in milliseconds, not seconds


def reading(path: Path) -> tuple[list[str], int]:
    """Return what is said against a file, a line a problem, and the most memory in bytes that reading it took."""
    found, theirs = _CONTEXT.Pipe(duplex=False)
    process = _CONTEXT.Process(target=_read, args=(path, theirs))
    process.start()
    theirs.close()
    with found:
        said, most = found.recv()
    process.join()
    return said, most


def _read(path: Path, answer: Connection) -> None:
    said: list[str] = []
    try:
        read(path)
    except BadInput as refused:
        said = [str(problem) for problem in refused.problems]
    answer.send((said, _most()))


def _most() -> int:
    status = Path("/proc/self/status")  # getrusage counts the process that forked this one, too
    if status.exists():
        line = next(line for line in status.read_text("utf-8").splitlines() if line.startswith("VmHWM"))
        return int(line.split()[1]) * 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * (1 if sys.platform == "darwin" else 1024)
