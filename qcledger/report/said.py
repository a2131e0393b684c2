"""What was asked, told and decided, put beside the findings it is about, in words for their tester."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from qcledger.bench.public.answers import Letter, letters
from qcledger.bench.public.asking import AskableFinding, AskingOffer
from qcledger.bench.public.deciding import About, decided, kept_private, others_on_privacy, united
from qcledger.bench.public.listed import answer_words
from qcledger.bench.public.withdrawing import withdrawn
from qcledger.bench.scales import renewed
from qcledger.errors import BadInput, bad
from qcledger.findings import Finding, Findings
from qcledger.findings.labelfact import LabelFact
from qcledger.findings.said import NOTHING_SAID, DoubtedSession, SaidBeside, concerns
from qcledger.findings.wording import to_ask
from qcledger.findings.wording_of_changes import changed_line
from qcledger.findings.wording_of_labels import label_sentence
from qcledger.findings.words import day, lower_first, plural
from qcledger.ledger.identity import who_is_who
from qcledger.records import Decision, Maker, MakerAnswer, Question, ReaderNote
from qcledger.records.finding_key import FindingKey
from qcledger.stats.moved import unheard
from qcledger.text import one_line
from qcledger.vocab import AnswerKind, DecisionKind, Standing

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

MOST_ASKED = 2000
"""Most characters of the words that a question keeps about one finding."""
_FIRM = (Standing.TO_CONFIRM, Standing.SETTLED)
_DECIDED: Mapping[DecisionKind, str] = {
    DecisionKind.RETEST: "To be tested again",
    DecisionKind.CORRECT: "Corrected",
}


def key_of(finding: Finding) -> FindingKey:
    """Return the key under which a finding is asked and decided about."""
    return FindingKey(finding.criterion.key, finding.maker, str(finding.format))


class Sayings:
    """Everything that was asked, told and decided in a ledger, read once.

    Parameters
    ----------
    ledger
        An open one.
    notes
        The readers' notes, each of the one its maker counts as.
    going_on
        Called before each session is looked at; what it raises ends the work.
    """

    def __init__(self, ledger: "Ledger", notes: Iterable[ReaderNote], going_on: Callable[[], None] = unheard) -> None:
        self._known = who_is_who(ledger)
        self._letters = letters(ledger)
        self._newer = renewed(ledger)
        self._decided = decided(ledger)
        self._notes = list(notes)
        self._corrected: dict[str, list[Decision]] = {}
        mine = ledger.own(Decision) - withdrawn(ledger, Decision)
        for one in ledger.rows(Decision):
            if one.kind is DecisionKind.CORRECT and one.id in mine:
                self._corrected.setdefault(one.subject, []).append(one)
        self._paints = kept_paints(ledger)
        self._doubted = _doubted(ledger, going_on)

    def put(self, findings: Findings) -> Findings:
        """Return findings with what stands beside each of them, and beside their makers."""
        if not (self._letters or self._decided or self._notes or self._paints or self._doubted):
            return findings
        told = tuple(
            replace(one, said=said) if (said := self.of(one)) != NOTHING_SAID else one for one in findings.findings
        )
        makers = {one.maker for one in findings.findings} | {one.maker for one in findings.traits}
        asked = {maker: lines for maker in sorted(makers) if (lines := self.of_maker(maker))}
        return replace(findings, findings=told, of_makers=asked)

    def of(self, finding: Finding) -> SaidBeside:
        """Return what stands beside a finding."""
        key = key_of(finding)
        private = kept_private(self._decided, key)
        notes = [note for note in self._notes if concerns(note, finding.maker, finding.format, finding.criterion)]
        return SaidBeside(
            asked=(*self._asked(finding.maker, key), *self._changed(finding, key)),
            notes=tuple(_of_notes(notes)),
            decided=tuple(self._of_decisions(key, private, finding)),
            private=one_line(private.reason) if private else "",
            doubted=tuple(self._doubted[code] for code in finding.trail.sessions if code in self._doubted)
            if self._doubted
            else (),
        )

    def beside_label(self, fact: LabelFact) -> LabelFact:
        """Return a fact of a label with what stands beside it."""
        graded = {grade.criterion.key: grade.criterion for grade in fact.grades}
        keys = [FindingKey(key, fact.maker, fact.format) for key in graded]
        kept = self._paints.get(fact.paint)
        private = kept or next(filter(None, (kept_private(self._decided, key) for key in keys)), None)
        notes = [
            note for one in graded.values() for note in self._notes if concerns(note, fact.maker, fact.format, one)
        ]
        decided_ = [_line(one.decision) for key in keys for one in _of_key(self._decided, key) if _is_told(one)]
        told = [f"Kept private since {day(private.on)}: {one_line(private.reason)}"] if private else []
        said = SaidBeside(
            asked=tuple(dict.fromkeys(line for key in keys for line in self._asked(fact.maker, key))),
            notes=tuple(_of_notes(notes)),
            decided=(*told, *decided_),
            private=one_line(private.reason) if private else "",
        )
        return replace(fact, said=said) if said != NOTHING_SAID else fact

    def of_maker(self, maker: str) -> tuple[str, ...]:
        """Return the questions to a maker and its answers, the oldest first."""
        return tuple(self._asked(maker, None))

    def _asked(self, maker: str, key: FindingKey | None) -> Iterator[str]:
        for one in self._letters:
            if self._known.one(Maker.TABLE, one.maker_id) == maker and (key is None or self._is_about(one, key)):
                yield letter_words(one)
                for table in (Question.TABLE, MakerAnswer.TABLE):
                    row = one.question if table == Question.TABLE else one.answer
                    yield from (_line(each) for each in self._corrected.get(row.id if row else "", ()))

    def _changed(self, finding: Finding, key: FindingKey) -> Iterator[str]:
        """Yield what was counted before and after each change that the maker spoke of."""
        for one in self._letters:
            answer = one.answer
            if answer is None or answer.kind is not AnswerKind.CHANGED:
                continue
            if self._known.one(Maker.TABLE, one.maker_id) == finding.maker and self._is_about(one, key):
                line = changed_line(finding.lots, answer.changed_on, answer.lot or "")
                if line:
                    yield line

    def _is_about(self, one: Letter, key: FindingKey) -> bool:
        """Say whether a question was about a finding; one that names none is about everything of its maker."""
        return one.question is None or not one.question.findings or key in self._keys(one.question)

    def _keys(self, question: Question) -> set[FindingKey]:
        found = set()
        for text in question.findings:
            try:
                key = FindingKey.read(text)
            except BadInput:  # of another program, which names findings otherwise
                continue
            found.add(united(self._known, key, self._newer))
        return found

    def _of_decisions(self, key: FindingKey, private: Decision | None, finding: Finding) -> Iterator[str]:
        if private:
            yield f"Kept private since {day(private.on)}: {one_line(private.reason)}"
        for paint, decision in self._paints.items():
            if any(lot.row.paint == paint for lot in finding.lots):
                name = next(lot.row.paint_name for lot in finding.lots if lot.row.paint == paint)
                yield f"Of {name} kept private since {day(decision.on)}: {one_line(decision.reason)}"
        for other in others_on_privacy(self._decided, key):
            one = other.decision
            keeps = "keeps this private" if one.kind is DecisionKind.HOLD_BACK else "does not keep this private"
            yield f"{other.whose} {keeps} since {day(one.on)}: {one_line(one.reason)} That changes nothing here."
        for about in _of_key(self._decided, key):
            if _is_told(about):
                yield _line(about.decision)


def _doubted(ledger: "Ledger", going_on: Callable[[], None]) -> dict[str, DoubtedSession]:
    """Return the sessions that are proposed to be voided and nobody has decided on, by their codes."""
    from qcledger.report.closing import titles_of, undecided

    found = undecided(ledger, going_on)
    titles = titles_of(ledger) if found else {}
    return {
        session.code: DoubtedSession(
            session.code, tuple(lower_first(titles.get(one.key, one.key)) for one in drift.beyond)
        )
        for session, drift in found
    }


def _of_key(found: Iterable[About], key: FindingKey) -> list[About]:
    """Return the decisions about a finding; of those to test again the last alone."""
    mine = [one for one in found if one.key == key]
    again = [one for one in mine if one.decision.kind is DecisionKind.RETEST]
    return [one for one in mine if one.decision.kind is not DecisionKind.RETEST or one is again[-1]]


def _is_told(about: About) -> bool:
    """Say whether a decision is one's own, and more than keeping private."""
    return about.decision.kind in _DECIDED and not about.whose


