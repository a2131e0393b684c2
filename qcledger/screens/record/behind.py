"""Exactly these observations: those behind a cell, or those of a sheet."""

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType

from qcledger.bench.scales import scales
from qcledger.screens import keys
from qcledger.screens.desk import Desk
from qcledger.screens.record import words
from qcledger.screens.record.listed import Listed
from qcledger.screens.widgets.rows import Row, Rows

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.ledger.queries_record import RecordLine
    from qcledger.rubric import Criterion

NONE = "No observation stands behind this."


class Behind(Listed):
    """A list of given observations, each as it stands now; Enter looks closer, a amends.

    Parameters
    ----------
    desk
        Where to ask.
    about
        What they stand behind.
    ask
        Returns their ids in the order of the list; asked once, in the reading thread, so that the list stays what it
        was while it is worked through.
    """

    KEY = "behind"
    TELLS_MARKED = True
    TITLE = "Observations"
    CSS_PATH = "record.tcss"
    BINDINGS: ClassVar[list[BindingType]] = list(keys.bindings("behind"))

    def __init__(self, desk: Desk, about: str, ask: "Callable[[Ledger], Sequence[str]]") -> None:
        super().__init__(desk)
        self._about = about
        self._ask = ask
        self._ids: Sequence[str] | None = None

    def body(self) -> ComposeResult:
        """Lay out the list, and the marked observation in words."""
        yield Rows(words.COLUMNS, self._load)
        yield from self.told()

    async def fill(self) -> None:
        """Ask which observations there are, once, and how they were judged."""
        given = self._ids

        def ask(ledger: "Ledger") -> "tuple[Sequence[str], dict[tuple[str, str], Criterion]]":
            return self._ask(ledger) if given is None else given, dict(scales(ledger))

        self._ids, self._scales = ids, _ = await self.desk.read(ask, after_saves=True)
        count = len(ids)
        self.head(self._about, f"{count} observation" + ("s" if count != 1 else ""))
        rows = self.query_one(Rows)
        rows.show(count, marked=rows.marked)
        if not count:
            self._describe("", NONE, "")

    async def _load(self, first: int, most: int) -> Sequence[Row]:
        wanted = (self._ids or ())[first : first + most]

        def ask(ledger: "Ledger") -> "list[RecordLine]":
            from qcledger.ledger.queries_record import standing_lines

            with ledger.reading() as connection:
                return standing_lines(connection, wanted)

        found = await self.desk.read(ask, after_saves=True)
        self._lines.update({line.observation.id: line for line in found})
        return [words.row(line, self._scale(line.observation), self.desk.settings) for line in found]
