"""The terminal as it is: bytes that are no text are left out, and one that has gone away is written to no more."""

import os
import selectors
import termios
from codecs import getincrementaldecoder
from collections.abc import Iterator
from contextlib import suppress
from typing import IO, Any, Final

from textual import events
from textual._xterm_parser import XTermParser
from textual.drivers.linux_driver import LinuxDriver
from textual.message import Message

from qcledger.screens.messages import BytesLeftOut, TerminalGone

LOOK_S: Final = 0.1
"""Seconds between two looks whether the input is to end."""
READ: Final = 4096
"""Bytes that are read at once."""
NO_TEXT: Final = "\ufffd"
"""What the decoder gives for bytes that are no UTF-8."""


class _Output:
    """What the driver writes to; once it cannot be written, what comes is let go, so that nobody waits for it."""

    def __init__(self, file: IO[str]) -> None:
        self._file = file
        self._gone = False

    def write(self, text: str) -> None:
        """Write, while there is somebody to read."""
        self._do(lambda: self._file.write(text))

    def flush(self) -> None:
        """Write out what was kept back."""
        self._do(self._file.flush)

    def fileno(self) -> int:
        """Return the file's number."""
        return self._file.fileno()

    def isatty(self) -> bool:
        """Say whether this is a terminal."""
        return self._file.isatty()

    def _do(self, what: Any) -> None:
        if not self._gone:
            try:
                what()
            except (OSError, ValueError):  # hung up; the second where the file was closed
                self._gone = True


class Terminal(LinuxDriver):
    """A terminal that may send anything, and may go away at any moment.

    Notes
    -----
    The driver it is made from ends the program at the first byte that is no UTF-8, reads on without rest after the
    terminal has hung up, and waits without end for a terminal that takes nothing.
    """

    def __init__(self, app: Any, **kwargs: Any) -> None:
        super().__init__(app, **kwargs)
        self._file: Any = _Output(self._file)
        self._parser = XTermParser(self._debug)
        self._gone = False

    def hush(self) -> None:
        """Draw nothing more: the terminal has hung up."""
        self._gone = True

    def write(self, data: str) -> None:
        """Write, unless nobody is there to see it."""
        if not self._gone:
            super().write(data)

    def stop_application_mode(self) -> None:
        """Give the terminal back as it was found, if it is still there."""
        self._gone = not self._is_there()
        super().stop_application_mode()

    def restore(self) -> None:
        """Give the terminal its settings back when nothing else can be waited for any more."""
        if self.attrs_before is not None:
            with suppress(termios.error):
                termios.tcsetattr(self.fileno, termios.TCSANOW, self.attrs_before)

    def _is_there(self) -> bool:
        try:
            termios.tcgetattr(self.fileno)
        except termios.error:
            return False
        return True

    def _sigcont_application(self, *signal: Any) -> None:
        """Go on; after a stop that gave no notice the terminal is first given back, or it would be read twice."""
        if self._gone:
            return
        if self._auto_restart and not self._must_signal_resume:
            self.suspend_application_mode()
        super()._sigcont_application(*signal)

    # Input

    def run_input_thread(self) -> None:
        """Take what is typed and pasted until the program ends or the terminal has gone."""
        decode = getincrementaldecoder("utf-8")("replace").decode
        with selectors.SelectSelector() as selector:
            selector.register(self.fileno, selectors.EVENT_READ)
            while not self.exit_event.is_set():
                typed = self._read() if selector.select(LOOK_S) else None
                if typed == b"":
                    self.send_message(TerminalGone())
                    return
                if typed:
                    self._take(decode(typed))
                self._pass_on(self._parser.tick())

    def _read(self) -> bytes:
        """Return what came; nothing when the terminal has gone."""
        try:
            return os.read(self.fileno, READ)
        except OSError:
            return b""

    def _take(self, text: str) -> None:
        if NO_TEXT in text:
            text = text.replace(NO_TEXT, "")
            self.send_message(BytesLeftOut())
        if text:
            self._pass_on(self._parsed(text))

    def _parsed(self, text: str) -> Iterator[Message]:
        """Yield what the text means; a sequence that no terminal should send ends its parser, not the program."""
        try:
            yield from self._parser.feed(text)
        except Exception:  # whatever a parser makes of it
            self._parser = XTermParser(self._debug)
            self.send_message(BytesLeftOut())

    def _pass_on(self, found: Any) -> None:
        for message in found:
            if isinstance(message, events.Key) and _half(message.character):
                self.send_message(BytesLeftOut())
            else:
                self.process_message(message)


def _half(character: str | None) -> bool:
    """Say whether a key is half a character, as a terminal that names keys by their numbers may send it."""
    return character is not None and any("\ud800" <= one <= "\udfff" for one in character)
