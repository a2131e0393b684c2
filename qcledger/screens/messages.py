"""Messages that more than one widget or page speaks."""

from textual.message import Message


class Go(Message):
    """Asks for another page, and for what should be shown there.

    Parameters
    ----------
    page
        The page's key, as in ``record``.
    subject
        The id of a row the page should open with, or None.
    """

    def __init__(self, page: str, subject: str | None = None) -> None:
        super().__init__()
        self.page = page
        self.subject = subject


class Tell(Message):
    """Asks the page to say one line to the tester.

    Parameters
    ----------
    line
        What to say; shown as plain text.
    problem
        Whether something was refused or failed.
    """

    def __init__(self, line: str, *, problem: bool = False) -> None:
        super().__init__()
        self.line = line
        self.problem = problem


class BytesLeftOut(Message):
    """Something came from the terminal that is no text."""


class TerminalGone(Message):
    """The terminal has hung up; nobody types or sees anything any more."""
