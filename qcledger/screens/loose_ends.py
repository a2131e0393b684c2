"""Loose ends: at most a dozen things to do, each with its key."""

import asyncio
from collections.abc import Iterator, Sequence
from functools import partial
from pathlib import Path
from threading import Event
from typing import TYPE_CHECKING, ClassVar, Final

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType

from qcledger.bench import due, unfiled
from qcledger.bench.due import Due, LooseEndKind
from qcledger.bench.named import by_whom
from qcledger.errors import BadInput
from qcledger.records import Session
from qcledger.screens import disputed, inandout, keys, where
from qcledger.screens.actions import DUE_KEYS
from qcledger.screens.desk import Desk
from qcledger.screens.duelist import DueList
from qcledger.screens.messages import Go
from qcledger.screens.page import Page
from qcledger.screens.shown import shown_moment
from qcledger.screens.unfiledphotos import UnfiledPhotos
from qcledger.screens.widgets.rows import Column, Row, Rows
from qcledger.screens.widgets.wrapped import Wrapped, in_lines

if TYPE_CHECKING:
    from qcledger.findings import Findings
    from qcledger.ledger import Ledger
    from qcledger.report.kept import KeptFindings

COLUMNS: Final = (Column("key", 3), Column("what to do", 18, grows=True))
BESIDE: Final = 8
"""Cells of a line that its words do not get: the key, what stands between, and the edges."""
NONE: Final = "no loose ends"
SEARCHING: Final = "still working out findings"
BEGIN: Final = "nothing is recorded yet: {} opens Stock, n there begins a parcel; F9 is the guide"
"""Said on an empty ledger, so that a first step is in sight."""


