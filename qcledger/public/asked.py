"""What makers were asked and said for print, as the public reads it: days, kind, and the answer uncut."""

from collections.abc import Callable, Iterable, Iterator
from typing import TYPE_CHECKING

from qcledger.bench.public.answers import Letter, letters
from qcledger.bench.public.deciding import decided, kept_private
from qcledger.errors import BadInput
from qcledger.findings.words import day
from qcledger.ledger.identity import who_is_who
from qcledger.public.view import PublicAsking
from qcledger.records import Maker, Question
from qcledger.records.finding_key import FindingKey
from qcledger.vocab import AnswerKind, DecisionKind

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.ledger.identity import Identity


def asking_line(one: Letter) -> str:
    """Return when a maker was asked, and what came of it; not about how much, for that may be more than is public."""
    asked = f"Asked {day(one.asked_on)}"
    by = f" by {day(one.answer_by)}" if one.answer_by else ""
    answer = one.answer
    if one.awaited or answer is None:
        return f"{asked}; an answer is awaited{by}."
    if answer.kind is AnswerKind.NONE:
        return f"{asked}; no answer{by}."
    on = f" {day(answer.answered_on)}" if answer.answered_on else ""
    since = f" {day(answer.changed_on)}" if answer.changed_on else ""
    lot = f" (lot {answer.lot})" if answer.lot else ""
    kind = f": {answer.kind}{since}{lot}" if answer.kind and answer.kind is not AnswerKind.OTHER else ""
    return f"{asked}; answered{on}{kind}."


class Askings:
    """Every question of this tester to a maker and what came of it, looked up by finding."""

    def __init__(self, ledger: "Ledger") -> None:
        self._known = who_is_who(ledger)
        self._letters = letters(ledger)

    def about(self, key: FindingKey) -> tuple[PublicAsking, ...]:
        """Return what the maker of a finding was asked about it, the oldest first."""
        return tuple(_public(one) for one in self._letters if self._is_about(one, key))

    def of_maker(self, maker: str) -> tuple[Letter, ...]:
        """Return the questions to a maker by its id, the oldest first."""
        return tuple(one for one in self._letters if self._known.one(Maker.TABLE, one.maker_id) == maker)

    def _is_about(self, one: Letter, key: FindingKey) -> bool:
        """Say whether a question was about a finding; one that names none is about everything of its maker."""
        if self._known.one(Maker.TABLE, one.maker_id) != key.maker:
            return False
        return one.question is None or not one.question.findings or key in set(_keys(self._known, one.question))


def _public(one: Letter) -> PublicAsking:
    said = one.answer.answer if one.answer else ""
    return PublicAsking(one.maker, one.asked_on, asking_line(one), said, one.awaited, one.answer_by)


def _keys(known: "Identity", question: Question) -> Iterator[FindingKey]:
    for text in question.findings:
        try:
            key = FindingKey.read(text)
        except BadInput:  # of another program, which names findings otherwise
            continue
        yield FindingKey(key.criterion, known.one(Maker.TABLE, key.maker), key.format)


def kept(ledger: "Ledger") -> frozenset[FindingKey]:
    """Return the findings that this tester keeps private."""
    found = decided(ledger)
    return frozenset(one.key for one in found if kept_private(found, one.key) is not None)


def released(ledger: "Ledger", asked: Callable[[FindingKey], Iterable[PublicAsking]]) -> frozenset[FindingKey]:
    """Return the findings that this tester said may be published, last of what he decided, after the maker was asked.

    What may concern health is told of no other.
    """
    last = {one.key: one.decision.kind for one in decided(ledger) if not one.whose}
    return frozenset(key for key, kind in last.items() if kind is DecisionKind.PUBLISH and any(asked(key)))
