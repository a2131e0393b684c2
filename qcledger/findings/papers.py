"""What was graded on other paper than its comparison's: kept apart, counted, and told with both papers."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

from qcledger.findings.evidence import Aside, SetAside


class Papers(NamedTuple):
    """The paper that a comparison's findings stay on, and that of a sheet which is kept apart."""

    reference: str
    other: str


@dataclass(frozen=True, slots=True)
class LeftApart:
    """How many results were graded on another paper than their comparison's.

    Parameters
    ----------
    papers
        The comparison's paper, and the other.
    sessions
        Codes of the sessions, in order.
    results
        Observations that do not count for that reason.
    """

    papers: Papers
    sessions: tuple[str, ...]
    results: int


def left_apart(aside: Iterable[Aside], papers: Mapping[str, Papers]) -> tuple[LeftApart, ...]:
    """Return what was set aside for its paper, one for each pair of papers.

    Parameters
    ----------
    aside
        What does not count, for whatever reason.
    papers
        By a session's id the papers of a sheet that is kept apart.
    """
    results: Counter[Papers] = Counter()
    codes: dict[Papers, dict[str, str]] = {}
    for one in aside:
        row = one.unit.row
        which = papers.get(row.session) if row.session and one.reason is SetAside.OTHER_PAPER else None
        if which and row.session:
            results[which] += 1
            codes.setdefault(which, {})[row.session] = row.session_code or ""
    return tuple(LeftApart(which, tuple(sorted(codes[which].values())), results[which]) for which in sorted(results))
