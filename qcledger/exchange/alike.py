"""New names that are near known ones: found as names come, and told one by one, or summed up where they are many."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from difflib import SequenceMatcher
from heapq import nlargest
from itertools import islice

from qcledger.text import same_name

CUTOFF = 0.6
MOST = 3
"""How alike names are that look like one, and how many such are shown, as `text.near` has them."""

FEW = 3
"""How many new names of a kind are told one by one."""


class NearNames:
    """The names of a table that look like others, each two compared once, however often they are asked for."""

    def __init__(self) -> None:
        self._names: dict[str, str] = {}
        self._seen = 0
        self._known: dict[str, _NearOne] = {}

    def near(self, name: str, names: Sequence[str]) -> list[str]:
        """Return at most three of `names` that look like `name`, as `text.near` does.

        Of `names` only those are looked at that came behind those of the last time.
        """
        self._names |= {same_name(other): other for other in names[self._seen :]}
        self._seen = len(names)
        form = same_name(name)
        if form not in self._known:
            self._known[form] = _NearOne(form)
        return [self._names[other] for other in self._known[form].among(self._names)]


class _NearOne:
    """What looks like one name among names that become more."""

    def __init__(self, form: str) -> None:
        self._matcher = SequenceMatcher()
        self._matcher.set_seq2(form)
        self._seen = 0
        self._found: list[tuple[float, str]] = []

    def among(self, names: Mapping[str, str]) -> list[str]:
        """Return those most alike, the most alike first."""
        for form in islice(names, self._seen, None):
            self._matcher.set_seq1(form)
            one = self._matcher
            if one.real_quick_ratio() >= CUTOFF and one.quick_ratio() >= CUTOFF and one.ratio() >= CUTOFF:
                self._found.append((one.ratio(), form))
        self._seen = len(names)
        self._found = nlargest(MOST, self._found)
        return [form for _, form in self._found]


class NewNames:
    """New names that were not taken for the known ones they are near."""

    def __init__(self) -> None:
        self._noted: dict[str, list[tuple[str, Sequence[str], str]]] = defaultdict(list)

    def note(self, table: str, name: str, alike: Sequence[str], maker: str) -> None:
        """Note a new name of a table and the known ones it is near, if any; `maker` stands before both."""
        if alike:
            self._noted[table].append((name, alike, maker))

    def lines(self) -> Iterator[str]:
        """Yield a line for each, with the command that unites the two; or, where they are many, one for the table."""
        for table, noted in self._noted.items():
            if len(noted) > FEW:
                examples = ", ".join(f"{maker}{name} beside {alike[0]}" for name, alike, maker in noted[:FEW])
                told = f"{len(noted)} new {table}s have names near others and stay their own, such as {examples}"
                yield f"{told}; once they are in, qcledger same-as lists what may be one"
                continue
            for name, alike, maker in noted:
                command = f'qcledger same-as {table} "{maker}{name}" "{maker}{alike[0]}"'
                told = f"{maker}{name} is new, and not the same as {' or '.join(alike)}; if it is, once it is in"
                yield f"{told}: {command}"
