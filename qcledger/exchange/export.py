"""Writes a whole ledger as an exchange folder."""

import os
import shutil
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from qcledger.errors import BadInput, ChainBroken, LedgerUnavailable, bad
from qcledger.exchange import codec, csvfile, manifest
from qcledger.exchange.manifest import Kept, Manifest
from qcledger.files import read_plain
from qcledger.ledger import Ledger, photos
from qcledger.ledger.chain import sha256
from qcledger.ledger.disk import sync_folder, write_durably
from qcledger.ledger.progress import Progress, untold
from qcledger.records import TABLES, Entry, Photo, Record, Redaction, Session, columns

_TRIES = 5


@dataclass(frozen=True, slots=True)
class _Content:
    """All of a ledger but the photos, as it was at one moment."""

    closing: Mapping[str, tuple[int, str]]
    entries: Sequence[Entry]
    tables: Mapping[type[Record], Sequence[Record]]


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
        When a photo is missing or is not the one that was filed.
    LedgerUnavailable
        When the folder cannot be written, or somebody else keeps writing to the ledger.
    """
    folder = folder.absolute()
    _refuse_occupied(folder, force)
    _refuse_blind(ledger)
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


def _refuse_blind(ledger: Ledger) -> None:
    for session in ledger.rows(Session, closed_at=None):
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
    content = _content(ledger)
    files = {manifest.ENTRIES: _write_rows(folder / manifest.ENTRIES, Entry, content.entries)}
    for kind, rows in progress("Writing tables", list(content.tables.items())):
        files[f"{kind.TABLE}.csv"] = _write_rows(folder / f"{kind.TABLE}.csv", kind, rows)
    files |= _copy_photos(ledger, content, folder, progress)
    written = Manifest(files, content.closing)
    write_durably(folder / manifest.NAME, written.text().encode())
    return written


def _content(ledger: Ledger) -> _Content:
    """Read the ledger until nobody wrote to it meanwhile."""
    for _ in range(_TRIES):
        before = dict(ledger.closing_hashes())
        entries = sorted(ledger.entries(), key=lambda entry: (entry.daybook, entry.seq))
        tables = {kind: sorted(ledger.rows(kind), key=lambda row: row.id) for kind in TABLES.values()}
        if dict(ledger.closing_hashes()) == before:
            return _Content(before, entries, tables)
    raise LedgerUnavailable("The ledger is being written to; nothing was exported; try again.")


def _write_rows(path: Path, kind: type[Record] | type[Entry], rows: Sequence[Record | Entry]) -> Kept:
    header = [column.name for column in columns(kind)]
    content = "".join(csvfile.line(cells) for cells in [header, *map(codec.cells, rows)]).encode()
    write_durably(path, content)
    return Kept(sha256(content), len(rows))


def _copy_photos(ledger: Ledger, content: _Content, folder: Path, progress: Progress) -> dict[str, Kept]:
    """Copy each photo that was not redacted, once."""
    (folder / manifest.PHOTOS).mkdir()
    gone = {row.photo for row in content.tables[Redaction] if isinstance(row, Redaction)}
    kept = {row.sha256: row for row in content.tables[Photo] if isinstance(row, Photo) and row.sha256 not in gone}
    names = {}
    for photo in progress("Copying photos", list(kept.values())):
        name = f"{manifest.PHOTOS}/{photos.photo_name(photo.sha256, photo.kind)}"
        _copy(ledger.photo_path(photo), folder / name, photo)
        names[name] = Kept(photo.sha256)
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
