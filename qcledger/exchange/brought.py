"""The ids of what one import brings in: those its rows had when they came in before, or new ones of this import.

A row that is a tester's own gets its id from the id of the import that brought it and from what tells the row from
the others of its sheet. So two sheets numbered from 1 never meet, whoever brought them in.
"""

import re
from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import TypeVar

from qcledger.exchange.draft import Draft
from qcledger.exchange.sheetfiles import KINDS
from qcledger.records import Decision, Import, Observation, Record, Specimen, Trial
from qcledger.records.minted import minted
from qcledger.text import same_name
from qcledger.vocab import DecisionKind

R = TypeVar("R", bound=Record)
Name = tuple[str, ...]
"""What a row is and what tells it from others of its sheet."""

NAMELESS: Name = ()
"""Stands for whatever version 0.1.0 brought in: its ids were made from the rows alone, without an import."""

_RESULTS = (Trial, Observation)

SHEET_OF = ", sheet "
"""Stands between a file's name and its sheet's, where an import is called by both."""
_ENDING = re.compile(rf"({'|'.join(map(re.escape, KINDS))})(?=$|{SHEET_OF})")


def same_sheet(name: str) -> str:
    """Return the form in which two names of one sheet are equal: case, blanks and the file's ending do not count."""
    return _ENDING.sub("", same_name(name))


class Brought:
    """Finds rows that an import brought in before, and makes ids for those it did not.

    Parameters
    ----------
    draft
        Where rows are looked up.
    record
        The import that is made now.
    """

    def __init__(self, draft: Draft, record: Import) -> None:
        self._draft = draft
        self.record = record
        self.before: list[Name] = []
        """The imports whose rows may be those of this one: the id of each, or `NAMELESS`."""
        self._made: dict[Name, dict[Name, str]] = defaultdict(dict)
        self._last: tuple[type[Record], Name, str] | None = None

    def fetch(self, kind: type[Record], names: Iterable[Name], imports: Sequence[Name] | None = None) -> None:
        """Look up, in few steps, the rows that `find` and `subject` will be asked for."""
        names = list(names)
        for one in self.before if imports is None else imports:
            made = self._made[one]
            made.update((name, _id(name, one)) for name in names if name not in made)
            self._draft.fetch(kind, [made[name] for name in names])

    def find(self, kind: type[R], name: Name, one: Name) -> R | None:
        """Return the row of this name that one import brought in, or None; never another tester's."""
        row = self._draft.get(kind, self._made[one].get(name) or _id(name, one))
        return None if row is None or (one == NAMELESS and not self._draft.is_own(row)) else row

    def standing(self, kind: type[R], name: Name) -> R | None:
        """Return the row of this name, brought in before or planned now, or None."""
        return self._draft.get(kind, self.subject(kind, name))

    def subject(self, kind: type[Record], name: Name) -> str:
        """Return the id of a row: the one it came in with before, or one made from this import."""
        if self._last is None or self._last[:2] != (kind, name):  # of one row it is asked several times in a row
            self._last = (kind, name, self._subject(kind, name))
        return self._last[2]

    def _subject(self, kind: type[Record], name: Name) -> str:
        for one in self.before:
            subject = self._made[one].get(name) or _id(name, one)
            if kind in _RESULTS and one[:1] and one[0] in self._draft.imports_out:
                continue  # it was taken back: the same piece is tested anew
            if self._draft.is_redacted(kind, subject) or self.find(kind, name, one) is not None:
                return subject
        return self._draft.mint(kind, _id(name, (self.record.id,)))

    def back(self, specimen: Specimen) -> Decision:
        """Return the decision that a piece taken out with an import is there again, brought in with this one."""
        return Decision(
            id=self._draft.ledger.new_id(),
            kind=DecisionKind.REINSTATE,
            subject_table=Specimen.TABLE,
            subject=specimen.id,
            by=self._draft.daybook.tester,
            on=self._draft.ledger.day(),
            reason=f"brought in again with {self.record.name}",
        )


def _id(name: Name, one: Name) -> str:
    table, *key = name
    return minted(table, *one, *key)
