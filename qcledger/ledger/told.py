"""Turns what a disk, SQLite or a server reports into one line for the user."""

import errno
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError, IntegrityError, SQLAlchemyError

from qcledger.errors import LedgerUnavailable, NotConfirmed, QcledgerError
from qcledger.text import one_line

DAMAGED = "{} is damaged; restore a backup, then run verify."
LOCKED = "In use by another terminal; not saved; try again."
FULL = "Disk full; not confirmed."
READ_ONLY = "{} cannot be written here; reading works."
BROKE_OFF = "The connection to the server broke off while saving; not confirmed."
LOST = "The connection to the server {} was lost; not saved; try again."
DENIED = "Your role on the server {} lacks a right this needs; whoever keeps the ledger can give it (guide: ledger)."
LOOK_ONLY = "Your role on the server {} may only look; nothing was saved; whoever keeps the ledger can let it write."
CUT_SHORT = "A restore to {} was begun and is not done. Cut short? `qcledger restore` with --finish or --clean."
MOVED = "The ledger was moved; reopen it."

# By the beginning of SQLite's name for what happened, the longer first.
_SQLITE: tuple[tuple[str, type[QcledgerError], str], ...] = (
    ("SQLITE_BUSY", LedgerUnavailable, LOCKED),
    ("SQLITE_LOCKED", LedgerUnavailable, LOCKED),
    ("SQLITE_FULL", NotConfirmed, FULL),
    ("SQLITE_IOERR_CORRUPTFS", LedgerUnavailable, DAMAGED),
    ("SQLITE_IOERR", NotConfirmed, "The disk reported an error; not confirmed."),
    ("SQLITE_READONLY_DBMOVED", LedgerUnavailable, MOVED),
    ("SQLITE_READONLY", LedgerUnavailable, READ_ONLY),
    ("SQLITE_CANTOPEN", LedgerUnavailable, "Cannot open {}: no such folder, or no permission."),
    ("SQLITE_NOTADB", LedgerUnavailable, "{} is not a ledger file."),
    ("SQLITE_CORRUPT", LedgerUnavailable, DAMAGED),
)
# By the class of the SQLSTATE; https://www.postgresql.org/docs/15/errcodes-appendix.html
_SERVER: tuple[tuple[str, type[QcledgerError], str], ...] = (
    ("55P03", LedgerUnavailable, LOCKED),
    ("40", LedgerUnavailable, LOCKED),
    ("53100", NotConfirmed, FULL),
    ("58", NotConfirmed, "The server's disk reported an error; not confirmed."),
    ("25006", LedgerUnavailable, READ_ONLY),
    ("42501", LedgerUnavailable, DENIED),
    ("57P01", LedgerUnavailable, LOST),
    ("57P02", LedgerUnavailable, LOST),
)

_LOST = ("08", "57P")
"""Connection exceptions, and a server that is shut down."""


class Unreadable(ValueError):
    """A stored value that this program did not write."""


@contextmanager
def told(name: str) -> Iterator[None]:
    """Raise what a database or disk reports as an error that says it in one line; `name` is the ledger's."""
    try:
        yield
    except (Unreadable, UnicodeDecodeError) as error:  # the second where a flipped bit is no text any more
        raise LedgerUnavailable(DAMAGED.format(name)) from error
    except IntegrityError as error:
        raise LedgerUnavailable(f"The ledger refused a row; nothing was saved: {_reason(error)}") from error
    except DBAPIError as error:
        if error.connection_invalidated and not isinstance(error.orig, sqlite3.Error):
            raise LedgerUnavailable(LOST.format(name)) from error
        raise _from_database(error.orig, name) from error
    except sqlite3.Error as error:
        raise _from_database(error, name) from error
    except SQLAlchemyError as error:
        raise LedgerUnavailable(f"{name}: {_reason(error)}") from error
    except OSError as error:
        raise from_disk(error, name) from error


def broke_off(error: BaseException | None) -> bool:
    """Say whether a database error is a lost connection: after a commit was sent, it may be there or not."""
    if not isinstance(error, DBAPIError) or isinstance(error.orig, sqlite3.Error):
        return False
    state = getattr(error.orig, "sqlstate", None)
    return state is None or state.startswith(_LOST)


def is_denied(error: BaseException | None) -> bool:
    """Say whether a database error is a right that this role lacks."""
    return isinstance(error, DBAPIError) and getattr(error.orig, "sqlstate", None) == "42501"


def from_disk(error: OSError, name: str) -> QcledgerError:
    """Return the error that says what the operating system reported about a file of the ledger."""
    if error.errno in {errno.ENOSPC, errno.EDQUOT}:
        return NotConfirmed(FULL)
    if error.errno == errno.EIO:
        return NotConfirmed("The disk reported an error; not confirmed.")
    return LedgerUnavailable(f"Cannot open {name}: {error.strerror or _reason(error)}.")


def _from_database(error: BaseException | None, name: str) -> QcledgerError:
    file = isinstance(error, sqlite3.Error)
    code = getattr(error, "sqlite_errorname" if file else "sqlstate", None) or ""
    for begins, kind, message in _SQLITE if file else _SERVER:
        if code.startswith(begins):
            return kind(message.format(name))
    return LedgerUnavailable(DAMAGED.format(name) if file else f"Server {name}: {_reason(error)}")


def _reason(error: BaseException | None) -> str:
    return one_line(str(getattr(error, "orig", None) or error))
