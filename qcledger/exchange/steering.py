"""Counts characters that steer a terminal, which are left out of every text that comes in."""

from collections.abc import Iterator

from qcledger.text import steering


class Steering:
    """What was left out of the cells of one import, so that it is said once."""

    def __init__(self) -> None:
        self._count = 0
        self._first = ""

    def note(self, text: str, where: str) -> None:
        """Count what is left out of a text that stands at `where`."""
        found = steering(text)
        if found and not self._count:
            self._first = f"U+{ord(found[0]):04X} in {where}"
        self._count += len(found)

    def lines(self) -> Iterator[str]:
        """Yield one line if anything was left out: how much, and where first."""
        if self._count == 1:
            yield f"a character that steers a terminal was left out, {self._first}"
        elif self._count:
            yield f"{self._count} characters that steer a terminal were left out, the first {self._first}"
