"""Putting right what was recorded: what stands, whose it is, and what supersedes it, with a reason."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from qcledger.bench.result import Hand, Pencil, Result, amend, half_step, result_of, take_back
from qcledger.errors import bad
from qcledger.records import Observation, Trial
from qcledger.text import one_line
from qcledger.vocab import TAKEN_BACK, Censored, Kind

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.ledger.queries_record import RecordLine
    from qcledger.rubric import Criterion

REASONS: Final[Mapping[str, str]] = {
    "m": "misread the scale",
    "k": "pressed the wrong key",
    "w": "wrong specimen or place",
    "l": "looked again at the sheet",
    "t": "typed wrongly from paper",
}
"""Why an observation is amended, by the key that says so."""

WHY_NOT: Final[Mapping[str, str]] = {
    "u": "used up",
    "e": "not enough paint",
    "s": "the place on the sheet is spoiled",
    "i": "the time to look was missed",
    "d": "not put down",
}
"""Why a criterion could not be tested, by the key that says so: a letter, for a digit is a grade everywhere."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Amendable:
    """An observation that may be amended, as it stands.

    Parameters
    ----------
    line
        What stands at its place, with names; of a blind session with its code alone.
    criterion
        What was judged, in the rubric it was graded with.
    specimen
        The id of what was judged; nothing that is shown may hold it while the session is blind.
    newer
        Whether another observation stands in place of the one that was asked for.
    made_by
        Letters and name of the other tester who made it; empty for one's own.
    """

    line: "RecordLine"
    criterion: "Criterion"
    specimen: str
    newer: bool
    made_by: str

    @property
    def observation(self) -> Observation:
        """What stands."""
        return self.line.observation

    @property
    def result(self) -> Result:
        """What it says."""
        return result_of(self.observation)

    @property
    def name(self) -> str:
        """The sticker; while the session is blind, the code."""
        return self.line.sticker

    def check_own(self) -> None:
        """Refuse what another tester made.

        Raises
        ------
        BadInput
            Saying whose it is.
        """
        if self.made_by:
            who = f"an observation of {self.made_by}"
            raise bad(f"{self.criterion.title} of {self.name}", who, "one of your own: only its tester amends it")


def load(ledger: "Ledger", observation: str) -> Amendable:
    """Return what stands at the place of an observation.

    Raises
    ------
    BadInput
        When there is no such observation.
    """
    from qcledger.ledger.queries_record import standing_lines

    with ledger.reading() as connection:
        line = next(iter(standing_lines(connection, [observation])), None)
    trial = ledger.get(Trial, line.observation.trial) if line is not None else None
    if line is None or trial is None:
        raise bad("observation", observation, "one that is in this ledger")
    seen = line.observation
    return Amendable(
        line=line,
        criterion=ledger.rubric(seen.rubric).criteria[seen.criterion],
        specimen=trial.specimen,
        newer=seen.id != observation,
        made_by=ledger.made_by(Observation, seen.id),
    )


# What is to stand instead


def graded(before: Result, criterion: "Criterion", number: int) -> Result:
    """Return what stands with another grade, or with the choice of this number; its reading and note stay.

    Raises
    ------
    BadInput
        When the criterion does not offer it.
    """
    base = replace(before, not_testable=None)
    if criterion.kind is not Kind.CHOICE:
        return _checked(replace(base, grade=float(number)), criterion)
    words = list(criterion.choices)
    if not 1 <= number <= len(words):
        raise bad(criterion.title, str(number), f"1 to {len(words)}")
    return _checked(replace(base, choice=words[number - 1]), criterion)


def chosen(before: Result, criterion: "Criterion", word: str) -> Result:
    """Return what stands with another choice, by its word; raises BadInput for one that is not offered."""
    wanted = one_line(word).casefold()
    choice = next((each for each in criterion.choices if each.casefold() == wanted), one_line(word))
    return _checked(replace(before, not_testable=None, choice=choice), criterion)


def measured(
    before: Result, criterion: "Criterion", grade: float | None, reading: float | None, censored: Censored
) -> Result:
    """Return what stands with another grade, another reading, or both; raises BadInput for what is not offered."""
    result = replace(before, not_testable=None)
    if grade is not None:
        result = replace(result, grade=grade)
    if reading is None:
        return _checked(result, criterion)
    told = read(result, criterion, reading, censored)
    return told if grade is None else _checked(replace(told, grade=grade), criterion)


def halved(before: Result, criterion: "Criterion") -> Result:
    """Return what stands half a step worse, or whole again; raises BadInput where there is no such step."""
    return _checked(half_step(before, criterion), criterion)


