"""What people write over columns and in them: the words of the file at hand."""

from qcledger.rubric import columnwords
from qcledger.rubric.columnwords import ColumnWords, plain
from qcledger.settings import reference_files

__all__ = ["ColumnWords", "column_words", "plain"]


def column_words() -> ColumnWords:
    """Return the words of the file at hand, the tester's own where there is one.

    Raises
    ------
    BadInput
        With file, line, what was found and what is allowed, for a file that cannot be read.
    """
    return columnwords.load(reference_files()["columnwords"])
