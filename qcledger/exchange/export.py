"""Writes a whole ledger as an exchange folder."""

import hashlib
import os
import shutil
import tempfile
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import Any

from qcledger.errors import BadInput, ChainBroken, LedgerUnavailable, bad
from qcledger.exchange import codec, csvfile, manifest, readme
from qcledger.exchange.manifest import Manifest, ManifestFile
from qcledger.files import read_plain
from qcledger.ledger import Ledger, photos
from qcledger.ledger.chain import sha256
from qcledger.ledger.disk import sync_folder, write_durably
from qcledger.ledger.progress import Progress, untold
from qcledger.ledger.redact import redacted_photos
from qcledger.records import TABLES, Entry, Photo, Record, Session, columns


def to_folder(ledger: Ledger, folder: Path, *, force: bool = False, progress: Progress = untold) -> Manifest:
    """Write `ledger` as an exchange folder; the folder appears whole or not at all.

    Parameters
    ----------
    ledger
        What to write.
    folder
        The folder to make. Its parent must exist.
    force
        Whether an exchange folder that stands there, and holds nothing else, may be replaced.
    progress
        Told which file is at work.

    Returns
    -------
    Manifest
        What was written. Two exports of the same ledger are the same byte for byte.

    Raises
    ------
    BadInput
        When something stands in the way, or a session is still blind: the files would tell what its codes stand for,
        and without it they would not be the daybooks that a merge takes in word for word.
    ChainBroken
        When a photo is missing or is not the one that was filed, or anything else in the ledger is not as it was
        written: each entry, row and photo is checked as it is written, and each file is read again in the end.
    LedgerUnavailable
        When the folder cannot be written.
    """
    folder = folder.absolute()
    _refuse_occupied(folder, force)
    _refuse_blind(ledger.rows(Session, closed_at=None))
    try:
        with _draft_beside(folder) as draft:
            written = _write(ledger, draft, progress)
            _put_in_place(draft, folder)
        sync_folder(folder.parent)
    except OSError as error:
        raise LedgerUnavailable(f"Cannot write {folder}: {(error.strerror or 'no reason given').lower()}") from error
    return written


def _refuse_occupied(folder: Path, force: bool) -> None:
    if not folder.parent.is_dir():
        raise bad(str(folder), "no folder to put it in", "a new folder inside one that exists")
    if not os.path.lexists(folder):
        return
    if not force:
        raise bad(str(folder), "something there already", "a new folder, or --force to replace an exchange folder")
    if folder.is_symlink() or not folder.is_dir():
        raise bad(str(folder), "a file or link", "a new folder, or an exchange folder to replace")
    others = sorted(manifest.present(folder) - set(manifest.read(folder).files))
    if others:
        raise bad(f"{folder}", others[0], "an exchange folder with nothing else in it")


def _refuse_blind(sessions: Iterable[Session]) -> None:
    for session in sessions:
        if session.is_blind:
            raise bad(
                "export", f"session {session.code}, still blind", "sessions closed, or opened early with a reason"
            )


@contextmanager
def _draft_beside(folder: Path) -> Iterator[Path]:
    """Yield a new folder beside `folder`, gone again unless it was moved away."""
    draft = Path(tempfile.mkdtemp(prefix=f".{folder.name}.", suffix=".part", dir=folder.parent))
    try:
        draft.chmod(0o777 & ~_umask())
        yield draft
    finally:
        shutil.rmtree(draft, ignore_errors=True)


def _umask() -> int:
    mask = os.umask(0o077)
    os.umask(mask)
    return mask


def _put_in_place(draft: Path, folder: Path) -> None:
    """Move `draft` to `folder`; what stood there is kept until the new one stands."""
    if not folder.exists():
        draft.rename(folder)
        return
    with _draft_beside(folder) as aside:
        old = folder.rename(aside / folder.name)
        try:
            draft.rename(folder)
        except OSError:
            old.rename(folder)
            raise


def _write(ledger: Ledger, folder: Path, progress: Progress) -> Manifest:
    kept: dict[str, Photo] = {}

    def note(row: Record) -> None:
        if isinstance(row, Photo):
            kept[row.sha256] = row
        elif isinstance(row, Session):
            _refuse_blind([row])  # once more: it may have begun since the export did

    with ledger.still(folder) as moment:
        files = {manifest.ENTRIES: _write_rows(folder / manifest.ENTRIES, Entry, moment.entries)}
        for kind in progress("Writing tables", list(TABLES.values())):
            files[f"{kind.TABLE}.csv"] = _write_rows(
                folder / f"{kind.TABLE}.csv", kind, partial(moment.rows, kind), note
            )
        closing = moment.closing
    with ledger.reading() as connection:
        gone = redacted_photos(connection)
    files |= _copy_photos(ledger, [photo for digest, photo in kept.items() if digest not in gone], folder, progress)
    files[readme.NAME] = _write_readme(folder / readme.NAME)
    written = Manifest(files, closing)
    write_durably(folder / manifest.NAME, written.text().encode())
    _read_again(folder, written, progress)
    return written


def _write_rows(
    path: Path,
    kind: type[Record] | type[Entry],
    give: Callable[[Callable[[Any], object]], None],
    note: Callable[[Any], object] = lambda _: None,
) -> ManifestFile:
    """Write a table row by row as `give` gives them, so that none of them need be kept; each is told to `note`."""
    digest, count = hashlib.sha256(), 0
    with path.open("xb") as stream:

        def write(cells: Iterable[str]) -> None:
            content = csvfile.line(cells).encode()
            digest.update(content)
            stream.write(content)

        def take(row: Record | Entry) -> None:
            nonlocal count
            note(row)
            write(codec.cells(row))
            count += 1

        write(column.name for column in columns(kind))
        give(take)
        stream.flush()
        os.fsync(stream.fileno())
    return ManifestFile(digest.hexdigest(), count)


def _write_readme(path: Path) -> ManifestFile:
    content = readme.text().encode()
    write_durably(path, content)
    return ManifestFile(sha256(content))


def _copy_photos(ledger: Ledger, kept: Sequence[Photo], folder: Path, progress: Progress) -> dict[str, ManifestFile]:
    """Copy each photo once."""
    (folder / manifest.PHOTOS).mkdir()
    names = {}
    for photo in progress("Copying photos", kept):
        name = f"{manifest.PHOTOS}/{photos.photo_name(photo.sha256, photo.kind)}"
        _copy(ledger.photo_path(photo, checked=True), folder / name, photo)
        names[name] = ManifestFile(photo.sha256)
    return names


def _copy(source: Path, target: Path, photo: Photo) -> None:
    name = f"Photo {photo.sha256[:12]}"
    if not source.exists() and not source.is_symlink():
        raise ChainBroken(f"{name} is missing; nothing was exported; run `qcledger verify`.")
    try:
        content = read_plain(source, photos.FILED, most=photos.MOST_BYTES, follow=False)
    except BadInput as error:
        found = error.problems[0].found.strip("'")
        raise ChainBroken(
            f"{name} is {found}, not a plain file; nothing was exported; run `qcledger verify`."
        ) from None
    if sha256(content) != photo.sha256:
        raise ChainBroken(f"{name} was changed; nothing was exported; run `qcledger verify`.")
    write_durably(target, content)


def _read_again(folder: Path, written: Manifest, progress: Progress) -> None:
    """Refuse a folder whose files do not read as they were written."""
    for problem in manifest.changed(folder, written, progress):
        raise ChainBroken(f"The disk gives back something else than was written; nothing was exported: {problem}")
