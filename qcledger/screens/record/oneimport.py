"""One import: what it brought, what taking it back changes, and taking it back or putting it back as one act."""

import asyncio
import time
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from functools import partial
from typing import TYPE_CHECKING, ClassVar, Final, TypeVar

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType

from qcledger.bench import imported
from qcledger.bench.imported import REASONS, REASONS_BACK, Going, Imported, Returning
from qcledger.errors import BadInput
from qcledger.ledger.progress import Progress
from qcledger.records import Decision
from qcledger.screens import keys
from qcledger.screens.desk import Desk
from qcledger.screens.keptline import KeptLine
from qcledger.screens.page import Page
from qcledger.screens.record import words
from qcledger.screens.widgets.rows import Column, Row, Rows
from qcledger.screens.widgets.wrapped import Wrapped

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

T = TypeVar("T")
Line = tuple[str, str, str, str]
"""What a line of the list is about, what it says, and a count before and after; empty where nothing is counted."""

PATIENCE_S = 0.5
"""Seconds of work after which it is told how far it is."""
EVERY_S = 0.2
"""Seconds between two words about that."""

COLUMNS: Final = (
    Column("", 11, need=1),
    Column("what", 20, grows=True),
    Column("before", 10, need=3),
    Column("after", 10, need=2),
)
WEIGHING: Final = "looking at what it brought ..."
TAKES: Final = "t takes all of it back as one act, with a reason; nothing is deleted, and p puts it back."
PUTS: Final = "p puts all of it back as one act, with a reason."
NOTHING_ASKED: Final = "first t, which takes it back, or p, which puts it back; then why"


