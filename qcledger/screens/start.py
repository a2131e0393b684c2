"""Start the pages: refuse where there is no terminal, and leave every terminal as it was found."""

import sys
from contextlib import suppress
from typing import TYPE_CHECKING, Final

from qcledger.errors import LedgerUnavailable, QcledgerError
from qcledger.settings import load_settings, settings_file
from qcledger.text import harmless

if TYPE_CHECKING:
    from qcledger.door import Found, Place

NEEDS_TERMINAL = "The pages need a terminal; what they show is also printed by commands, see qcledger --help."

SIGNALLED: Final = 128
"""Exit codes from here on say which signal ended the pages."""


def has_terminal() -> bool:
    """Say whether somebody can see and answer the pages: input and both outputs are a terminal."""
    return all(stream is not None and stream.isatty() for stream in (sys.__stdin__, sys.__stdout__, sys.__stderr__))


def need_terminal() -> None:
    """Check that somebody can see and answer the pages.

    Raises
    ------
    LedgerUnavailable
        When input or output is not a terminal; without this the pages would write escapes into a file and hang.
    """
    if not has_terminal():
        raise LedgerUnavailable(NEEDS_TERMINAL)


def run_pages(place: "Place | Found") -> int:
    """Show the pages of the ledger at `place` until the tester leaves; return the exit code.

    A place still to be found is looked for beside the first page, not before it.

    Raises
    ------
    LedgerUnavailable
        When there is no terminal; or, once the pages were left, when not everything reached the ledger.
    BadInput
        When the settings cannot be used.
    Exception
        Whatever ended the pages unexpectedly, once the terminal is as it was.
    """
    need_terminal()
    settings = load_settings()
    from qcledger.door import Door
    from qcledger.screens import keys
    from qcledger.screens.app import Pages
    from qcledger.screens.desk import Desk

    keys.check_keys(settings.keys, str(settings_file()))
    if settings.pictures == "pixels":
        from qcledger.screens.widgets.photo import use_pixels

        use_pixels()
    desk = Desk(Door(place), Door(place, write=True), settings)
    desk.looks = True
    app = Pages(desk)
    app.run()
    desk.close()
    for error in (app.failure, *(save.error for save in desk.unsaved)):
        if error is not None and not isinstance(error, QcledgerError):
            raise error
    told, code = desk.farewell(), app.return_code or 0
    if told and code < SIGNALLED:
        raise LedgerUnavailable(told)
    if told:
        with suppress(OSError):  # the terminal may be gone
            print(harmless(told), file=sys.stderr, flush=True)
    return run_pages(app.next_ledger) if app.next_ledger is not None and code == 0 else code