class LooseEnds(Page):
    """What is due, the most pressing first; accusations are added once they were worked out beside the page."""

    KEY = "loose_ends"
    TELLS_MARKED = True
    TITLE = "Loose ends"
    BINDINGS: ClassVar[list[BindingType]] = list(keys.bindings("loose_ends"))

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self._lines: list[Due] = []
        self._rows: list[Row] = []
        self._confirm: list[Due] = []
        self._again: list[Due] = []
        self._found: list[Due] = []
        self._buy: list[Due] = []
        self._kept: KeptFindings | None = None
        self._told_of: Findings | None = None
        self._stop = Event()
        self._folder: unfiled.Folder | None = None

    def body(self) -> ComposeResult:
        """Lay out the list, and the words for when nothing is due."""
        yield Wrapped(2, id="none")
        yield Rows(COLUMNS, self._load)

    def on_mount(self) -> None:
        """Begin in the list."""
        self.query_one(Rows).focus()

    async def fill(self) -> None:
        """Show what the ledger and the photo folder tell, then look for accusations beside the page."""
        now, folder = self.desk.now(), self.desk.settings.photo_folder
        path = Path(folder).expanduser() if folder else None
        if path is not None and (self._folder is None or self._folder.path != path):  # set while the program runs
            self._folder = unfiled.Folder(path)

        def ask(ledger: "Ledger") -> tuple[list[Due], unfiled.Filed | None, bool]:
            from qcledger.ledger.queries_stock import shelf_count

            with ledger.reading() as connection:
                empty = shelf_count(connection, (), None) == 0
            return due.due(ledger, now), unfiled.filed(ledger) if self._folder else None, empty

        self._found, filed, empty = await self.desk.read(ask, after_saves=True)
        if empty:
            self.say(BEGIN.format(keys.way_to("stock", self.desk.settings.keys)))
        if self._folder is not None and filed is not None:
            self._found += await self._photos(self._folder, filed)
        self.show()
        self.work(self._look_for_accusations, instead_of="accusations", holds=False)

    async def _photos(self, folder: unfiled.Folder, filed: unfiled.Filed) -> list[Due]:
        try:
            found = await asyncio.to_thread(folder.unfiled, filed)
        except BadInput as refused:
            self.say(refused.told(), problem=True)
            return []
        return due.photos(len(found), folder.path.name)

    async def _look_for_accusations(self) -> None:
        """Check the sessions and work the findings out in the reading thread; leaving the page stops that."""
        stop = self._stop = Event()
        kept = self._kept

        def check(ledger: "Ledger") -> list[Due]:
            from qcledger.report.kept import Stopped

            try:
                return _sessions(ledger, stop)
            except Stopped:
                return self._again

        def ask(ledger: "Ledger") -> "tuple[KeptFindings, Findings | None, list[Due]]":
            from qcledger.report.kept import KeptFindings, Stopped
            from qcledger.report.picked import half_seen, to_confirm, to_settle

            mine = kept or KeptFindings()
            try:
                found = mine.findings(ledger, stop=stop)
            except Stopped:
                return mine, None, []
            lines = [*_by_update(ledger, found), *to_confirm(found), *half_seen(found), *to_settle(found)]
            return mine, found, lines

        self.head(*self._told(), SEARCHING)
        self._again = await self.desk.read(check)
        self.show()
        self.head(*self._told(), SEARCHING)
        worked, found, lines = await self.desk.read(ask)
        self._kept = worked
        if found is not None:
            self._told_of, self._confirm = found, lines
            self.show()
            self._buy = await self.desk.read(partial(_to_buy, worked, self.desk.settings.decimal_mark, stop))
            self.show()
        self.head(*self._told())

    def on_screen_suspend(self) -> None:
        """Stop the work beside the page when another one comes to the front."""
        self._stop.set()

    def _told(self) -> tuple[str, ...]:
        count = len(self._every())
        now = shown_moment(self.desk.now(), self.desk.settings, self.desk.zone)
        return (f"{count} to do" if count else NONE, now)

    def _every(self) -> list[Due]:
        return [*self._found, *self._again, *self._confirm, *self._buy]

    def show(self) -> None:
        """Show what is due."""
        self._lines = due.fewest(self._every())
        self.query_one("#none", Wrapped).show("" if self._lines else NONE)
        rows = self.query_one(Rows)
        key = rows.row.id if rows.row is not None else ""
        width = self.size.width - BESIDE
        lines = zip(DUE_KEYS, self._lines, strict=False)
        self._rows = [row for letter, one in lines for row in self._told_in(letter, one, width)]
        rows.display = bool(self._rows)
        rows.show(len(self._rows), marked=next((n for n, row in enumerate(self._rows) if row.id == key), 0))
        self.head(*self._told())

    def _told_in(self, key: str, one: Due, width: int) -> Iterator[Row]:
        """Yield the lines of one loose end, in full; the key stands on the first, and means all of them."""
        due_at = f"; due {shown_moment(one.at, self.desk.settings, self.desk.zone)}" if one.at is not None else ""
        for place, line in enumerate(in_lines(f"{one.words}{due_at}", width)):
            yield Row(key, ("" if place else key, line))

    def on_resize(self) -> None:
        """Break the lines anew."""
        if self._lines:
            self.call_after_refresh(self.show)

    async def _load(self, first: int, most: int) -> Sequence[Row]:
        return self._rows[first : first + most]

    # Doing

    @on(Rows.Picked)
    def _picked(self, message: Rows.Picked) -> None:
        message.stop()
        self.action_do(DUE_KEYS.index(message.row.id))

    def works(self, verb: str) -> bool:
        """Whether there is a line with this key."""
        word, _, key = verb.partition("_")
        return word != "do" or DUE_KEYS.index(key) < len(self._lines)

    def action_open(self) -> None:
        """Do what the marked line says."""
        self.query_one(Rows).action_pick()

    def action_again(self) -> None:
        """Look again what is due."""
        self.work(self.fill, instead_of="fill")

    def action_do(self, number: int) -> None:
        """Do what a line says."""
        if number < len(self._lines):
            one = self._lines[number]
            if one.more:
                self.app.push_screen(DueList(self.desk, one, self._do))
            else:
                self._do(one)

    def _do(self, one: Due) -> None:
        _DO[one.kind](self, one)

    def to_bench(self, one: Due) -> None:
        """Open the sheet."""
        self.post_message(Go("bench", one.subject))

    def to_findings(self, one: Due) -> None:
        """Open the findings."""
        self.post_message(Go("findings"))

    def to_changed(self, one: Due) -> None:
        """Open why a finding reads otherwise since an update; with that it has been looked at."""
        if one.subject:
            self.work(partial(self._looked_at, [one]))
        self.post_message(Go("findings", one.subject or None))

    async def _looked_at(self, changes: Sequence[Due]) -> None:
        """Remember the findings that an update changed as they are now; their lines go."""
        found, subjects = self._told_of, [one.subject for one in changes]

        def remember(ledger: "Ledger") -> None:
            from qcledger.report.changed import ToldStandings

            if found is not None:
                ToldStandings(ledger).seen(found, subjects)

        await self.desk.read(remember)
        self._confirm = [one for one in self._confirm if one not in changes]
        self.show()

    def to_shopping(self, one: Due) -> None:
        """Open what to buy."""
        from qcledger.screens.shopping import ShoppingPage

        self.app.push_screen(ShoppingPage(self.desk, self._kept, None))

    def to_specimen(self, one: Due) -> None:
        """Open the history of the specimen; a retest of something else is planned at the bench."""
        self.post_message(Go("stock", one.subject) if one.subject else Go("bench"))

    def to_names(self, one: Due) -> None:
        """Open the names of what may be the same as another one."""
        self.post_message(Go("stock", one.subject))

    def to_photos(self, one: Due) -> None:
        """Open the list of photos that are not filed."""
        if self._folder is not None:
            self.app.push_screen(UnfiledPhotos(self.desk, self._folder))

    def make_backup(self, one: Due) -> None:
        """Ask for a new folder, copy the ledger and its photos there, and verify the copy."""
        inandout.back_up(self)

    def settle(self, one: Due) -> None:
        """Ask which side of a dispute stands."""
        kind, subject = one.subject.split(" ", 1)
        self.work(partial(disputed.ask, self, kind, subject))

    def ask_zone(self, one: Due) -> None:
        """Ask where the tester works."""
        self.work(partial(where.ask, self))

    def take_answer(self, one: Due) -> None:
        """Open the form of a maker's answer."""
        from qcledger.screens.forms.asking import answer_of

        self.work(partial(answer_of, self, one.subject), instead_of="form")

    def action_silence(self) -> None:
        """Keep that the marked maker did not answer by its day, or that the marked changes were looked at."""
        row = self.query_one(Rows).row
        one = self._lines[DUE_KEYS.index(row.id)] if row is not None else None
        if one is not None and one.kind is LooseEndKind.CHANGED:
            self.work(partial(self._looked_at, one.more or (one,)))
            return
        if one is None or one.kind is not LooseEndKind.ANSWER:
            self.say("mark an answer that is awaited, then n keeps that none came", problem=True)
            return
        from qcledger.screens.forms.asking import keep_silence

        self.work(partial(keep_silence, self, one.subject), instead_of="form")

    def action_said(self) -> None:
        """Show what was asked, told and decided."""
        from qcledger.screens.forms.said import Said

        self.app.push_screen(Said(self.desk))


