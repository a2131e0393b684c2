"""How a finding is named in the record: by its criterion, its maker and its format, which outlive every count.

A finding is worked out anew whenever the ledger changes, so it is no row and has no id. What is asked or decided
about one is kept under these three. The maker stands by the id of its row: that follows a *same as* and a new name.
"""

from dataclasses import dataclass
from typing import Final, Self

from qcledger.errors import bad

_BETWEEN: Final = " | "
_FINDING: Final = "finding"


@dataclass(frozen=True, slots=True, order=True)
class FindingKey:
    """The key of a finding.

    Parameters
    ----------
    criterion
        The criterion's key.
    maker
        The id of a row of the maker.
    format
        What the paint comes in.
    """

    criterion: str
    maker: str
    format: str

    @property
    def text(self) -> str:
        """The key as `Question.findings` and `Statement.finding` hold it: ``criterion | maker's id | format``."""
        return _BETWEEN.join((self.criterion, self.maker, self.format))

    @property
    def subject_table(self) -> str:
        """What a `Decision` about the finding names as its table; its subject is the maker's id."""
        return _BETWEEN.join((_FINDING, self.criterion, self.format))

    @classmethod
    def read(cls, text: str) -> Self:
        """Return the key that a text holds.

        Raises
        ------
        BadInput
            When it holds none.
        """
        parts = tuple(text.split(_BETWEEN))
        if len(parts) != 3 or not all(parts):
            raise bad("finding", text, f"a criterion's key, a maker's id and a format, parted by '{_BETWEEN}'")
        return cls(*parts)

    @classmethod
    def decided(cls, subject_table: str, subject: str) -> Self | None:
        """Return the finding that a decision is about; None where it is about a row."""
        parts = subject_table.split(_BETWEEN)
        return cls(parts[1], subject, parts[2]) if len(parts) == 3 and parts[0] == _FINDING and all(parts) else None


def table_of(subject_table: str) -> str:
    """Return the table that the subject of a decision is a row of: about a finding, that of its maker."""
    return "maker" if FindingKey.decided(subject_table, "-") else subject_table


FINDING_TABLES: Final = f"{_FINDING}{_BETWEEN}"
"""How the `Decision.subject_table` of every decision about a finding begins."""
