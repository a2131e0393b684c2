"""Where a page goes: the file, and a folder of larger photos beside it; both are there whole, or not at all."""

import re
import shutil
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Final

from qcledger.errors import bad
from qcledger.public.gather import Each, untold
from qcledger.public.photos import LARGE, KeptCopies, ReducedPhoto
from qcledger.text import harmless

_OURS: Final = re.compile(r"[0-9a-f]{64}\.jpg")


def folder_of(page: Path) -> str:
    """Return the name of the folder of photos beside a page: of ``card.html``, ``card-photos``."""
    return f"{page.stem}-photos"


def refuse_taken(page: Path, *, force: bool, alone: bool = False) -> None:
    """Refuse a place that is taken, and a folder of photos that holds what is not ours.

    Parameters
    ----------
    page
        The file.
    force
        Whether one that stands there is replaced.
    alone
        Whether no folder of photos goes beside it.

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
    if (
        not alone
        and folder.exists()
        and not (folder.is_dir() and all(_OURS.fullmatch(one.name) for one in folder.iterdir()))
    ):
        raise bad(str(folder), "other files", "a folder of photos that this program wrote, or none")


def take_back(page: Path) -> None:
    """Take away a page and its photos that were just written, because the edition could not be recorded."""
    page.unlink(missing_ok=True)
    shutil.rmtree(page.parent / folder_of(page), ignore_errors=True)


class LargerCopies(Mapping[str, ReducedPhoto]):
    """Larger copies of photos by the SHA-256 of the small ones; each is read when it is written, one at a time."""

    def __init__(self, files: Mapping[str, tuple[Path, str]], kept: KeptCopies) -> None:
        self._files, self._kept = files, kept

    def __getitem__(self, sha256: str) -> ReducedPhoto:
        """Return a copy; raises KeyError where its photo is gone meanwhile."""
        path, kind = self._files[sha256]
        if (copy := self._kept.copy(path, kind, LARGE)) is None:
            raise KeyError(sha256)
        return copy

    def __iter__(self) -> Iterator[str]:
        """Return the SHA-256 of the small ones, in the order of the page."""
        return iter(self._files)

    def __len__(self) -> int:
        """Return how many there are."""
        return len(self._files)


def larger(files: Mapping[str, tuple[Path, str]], each: Each[str] = untold) -> LargerCopies:
    """Return larger copies of photos by the SHA-256 of the small ones; what cannot be decoded is left out.

    Parameters
    ----------
    files
        File and kind of each photo.
    each
        Shows how far they are.
    """
    kept = KeptCopies()
    made = [
        one
        for one in each("Larger photos", list(files))
        if kept.has(files[one][0], LARGE) or kept.copy(*files[one], LARGE) is not None
    ]
    return LargerCopies({one: files[one] for one in made}, kept)


def write(page: Path, text: str, photos: Mapping[str, ReducedPhoto] | None = None, *, force: bool = False) -> None:
    """Write a page, and the larger photos into the folder beside it.

    Parameters
    ----------
    page
        The file.
    text
        What it holds.
    photos
        By the SHA-256 that the page's links name them with. None: the file goes alone, and a folder that belongs to
        another page of that name stays.
    force
        Whether a page that stands there is replaced.

    Raises
    ------
    BadInput
        When the place is taken or cannot be written. Then, and wherever it is stopped, all is as it was.
    """
    refuse_taken(page, force=force, alone=photos is None)
    try:
        with tempfile.TemporaryDirectory(prefix=f".{page.stem}-", dir=page.parent) as made:  # gone however it ends
            draft, beside = Path(made) / page.name, Path(made) / "photos"
            draft.write_text(harmless(text), encoding="utf-8")
            if photos:
                beside.mkdir()
                for name, copy in photos.items():
                    (beside / f"{name}.jpg").write_bytes(copy.content)
            if photos is None:
                draft.replace(page)
            else:
                _exchange(draft, beside, page, Path(made) / "before")
    except OSError as error:
        raise bad(str(page), error.strerror or "nothing", "a file in a folder that can be written") from error


def _exchange(draft: Path, beside: Path, page: Path, before: Path) -> None:
    """Put a page and its photos where they belong; where one of them cannot go, what stood there stands again."""
    folder = page.parent / folder_of(page)
    if folder.exists():
        folder.rename(before)
    try:
        if beside.exists():
            beside.rename(folder)
        draft.replace(page)
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        if before.exists():
            before.rename(folder)
        raise
