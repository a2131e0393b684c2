"""Names: what is the same as what, and what it is called now."""

from collections.abc import Mapping, Sequence
from functools import partial
from typing import TYPE_CHECKING, ClassVar, Final

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType

from qcledger.bench import naming
from qcledger.errors import bad
from qcledger.records import SameAs
from qcledger.screens import keys
from qcledger.screens.desk import Desk
from qcledger.screens.dialogs import Ask
from qcledger.screens.page import Page
from qcledger.screens.stock.pieces import Pieces
from qcledger.screens.widgets.rows import Column, Row, Rows
from qcledger.screens.widgets.typeline import TypeLine
from qcledger.screens.widgets.wrapped import Wrapped
from qcledger.text import one_line
from qcledger.thing import worded
from qcledger.vocab import Sameness

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.ledger.identity import KnownName

COLUMNS: Final = (
    Column("may be the same as", 20, grows=True),
    Column("also spelled", 20, need=1),
    Column("", 12, need=2),
)
_IS: Final = {Sameness.SAME: "the same as", Sameness.DIFFERENT: "not the same as"}
"""What one thing is to another once that was decided."""
ALONE: Final = "There is no other {}. c types what this one is called now."


class Names(Pieces):
    """The names of one maker, paint, range or seller, and all it may be the same as.

    Parameters
    ----------
    desk
        Where to ask and save.
    subjects
        Ids by table: what the names are of; the first one is in front.
    renames
        Whether the line for a new name is opened at once.
    """

    KEY = "names"
    TITLE = "Names"
    BINDINGS: ClassVar[list[BindingType]] = list(keys.bindings("names"))

    def __init__(self, desk: Desk, subjects: Mapping[str, str], *, renames: bool = False) -> None:
        super().__init__(desk)
        self._subjects = dict(subjects)
        self._table = next(iter(subjects))
        self._renames = renames
        self._one: KnownName | None = None
        self._others: list[naming.Candidate] = []

    def body(self) -> ComposeResult:
        """Lay out what it is called, and the list of the others."""
        yield Wrapped(3, id="spellings")
        yield Rows(COLUMNS, self._load)

    def on_mount(self) -> None:
        """Begin in the list."""
        self.query_one(Rows).focus()

    async def fill(self) -> None:
        """Show the names of the one in front, and the others, those with near spellings first."""
        table, subject = self._table, self._subjects[self._table]
        found = await self.desk.read(lambda ledger: naming.candidates(ledger, table, subject), after_saves=True)
        self._one, self._others = found
        self.head(f"{table} {self._one.name}")
        also = f"Also spelled {', '.join(self._one.names[1:])}." if self._one.names[1:] else ""
        self.query_one("#spellings", Wrapped).show(also if self._others else f"{also} {ALONE.format(table)}".strip())
        rows = self.query_one(Rows)
        rows.show(len(self._others), marked=rows.marked)
        if self._renames:
            self._renames = False
            self.action_called()

    async def _load(self, first: int, most: int) -> Sequence[Row]:
        return [
            Row(
                each.one.id,
                (" ".join((each.one.name, *each.one.numbers)), ", ".join(each.one.names[1:]), _said(each)),
            )
            for each in self._others[first : first + most]
        ]

    # Deciding

    @on(Rows.Picked)
    def _picked(self, message: Rows.Picked) -> None:
        message.stop()
        self.action_same()

    def action_same(self) -> None:
        """Say that it is the same as the marked one, after what that unites was seen."""
        self.with_marked(lambda other: self.work(partial(self._weigh, other)))

    async def _weigh(self, other: str) -> None:
        one, second = self._one, self._other(other)
        if one is None:
            return
        touched = await self.desk.read(lambda ledger: naming.weigh(ledger, [one, second]).words, after_saves=True)

        def answered(yes: bool | None) -> None:
            if yes:
                self.work(partial(self._decide, Sameness.SAME, one, second))

        named = f"{worded(one.table)} {one.name}"
        question = f"Is {named} the same as {second.name}, which is shown then? This unites {touched}."
        self.app.push_screen(Ask(question), answered)

    def action_apart(self) -> None:
        """Say that it is not the same as the marked one."""
        if (one := self._one) is not None:
            self.with_marked(
                lambda other: self.work(partial(self._decide, Sameness.DIFFERENT, one, self._other(other)))
            )

    def _other(self, id_: str) -> "KnownName":
        return next(each.one for each in self._others if each.one.id == id_)

    async def _decide(self, kind: Sameness, one: "KnownName", other: "KnownName") -> None:
        today = self.desk.today

        def job(ledger: "Ledger") -> SameAs:
            decides = naming.Naming(ledger, today, self.desk.new_id)
            return decides.decide(kind, naming.NamedRow(one, one.id), naming.NamedRow(other, other.id))

        both = "no longer one" if kind is Sameness.SAME else "no longer said to be two"
        back = f"{worded(one.table)} {one.name} and {other.name} are {both}"
        said = f"{worded(one.table)} {one.name} is {_IS[kind]} {other.name}"
        await self._kept(await self.desk.save(job), said, back)

    def action_called(self) -> None:
        """Type what it is called now."""
        one = self._one
        if one is None:
            return

        async def read(text: str) -> str:
            if not one_line(text):
                raise bad("name", text, "what it is called now")
            return one_line(text)

        def take(name: str | None) -> None:
            if name is not None:
                self.work(partial(self._rename, one, name))

        self.app.push_screen(TypeLine(f"{worded(one.table)} {one.name} is called now", read, one.name), take)

    async def _rename(self, one: "KnownName", name: str) -> None:
        today = self.desk.today

        def job(ledger: "Ledger") -> SameAs:
            return naming.Naming(ledger, today, self.desk.new_id).rename(one, name)

        back = f"{worded(one.table)} {one.name} is called {one.name} again, no longer {name}"
        await self._kept(await self.desk.save(job), f"{worded(one.table)} {one.name} is called {name} now", back)

    async def _kept(self, decision: SameAs, said: str, back: str) -> None:
        self.saved()
        self.did(partial(_take_back, decision=decision, said=back))
        self.say(f"{said}; z takes it back")
        await self.fill()

    def action_other(self) -> None:
        """Go on to the next of its names: maker, paint, range, seller."""
        tables = list(self._subjects)
        self._table = tables[(tables.index(self._table) + 1) % len(tables)]
        self.query_one(Rows).marked = 0
        self.work(self.fill, instead_of="fill")


async def _take_back(page: Page, *, decision: SameAs, said: str) -> str:
    today = page.desk.today
    await page.desk.save(lambda ledger: naming.Naming(ledger, today, page.desk.new_id).take_back(decision))
    return f"taken back: {said}"


def _said(each: naming.Candidate) -> str:
    return "not the same" if each.apart else "near" if each.near else ""
