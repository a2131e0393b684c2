"""Asked and said: every question, answer, note, rate, small decision and label put right, to be amended there."""

from collections.abc import Awaitable, Callable, Mapping, Sequence
from functools import partial
from typing import TYPE_CHECKING, ClassVar, Final

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType

from qcledger.bench.correcting import standing
from qcledger.bench.public import versions
from qcledger.bench.public.listed import ListedLine, listed
from qcledger.bench.public.makers import name_of
from qcledger.ledger.identity import who_is_who
from qcledger.records import TABLES, Decision, ExchangeRate, LabelVersion, MakerAnswer, Question, ReaderNote
from qcledger.screens import keys
from qcledger.screens.desk import Desk
from qcledger.screens.dialogs import Words
from qcledger.screens.forms.asking import answer_of
from qcledger.screens.forms.deciding import decide
from qcledger.screens.forms.labels import put_right
from qcledger.screens.forms.notes import type_rate, write_note
from qcledger.screens.forms.question import amend_question
from qcledger.screens.page import Page
from qcledger.screens.shown import shown_date
from qcledger.screens.widgets.rows import Column, Row, Rows
from qcledger.screens.widgets.wrapped import Wrapped
from qcledger.vocab import DecisionKind

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

COLUMNS: Final = (
    Column("day", 10),
    Column("what", 13),
    Column("about", 16),
    Column("words", 20, grows=True),
)
NOTHING: Final = "nothing was asked, told or decided yet; n writes a reader's note, x an exchange rate"


class Said(Page):
    """The list; Enter amends the marked line."""

    KEY = "said"
    TELLS_MARKED = True
    TITLE = "Asked and said"
    BINDINGS: ClassVar[list[BindingType]] = list(keys.bindings("said"))

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self._lines: list[ListedLine] = []

    def body(self) -> ComposeResult:
        """Lay out the list, and the marked line in full below it."""
        yield Wrapped(2, id="none")
        yield Rows(COLUMNS, self._load)
        yield Wrapped(4, id="whole")

    def on_mount(self) -> None:
        """Begin in the list."""
        self.query_one(Rows).focus()

    async def fill(self) -> None:
        """Ask for the list."""
        self._lines = await self.desk.read(listed, after_saves=True)
        self.head(f"{len(self._lines)}")
        self.query_one("#none", Wrapped).show("" if self._lines else NOTHING)
        rows = self.query_one(Rows)
        rows.show(len(self._lines), marked=rows.marked)

    async def _load(self, first: int, most: int) -> Sequence[Row]:
        return [
            Row(str(n), (shown_date(one.on, self.desk.settings), one.kind, one.about, one.words))
            for n, one in enumerate(self._lines[first : first + most], first)
        ]

    @property
    def _marked(self) -> ListedLine | None:
        row = self.query_one(Rows).row
        return self._lines[int(row.id)] if row is not None and int(row.id) < len(self._lines) else None

    @on(Rows.Marked)
    def _show_whole(self, message: Rows.Marked) -> None:
        """Show the marked line in full."""
        message.stop()
        one = self._marked
        self.query_one("#whole", Wrapped).show(one.line() if one else "")

    @on(Rows.Picked)
    def _picked(self, message: Rows.Picked) -> None:
        message.stop()
        self.action_change()

    def _own(self) -> ListedLine | None:
        """Return the marked line where it is this tester's own and stands, or say why it is not changed."""
        one = self._marked
        if one is not None and one.back:
            self.say("this was taken back; write it anew where it was made", problem=True)
            return None
        if one is not None and one.whose:
            self.say(f"this is of {one.whose}, who alone changes it", problem=True)
            return None
        return one

    def action_change(self) -> None:
        """Amend the marked line."""
        one = self._own()
        if one is not None:
            self.work(partial(_AMEND[one.table], self, one))

    def action_question(self) -> None:
        """Amend the marked question, or that of the marked answer."""
        one = self._own()
        if one is not None and one.table in (Question.TABLE, MakerAnswer.TABLE):
            self.work(partial(amend_question, self, one.id))
        elif one is not None:
            self.say("this is no question and no answer to one", problem=True)

    def action_versions(self) -> None:
        """Show how the marked line was written, then and now."""
        one = self._marked
        if one is not None:
            self.work(partial(self._versions, one))

    async def _versions(self, one: ListedLine) -> None:
        def ask(ledger: "Ledger") -> list[str]:
            known = who_is_who(ledger)
            found = versions.versions(ledger, TABLES[one.table], one.id)
            return list(versions.told(found, partial(name_of, ledger, known)))

        lines = await self.desk.read(ask, after_saves=True)
        self.app.push_screen(Words(f"{one.kind}: {one.about}", lines))

    def action_note(self) -> None:
        """Write down what a reader says."""
        self.work(partial(write_note, self))

    def action_rate(self) -> None:
        """Type an exchange rate."""
        self.work(partial(type_rate, self))

    def action_correct(self) -> None:
        """Correct what the marked line said."""
        one = self._own()
        if one is not None and one.table in (Question.TABLE, MakerAnswer.TABLE):
            decide(self, DecisionKind.CORRECT, one.table, one.id, one.line())
        elif one is not None:
            self.say("a question or an answer is corrected here; a finding on its Why, a note or rate by Enter",
                     problem=True)  # fmt: skip


async def _amend_answer(page: Said, one: ListedLine) -> None:
    await answer_of(page, one.id)


async def _amend_note(page: Said, one: ListedLine) -> None:
    await write_note(page, before=one.id)


async def _amend_rate(page: Said, one: ListedLine) -> None:
    await type_rate(page, before=one.id)


async def _amend_label(page: Said, one: ListedLine) -> None:
    await put_right(page, lambda ledger: standing(ledger, one.id))


async def _undo_elsewhere(page: Said, one: ListedLine) -> None:
    page.say("a decision is undone by another one, where it was made", problem=True)


_AMEND: Final[Mapping[str, Callable[[Said, ListedLine], Awaitable[None]]]] = {
    Question.TABLE: _amend_answer,
    MakerAnswer.TABLE: _amend_answer,
    ReaderNote.TABLE: _amend_note,
    ExchangeRate.TABLE: _amend_rate,
    Decision.TABLE: _undo_elsewhere,
    LabelVersion.TABLE: _amend_label,
}