class OneImport(Page):
    """An import, what goes with it and what stays, and the counts of the cells it touches, before and after.

    Parameters
    ----------
    desk
        Where to ask and save.
    import_
        The id of the import.
    said
        Said once it is shown, because it was just brought in.
    """

    KEY = "import"
    TELLS_MARKED = True
    TITLE = "Import"
    CSS_PATH = "record.tcss"
    BINDINGS: ClassVar[list[BindingType]] = list(keys.bindings("import"))

    def __init__(self, desk: Desk, import_: str, said: str = "") -> None:
        super().__init__(desk)
        self._import = import_
        self._said = said
        self._one: Imported | None = None
        self._weighed: Going | Returning | None = None
        self._lines: list[Line] = []
        self._asks = False
        self._act = ""
        self._is_saving = False
        self._is_asked = asyncio.Event()

    def body(self) -> ComposeResult:
        """Lay out what it is, what taking it back changes, the marked line in full, and what is asked."""
        yield Wrapped(3, id="came")
        yield Wrapped(4, id="twice")
        yield Rows(COLUMNS, self._load)
        yield Wrapped(3, id="whole")
        yield Wrapped(3, id="asked")

    def on_mount(self) -> None:
        """Begin in the list."""
        self.query_one(Rows).focus()
        self._show_text("#asked", WEIGHING)

    async def fill(self) -> None:
        """Ask what it is, and what taking it back or putting it back does to the ledger as it stands."""
        wanted = self._import

        def ask(ledger: "Ledger") -> "tuple[Imported, str, Going | Returning | None, list[Line]]":
            one, twice = imported.by_id(ledger, wanted), imported.told_twice(ledger).get(wanted, "")
            return one, twice, *_weigh(ledger, one)

        try:
            one, twice, self._weighed, self._lines = await self.desk.read(ask, after_saves=True)
            self._one = one
        finally:
            self._is_asked.set()
        self.head(one.row.name, "taken back" if one.out else "")
        self._show_text("#came", words.import_words(one, self.desk.settings))
        self._show_text("#twice", twice)
        self.query_one(Rows).show(len(self._lines))
        self._ask()
        if self._said:
            said, self._said = self._said, ""
            self.saved()
            self.say(said)

    async def _load(self, first: int, most: int) -> Sequence[Row]:
        return [Row(str(n), line) for n, line in enumerate(self._lines[first : first + most], first)]

    @on(Rows.Marked)
    def _marked(self, message: Rows.Marked) -> None:
        """Show the marked line in full."""
        message.stop()
        place = int(message.row.id) if message.row is not None else len(self._lines)
        self._show_text("#whole", _whole(*self._lines[place]) if place < len(self._lines) else "")

    def _show_text(self, name: str, text: str) -> None:
        self.query_one(name, Wrapped).show(text)

    # What is asked

    @property
    def _reasons(self) -> Mapping[str, str]:
        return REASONS if isinstance(self._weighed, Going) else REASONS_BACK

    def _ask(self) -> None:
        """Show what can be done, or the reasons that are asked for."""
        listed = ", ".join(f"{key} {text}" for key, text in self._reasons.items())
        usual = {Going: TAKES, Returning: PUTS}.get(type(self._weighed), "")
        self._show_text("#asked", f"Why? {listed}, o in your own words" if self._asks else usual)

    def action_take_back_all(self) -> None:
        """Ask why it is taken back."""
        self.work(partial(self._begin, Going, "it is taken back already; p puts it back"))

    def action_put_back_all(self) -> None:
        """Ask why it is put back."""
        self.work(partial(self._begin, Returning, "it stands; t takes it back"))

    async def _begin(self, kind: type[Going] | type[Returning], else_: str) -> None:
        await self._is_asked.wait()
        if self._weighed is None:
            self.say(self._lines[0][1] if self._lines else WEIGHING, problem=True)
        elif not isinstance(self._weighed, kind):
            self.say(else_, problem=True)
        else:
            self._asks = True
            self.say("")
            self._ask()

    def action_because(self, key: str) -> None:
        """Do it for the reason with this key."""
        if not self._asks:
            self.say(NOTHING_ASKED, problem=True)
        elif key in self._reasons:
            self._save_for(self._reasons[key])
        else:
            self.app.bell()

    def action_own(self) -> None:
        """Type the reason in one's own words."""
        if not self._asks:
            self.say(NOTHING_ASKED, problem=True)
            return
        drafts, name = self.desk.drafts, f"import reason {self._import}"

        def take(text: str | None) -> None:
            if text is not None:
                drafts.drop(name)
                self._save_for(text)

        title = "Why it is taken back" if isinstance(self._weighed, Going) else "Why it is put back"
        self.app.push_screen(KeptLine(title, drafts.get(name), partial(drafts.keep, name)), take)

    def action_leave(self) -> None:
        """Go back; a question that stands is left first."""
        if self._asks:
            self._asks = False
            self._ask()
            self.say("nothing was changed; Esc once more goes back")
        else:
            super().action_leave()

    # Doing it

    def _save_for(self, reason: str) -> None:
        if not self._is_saving and self._one is not None:
            self._is_saving = True
            self.save_state("...")
            self.work(partial(self._save, self._one, isinstance(self._weighed, Going), reason))

    async def _save(self, one: Imported, out: bool, reason: str) -> None:
        progress, apart = progress_on(self), set[str]()

        def job(ledger: "Ledger") -> None:
            self._act = self._act or ledger.new_id()  # kept, so that a save that is not confirmed is the same again
            _decide(ledger, one.row.id, reason, out=out, act=self._act, progress=progress, apart=apart)

        try:
            await self.desk.save(job)
        except BaseException:
            self.save_state("not saved")
            raise
        finally:
            self._is_saving = False
        why = one.out.reason if one.out is not None else "undone"
        self.did(partial(reverse, import_=one.row.id, out=not out, reason=why, apart=apart))
        self._asks, self._act = False, ""
        await self.fill()
        self.saved()
        self.say(_SAID[out].format(one.row.name))

    async def take_back(self) -> None:
        """Take back the last thing done in this window; a question that stands is left."""
        self._asks = False
        await super().take_back()

    def action_observations(self) -> None:
        """List the observations that came with it, each as it stands."""
        if self._one is not None:
            from qcledger.screens.record.behind import Behind  # here, because a look at one of them leads back here

            id_, name = self._import, self._one.row.name
            ask = partial(imported.observations, id_=id_)
            self.app.push_screen(Behind(self.desk, f"came in with {name}", ask))

    @on(Rows.Picked)
    def _picked(self, message: Rows.Picked) -> None:
        message.stop()
        self.action_observations()


