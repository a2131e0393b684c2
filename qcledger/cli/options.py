"""What several commands share: the ledger they work on."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeVar

import click

from qcledger.cli import LEDGER_VARIABLE
from qcledger.cli.said import tell
from qcledger.errors import LedgerUnavailable, bad
from qcledger.settings import default_ledger

F = TypeVar("F", bound=Callable[..., Any])

if TYPE_CHECKING:
    from qcledger.ledger import Ledger


def _named(_: click.Context, __: click.Parameter, where: str | None) -> str | None:
    """Refuse an empty name, as an unset variable of a script gives it, before it is taken for one's own ledger."""
    if where is not None and not where.strip():
        raise bad("--ledger", where, "a ledger file, or a PostgreSQL URL")
    return where if where is None else in_utf8("--ledger", where)


def in_utf8(where: str, path: str) -> str:
    """Return a path whose name can be shown and kept in files; raises BadInput for one that is not UTF-8."""
    if any("\ud800" <= char <= "\udfff" for char in path):  # how Python holds the bytes that are no text
        raise bad(where, path.encode("utf-8", "replace").decode(), "a path in UTF-8; rename the file or folder")
    return path


_NO_STREAM: Final = "only `qcledger import -` reads from another program, and --as prints for one"
"""Why a path is no stream."""


class PathInUtf8(click.Path):
    """A path on the command line; one that is not UTF-8 is refused at once, before anything is worked out for it.

    Parameters
    ----------
    takes_stdin
        Whether ``-`` stands for what another program hands over; else it is refused, so that no file has that name.
    """

    def __init__(self, *, takes_stdin: bool = False) -> None:
        super().__init__(path_type=Path)
        self._takes_stdin = takes_stdin

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Return the path."""
        name = (param.human_readable_name if param is not None else None) or "path"
        if str(value) == "-" and not self._takes_stdin:
            raise bad(name, "-", f"a path; {_NO_STREAM}")
        return super().convert(in_utf8(name, str(value)), param, ctx)


def ledger_option(command: F) -> F:
    """Add ``--ledger PATH|URL`` to a command; without it what `LEDGER_VARIABLE` names, or one's own."""
    return click.option(
        "--ledger",
        "where",
        metavar="PATH|URL",
        default=None,
        envvar=LEDGER_VARIABLE,
        callback=_named,
        help=f"The ledger file, or a PostgreSQL URL. Default: what {LEDGER_VARIABLE} names, or your own ledger.",
    )(command)


@contextmanager
def room_for(place: str | Path) -> Iterator[None]:
    """Make the folder that one's own ledger goes into; should making the ledger fail, it is gone again.

    Raises
    ------
    LedgerUnavailable
        When it cannot be made.
    """
    made: list[Path] = []
    try:
        folder = place.parent if isinstance(place, Path) else None
        try:
            for missing in reversed(
                [each for each in (folder, *folder.parents) if not each.exists()] if folder else []
            ):
                missing.mkdir()
                made.append(missing)
        except OSError as error:
            raise LedgerUnavailable(
                f"Cannot make {folder}: {(error.strerror or 'no reason given').lower()}"
            ) from error
        yield
    except BaseException:
        for each in reversed(made):
            with suppress(OSError):  # something else is in it by now
                each.rmdir()
        raise


def open_ledger(where: str | None, *, write: bool = False, ask_zone: bool = True) -> "Ledger":
    """Open the ledger named on the command line, or the default one.

    Opened for writing, nothing is written yet: a copied ledger begins a new daybook with its first new entries. Once
    the command has done well it is also said, unless not `ask_zone`, when the tester's time zone is not known.

    Raises
    ------
    LedgerUnavailable
        When it is missing or cannot be used, as one line that says why.
    """
    from qcledger.bench.worked import speak_of
    from qcledger.clock import machine_zone
    from qcledger.ledger import Ledger

    own = default_ledger()
    if where is None and not own.exists():
        raise LedgerUnavailable(f"There is no ledger at {own} yet; qcledger start begins one.")
    ledger = Ledger.open(where or own, write=write, begin=False, zone=machine_zone())
    if write:
        try:
            ledger.check_joined()
        except BaseException:
            ledger.close()
            raise
    speak_of(ledger)
    if write and ask_zone:
        _ask_zone(ledger)
    return ledger


def _ask_zone(ledger: "Ledger") -> None:
    """Have it said once when it is not known in which time zone the tester works, after the command has done well."""
    from datetime import UTC, datetime

    from qcledger.bench.whereabouts import unsaid

    if asked := unsaid(ledger, datetime.now(UTC)):
        click.get_current_context().with_resource(_said_at_the_end(asked, ledger.where))


@contextmanager
def _said_at_the_end(asked: str, where: str) -> Iterator[None]:
    from qcledger.bench.whereabouts import said

    yield
    tell(f"Mind: {asked}: qcledger zone NAME, as in qcledger zone Europe/Berlin", err=True)
    said(where)


def agreed(question: str, *, yes: bool) -> bool:
    """Say whether something is to be done: told by an option, else asked on a terminal; else say that nothing was."""
    if yes or (sys.stdin.isatty() and click.confirm(question)):
        return True
    tell("Nothing was changed" + ("." if sys.stdin.isatty() else "; --yes does it."))
    return False