def _by_update(ledger: "Ledger", found: "Findings") -> list[Due]:
    """Return the standings that an update of the program changed and nobody has looked at since."""
    from qcledger.report.changed import ToldStandings, changed_lines

    told = ToldStandings(ledger)
    awaited = told.awaited(found)
    return changed_lines(told.changed(found), awaited)


def _sessions(ledger: "Ledger", stop: Event) -> list[Due]:
    """Return this tester's closed sessions that control and repeats speak against and nobody has decided on.

    Raises
    ------
    Stopped
        Soon after `stop` was set.
    """
    from qcledger.report.closing import titles_of, undecided
    from qcledger.report.kept import go_on

    titles, own = titles_of(ledger), ledger.own(Session)
    return [
        Due(
            LooseEndKind.CHECK,
            f"session {session.code}{by_whom(ledger, session)}: control and repeats moved"
            f"{' on ' if drift.beyond else ''}{', '.join(titles.get(one.key, one.key) for one in drift.beyond)}; "
            "keep or void it",
            session.id,
        )
        for session, drift in undecided(ledger, partial(go_on, stop))
        if session.id in own
    ]


def _to_buy(kept: "KeptFindings", mark: str, stop: Event, ledger: "Ledger") -> list[Due]:
    """Return what to buy next, of findings that are kept already; nothing soon after `stop` was set."""
    from qcledger.report.kept import Stopped, go_on
    from qcledger.report.shopping_text import next_buy

    try:
        return next_buy(ledger, kept.findings(ledger, stop=stop).findings, mark, partial(go_on, stop))
    except Stopped:
        return []


_DO: Final = {
    LooseEndKind.STAGE: LooseEnds.to_bench,
    LooseEndKind.CLOSE: LooseEnds.to_bench,
    LooseEndKind.CHECK: LooseEnds.to_bench,
    LooseEndKind.PHOTOS: LooseEnds.to_photos,
    LooseEndKind.CHANGED: LooseEnds.to_changed,
    LooseEndKind.CONFIRM: LooseEnds.to_findings,
    LooseEndKind.LOOK: LooseEnds.to_specimen,
    LooseEndKind.UNOPENED: LooseEnds.to_specimen,
    LooseEndKind.BUY: LooseEnds.to_shopping,
    LooseEndKind.NEXT: LooseEnds.to_findings,
    LooseEndKind.DISPUTE: LooseEnds.settle,
    LooseEndKind.NAMES: LooseEnds.to_names,
    LooseEndKind.ANSWER: LooseEnds.take_answer,
    LooseEndKind.RETEST: LooseEnds.to_specimen,
    LooseEndKind.SEALED: LooseEnds.to_specimen,
    LooseEndKind.ZONE: LooseEnds.ask_zone,
    LooseEndKind.BACKUP: LooseEnds.make_backup,
}
