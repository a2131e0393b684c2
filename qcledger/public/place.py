"""Where a page goes: the file, and a folder of larger photos beside it; both are there whole, or not at all."""

import re
import shutil
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Final

from qcledger.errors import bad
from qcledger.public.photos import LARGE, ReducedPhoto, reduced
from qcledger.stats.moved import unheard
from qcledger.text import harmless

_OURS: Final = re.compile(r"[0-9a-f]{64}\.jpg")


def folder_of(page: Path) -> str:
    """Return the name of the folder of photos beside a page: of ``card.html``, ``card-photos``."""
    return f"{page.stem}-photos"


def refuse_taken(page: Path, *, force: bool) -> None:
    """Refuse a place that is taken, and a folder of photos that holds what is not ours.

    Raises
    ------
    BadInput
        With what stands there, and what may.
    """
    folder = page.parent / folder_of(page)
    if not page.parent.is_dir():
        raise bad(str(page), "no such folder", "a file in a folder that exists")
    if page.is_dir() or (page.exists() and not force):
        found = "a folder" if page.is_dir() else "a file there already"
        raise bad(str(page), found, "a new file; --force replaces one")
    if folder.exists() and not (folder.is_dir() and all(_OURS.fullmatch(one.name) for one in folder.iterdir())):
        raise bad(str(folder), "other files", "a folder of photos that this program wrote, or none")


def take_back(page: Path) -> None:
    """Take away a page and its photos that were just written, because the edition could not be recorded."""
    page.unlink(missing_ok=True)
    shutil.rmtree(page.parent / folder_of(page), ignore_errors=True)


def larger(files: Mapping[str, tuple[Path, str]], going_on: Callable[[], None] = unheard) -> dict[str, ReducedPhoto]:
    """Return larger copies of photos by the SHA-256 of the small ones; what cannot be decoded is left out.

    `going_on` is called before each; what it raises ends the work.
    """
    found = {}
    for sha256, (path, kind) in files.items():
        going_on()
        if (copy := reduced(path, kind, LARGE)) is not None:
            found[sha256] = copy
    return found


def write(page: Path, text: str, photos: Mapping[str, ReducedPhoto], *, force: bool = False) -> None:
    """Write a page, and the larger photos into the folder beside it.

    Parameters
    ----------
    page
        The file.
    text
        What it holds.
    photos
        By the SHA-256 that the page's links name them with.
    force
        Whether a page that stands there is replaced.

    Raises
    ------
    BadInput
        When the place is taken or cannot be written; then all is as it was.
    """
    refuse_taken(page, force=force)
    folder = page.parent / folder_of(page)
    draft, beside = page.with_name(f"{page.name}.part"), folder.with_name(f"{folder.name}.part")
    try:
        draft.write_text(harmless(text), encoding="utf-8")
        shutil.rmtree(beside, ignore_errors=True)
        if photos:
            beside.mkdir()
            for name, copy in photos.items():
                (beside / f"{name}.jpg").write_bytes(copy.content)
        if folder.exists():
            shutil.rmtree(folder)
        if photos:
            beside.rename(folder)
        draft.replace(page)
    except OSError as error:
        draft.unlink(missing_ok=True)
        shutil.rmtree(beside, ignore_errors=True)
        raise bad(str(page), error.strerror or "nothing", "a file in a folder that can be written") from error
