"""Editions' own pages, kept beside the ledger under their SHA-256, so that each can be read again as it went out.

A page lies on the machine on which it was published. What it said is recorded in the ledger, too, word for word.
"""

import hashlib
import os
from pathlib import Path
from typing import TYPE_CHECKING, Final

from qcledger.errors import Problem, bad
from qcledger.files import digest_of, read_plain
from qcledger.records import Publication

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

FOLDER: Final = "editions"
"""The folder, beside that of the photos."""
MOST_BYTES: Final = 40_000_000
"""Largest file that is read as an edition."""
_A_PAGE: Final = "the page of an edition"


def path_of(ledger: "Ledger", sha256: str) -> Path:
    """Return where the page of an edition is kept on this machine, whether or not it is there."""
    return ledger.photos.with_name(FOLDER) / f"{sha256}.html"


def keep(ledger: "Ledger", content: bytes) -> None:
    """Keep the bytes of a page whole or not at all; raises BadInput where the folder cannot be written to."""
    page = path_of(ledger, hashlib.sha256(content).hexdigest())
    part = page.with_name(f"{page.name}.{os.getpid()}.part")
    try:
        page.parent.mkdir(parents=True, exist_ok=True)
        part.write_bytes(content)
        part.replace(page)
    except OSError as error:
        raise bad(str(page.parent), error.strerror or "nothing", "a folder that can be written") from error
    finally:
        part.unlink(missing_ok=True)


def forget(ledger: "Ledger", sha256: str) -> None:
    """Take away the page of an edition that was not recorded."""
    path_of(ledger, sha256).unlink(missing_ok=True)


def kept_page(ledger: "Ledger", edition: Publication) -> bytes | None:
    """Return the page of an edition as it went out; None where it is not kept here, or is not what went out."""
    page = path_of(ledger, edition.sha256 or "")
    if not edition.sha256 or not page.exists():
        return None
    content = read_plain(page, _A_PAGE, most=MOST_BYTES)
    return content if hashlib.sha256(content).hexdigest() == edition.sha256 else None


def spoiled(ledger: "Ledger") -> list[Problem]:
    """Return what is wrong with the pages that are kept here: nothing where each has the bytes that went out."""
    pages = [(one.number, one.sha256, path_of(ledger, one.sha256)) for one in ledger.rows(Publication) if one.sha256]
    return [
        Problem(f"edition {number}", "other bytes", f"the page that was published, in {page}")
        for number, sha256, page in pages
        if page.exists() and digest_of(page, _A_PAGE) != sha256
    ]
