"""Which session a tester means: a code names one, or it is asked back which of several."""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from qcledger.errors import Problem, Several, bad
from qcledger.records import Comparison, Session
from qcledger.text import one_line, same_code, shorten

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

_KNOWN: Final = 8
"""Most codes that a refusal names."""
_WIDE: Final = 60
"""Characters of a title or name in a refusal."""
_MARKS: Final = ("title", "day", "tester")
"""What may tell sessions of one code apart, as `_Named.marks` has them."""


@dataclass(frozen=True, slots=True)
class _Named:
    """A session with what tells it from others of its code: comparison's title, day begun, tester, and its id."""

    session: Session
    title: str
    ledger: "Ledger"

    @property
    def day(self) -> str:
        return self.ledger.day_of(self.session, self.session.started_at).isoformat()

    @property
    def marks(self) -> tuple[str, str, str]:
        """Title, day and tester as they are listed: cut where they are long."""
        return shorten(self.title, _WIDE), self.day, shorten(self.session.tester, _WIDE)

    def is_called(self, text: str) -> bool:
        """Whether a text is its title, day, tester or id, letter case aside."""
        whole = self.title, self.session.tester, self.session.id
        return text.casefold() in (one.casefold() for one in (*self.marks, *whole))

    def is_by(self, text: str) -> bool:
        """Whether a text is the letters of its tester, or how his name begins, letter case aside."""
        begins, letters = text.casefold(), self.ledger.made_by(Session, self.session.id).partition(",")[0]
        own = letters or self.ledger.daybook.letters
        return own.casefold() == begins or self.session.tester.casefold().startswith(begins)

    def is_of(self, comparison: str) -> bool:
        """Whether a text is the title or the id of its comparison, letter case aside."""
        names = self.title, self.marks[0], self.session.comparison
        return comparison.casefold() in (one.casefold() for one in names)

    def told(self, *, with_id: bool) -> str:
        title, day, tester = self.marks
        return f"{title} ({', '.join([day, tester, *([self.session.id] if with_id else [])])})"


def session_of(ledger: "Ledger", code: str, comparison: str = "") -> Session:
    """Return the one session that a code names.

    Parameters
    ----------
    ledger
        An open one.
    code
        As its tester wrote it, letter case and zeros before its count aside, where no other session is written just
        so; or an id. Behind a comma
        may stand the title of its comparison, the day it began, its tester's letters or the beginning of his name, or
        its id, as in ``S05, four paints``.
    comparison
        The title or id of its comparison; empty for any.

    Raises
    ------
    BadInput
        When there is none, or there are several: then each is listed with what tells it from the others.
    """
    wanted, title = one_line(code), one_line(comparison)
    titles = {row.id: row.title for row in ledger.rows(Comparison)}
    every = [_Named(one, titles.get(one.comparison, ""), ledger) for one in _in_time(ledger.rows(Session))]
    known = [one.session.code for one in every]
    found = _written(wanted, every) or [one for one in every if one.session.id == wanted] or _behind(wanted, every)
    if not found and (meant := _before_comma(wanted, every)):
        raise _several(wanted, meant, "no session")
    if not found:
        told = ", ".join(sorted(set(known))[-_KNOWN:])
        raise bad("session", wanted, told or "nothing: the ledger has no session yet")
    inside = [one for one in found if not title or one.is_of(title)]
    if not inside:
        raise bad("--comparison", title, ", ".join(dict.fromkeys(one.title for one in found)))
    if len(inside) > 1:
        raise _several(wanted, inside, f"{len(inside)} sessions")
    return inside[0].session


def _in_time(sessions: Iterable[Session]) -> list[Session]:
    return sorted(sessions, key=lambda one: (one.started_at, one.id))


def _written(code: str, every: Sequence[_Named]) -> list[_Named]:
    """Return the sessions with this code, those written just so before those in other letters, then other zeros."""
    just_so = [one for one in every if one.session.code == code]
    in_letters = just_so or [one for one in every if one.session.code.casefold() == code.casefold()]
    return in_letters or [one for one in every if same_code(one.session.code) == same_code(code)]


def _parted(text: str, every: Sequence[_Named]) -> Iterator[tuple[list[_Named], str]]:
    """Yield the sessions of each code that a text begins with, the longest first, and what stands behind a comma."""
    codes = {one.session.code for one in every}
    for code in sorted(codes, key=lambda code: (-len(code), code)):  # a code may hold a comma itself
        head, rest = text[: len(code) + 1], one_line(text[len(code) + 1 :])
        if head.casefold() == f"{code},".casefold() and rest:
            yield _written(text[: len(code)], every), rest


def _behind(text: str, every: Sequence[_Named]) -> list[_Named]:
    """Return the sessions that a code, a comma and what tells them apart name; how a name begins counts last."""
    for ones, rest in _parted(text, every):
        found = [one for one in ones if one.is_called(rest)] or [one for one in ones if one.is_by(rest)]
        if found:
            return found
    return []


def _before_comma(text: str, every: Sequence[_Named]) -> list[_Named]:
    """Return the sessions of the code before the comma, where what stands behind it tells nothing."""
    return next((ones for ones, _ in _parted(text, every)), [])


def _several(wanted: str, found: Sequence[_Named], named: str) -> Several:
    """Return the refusal that lists sessions of one code, with what tells each from all others."""
    held = [Counter(mark.casefold() for mark in marks) for marks in zip(*(one.marks for one in found), strict=True)]
    alone = [
        {name for name, counts, mark in zip(_MARKS, held, one.marks, strict=True) if counts[mark.casefold()] == 1}
        for one in found
    ]
    told = "; ".join(one.told(with_id=not marks) for one, marks in zip(found, alone, strict=True))
    ways = [name for name in _MARKS if any(name in marks for marks in alone)] + ["id"] * (not all(alone))
    behind = f"a comma and {' or '.join([', '.join(ways[:-1]), ways[-1]] if ways[1:] else ways)} behind the code"
    narrowed = f"--comparison TITLE, or {behind}" if "title" in ways and len(found) > 1 else behind
    return Several(Problem("session", f"'{shorten(wanted, _WIDE)}', {named}", f"one, by {narrowed}: {told}"))


def by_whom(ledger: "Ledger", session: Session) -> str:
    """Return whose a session is, as in `` of Oda Vane``; empty where one tester has every session."""
    testers = {one.tester.casefold() for one in ledger.rows(Session)}
    return f" of {shorten(session.tester, _WIDE)}" if len(testers) > 1 else ""
