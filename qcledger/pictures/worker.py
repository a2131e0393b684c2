"""The decoder's process: reads pictures from its standard input, one after another, and answers on its output."""

import signal
import sys
from contextlib import suppress
from typing import Final

from qcledger.pictures.wire import receive, send

MOST_MEMORY: Final = 1536 * 1024 * 1024
"""Address space of the process in bytes; the largest picture allowed, in the greediest format, takes two thirds."""


def limit() -> None:
    """Let the process take no more memory than a picture needs, and write no file; not on Windows."""
    try:
        import resource
    except ImportError:
        return
    for what, most in ((resource.RLIMIT_AS, MOST_MEMORY), (resource.RLIMIT_FSIZE, 0), (resource.RLIMIT_CORE, 0)):
        with suppress(ValueError, OSError):  # a system that knows no such limit, or a lower one stands
            resource.setrlimit(what, (most, most))


def main() -> None:
    """Answer until the program that asks is gone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the affair of the program that asks
    limit()
    from qcledger.pictures.decode import answer

    asked, told = sys.stdin.buffer, sys.stdout.buffer
    with suppress(EOFError, BrokenPipeError):
        while True:
            question, content = receive(asked)
            values, rest = answer(question, content)
            del content
            send(told, values, rest)


if __name__ == "__main__":
    main()