def read(before: Result, criterion: "Criterion", reading: float, censored: Censored) -> Result:
    """Return what stands with another reading, and the grade that it proposes, if it does; else the grade stays.

    Raises
    ------
    BadInput
        When the criterion takes no such reading, or there is no grade for it.
    """
    base = replace(before, not_testable=None, reading=reading, censored=censored)
    proposed = criterion.propose(reading, censored) if criterion.reading is not None else None
    return _checked(base if proposed is None else replace(base, grade=proposed), criterion)


def untestable(before: Result, why: str) -> Result:
    """Return that it could not be tested, and why; its note stays.

    Raises
    ------
    BadInput
        When no reason is given, or one that only the program gives.
    """
    told = one_line(why)
    if not told or told == TAKEN_BACK:
        raise bad("not testable", why, "why it could not be tested")
    return Result(not_testable=told, note=before.note)


def noted(before: Result, note: str) -> Result:
    """Return what stands with another note; raises BadInput where nothing stands that it could belong to."""
    if before.is_open:
        raise bad("note", "no result", "a digit first, then the note to it")
    return replace(before, note=note.strip())


def nothing() -> Result:
    """Return that the observation should not be there at all."""
    return Result(not_testable=TAKEN_BACK)


def _checked(result: Result, criterion: "Criterion") -> Result:
    result.check(criterion)
    return result


def result_words(result: Result, criterion: "Criterion | None", mark: str) -> str:
    """Return a result on one line with its reading and note: ``3, reading 23 turns, note: seen twice``.

    `mark` is the decimal mark; a criterion gives the unit of a reading.
    """
    note = f"note: {result.note}" if result.note else ""
    if result.is_open or result.not_testable is not None:
        told = "nothing stands" if result.is_open else f"not testable: {result.not_testable}"
        return f"{told}, {note}" if note else told
    unit = criterion.reading.unit if criterion is not None and criterion.reading else ""
    parts = [
        f"{result.grade:g}".replace(".", mark) if result.grade is not None else "",
        result.choice or "",
        f"reading {reading_text(result, mark)} {unit}".rstrip() if result.reading is not None else "",
        note,
    ]
    return ", ".join(part for part in parts if part)


def reading_text(result: Result, mark: str) -> str:
    """Return a reading as it is typed: ``23``, ``> 60``; empty where there is none."""
    if result.reading is None:
        return ""
    sign = {Censored.EXACT: "", Censored.ABOVE: "> ", Censored.BELOW: "< "}[result.censored]
    return f"{sign}{result.reading:.12g}".replace(".", mark)


# Writing


def write(ledger: "Ledger", stood: Observation, result: Result, *, reason: str, pencil: Pencil) -> Observation:
    """Supersede `stood` and return what stands then; asked once more with the same pencil, nothing is added.

    Raises
    ------
    BadInput
        When it is another tester's, the result is what stands already or not offered, no reason is given, or
        something else stands by now.
    """
    found = load(ledger, stood.id)
    if found.observation.id == pencil.id:  # it was saved, and that was not confirmed
        return found.observation
    seen = superseding(found, stood, result, reason=reason, pencil=pencil)
    ledger.append([seen])
    return seen


def superseding(found: Amendable, stood: Observation, result: Result, *, reason: str, pencil: Pencil) -> Observation:
    """Return what supersedes `stood`, given what stands at its place; nothing is written.

    Raises
    ------
    BadInput
        As `write` does.
    """
    found.check_own()
    place = f"{found.criterion.title} of {found.name}"
    if found.observation.id != stood.id:
        raise bad(place, "amended meanwhile", "a look at what stands now, then the same keys again")
    if result == found.result or (result.is_open and found.result.is_open):
        raise bad(place, "what stands already", "another grade, reading, choice or note")
    return amend(stood, result, criterion=found.criterion, reason=one_line(reason), pencil=pencil)


def write_back(
    ledger: "Ledger", made: str, before: Observation, hand: Hand, stands_as: Callable[[str], str]
) -> Observation | None:
    """Take back an amendment and return what stands again; None when something else stands by now.

    Parameters
    ----------
    made, before
        The id of the amendment; what stood before it.
    stands_as
        Gives the id under which an observation stands since it was restored; its own where it was not.
    """
    found = load(ledger, made)
    if found.observation.id != stands_as(made):
        return None
    seen = take_back(found.observation, before, criterion=found.criterion, pencil=hand.pencil())
    ledger.append([seen])
    return seen