def _line(one: Decision) -> str:
    word = "For print" if one.kind is DecisionKind.CORRECT else "How"
    how = f" {word}: {one_line(one.how)}" if one.how else ""
    return f"{_DECIDED[one.kind]}, decided on {day(one.on)}: {one_line(one.reason)}{how}"


def letter_words(one: Letter) -> str:
    """Return a question and what came of it: ``Asked 2 November 2026 about 2 findings; answered ...``."""
    count = len(one.question.findings) if one.question else 0
    about = f" about {count} {plural(count, 'finding')}" if count else ""
    asked = f"Asked {day(one.asked_on)}{about}"
    by = f" by {day(one.answer_by)}" if one.answer_by else ""
    answer = one.answer
    if one.awaited or answer is None:
        return f"{asked}; an answer is awaited{by}."
    if answer.kind is AnswerKind.NONE:
        return f"{asked}; no answer{by}."
    on = f" {day(answer.answered_on)}" if answer.answered_on else ""
    return f"{asked}; answered{on}: {answer_words(answer)}"


def _of_notes(notes: list[ReaderNote]) -> Iterator[str]:
    if notes:
        whose = "1 reader's note" if len(notes) == 1 else f"{len(notes)} readers' notes"
        yield f"{whose}, self-selected, not counted; a reason to buy (because of a note)."
    for one in notes:
        lot = f", lot {one.lot_code}" if one.lot_code else ""
        said = f": {one_line(one.note)}" if one.note else ""
        yield f"{day(one.told_on)}{lot}{said}"


