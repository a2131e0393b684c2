"""A rubric file that somebody is editing: its last good version, and what is wrong with it as it stands now."""

from pathlib import Path

from qcledger.errors import QcledgerError
from qcledger.rubric.build import load
from qcledger.rubric.model import Rubric


class WatchedRubric:
    """A file that is read again when it was changed.

    Parameters
    ----------
    path
        The file.

    Attributes
    ----------
    good
        The last version that could be read; None before there was one.
    refused
        Why the file as it stands is refused, in one line; empty where it can be used.
    changed
        Keys of the criteria that are new or other than in the good version before, in the order of the file.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.good: Rubric | None = None
        self.refused = ""
        self.changed: tuple[str, ...] = ()
        self._stood: tuple[int, int] | None = None
        self._looked = False

    def look(self) -> bool:
        """Read the file if it is another than at the last look, and say whether it is."""
        stands = self._stands()
        if self._looked and stands == self._stood:
            return False
        self._looked, self._stood = True, stands
        before = self.good
        try:
            self.good, self.refused = load(self.path), ""
        except QcledgerError as refused:
            self.refused = refused.line()
        if self.good is not None and before is not None and not self.refused:
            old = before.criteria
            self.changed = tuple(key for key, one in self.good.criteria.items() if old.get(key) != one)
        return True

    def _stands(self) -> tuple[int, int] | None:
        """Return when the file was written and its size in bytes; None where it is gone."""
        try:
            found = self.path.stat()
        except OSError:
            return None
        return found.st_mtime_ns, found.st_size
