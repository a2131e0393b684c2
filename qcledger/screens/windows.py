"""What one window holds that is not in the ledger, in a file of its own that the next start finds.

Two windows never write one file. A window that is gone -- left, closed, killed -- leaves its file behind, and the
next window of the same ledger takes over what stands in it.
"""

import hashlib
import json
import os
import re
import secrets
import sys
from collections.abc import Collection, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from threading import RLock
from typing import Any, Final

from qcledger.door import Identity
from qcledger.text import one_line


@dataclass(frozen=True, slots=True)
class Holding:
    """Something a window keeps beside the ledger in which a text stands.

    Parameters
    ----------
    name
        What the draft is of; empty for a save that did not reach the ledger.
    is_mine
        Whether the window itself keeps it, and not another one that is open.
    """

    name: str
    is_mine: bool

    @property
    def words(self) -> str:
        """What it is, and what becomes of it."""
        if not self.name:
            return "stays: a save that did not reach the ledger; the next start asks about it, and may leave it out"
        what = f"what was typed and not saved, {self.name}"
        if self.is_mine:
            return f"goes: {what}"
        return f"stays: {what}, in a window that is open: F7 there throws it away, or leave it and do this again"


class Window:
    """One window of one ledger.

    Parameters
    ----------
    folder
        Where windows keep their files; made when there is something to keep.

    Notes
    -----
    Until `claim` has said which ledger it is, everything is held in memory alone.
    """

    def __init__(self, folder: Path) -> None:
        self._root = folder
        self._lock = RLock()
        self._held: int | None = None
        self._path: Path | None = None
        self._identity: Identity | None = None
        self._is_gone = False
        self.drafts: dict[str, list[str]] = {}
        """Texts that were typed and not saved, by name; of several the last one counts, then the one before."""
        self.saves: list[dict[str, Any]] = []
        """Saves that did not reach the ledger before, oldest first; the tester is asked about them."""
        self.pending: list[dict[str, Any]] = []
        """Saves of this window that are not in the ledger yet."""

    @property
    def is_claimed(self) -> bool:
        """Whether it is known which ledger this is a window of."""
        return self._identity is not None

    def claim(self, identity: Identity) -> None:
        """Become a window of a ledger, and take over what windows of it left that are gone."""
        with self._lock:
            if self._identity is not None:
                return
            self._identity = identity
            folder = self._root / hashlib.sha256(identity.place.encode("utf-8", "surrogatepass")).hexdigest()[:16]
            self._path = folder / f"{secrets.token_hex(8)}.json"
            self._take_over(folder)
            if self.drafts or self.saves:
                self.write()

    def write(self, *, surely: bool = False) -> bool:
        """Write the file, or take it away when there is nothing to keep; say whether that was done.

        With `surely` it is on the disk before this returns, so that it outlives a loss of power too.
        """
        with self._lock:
            if self._path is None:
                return False
            try:
                if self.drafts or self.saves or self.pending:
                    self._write(self._path, surely=surely)
                else:
                    self._path.unlink(missing_ok=True)
            except OSError:
                return False
            return True

    def holding(self, texts: Collection[str], rows: Collection[str] = ()) -> list[Holding]:
        """Return what this window and the others of its ledger keep that is to go.

        Parameters
        ----------
        texts
            Every draft and save in which one of them stands, letter case aside.
        rows
            Ids: every draft that is named after one.
        """
        with self._lock:
            kept = [({"drafts": self.drafts, "saves": [*self.saves, *self.pending]}, True)]
            if self._path is not None:
                others = (path for path in sorted(self._path.parent.glob("*.json")) if path != self._path)
                read = ((path, _read(path)) for path in others)
                kept += [(one, _is_gone(path)) for path, one in read if one is not None and self._is_mine(one)]
            return [Holding(name, is_mine) for one, is_mine in kept for name in _names_holding(one, texts, rows)]

    def throw_away(self, texts: Collection[str], rows: Collection[str] = ()) -> list[Holding]:
        """Throw away every draft that is to go, as `holding` finds them, and return what stays.

        Drafts of windows that are gone are taken over first; an open one keeps its own.
        """
        with self._lock:
            if self._path is not None:
                self._take_over(self._path.parent)
            for name, drafts in list(self.drafts.items()):
                about = any(row in name for row in rows)
                self.drafts[name] = [text for text in drafts if not about and not _stands_in(text, texts)]
                if not self.drafts[name]:
                    del self.drafts[name]
            self.write(surely=True)
            return self.holding(texts, rows)

    def close(self) -> None:
        """Be gone: the next window may take over what is left, and what a page still writes as it goes."""
        with self._lock:
            self._is_gone = True
            if self._held is not None and self._path is not None:
                if not self._path.exists():
                    with suppress(OSError):
                        _lock_of(self._path).unlink(missing_ok=True)
                os.close(self._held)
                self._held = None

    def _write(self, path: Path, *, surely: bool) -> None:
        assert self._identity is not None
        path.parent.mkdir(parents=True, exist_ok=True)
        if self._held is None and not self._is_gone:
            self._held = _hold(_lock_of(path))
        kept = {
            "place": self._identity.place,
            "daybooks": sorted(self._identity.daybooks),
            "drafts": self.drafts,
            "saves": [*self.saves, *self.pending],
        }
        part = path.with_suffix(".part")
        with part.open("w", encoding="utf-8") as out:
            json.dump(kept, out, ensure_ascii=True)
            if surely:
                out.flush()
                os.fsync(out.fileno())
        part.replace(path)

    def _take_over(self, folder: Path) -> None:
        """Take what windows that are gone have left, and keep it before their files go."""
        with _held(folder) as gone:
            mine = [path for path, kept in gone if self._is_mine(kept)]
            left = [kept for path, kept in gone if path in mine]
            self._add(left)
            if mine and self.write(surely=True):
                for path in mine:
                    with suppress(OSError):
                        path.unlink()
                        _lock_of(path).unlink()

    def _is_mine(self, kept: dict[str, Any]) -> bool:
        """Say whether a file is of this ledger, and not of another that lay at the same place before."""
        assert self._identity is not None
        return kept.get("place") == self._identity.place and self._identity.daybooks >= set(kept.get("daybooks", ()))

    def _add(self, left: Sequence[dict[str, Any]]) -> None:
        """Put what was left, oldest first, before what this window holds itself."""
        here, self.drafts = self.drafts, {}
        for drafts in (*(kept["drafts"] for kept in left), here):
            for name, texts in drafts.items():
                stands = self.drafts.get(name, [])
                self.drafts[name] = [*(text for text in stands if text not in texts), *map(str, texts)]
        left_saves = [save for kept in left for save in kept["saves"]]
        self.saves = [save for n, save in enumerate(left_saves) if save not in left_saves[:n]] + self.saves


