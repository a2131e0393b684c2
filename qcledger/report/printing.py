"""Pages to print, written to a file: run sheets, strips, stickers; what preparing a blind sheet takes is recorded."""

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Final

from qcledger.errors import bad
from qcledger.report.sheet_print import Paper
from qcledger.text import harmless

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.records import Session

MOST: Final = 2000
"""Stickers at once."""
PRINT_IT: Final = "{}: print it from a browser"
"""Said of a page that was written."""


def check_free(path: Path) -> None:
    """Check that a file can be new there, so that nothing is recorded as printed that was not.

    Raises
    ------
    BadInput
        Where there is a file already.
    """
    if path.exists():
        raise bad(str(path), "a file there already", "a new file")


def write_page(path: Path, text: str) -> str:
    """Write a page to print and return what is said of it.

    Raises
    ------
    BadInput
        Where there is a file already, or none can be written.
    """
    check_free(path)
    try:
        path.write_text(harmless(text), encoding="utf-8")
    except OSError as error:
        raise bad(str(path), error.strerror or "nothing", "a file that can be written") from error
    return PRINT_IT.format(path)


def print_sheet(ledger: "Ledger", session: "Session", path: Path, paper: Paper = Paper.A4) -> str:
    """Write a session's run sheet to fill with a pencil; raises BadInput as `write_page` does."""
    from qcledger.bench.facts import of_session
    from qcledger.report.sheet_print import run_sheet

    return write_page(path, run_sheet(*of_session(ledger, session), paper))


def print_strips(ledger: "Ledger", session: "Session", path: Path, at: datetime, paper: Paper = Paper.A4) -> str:
    """Write strips to fold for a tester who prepares a blind sheet alone, and record that.

    Raises
    ------
    BadInput
        When the session is not blind or another prepares it, and as `write_page` does.
    """
    from qcledger.bench.blind import strips_given
    from qcledger.bench.facts import of_session
    from qcledger.report.sheet_print import strips

    noted = strips_given(session, at)
    check_free(path)
    facts, stages = of_session(ledger, session)
    ledger.append([noted], reason="folded strips printed")
    return write_page(path, strips(facts, stages[0], paper))


def print_stickers(
    ledger: "Ledger", path: Path, *, named: str | None = None, coming: int | None = None, paper: Paper = Paper.A4
) -> str:
    """Write stickers with their codes.

    Parameters
    ----------
    ledger
        Whose.
    path
        The new file.
    named
        Which, as in ``OV 0147, OV 0150-0160``; None with `coming` None: all that are in use.
    coming
        So many new ones, from 1 to `MOST`, in place of those in use.
    paper
        What it is printed on.

    Raises
    ------
    BadInput
        Where both are given, none is meant or one is not known, and as `write_page` does.
    """
    from qcledger import stickers as written
    from qcledger.records import Specimen
    from qcledger.report.sticker_print import sticker_sheets

    if named is not None and coming is not None:
        raise bad("stickers", "STICKERS and --next", "one of them")
    known, letters = sorted(one.sticker for one in ledger.rows(Specimen)), ledger.daybook.letters
    if coming is not None:
        last = written.highest(known, letters)
        wanted = [written.sticker(letters, last + turn) for turn in range(1, coming + 1)]
    elif named is not None:
        wanted = [one for text in written.named_in(named, "STICKERS", MOST) for one in _known(text, known, letters)]
    else:
        wanted = known
    if not wanted:
        raise bad("stickers", "no specimen", "specimens in the ledger, or --next COUNT")
    return write_page(path, sticker_sheets(wanted, paper))


def _known(text: str, known: list[str], letters: str) -> list[str]:
    from qcledger import stickers as written

    found = written.meant(text, known, letters)
    if len(found) != 1:
        example = f", such as {known[0]}" if known else ""
        raise bad("STICKERS", text, f"one of {', '.join(found)}" if found else f"stickers in this ledger{example}")
    return found
