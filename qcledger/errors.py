"""Everything that can go wrong for a user, as one line they can act on.

QcledgerError           exit code 2: nothing was changed
BadInput              what was found, where, and what is allowed
LedgerUnavailable     the ledger cannot be opened, read or written
Halted                the tester stopped it; nothing was stored
NotConfirmed          a save may or may not have reached the disk; try it again
ChainBroken           exit code 1: entries or photos do not match their hashes
"""

from collections.abc import Iterable
from dataclasses import dataclass

from qcledger.text import harmless

MESSAGE_LIMIT = 200
"""Longest message printed on one line, in characters."""

NOTHING = "nothing"
"""What is found where nothing stands."""

LIST_LIMIT = 2000
"""Longest line that lists what a tester has to choose from, in characters."""


class QcledgerError(Exception):
    """Base of all errors that are told to the user as one line."""

    exit_code = 2
    limit = MESSAGE_LIMIT

    def line(self) -> str:
        """Return the message as one line of at most ``limit`` characters."""
        return self._cut(str(self))

    def told(self) -> str:
        """Return the message as a page shows it, in one plain line."""
        return self.line()

    def _cut(self, message: str) -> str:
        text = " ".join(harmless(message).split())
        return text if len(text) <= self.limit else text[: self.limit - 3] + "..."


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong with an input.

    Parameters
    ----------
    where
        File and line, field, option or argument.
    found
        What stands there, shortened for printing.
    allowed
        What may stand there.
    """

    where: str
    found: str
    allowed: str

    def __str__(self) -> str:
        """Say the problem as one line."""
        return f"{self.where}: found {self.found}; allowed: {self.allowed}"

    @property
    def plain(self) -> str:
        """The problem as whoever typed it is told."""
        typed = self.found.startswith("'") and self.found.endswith("'")
        what = (
            "nothing stands there" if self.found == NOTHING else f"{self.found} does not fit" if typed else self.found
        )
        return f"{self.where}: {what}; needed: {self.allowed}"


class BadInput(QcledgerError):
    """An input that was refused whole; ``problems`` lists every reason, in order."""

    def __init__(self, problems: Problem | Iterable[Problem]) -> None:
        self.problems = (problems,) if isinstance(problems, Problem) else tuple(problems)
        super().__init__(self._with_others(str(self.problems[0]) if self.problems else "nothing to read"))

    def told(self) -> str:
        """Return the first reason as a page shows it, and how many more there are."""
        return self._cut(self._with_others(self.problems[0].plain)) if self.problems else self.line()

    def _with_others(self, first: str) -> str:
        more = len(self.problems) - 1
        others = "one more thing is wrong" if more == 1 else f"{more} more things are wrong"
        return first if more < 1 else f"{first} ({others})"

    def lines(self) -> list[str]:
        """Return every reason as a line of at most ``limit`` characters."""
        return [self._cut(str(problem)) for problem in self.problems]


class Several(BadInput):
    """A name, or an id, that several things have; its line tells each of them, so it may be longer than others."""

    limit = LIST_LIMIT


class LedgerUnavailable(QcledgerError):
    """The ledger cannot be opened, read or written; nothing was changed."""


class Halted(QcledgerError):
    """The tester stopped it; nothing was stored."""


class NotConfirmed(QcledgerError):
    """The disk reported an error while saving; the same save may be tried again."""


class ChainBroken(QcledgerError):
    """Entries or photos do not match their hashes, or two daybooks disagree."""

    exit_code = 1


class TwoStories(ChainBroken):
    """One daybook tells something else in two ledgers; its line tells both, so it may be longer than others."""

    limit = LIST_LIMIT


def bad(where: str, found: object, allowed: str) -> BadInput:
    """Return a `BadInput` with one problem, showing `found` as a short quoted text."""
    shown = found if isinstance(found, str) else repr(found)
    shown = " ".join(harmless(shown).split())
    return BadInput(Problem(where, f"'{shown[:60]}'" if shown else NOTHING, allowed))


def at(where: str, line: int) -> str:
    """Return the place ``FILE line N`` for a message."""
    return f"{where} line {line}"
