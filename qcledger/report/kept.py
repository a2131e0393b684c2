"""Findings of a ledger: asked for in one place, computed again only when the ledger has changed."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import cache
from threading import Event
from typing import TYPE_CHECKING

from qcledger.findings import Finding, Findings, read
from qcledger.findings.field import Field
from qcledger.findings.finding import Check
from qcledger.findings.strength import Suspect, by_exchanging_lots
from qcledger.records import Comparison, Photo, ReaderNote, Session, TestedRow
from qcledger.rubric import Criterion

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

_Heads = Mapping[str, tuple[int, str]]


class Stopped(Exception):
    """Whoever asked for findings no longer wants them."""


class Kept:
    """Findings by comparison, each kept for as long as the ledger's closing hashes stay the same.

    Not to be shared between threads; `stop` of one call may be set from any.
    """

    def __init__(self) -> None:
        self._found: dict[str | None, tuple[_Heads, Findings]] = {}

    def findings(self, ledger: "Ledger", comparison: str | None = None, stop: Event | None = None) -> Findings:
        """Return the findings of one comparison by its id, or of everything tested.

        Raises
        ------
        Stopped
            Soon after `stop` was set.
        """
        heads = ledger.closing_hashes()
        if comparison not in self._found or self._found[comparison][0] != heads:
            self._found[comparison] = (heads, of_ledger(ledger, comparison, stop))
        return self._found[comparison][1]


def of_ledger(ledger: "Ledger", comparison: str | None = None, stop: Event | None = None) -> Findings:
    """Return the findings in a ledger; parameters and errors are those of `Kept.findings`."""
    wanted = stop or Event()

    @cache
    def criterion_of(rubric: str, key: str) -> Criterion:
        return ledger.rubric(rubric).criteria[key]

    def strength(field: Field, suspects: Sequence[Suspect], family: int) -> Sequence[Check]:
        _go_on(wanted)
        return by_exchanging_lots(field, suspects, family)

    rows = ledger.tested_rows(comparison)
    everything = rows if comparison is None else ledger.tested_rows()
    found = read(
        _while(wanted, rows),
        criterion_of,
        everything=_while(wanted, everything),
        reader_notes=ledger.rows(ReaderNote),
        strength=strength,
    )
    return replace(found, blind=blind_sessions(ledger, comparison))


def blind_sessions(ledger: "Ledger", comparison: str | None = None) -> tuple[str, ...]:
    """Return the codes of the sessions that findings leave out because they are still blind."""
    open_ = ledger.rows(Session, closed_at=None)
    return tuple(sorted(one.code for one in open_ if one.is_blind and comparison in (None, one.comparison)))


def comparisons(ledger: "Ledger") -> list[tuple[str, str]]:
    """Return id and title of each comparison, the latest first."""
    rows = sorted(ledger.rows(Comparison), key=lambda row: (row.started_on, row.id), reverse=True)
    return [(row.id, row.title) for row in rows]


def photos_of(ledger: "Ledger", finding: Finding) -> list[Photo]:
    """Return the photos of the specimens and observations that a finding rests on, faulty specimens first."""
    units = sorted((unit for lot in finding.lots for unit in lot.units), key=lambda unit: not unit.faulty)
    by_row: dict[str | None, list[Photo]] = {}
    for photo in ledger.rows(Photo):
        by_row.setdefault(photo.observation or photo.specimen, []).append(photo)
    return [
        photo for unit in units for row in (unit.row.observation, unit.row.specimen) for photo in by_row.get(row, [])
    ]


def _while(stop: Event, rows: Iterable[TestedRow]) -> Iterator[TestedRow]:
    for row in rows:
        _go_on(stop)
        yield row


def _go_on(stop: Event) -> None:
    if stop.is_set():
        raise Stopped
