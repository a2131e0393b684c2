"""The files that windows keep beside a ledger: whose they are, and what stands in them."""

import json
import os
import sys
from collections.abc import Iterator
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import Any

from qcledger.screens.sought import decoded


class HeldFiles:
    """The files of windows that are gone, oldest first, each held so that no other window takes it as well.

    Parameters
    ----------
    folder
        Where the windows of a ledger keep their files. What a window that is gone was just writing is removed.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._locks: list[int] = []

    def __enter__(self) -> list[tuple[Path, dict[str, Any]]]:
        return list(self._gone())

    def __exit__(self, *_: object) -> None:
        for lock in self._locks:
            os.close(lock)

    def _gone(self) -> Iterator[tuple[Path, dict[str, Any]]]:
        for path in sorted({path.with_suffix(".json") for path in files_of(self._folder)}, key=_written_at):
            with suppress(OSError):
                lock = hold(lock_of(path))
                if lock is None:
                    continue
                self._locks.append(lock)
                part_of(path).unlink(missing_ok=True)
                if (kept := read(path)) is not None:
                    yield path, kept
                elif not path.exists():
                    lock_of(path).unlink()


def files_of(folder: Path) -> list[Path]:
    """Return the files of the windows of a ledger, and those that were being written when one went."""
    with suppress(OSError):
        return sorted(path for path in folder.iterdir() if path.suffix in (".json", ".part") and path.is_file())
    return []


def read(path: Path) -> dict[str, Any] | None:
    """Return what a file holds; None for one that this program did not write so, or that is not there."""
    with suppress(OSError, UnicodeDecodeError):
        kept = decoded(path.read_text(encoding="utf-8"))
        return kept if kept is not None and _is_kept(kept) else None
    return None


def raw(path: Path) -> bytes | None:
    """Return the bytes of a file, none where they cannot be read; None where there is no file."""
    try:
        return path.read_bytes()
    except FileNotFoundError:
        return None
    except OSError:
        return b""


def write(path: Path, kept: dict[str, Any], *, surely: bool) -> None:
    """Write a file whole or not at all; raises OSError."""
    part = part_of(path)
    try:
        with part.open("w", encoding="utf-8") as out:
            json.dump(kept, out, ensure_ascii=True)
            if surely:
                out.flush()
                os.fsync(out.fileno())
        part.replace(path)
    except OSError:
        with suppress(OSError):
            part.unlink(missing_ok=True)
        raise


def _is_kept(kept: dict[str, Any]) -> bool:
    drafts, saves = kept.get("drafts"), kept.get("saves")
    if not (isinstance(kept.get("place"), str) and isinstance(drafts, dict) and isinstance(saves, list)):
        return False
    return _are_texts(kept.get("daybooks")) and all(map(_are_texts, drafts.values())) and all(map(_is_save, saves))


def _is_save(save: Any) -> bool:
    """Say whether a value is a save as `unsaved.Save.kept` returns it."""
    try:
        datetime.fromisoformat(save["at"])
        return isinstance(save["notes"], list) and all(map(_is_note, save["notes"]))
    except (TypeError, KeyError, ValueError):
        return False


def _is_note(note: Any) -> bool:
    if "photo" in note:
        shown = note["shows"].values() if isinstance(note["shows"], dict) else [note]
        return isinstance(note["photo"], str) and all(one is None or isinstance(one, str) for one in shown)
    bodies = [decoded(body) for kind, body in note["records"] if isinstance(kind, str)]
    whole = None not in bodies and len(bodies) == len(note["records"])
    return whole and isinstance(note["reason"], str) and _are_texts(note["numbered"])


def _are_texts(value: Any) -> bool:
    return isinstance(value, list) and all(isinstance(one, str) for one in value)


def _written_at(path: Path) -> int:
    with suppress(OSError):
        return path.stat().st_mtime_ns
    return 0


def is_gone(path: Path) -> bool:
    """Say whether the window that wrote a file is gone, or left it where nothing can be held."""
    try:
        lock = hold(lock_of(path))
    except OSError:
        return True
    if lock is not None:
        os.close(lock)
    return lock is not None


def lock_of(path: Path) -> Path:
    """Return the file that a window holds for as long as it is there."""
    return path.with_suffix(".lock")


def part_of(path: Path) -> Path:
    """Return the file that becomes another once it is written whole."""
    return path.with_suffix(".part")


def hold(path: Path) -> int | None:
    """Return the file's handle, locked for as long as it is open, or None when another window holds it."""
    handle = os.open(path, os.O_WRONLY | os.O_CREAT, 0o600)
    try:
        if sys.platform == "win32":
            import msvcrt

            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        os.close(handle)
        return None
    return handle
