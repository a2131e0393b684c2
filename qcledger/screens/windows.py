"""What one window holds that is not in the ledger, in a file of its own that the next start finds.

Two windows never write one file. A window that is gone -- left, closed, killed -- leaves its file behind, and the
next window of the same ledger takes over what stands in it.
"""

import hashlib
import os
import re
import secrets
from collections.abc import Collection, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from threading import RLock
from typing import Any, Final

from qcledger.door import LedgerIdentity
from qcledger.screens import windowfiles
from qcledger.screens.sought import Sought

_ID: Final = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")
"""What a row is called in the names of drafts, and nobody reads."""


@dataclass(frozen=True, slots=True)
class Holding:
    """Something that is kept beside the ledger and in which a text stands.

    Parameters
    ----------
    what
        What it is.
    stays
        Why it stays, and what to do; empty for what goes.
    """

    what: str
    stays: str = ""

    @property
    def words(self) -> str:
        """What it is, and what becomes of it."""
        return f"stays: {self.what}{self.stays}" if self.stays else f"goes: {self.what}"


_UNREADABLE: Final = "a file beside the ledger that cannot be read"
_SAVE: Final = Holding("a save that did not reach the ledger", "; the next start asks about it, and may leave it out")
_OPEN: Final = ", in a window that is open: F7 there throws it away, or leave it and do this again"
_UNWRITTEN: Final = "; its file could not be written: do this again"


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
        self._identity: LedgerIdentity | None = None
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

    def claim(self, identity: LedgerIdentity) -> None:
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
        """Return what this window and the others of its ledger keep that is to go, and what may hold it and stays.

        Parameters
        ----------
        texts
            Every draft and save in which one of them stands, letter case aside.
        rows
            Ids of rows whose notes go as a whole: every draft that is named after one. A text then counts only where
            it is all that was typed in a field.
        """
        sought = Sought(texts, rows)
        with self._lock:
            here = list(_found({"drafts": self.drafts, "saves": [*self.saves, *self.pending]}, sought))
            if self._path is None:
                return here
            files = windowfiles.files_of(self._path.parent)
            beside = [one for path in files if path != self._path for one in self._found_in(path, sought)]
            unwritten = [one for one in self._found_in(self._path, sought) if one not in here]
            return [*here, *(replace(one, stays=one.stays or _UNWRITTEN) for one in unwritten), *beside]

    def throw_away(self, texts: Collection[str], rows: Collection[str] = ()) -> tuple[list[Holding], list[Holding]]:
        """Throw away every draft that is to go, as `holding` finds them; return what went and what stays.

        Drafts of windows that are gone are taken over first; an open one keeps its own. What is still on the disk
        after that stays, whatever stood in the way.
        """
        sought = Sought(texts, rows)
        with self._lock:
            if self._path is not None:
                self._take_over(self._path.parent)
            before = self.holding(texts, rows)
            for name, drafts in list(self.drafts.items()):
                self.drafts[name] = [text for text in drafts if not sought.in_draft(name, text)]
                if not self.drafts[name]:
                    del self.drafts[name]
            self.write(surely=True)
            stays = [replace(one, stays=one.stays or _UNWRITTEN) for one in self.holding(texts, rows)]
            return [one for one in before if not one.stays and replace(one, stays=_UNWRITTEN) not in stays], stays

    @property
    def damaged(self) -> list[Path]:
        """Files of windows of this ledger that cannot be read, and are kept as they are."""
        files = windowfiles.files_of(self._path.parent) if self._path is not None else []
        left = [path for path in files if path.suffix == ".json" and windowfiles.read(path) is None]
        return [path for path in left if path.exists()]

    def _found_in(self, path: Path, sought: Sought) -> list[Holding]:
        """Return what of a file is to go, and why it stays; the whole file, where it cannot be read."""
        kept = windowfiles.read(path) if path.suffix == ".json" else None
        if kept is not None:
            found = list(_found(kept, sought)) if self._is_mine(kept) else []
            is_gone = not found or path == self._path or windowfiles.is_gone(path)
            return found if is_gone else [replace(one, stays=one.stays or _OPEN) for one in found]
        bytes_of = windowfiles.raw(path)
        may_hold = bytes_of is not None and (not bytes_of or sought.in_raw(bytes_of))
        if not may_hold or (path.suffix == ".part" and not windowfiles.is_gone(path)):
            return []
        return [Holding(_UNREADABLE, f" and may hold it; remove it if you do not need it: {path}")]

    def close(self) -> None:
        """Be gone: the next window may take over what is left, and what a page still writes as it goes."""
        with self._lock:
            self._is_gone = True
            if self._held is not None and self._path is not None:
                if not self._path.exists():
                    with suppress(OSError):
                        windowfiles.lock_of(self._path).unlink(missing_ok=True)
                os.close(self._held)
                self._held = None

    def _write(self, path: Path, *, surely: bool) -> None:
        assert self._identity is not None
        path.parent.mkdir(parents=True, exist_ok=True)
        if self._held is None and not self._is_gone:
            self._held = windowfiles.hold(windowfiles.lock_of(path))
        kept = {
            "place": self._identity.place,
            "daybooks": sorted(self._identity.daybooks),
            "drafts": self.drafts,
            "saves": [*self.saves, *self.pending],
        }
        windowfiles.write(path, kept, surely=surely)

    def _take_over(self, folder: Path) -> None:
        """Take what windows that are gone have left, and keep it before their files go."""
        with windowfiles.HeldFiles(folder) as gone:
            mine = [path for path, kept in gone if self._is_mine(kept)]
            left = [kept for path, kept in gone if path in mine]
            self._add(left)
            if mine and self.write(surely=True):
                for path in mine:
                    with suppress(OSError):
                        path.unlink()
                        windowfiles.lock_of(path).unlink()

    def _is_mine(self, kept: dict[str, Any]) -> bool:
        """Say whether a file is of this ledger, and not of another that lay at the same place before."""
        assert self._identity is not None
        return kept["place"] == self._identity.place and self._identity.daybooks >= set(kept["daybooks"])

    def _add(self, left: Sequence[dict[str, Any]]) -> None:
        """Put what was left, oldest first, before what this window holds itself."""
        here, self.drafts = self.drafts, {}
        for drafts in (*(kept["drafts"] for kept in left), here):
            for name, texts in drafts.items():
                stands = self.drafts.get(name, [])
                self.drafts[name] = [*(text for text in stands if text not in texts), *texts]
        left_saves = [save for kept in left for save in kept["saves"]]
        self.saves = [save for n, save in enumerate(left_saves) if save not in left_saves[:n]] + self.saves


def _found(kept: dict[str, Any], sought: Sought) -> Iterator[Holding]:
    """Yield each draft that is to go, named without ids, and each save that holds a text."""
    for name, drafts in kept["drafts"].items():
        if any(sought.in_draft(name, text) for text in drafts):
            words = " ".join(word for word in name.split() if not _ID.fullmatch(word)) or "a draft"
            yield Holding(f"what was typed and not saved, {words}")
    for save in kept["saves"]:
        if sought.in_save(save):
            yield _SAVE
