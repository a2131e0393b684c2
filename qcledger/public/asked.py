"""What makers were asked and said for print, as the public reads it: days, kind, and the answer uncut.

An answer stands beside what it answers: the findings that its question names, and of these, where it speaks of a lot,
what is said of that lot. A question that names no finding stands beside what is said of the lots whose code it names;
else what came of it stands with its maker.
"""

import re
from collections.abc import Callable, Collection, Iterator
from typing import TYPE_CHECKING

from qcledger.bench.public.answers import Letter, letters
from qcledger.bench.public.deciding import decided, kept_private
from qcledger.errors import BadInput
from qcledger.findings.words import day
from qcledger.ledger.identity import who_is_who
from qcledger.public.view import PublicAsking
from qcledger.records import Maker, Question
from qcledger.records.finding_key import FindingKey
from qcledger.text import same_code
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

    def about(self, key: FindingKey, codes: Collection[str] = ()) -> tuple[PublicAsking, ...]:
        """Return what the maker of a finding was asked about it, the oldest first.

        Parameters
        ----------
        key
            The finding.
        codes
            The batch codes of the lots that something is said of.
        """
        return tuple(public_asking(one) for one in self.of_maker(key.maker) if self._is_about(one, key, codes))

    def at_all(self, key: FindingKey) -> bool:
        """Say whether the maker of a finding was asked about it, by name or with all that is said of it."""
        return any(key in self._keys(one) or not _names(one) for one in self.of_maker(key.maker))

    def in_general(self, maker: str) -> tuple[PublicAsking, ...]:
        """Return what a maker, by its id, was asked without a finding by name, the oldest first."""
        return tuple(public_asking(one) for one in self.of_maker(maker) if not _names(one))

    def of_maker(self, maker: str) -> tuple[Letter, ...]:
        """Return the questions to a maker by its id, the oldest first."""
        return tuple(one for one in self._letters if self._known.one(Maker.TABLE, one.maker_id) == maker)

    def _is_about(self, one: Letter, key: FindingKey, codes: Collection[str]) -> bool:
        lot = one.answer.lot if one.answer else None
        if not _names(one):
            return _speaks_of(f"{one.asked} {lot or ''}", codes)
        return key in self._keys(one) and (lot is None or same_code(lot) in set(map(same_code, codes)))

    def _keys(self, one: Letter) -> set[FindingKey]:
        return set(_keys(self._known, one.question)) if one.question else set()


def _names(one: Letter) -> bool:
    """Say whether a question names findings."""
    return one.question is not None and bool(one.question.findings)


def _speaks_of(text: str, codes: Collection[str]) -> bool:
    """Say whether a text names one of some batch codes as a word of its own."""
    return any(re.search(rf"(?<!\w){re.escape(code)}(?!\w)", text, re.IGNORECASE) for code in codes if code)


def public_asking(one: Letter) -> PublicAsking:
    """Return a question and what came of it as the public reads it."""
    row = one.answer
    changed = row is not None and row.kind is AnswerKind.CHANGED
    return PublicAsking(
        one.maker, one.asked_on, asking_line(one), row.answer if row else "", one.awaited, one.answer_by,
        changed_on=row.changed_on if row and changed else None,
        changed_lot=(row.lot or "") if row and changed else "",
    )  # fmt: skip


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


def released(ledger: "Ledger", asked: Callable[[FindingKey], bool]) -> frozenset[FindingKey]:
    """Return the findings that this tester said may be published, last of what he decided, after the maker was asked.

    What may concern health is told of no other.
    """
    last = {one.key: one.decision.kind for one in decided(ledger) if not one.whose}
    return frozenset(key for key, kind in last.items() if kind is DecisionKind.PUBLISH and asked(key))
