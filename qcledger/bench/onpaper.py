"""The paper of a comparison: its first sheet sets it, findings stay on it, sheets on other paper are kept apart."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from qcledger.records import Comparison, Session, Sheet
from qcledger.text import one_line

if TYPE_CHECKING:
    from qcledger.ledger import Ledger


@dataclass(frozen=True, slots=True)
class OnPaper:
    """A sheet's paper beside its comparison's.

    Parameters
    ----------
    comparison
        As it stands once the sheet is kept: with its reference paper.
    paper
        The sheet's, written as the comparison writes it.
    sets
        Whether this sheet gives the comparison its reference paper.
    """

    comparison: Comparison
    paper: str
    sets: bool

    @property
    def is_apart(self) -> bool:
        """Whether the sheet does not count towards findings."""
        return self.comparison.reference_paper not in (None, self.paper)

    @property
    def words(self) -> str:
        """What is said of it before the sheet is made; empty where it is on its comparison's paper, as the others."""
        if self.is_apart:
            return kept_apart(self.comparison.reference_paper or "", self.paper)
        return f"this sets the comparison's paper: {kept_apart(self.paper, 'other paper')}" if self.sets else ""


def kept_apart(reference: str, paper: str) -> str:
    """Return what becomes of sheets on a paper that is not the comparison's."""
    return f"findings stay on {reference}; sheets on {paper} are kept apart"


def on_paper(comparison: Comparison, paper: str, known: Mapping[str, str]) -> OnPaper:
    """Return what a sheet's paper means for its comparison.

    Parameters
    ----------
    comparison
        The sheet's, old or new.
    paper
        As it was typed; letter case and blanks aside it may be the comparison's own.
    known
        The paper of each comparison that has one, by its id, as `papers` returns it.
    """
    typed = one_line(paper)
    reference = known.get(comparison.id, typed)
    written = reference if reference.casefold() == typed.casefold() else typed
    settled = replace(comparison, reference_paper=reference) if reference else comparison
    return OnPaper(settled, written, settled != comparison)


def papers(ledger: "Ledger") -> dict[str, str]:
    """Return the paper of each comparison that has one, by the comparison's id.

    It is the reference paper, else that of the sheet begun first by the recorded times. Void sheets set none: where
    all are void the next one sets it, so that a slip of the first sheet's is put right by voiding it.
    """
    void, sheets = _void(ledger), defaultdict(list)
    for session, sheet in _in_time(ledger):
        sheets[session.comparison].append((session.id, sheet.paper))
    found = {}
    for comparison in ledger.rows(Comparison):
        begun = sheets[comparison.id]
        standing = [paper for session, paper in begun if session not in void]
        own = comparison.reference_paper if standing or not begun else None
        if paper := own or next(iter(standing), None):
            found[comparison.id] = paper
    return found


def lots(ledger: "Ledger") -> dict[str, str]:
    """Return the lot of each paper on the last sheet of it that names one, by the paper."""
    return {sheet.paper: sheet.paper_lot for _, sheet in _in_time(ledger) if sheet.paper_lot}


def _in_time(ledger: "Ledger") -> list[tuple[Session, Sheet]]:
    """Return every sheet with its session, the first begun first."""
    sessions = {one.id: one for one in ledger.rows(Session)}
    pairs = ((sessions[sheet.session], sheet) for sheet in ledger.rows(Sheet))
    return sorted(pairs, key=lambda pair: (pair[0].started_at, pair[0].id, pair[1].number))


def _void(ledger: "Ledger") -> frozenset[str]:
    from qcledger.ledger.queries import void_sessions

    with ledger.reading() as connection:
        return void_sessions(connection)