_SAID: Final = {
    True: "{} is taken back; z puts it back, and a corrected sheet may come in",
    False: "{} counts again; z takes it back again",
}
"""What is said once it was taken back, and once it was put back."""


def _weigh(ledger: "Ledger", one: Imported) -> tuple[Going | Returning | None, list[Line]]:
    """Return what taking an import back or putting it back does, and that in lines; why not, where it may not be."""
    from qcledger.report.without import cells

    weighed: Going | Returning
    try:
        weighed = imported.weigh(ledger, one) if one.out is None else imported.weigh_back(ledger, one)
    except BadInput as refused:
        return None, [("", refused.told(), "", "")]
    counts = [
        ("older notes" if change.is_older else "counts", change.cell, change.before, change.after)
        for change in cells(ledger, weighed)
    ]
    told = [(about, rest, "", "") for about, _, rest in (line.partition(": ") for line in weighed.lines())]
    stays = [line for line in told if line[0] == "stays"]
    return weighed, [*(line for line in told if line not in stays), *counts, *stays]


def _whole(about: str, what: str, before: str, after: str) -> str:
    """Return a line of the list in full."""
    counts = f": {before} before, {after} after" if before or after else ""
    return f"{about}: {what}{counts}" if about else what


def _decide(
    ledger: "Ledger", import_: str, reason: str, *, out: bool, act: str, progress: Progress, apart: set[str]
) -> None:
    """Take an import back, or put it back, as the ledger stands; what the decision `act` did already is not done.

    `apart` gets the ids of what was put back by itself before the import was; taken back, these stay.
    """
    if ledger.get(Decision, act) is not None:
        return
    one = imported.by_id(ledger, import_)
    if out:
        going = imported.weigh(ledger, one, keeping=apart)
        imported.take_back(ledger, going, reason, act=act, progress=progress)
    else:
        back = imported.weigh_back(ledger, one)
        apart |= {row.id for row in back.back}
        imported.put_back(ledger, back, reason, act=act, progress=progress)


async def reverse(page: Page, *, import_: str, out: bool, reason: str, apart: set[str], again: str = " again") -> str:
    """Undo what was decided about an import, or that it was made; what was put back by itself before stays."""
    progress, acts = progress_on(page), list[str]()

    def job(ledger: "Ledger") -> str:
        acts[:] = acts or [ledger.new_id()]
        _decide(ledger, import_, reason, out=out, act=acts[0], progress=progress, apart=apart)
        return imported.by_id(ledger, import_).row.name

    name = await page.desk.save(job)
    return f"{name} is taken back{again}" if out else f"{name} counts again"


def progress_on(page: Page, more: str = "") -> Progress:
    """Return what tells on a page how far work in another thread is, once that takes longer than a moment.

    `more` stands behind it.
    """
    loop, begun = asyncio.get_running_loop(), time.monotonic()
    last = begun

    def told(label: str, items: Sequence[T]) -> Iterable[T]:
        nonlocal last
        for number, item in enumerate(items, 1):
            yield item
            now = time.monotonic()
            if now - begun >= PATIENCE_S and now - last >= EVERY_S:
                last = now
                with suppress(RuntimeError):  # the pages are gone, and the work goes on
                    loop.call_soon_threadsafe(_say, page, f"{label}: {number} of {len(items)}{more}")

    return told


def _say(page: Page, line: str) -> None:
    if page.is_attached:
        page.say(line)