def kept_paints(ledger: "Ledger") -> dict[str, Decision]:
    """Return the last decision that keeps a paint private, by the id that it counts as."""
    from qcledger.ledger.decided import decisions
    from qcledger.records import Paint

    kinds = (DecisionKind.HOLD_BACK, DecisionKind.PUBLISH)
    with ledger.reading() as connection:
        rows = decisions(connection, Paint.TABLE, kinds=kinds)
    mine, known = ledger.own(Decision) if rows else frozenset(), who_is_who(ledger)
    last = {
        known.one(Paint.TABLE, one.subject): one for one in sorted(rows, key=lambda row: row.on) if one.id in mine
    }
    return {paint: one for paint, one in last.items() if one.kind is DecisionKind.HOLD_BACK}


# What a maker may be asked about


def may_be_asked(finding: Finding) -> bool:
    """Say whether something of a finding is to confirm or settled, as a question in words needs."""
    every = (finding.claim, *finding.exceptions)
    return any(claim is not None and claim.standing in _FIRM for claim in every)


def offer(findings: Iterable[Finding], labels: Iterable[LabelFact] = ()) -> AskingOffer:
    """Return a maker and what it may be asked about; `findings` and facts of `labels` are of one maker.

    Raises
    ------
    BadInput
        Where nothing of it is to confirm or settled, and nothing is held against a label.
    """
    given = list(findings)
    firm = [one for one in given if may_be_asked(one)]
    quoted = [one for fact in labels for one in _about_label(fact)]
    if not (firm or quoted):
        found = f"{given[0].standing}" if len(given) == 1 else "nothing to confirm or settled"
        why = "a finding that is to confirm or settled: an open one has no words to ask about"
        raise bad(given[0].maker_name if given else "maker", found, why)
    asked = [
        AskableFinding(key_of(one).text, f"{one.format}, {one.criterion.title}", to_ask(one, MOST_ASKED))
        for one in firm
    ]
    maker, name = (firm[0].maker, firm[0].maker_name) if firm else quoted[0][0]
    return AskingOffer(maker, name, (*asked, *(one for _, one in quoted)))


def _about_label(fact: LabelFact) -> Iterator[tuple[tuple[str, str], AskableFinding]]:
    """Yield what a maker may be asked about one print, with the maker; nothing where nothing is held against it."""
    graded = next(iter(fact.grades), None)
    if graded is not None and (told := label_sentence(fact)):
        key = FindingKey(graded.criterion.key, fact.maker, fact.format).text
        title = f"{fact.format}, label of {fact.paint_name}"
        yield (fact.maker, fact.maker_name), AskableFinding(key, title, told)
