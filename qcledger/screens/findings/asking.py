"""What the pages of findings ask the desk for; everything here runs in the reading thread."""

import os
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from qcledger.records.finding_key import FindingKey

if TYPE_CHECKING:
    from threading import Event

    from qcledger.door import Place as Where
    from qcledger.findings import Finding
    from qcledger.findings.labelfact import LabelFact, LabelKey
    from qcledger.ledger import Ledger
    from qcledger.report.beside import Beside
    from qcledger.report.board import Board
    from qcledger.report.kept import KeptFindings
    from qcledger.report.labels_text import LabelLine


Terminal = tuple[str | None, Mapping[str, str]]
"""The encoding of a terminal, and the environment that it was told."""


@dataclass(frozen=True, slots=True)
class View:
    """What the page is about: a comparison's id or all; a criterion's key, a maker's id, labels alone, or none."""

    comparison: str | None = None
    criterion: str | None = None
    maker: str | None = None
    labels: bool = False


@dataclass(frozen=True, slots=True)
class CellPlace:
    """One cell: a criterion's key, a maker's id (None for all makers together), a format."""

    criterion: str
    maker: str | None
    format: str


@dataclass(frozen=True, slots=True)
class Shown:
    """A board with what may be chosen instead, the width of its strips, and how many answers are still missing."""

    board: "Board"
    comparison: str
    criteria: list[tuple[str, str]]
    comparisons: list[tuple[str, str]]
    width: int
    open: int = 0


def this_terminal() -> Terminal:
    """Return what tells whether the terminal has shades: its encoding, and what it was told."""
    stream = sys.__stderr__ or sys.__stdout__
    return stream.encoding if stream else None, os.environ


def look(
    kept: "KeptFindings | None", view: View, width: int, terminal: Terminal, stop: "Event", ledger: "Ledger"
) -> "tuple[KeptFindings, Shown]":
    """Return what `view` shows, computed again if the ledger has changed."""
    from qcledger.report.board import BoardScope, board_of, criteria_of
    from qcledger.report.kept import KeptFindings, comparisons
    from qcledger.report.strips import ink_of

    kept = kept or KeptFindings()
    reading = kept.reading(ledger, view.comparison, stop)
    found = reading.found
    known = comparisons(ledger)
    board = board_of(found, BoardScope(view.criterion, view.maker), width, ink_of(*terminal))
    title = dict(known).get(view.comparison or "", "all comparisons")
    return kept, Shown(board, title, criteria_of(found), known, width, reading.open)


def work_beside(
    beside: "Beside | None",
    kept: "KeptFindings",
    comparison: str | None,
    place: "Callable[[], Where]",
    ledger: "Ledger",
) -> "Beside":
    """Have what is missing worked out in a process beside the pages."""
    from qcledger.report.beside import Beside

    mine = beside or Beside()
    mine.begin(place(), comparison, kept.reading(ledger, comparison))
    return mine


def labels_in(kept: "KeptFindings", view: View, ledger: "Ledger") -> "list[LabelLine]":
    """Return the lines about labels that `view` shows: those that something is held against, or each of them."""
    from qcledger.report.labels_text import lines_on_board

    facts = kept.reading(ledger, view.comparison).label_facts
    mine = [fact for fact in facts if view.maker in (None, fact.maker)]
    return lines_on_board(mine, full=view.labels or view.maker is not None)


def label_at(
    kept: "KeptFindings | None", comparison: str | None, key: "LabelKey", ledger: "Ledger"
) -> "LabelFact | None":
    """Return one print of a label; None when there is none any more."""
    from qcledger.report.kept import KeptFindings

    facts = (kept or KeptFindings()).reading(ledger, comparison).label_facts
    return next((fact for fact in facts if fact.key == key), None)


def label_key_at(
    kept: "KeptFindings | None", comparison: str | None, place: CellPlace, ledger: "Ledger"
) -> tuple[FindingKey, str] | None:
    """Return key and title of what a maker's labels of a format were graded on; None where they were not."""
    from qcledger.report.kept import KeptFindings

    whole = (kept or KeptFindings()).reading(ledger, comparison).whole
    facts = whole.only(criterion=place.criterion, maker=place.maker, format=place.format).label_facts
    for fact in facts:
        title = f"{fact.maker_name}, {fact.format}, {whole.criteria[place.criterion].title}"
        return FindingKey(place.criterion, fact.maker, fact.format), title
    return None


def finding_at(
    kept: "KeptFindings | None", comparison: str | None, place: CellPlace, ledger: "Ledger"
) -> "Finding | None":
    """Return the finding of one cell; None when there is none any more."""
    from qcledger.report.kept import KeptFindings

    found = (kept or KeptFindings()).findings(ledger, comparison)
    told = found.only(criterion=place.criterion, maker=place.maker, format=place.format).findings
    return told[0] if told else None
