"""What was asked, told and decided about a finding: shown beside it, and never counted."""

from dataclasses import dataclass

from qcledger.records import ReaderNote
from qcledger.rubric import Criterion
from qcledger.text import same_name


@dataclass(frozen=True, slots=True)
class DoubtedSession:
    """A session that control and repeats speak against and nobody has decided on.

    Parameters
    ----------
    code
        The session's.
    moved
        Titles of the criteria on which its control moved, as they stand within a sentence; none where it moved over
        its criteria together.
    """

    code: str
    moved: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SaidBeside:
    """What stands beside a finding.

    Parameters
    ----------
    asked
        Lines about questions to the maker, and what it answered.
    notes
        Lines about readers' notes.
    decided
        Lines about what was decided: kept private, to be tested again, corrected.
    private
        Why the finding is kept private; empty where it is not. No public face shows it.
    doubted
        Those of its sessions that are proposed to be voided, undecided.
    """

    asked: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    decided: tuple[str, ...] = ()
    private: str = ""
    doubted: tuple[DoubtedSession, ...] = ()

    @property
    def lines(self) -> tuple[str, ...]:
        """Every line: decisions first, then questions and answers, then notes."""
        return (*self.decided, *self.asked, *self.notes)


NOTHING_SAID = SaidBeside()
"""Where nothing was asked, told or decided."""


def concerns(note: ReaderNote, maker: str, format: str, criterion: Criterion) -> bool:  # noqa: A002 - the field's own name
    """Say whether a reader's note is about a maker by its id, a fault, and a format or none."""
    named = same_name(note.fault) in {same_name(criterion.key), same_name(criterion.title)}
    return named and note.maker == maker and note.format in (None, format)
