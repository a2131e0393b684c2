"""Findings of a ledger: asked for in one place, computed again only when the ledger has changed."""

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import cached_property, partial
from threading import Event
from typing import TYPE_CHECKING

from qcledger.findings import Finding, Findings, find, gather
from qcledger.findings.field import CriterionField
from qcledger.findings.finding import Stress
from qcledger.findings.labelfact import LabelFact
from qcledger.findings.papers import Papers
from qcledger.findings.pool import Pool, PoolQuestion
from qcledger.findings.pooled import Accused, Pooled
from qcledger.findings.repeats import grade_error, moved
from qcledger.findings.stock import BoughtPieces
from qcledger.findings.stress import Name, Worries, Worry, digest, stress
from qcledger.findings.trail import recurrence
from qcledger.ledger.progress import Progress, untold
from qcledger.records import Comparison, Maker, Photo, ReaderNote, Session, Sheet, TestedRow
from qcledger.report.cores import answers
from qcledger.report.criteria import criteria_of
from qcledger.report.labelfacts import facts_of_labels
from qcledger.report.said import Sayings
from qcledger.report.store import Store
from qcledger.stats.check import FloatArray

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

_Heads = Mapping[str, tuple[int, str]]


class Stopped(Exception):
    """Whoever asked for findings no longer wants them."""


class KeptFindings:
    """Findings by comparison, each kept for as long as the ledger's closing hashes stay the same.

    What the pooled model has answered meanwhile is taken in whenever findings are asked for.

    Not to be shared between threads; `stop` of one call may be set from any.
    """

    def __init__(self, store: Store | None = None) -> None:
        self._store = store or Store()
        self._read: dict[str | None, tuple[_Heads, WorkedOut]] = {}

    def findings(self, ledger: "Ledger", comparison: str | None = None, stop: Event | None = None) -> Findings:
        """Return the findings of one comparison by its id, or of everything tested.

        Raises
        ------
        Stopped
            Soon after `stop` was set.
        """
        return self.reading(ledger, comparison, stop).found

    def reading(self, ledger: "Ledger", comparison: str | None = None, stop: Event | None = None) -> "WorkedOut":
        """Return the findings with what has still to be worked out for them; parameters are those of `findings`."""
        heads = ledger.closing_hashes()
        if comparison in self._read and self._read[comparison][0] == heads:
            self._read[comparison][1].take_in()
        else:  # the stress checks that are kept are looked up next time: that takes longer than the counts
            self._read[comparison] = (heads, WorkedOut(ledger, comparison, self._store, stop))
        return self._read[comparison][1]


