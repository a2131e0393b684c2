"""What is missing before an edition: whom to ask, what to decide, to disclose and to read once more."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import NamedTuple

from qcledger.errors import Problem
from qcledger.findings.words import day, how_many
from qcledger.public.view import PublicAsking, PublicView


class GapKind(StrEnum):
    """What kind of thing is missing, the most pressing first."""

    HEALTH = "may concern health"
    SESSION = "session under question"
    ASK = "maker to ask"
    ANSWER = "answer awaited"
    CAPTIONS = "captions to read"
    DISCLOSED = "money and ties"
    LIMITS = "what was not tested"
    ADDRESS = "address"


@dataclass(frozen=True, slots=True)
class Gap:
    """One thing that is missing.

    Parameters
    ----------
    kind
        What kind of thing it is.
    problem
        Where, what was found, and what mends it.
    printed
        What an edition that goes out all the same prints of it; empty where that would tell what is not public.
    subject
        Whom or what it is about: the name of a maker, the code of a session, or the text of a finding's key.
    """

    kind: GapKind
    problem: Problem
    printed: str = ""
    subject: str = ""


class HeldBack(NamedTuple):
    """A settled finding that may concern health and is not released: the text of its key, and its title."""

    key: str
    title: str


def missing(view: PublicView, waiting: Iterable[HeldBack], today: date, *, captions_read: bool = False) -> list[Gap]:
    """Return what is missing before an edition, the most pressing first.

    Parameters
    ----------
    view
        What it would say.
    waiting
        The settled findings that may concern health and are not released.
    today
        The tester's day.
    captions_read
        Whether the tester has read the captions that go out.
    """
    found = [*_undecided(view, waiting), *_not_asked(view, today), *_undisclosed(view)]
    if not captions_read and (told := captions(view)):
        found.append(
            Gap(GapKind.CAPTIONS, Problem("captions", how_many(len(told), "caption"), "read: they go out as typed"))
        )
    order = list(GapKind)
    return sorted(found, key=lambda one: order.index(one.kind))


def captions(view: PublicView) -> list[str]:
    """Return the captions that go out as they were typed, each once, in the order of the page."""
    return list(dict.fromkeys(one.caption for one in view.photos if one.caption))


def _not_asked(view: PublicView, today: date) -> Iterator[Gap]:
    of_maker = {one.name: one.asked for one in view.makers}
    named = [(one.maker, one.criterion_title, one.asked) for one in view.statements if one.maker]
    named += [(one.maker, f"label of {one.paint}", one.asked) for one in view.labels]
    for maker, what, beside in dict.fromkeys(named):
        asked = beside or of_maker.get(maker, ())
        if not asked:
            problem = Problem(f"{maker}, {what}", "not asked", "a maker that was asked: qcledger ask")
            yield Gap(GapKind.ASK, problem, f"{maker}, {what}: the maker was not asked.", maker)
        elif all(one.awaited for one in asked):
            awaited = _awaited(asked, today)
            problem = Problem(f"{maker}, {what}", awaited, "an answer, or that none came: qcledger answer")
            yield Gap(GapKind.ANSWER, problem, f"{maker}, {what}: {awaited}.", maker)


def _awaited(asked: Iterable[PublicAsking], today: date) -> str:
    days = [one.answer_by for one in asked if one.answer_by]
    if not days:
        return "an answer awaited"
    return f"an answer {'awaited' if max(days) >= today else 'overdue'} by {day(max(days))}"


def _undecided(view: PublicView, waiting: Iterable[HeldBack]) -> Iterator[Gap]:
    for one in view.methods.in_question:
        problem = Problem("session", one, "one that is kept or void: decide on it on the page of the bench")
        yield Gap(GapKind.SESSION, problem, f"Session {one}; nobody had decided on it.", one.partition(":")[0])
    for held in waiting:
        allowed = "maker, seller and authority told first: the guide's chapter on publishing"
        yield Gap(GapKind.HEALTH, Problem("safety", f"{held.title}: may concern health", allowed), "", held.key)


def _undisclosed(view: PublicView) -> Iterator[Gap]:
    if not view.money.disclosed:
        allowed = "who paid, gifts and ties in a sentence, or that there are none"
        yield Gap(GapKind.DISCLOSED, Problem("--disclosed", "nothing", allowed), "Money and ties: not told.")
    if not view.methods.limits:
        allowed = "what was not tested and cannot be said, in a sentence"
        yield Gap(GapKind.LIMITS, Problem("--limits", "nothing", allowed), "What was not tested: not told.")
    if not view.edition.address:
        problem = Problem("--address", "nothing", "where the newest edition is found")
        yield Gap(GapKind.ADDRESS, problem, "Where the newest edition is found: not told.")