_ID: Final = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")
"""What a row is called in the names of drafts, and nobody reads."""


class _held:  # noqa: N801 - used as a context manager only
    """The files of windows that are gone, oldest first, each held so that no other window takes it as well."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._locks: list[int] = []

    def __enter__(self) -> list[tuple[Path, dict[str, Any]]]:
        return list(self._gone())

    def __exit__(self, *_: object) -> None:
        for lock in self._locks:
            os.close(lock)

    def _gone(self) -> Iterator[tuple[Path, dict[str, Any]]]:
        with suppress(OSError):
            for path in sorted(self._folder.glob("*.json"), key=lambda path: path.stat().st_mtime_ns):
                lock = _hold(_lock_of(path))
                if lock is not None:
                    self._locks.append(lock)
                    kept = _read(path)
                    if kept is not None:
                        yield path, kept


def _read(path: Path) -> dict[str, Any] | None:
    """Return what a file holds; None for one that this program did not write."""
    try:
        kept = json.loads(path.read_text(encoding="utf-8"))
        fits = isinstance(kept["drafts"], dict) and isinstance(kept["saves"], list) and isinstance(kept["place"], str)
        return kept if fits and all(isinstance(texts, list) for texts in kept["drafts"].values()) else None
    except (OSError, ValueError, TypeError, KeyError):
        return None


def _names_holding(kept: dict[str, Any], texts: Collection[str], rows: Collection[str]) -> Iterator[str]:
    """Yield the name of each draft that is to go, without ids; an empty one for a save that holds a text."""
    for name, drafts in kept["drafts"].items():
        if any(row in name for row in rows) or any(_stands_in(text, texts) for text in drafts):
            yield " ".join(word for word in name.split() if not _ID.fullmatch(word)) or "a draft"
    for save in kept["saves"]:
        if any(_stands_in(said, texts) for said in _texts_in(save)):
            yield ""


def _stands_in(draft: object, texts: Collection[str]) -> bool:
    """Say whether one of some texts stands in a draft, letter case and line breaks aside."""
    try:
        said = list(_texts_in(json.loads(str(draft))))
    except ValueError:
        said = [str(draft)]
    plain = [one_line(one).casefold() for one in (*said, str(draft))]
    return any(one_line(text).casefold() in one for text in texts for one in plain)


def _texts_in(value: object) -> Iterator[str]:
    """Yield every text in a value as JSON holds it."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict | list):
        for one in value.values() if isinstance(value, dict) else value:
            yield from _texts_in(one)


def _is_gone(path: Path) -> bool:
    """Say whether the window that wrote a file is gone."""
    lock = _hold(_lock_of(path))
    if lock is not None:
        os.close(lock)
    return lock is not None


def _lock_of(path: Path) -> Path:
    return path.with_suffix(".lock")


def _hold(path: Path) -> int | None:
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