class WorkedOut:
    """The findings of one comparison, or of the whole ledger, as far as they are worked out.

    The plain counts are there at once. What the pooled model and the stress checks say is read from the store, and
    worked out by `work_out` where it is not there yet.

    Parameters
    ----------
    ledger
        Read once, here.
    comparison
        Its id; None for everything tested.
    store
        Where answers are kept.
    stop
        Set from elsewhere, it ends the reading with `Stopped`.
    """

    def __init__(self, ledger: "Ledger", comparison: str | None, store: Store, stop: Event | None = None) -> None:
        self._ledger, self._comparison = ledger, comparison
        self._store, self._stop = store, stop or Event()
        self._criterion_of = criteria_of(ledger)
        everything = ledger.tested_rows()
        go_on(self._stop)
        whole = self._evidence = gather(everything, self._criterion_of)
        if comparison is not None:
            go_on(self._stop)
            self._evidence = gather(ledger.tested_rows(comparison), self._criterion_of)
        go_on(self._stop)
        self._stock = BoughtPieces(tuple(ledger.pieces()), whole)
        self._error = grade_error(everything)
        self._papers = other_papers(ledger)
        self._recurring, self._notes = recurrence(whole), _notes(ledger)
        self._sayings = Sayings(ledger, self._notes, partial(go_on, self._stop))
        self.asked: dict[str, PoolQuestion] = {}
        self.worries: dict[Name, Worry] = {}
        self._stress: dict[Name, Stress] = {}
        self._digests: dict[str, str] = {}
        self.found = replace(self._find(), blind=blind_sessions(ledger, comparison))

    @property
    def open(self) -> int:
        """How many answers are still missing."""
        return len(self.asked) + len(self.worries)

    @cached_property
    def label_facts(self) -> tuple[LabelFact, ...]:
        """What labels say: read when it is first asked for, for it takes as long as the counts.

        The ledger has to be open still.
        """
        facts = facts_of_labels(self._ledger, self._evidence, everything=self._comparison is None)
        return tuple(self._sayings.beside_label(fact) for fact in facts)

    @property
    def whole(self) -> Findings:
        """The findings with the facts of labels."""
        return replace(self.found, label_facts=self.label_facts)

    def take_in(self) -> None:
        """Take in what the store has learnt since."""
        known = {key for key, asked in self.asked.items() if self._store.pooled(asked.key)}
        for name, worry in self.worries.items():
            if (found := self._store.stress(self._key(worry))) is not None:
                self._stress[name] = found
                known.add(name.criterion)
        if known:
            again = {(f.criterion.key, f.maker, f.format): f for f in self._find(known).findings}
            told = (again.get((f.criterion.key, f.maker, f.format), f) for f in self.found.findings)
            self.found = replace(self.found, findings=tuple(told))

    def _key(self, worry: Worry) -> str:
        if worry.criterion not in self._digests:
            go_on(self._stop)
            self._digests[worry.criterion] = f"{digest(worry.rows)} {self._error}"
        return worry.key(self._digests[worry.criterion])

    def work_out(
        self,
        only: Collection[str] | None = None,
        progress: Progress = untold,
        stop: Callable[[], bool] | None = None,
        *,
        processes: int = 1,
    ) -> None:
        """Work out what is missing and keep it, accusations first.

        Parameters
        ----------
        only
            Keys of the criteria that are wanted; None for every one.
        progress
            Told what is being worked on.
        stop
            Asked now and then; True ends the work, and what was not finished is not kept.
        processes
            Processes at most that answer side by side; more than one only from a program of ours (`cores.answers`).
        """
        self.take_in()
        if not self.open or only == ():
            return  # without loading the model
        from qcledger.findings.model import question

        halt = stop or self._stop.is_set
        asked = [one for key, one in self.asked.items() if only is None or key in only]
        asked.sort(key=lambda one: -len(one.suspects))
        told = answers([question(one.field, one.suspects, one.line) for one in asked], halt, processes)
        for _, (place, found) in zip(progress("Pooled model", asked), told, strict=False):
            self._keep(asked[place].key, found, halt)
        self.take_in()
        self._worry(only, progress, halt)

    def _worry(self, only: Collection[str] | None, progress: Progress, halt: Callable[[], bool]) -> None:
        from qcledger.findings.model import strength_left

        answers_: dict[str, FloatArray] = {}

        def strength(field: CriterionField, accused: Accused, held: Sequence[float]) -> float | None:
            return strength_left(field, accused, held, answers_)

        wanted = [one for one in self.worries.values() if only is None or one.criterion in only]
        for one in progress("Stress checks", wanted):
            if halt():
                break
            told = stress(one, self._criterion_of, strength=strength, moved=self._moved, stop=halt)
            self._keep(self._key(one), told, halt)
        self.take_in()

    def _moved(self, rows: Sequence[TestedRow]) -> Iterator[tuple[str, str, Sequence[TestedRow]]]:
        """Give rows with their grades moved by the tester's error, once enough hidden repeats have measured it."""
        return moved(rows, self._error) if self._error else iter(())

    def _keep(self, key: str, found: Pooled | Stress, halt: Callable[[], bool]) -> None:
        if not halt():
            self._store.put(key, found)

    def _find(self, among: Collection[str] | None = None) -> Findings:
        for known in among or ():
            self.asked.pop(known, None)
        self.worries = {name: one for name, one in self.worries.items() if name.criterion not in (among or ())}

        def kept(key: str) -> Pooled | None:
            go_on(self._stop)
            return self._store.pooled(key)

        pool = Pool(kept, Worries(self._stress))
        found = find(
            self._evidence,
            recurring=self._recurring,
            reader_notes=self._notes,
            pool=pool,
            stock=self._stock,
            papers=self._papers,
            among=among,
        )
        self.asked |= pool.missing
        self.worries |= pool.worries.missing
        return self._sayings.put(found)


