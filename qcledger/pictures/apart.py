"""Asks the decoder's process about pictures; one process answers them all, and another one after it has crashed."""

import atexit
import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from threading import Lock, Timer
from typing import Any, Final

import qcledger
from qcledger.pictures.wire import receive, send

SECONDS: Final = 9.0
"""Longest that one picture may take; the largest one allowed takes about two on a machine that is not busy."""

CRASHED = "a picture that its decoder fails on"
SLOW = "a picture that takes too long to decode"


class Refused(Exception):
    """A picture that cannot be decoded; its text says why in plain words."""


@dataclass(frozen=True, slots=True)
class Looked:
    """What was read of a picture.

    Parameters
    ----------
    kind
        ``jpg``, ``png``, ``webp`` or ``heic``.
    width, height
        Pixels as it is looked at, its EXIF orientation applied.
    time, zone
        When it was taken, as its EXIF spells it; empty where it says nothing.
    """

    kind: str
    width: int
    height: int
    time: str
    zone: str


@dataclass(frozen=True, slots=True)
class Squares:
    """A picture, or a part of it, in few pixels.

    Parameters
    ----------
    across, along
        How many there are.
    pixels
        Three bytes for each, red, green and blue, row by row from the top.
    whole
        Width and height of the whole picture as it is looked at, in its own pixels.
    part
        Left, top, right and bottom of what is shown, in those pixels.
    """

    across: int
    along: int
    pixels: bytes
    whole: tuple[int, int]
    part: tuple[int, int, int, int]


def look(content: bytes) -> Looked:
    """Decode a picture's bytes and return what it is; raises Refused when it cannot be filed."""
    told, _ = _decoder.ask({"what": "look"}, content)
    time, zone = told["taken"]
    return Looked(told["kind"], told["width"], told["height"], time, zone)


def squares(
    content: bytes, kind: str, size: tuple[int, int], *, zoom: int = 1, centre: tuple[float, float] = (0.5, 0.5)
) -> Squares:
    """Return a part of a picture in few pixels, its shape kept.

    Parameters
    ----------
    content
        The bytes of a picture.
    kind
        What it must be, as `Looked.kind`.
    size
        Most pixels across and along, 1 or more.
    zoom
        1 shows all of it, n a part of 1/n of each side.
    centre
        The middle of what is shown, as shares of width and height, 0 to 1.

    Raises
    ------
    Refused
        When it cannot be decoded, or is of another kind.
    """
    question = {"what": "squares", "kind": kind, "width": size[0], "height": size[1], "zoom": zoom, "centre": centre}
    told, pixels = _decoder.ask(question, content)
    (wide, high), (left, top, right, bottom) = told["whole"], told["part"]
    return Squares(told["across"], told["along"], pixels, (wide, high), (left, top, right, bottom))


class _Late:
    """Ends a process that takes too long, and remembers that it did."""

    def __init__(self) -> None:
        self.ended = False

    def end(self, process: "subprocess.Popen[bytes]") -> None:
        """End it."""
        self.ended = True
        process.kill()


def _asked(
    process: "subprocess.Popen[bytes]", question: dict[str, Any], content: bytes
) -> tuple[dict[str, Any], bytes]:
    assert process.stdin is not None  # both are pipes
    assert process.stdout is not None
    send(process.stdin, question, content)
    return receive(process.stdout)


class Decoder:
    """The process, begun when it is first needed; threads take turns."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._process: subprocess.Popen[bytes] | None = None

    def ask(self, question: dict[str, Any], content: bytes) -> tuple[dict[str, Any], bytes]:
        """Return the answer; raises Refused for a picture that is wrong, crashes the process or takes too long."""
        with self._lock:
            process, late = self._running(), _Late()
            clock = Timer(SECONDS, late.end, [process])
            clock.daemon = True
            clock.start()
            try:
                told, rest = _asked(process, question, content)
            except (OSError, EOFError, ValueError, MemoryError) as error:  # a crash, or an answer that is none
                self._end()
                raise Refused(SLOW if late.ended else CRASHED) from error
            except BaseException:  # a key that stops the program comes at any moment; the answer is not waited for
                self._end()
                raise
            finally:
                clock.cancel()
        if "wrong" in told:
            raise Refused(told["wrong"])
        return told, rest

    def _running(self) -> "subprocess.Popen[bytes]":
        if self._process is None or self._process.poll() is not None:
            self._end()
            self._process = begun()
        return self._process

    def end(self) -> None:
        """End the process; the next question begins another."""
        with self._lock:
            self._end()

    def _end(self) -> None:
        process, self._process = self._process, None
        if process is None:
            return
        process.kill()
        process.wait()
        for pipe in (process.stdin, process.stdout):
            try:
                if pipe is not None:
                    pipe.close()
            except OSError:  # what was still to be written to it has no reader any more
                continue


def begun() -> "subprocess.Popen[bytes]":
    """Return a new decoder's process; it finds the program where this one did, not in the folder it is begun in."""
    home = Path(qcledger.__file__).parents[1]
    paths = [str(home), *filter(None, [os.environ.get("PYTHONPATH")])]
    return subprocess.Popen(
        [sys.executable, "-P", "-m", "qcledger.pictures.worker"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(paths)},
        creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
    )


_decoder = Decoder()
atexit.register(_decoder.end)