def of_ledger(ledger: "Ledger", comparison: str | None = None, stop: Event | None = None) -> Findings:
    """Return the findings in a ledger; parameters and errors are those of `KeptFindings.findings`."""
    reading = WorkedOut(ledger, comparison, Store(), stop)
    reading.take_in()
    return reading.whole


def _notes(ledger: "Ledger") -> list[ReaderNote]:
    """Return what readers said and was not taken back, each of the one that its maker counts as."""
    from qcledger.bench.public.withdrawing import withdrawn
    from qcledger.ledger.identity import who_is_who

    known, gone = who_is_who(ledger), withdrawn(ledger, ReaderNote)
    notes = (note for note in ledger.rows(ReaderNote) if note.id not in gone)
    return [replace(note, maker=known.one(Maker.TABLE, note.maker)) for note in notes]


def blind_sessions(ledger: "Ledger", comparison: str | None = None) -> tuple[str, ...]:
    """Return the codes of the sessions that findings leave out because they are still blind."""
    open_ = ledger.rows(Session, closed_at=None)
    return tuple(sorted(one.code for one in open_ if one.is_blind and comparison in (None, one.comparison)))


def other_papers(ledger: "Ledger") -> dict[str, Papers]:
    """Return the papers of each session that is on other paper than its comparison's findings, by its id."""
    from qcledger.ledger.queries import reference_papers

    wanted = {row.id: row.reference_paper for row in ledger.rows(Comparison)}
    with ledger.reading() as connection:
        own = reference_papers(connection)
    sheets: dict[str, list[str]] = {}
    for sheet in sorted(ledger.rows(Sheet), key=lambda row: row.number):
        sheets.setdefault(sheet.session, []).append(sheet.paper)
    return {
        one.id: Papers(reference, ", ".join(dict.fromkeys(other)))
        for one in ledger.rows(Session)
        if (reference := own.get(one.id, wanted.get(one.comparison)))
        and (other := [paper for paper in sheets.get(one.id, ()) if paper != reference])
    }


def comparisons(ledger: "Ledger") -> list[tuple[str, str]]:
    """Return id and title of each comparison, the latest first."""
    rows = sorted(ledger.rows(Comparison), key=lambda row: (row.started_on, row.id), reverse=True)
    return [(row.id, row.title) for row in rows]


def observations_of(finding: Finding) -> list[str]:
    """Return the ids of the observations that a finding counts, those of faulty specimens first."""
    units = sorted((unit for lot in finding.lots for unit in lot.units), key=lambda unit: not unit.faulty)
    return [unit.row.observation for unit in units]


def photos_of(ledger: "Ledger", finding: Finding) -> list[Photo]:
    """Return the photos of the specimens and observations that a finding rests on, faulty specimens first."""
    units = sorted((unit for lot in finding.lots for unit in lot.units), key=lambda unit: not unit.faulty)
    by_row: dict[str | None, list[Photo]] = {}
    for photo in ledger.rows(Photo):
        by_row.setdefault(photo.observation or photo.specimen, []).append(photo)
    return [
        photo for unit in units for row in (unit.row.observation, unit.row.specimen) for photo in by_row.get(row, [])
    ]


def go_on(stop: Event) -> None:
    """Let work go on until `stop` is set.

    Raises
    ------
    Stopped
        When it is.
    """
    if stop.is_set():
        raise Stopped
