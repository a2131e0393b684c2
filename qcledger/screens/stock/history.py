"""A specimen's whole history: what it is, then and now side by side, every observation."""

import asyncio
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from functools import partial
from threading import Event
from typing import TYPE_CHECKING, ClassVar, Final, TypeVar

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Horizontal, Vertical
from textual.widgets import Static
from textual.worker import Worker

from qcledger.bench import history
from qcledger.clock import day_of
from qcledger.errors import QcledgerError
from qcledger.records import Photo, Specimen
from qcledger.screens import keys
from qcledger.screens.desk import Desk
from qcledger.screens.dialogs import Words
from qcledger.screens.messages import Go, Tell
from qcledger.screens.page import Page
from qcledger.screens.shown import shown_date, shown_line
from qcledger.screens.stock.pieces import Pieces
from qcledger.screens.stock.words import (
    CHANGE,
    EVENTS,
    MOVED,
    THEN_NOW,
    change_words,
    every_row,
    facts,
    facts_then_now,
    moved_then_now,
    moved_words,
    then_now_rows,
)
from qcledger.screens.widgets.lines import SaidLine
from qcledger.screens.widgets.photo import PhotoView
from qcledger.screens.widgets.rows import Row, Rows
from qcledger.screens.widgets.wrapped import Wrapped
from qcledger.settings import Settings
from qcledger.vocab import DecisionKind

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.ledger.preview import Preview


T = TypeVar("T")
EVERY: Final = 25
"""Items of a piece of work after which it is said how far it is."""


class Shot(Vertical):
    """One photo with a line above it that says when it was taken."""

    DEFAULT_CSS = """
    Shot { width: 1fr; height: 1fr; margin-right: 1; }
    Shot > Static { height: 1; color: $faint; }
    """

    def __init__(self, desk: Desk, word: str) -> None:
        super().__init__()
        self._desk = desk
        self._word = word
        self._photo: Photo | None = None

    def compose(self) -> ComposeResult:
        """Lay out the line and the photo."""
        yield Static("", markup=False)
        yield PhotoView()

    def show(self, photo: Photo, settings: Settings) -> None:
        """Show another photo."""
        self._photo = photo
        on_day = f" {shown_date(day_of(photo.taken_at, self._desk.zone), settings)}" if photo.taken_at else ""
        self.query_one(Static).update(shown_line(f"{self._word}{on_day}  {photo.caption or photo.file_name or ''}"))
        self.query_one(PhotoView).reset()

    @on(PhotoView.Needed)
    def _needed(self, message: PhotoView.Needed) -> None:
        message.stop()
        if self._photo is not None:
            _: Worker[None] = self.run_worker(partial(self._draw, self._photo), group=self._word, exclusive=True)

    async def _draw(self, photo: Photo) -> None:
        view = self.query_one(PhotoView)
        width, height = view.squares

        def ask(ledger: "Ledger") -> "Preview":
            from qcledger.ledger.preview import preview

            return preview(ledger.photo_path(photo), width, height, zoom=view.zoom, centre=view.centre)

        if width and height:
            try:
                view.draw((await self._desk.read(ask)).rows)
            except QcledgerError as error:
                self.post_message(Tell(error.told(), problem=True))


class HowFar:
    """Says on a page, from the thread that reads, how far work is; ends it soon after `stop` was set.

    Parameters
    ----------
    page
        Where it is said, while its loop runs.
    stop
        Set from elsewhere, it ends the work.
    """

    def __init__(self, page: Page, stop: Event) -> None:
        self._page, self._stop, self._loop = page, stop, asyncio.get_running_loop()

    def __call__(self, label: str, items: Sequence[T]) -> Iterator[T]:
        """Yield items and tell now and then; raises `Stopped`."""
        from qcledger.report.kept import go_on

        for number, item in enumerate(items):
            go_on(self._stop)
            if number and not number % EVERY:
                with suppress(RuntimeError):  # the pages are gone, and the work ends
                    self._loop.call_soon_threadsafe(
                        self._page.mention, f"{label}: {number} of {len(items)}; Esc stops"
                    )
            yield item


class History(Pieces):
    """Everything about one specimen.

    Parameters
    ----------
    desk
        Where to ask and save.
    specimen
        The specimen's id.
    """

    KEY = "specimen"
    TITLE = "Specimen"
    BINDINGS: ClassVar[list[BindingType]] = list(keys.bindings("specimen"))
    DEFAULT_CSS = """
    History #shots { height: 2fr; max-height: 18; }
    History.-low #shots, History.-low #facts { display: none; }
    """

    def __init__(self, desk: Desk, specimen: str) -> None:
        super().__init__(desk)
        self._specimen = specimen
        self._history: history.SpecimenHistory | None = None
        self._every = False
        self._stop = Event()
        self._rows: Sequence[Row] = ()
        self._pair = 0

    def with_marked(self, then: Callable[[str], object]) -> None:
        """Do something with the specimen of this page."""
        then(self._specimen)

    def body(self) -> ComposeResult:
        """Lay out facts, the first and latest photo, and the list."""
        yield Wrapped(4, id="facts")
        with Horizontal(id="shots"):
            yield Shot(self.desk, "then")
            yield Shot(self.desk, "now")
        yield Rows(THEN_NOW, self._load)

    def on_mount(self) -> None:
        """Show photos only once there are some."""
        self.query_one("#shots").display = False
        self.query_one(Rows).focus()

    def arrive(self, subject: str) -> None:
        """Show the specimen with this id instead."""
        self._specimen, self._pair = subject, 0
        self.query_one(Rows).mark(0)
        self.work(self.fill, instead_of="fill")

    async def fill(self) -> None:
        """Ask for the history."""
        specimen = self._specimen
        found = await self.desk.read(lambda ledger: history.load(ledger, specimen), after_saves=True)
        self._history = found
        self.head(found.specimen.sticker, found.title)
        self.query_one("#facts", Wrapped).show(facts(found, self.desk.settings))
        self._show_shots()
        self._show_rows(marked=self.query_one(Rows).marked)

    def _show_shots(self) -> None:
        found = self._history
        ends = found.ends if found else None
        self.query_one("#shots").display = ends is not None
        if found is None or ends is None:
            return
        pictures = found.in_time
        pair = ends if not self._pair else (pictures[self._pair - 1], pictures[self._pair % len(pictures)])
        for shot, pictured in zip(self.query(Shot), pair, strict=True):
            shot.show(pictured, self.desk.settings)

    def _show_rows(self, *, marked: int = 0) -> None:
        found, settings = self._history, self.desk.settings
        if found is None:
            return
        if self._every:
            self._rows = every_row(found, settings)
        else:
            moved = moved_then_now(found, settings)
            self._rows = [*then_now_rows(found, settings), *facts_then_now(found, settings), *moved]
        rows = self.query_one(Rows)
        rows.columns = EVENTS if self._every else THEN_NOW
        rows.show(len(self._rows), marked=marked)
        if not found.events and not found.hidden and not self.query_one(SaidLine).said:
            self.say("nothing observed yet; g grades pack, contents and label")

    async def _load(self, first: int, most: int) -> Sequence[Row]:
        return self._rows[first : first + most]

    @on(Rows.Picked)
    def _picked(self, message: Rows.Picked) -> None:
        message.stop()
        self.with_observation(lambda seen: self.post_message(Go("record", seen)), self._show_row)

    def _show_row(self, row: Row) -> None:
        """Show a change of facts, or where a photo was moved, in full."""
        found, settings = self._history, self.desk.settings
        if found is None:
            return
        if row.id.startswith(MOVED):
            told = moved_words(found.moved[int(row.id.removeprefix(MOVED))], settings)
        else:
            told = change_words(found.changes[int(row.id.removeprefix(CHANGE))], settings)
        self.app.push_screen(Words(f"Changed: {found.specimen.sticker}", told))

    def action_amend(self) -> None:
        """Amend the marked observation."""
        from qcledger.screens.record.amend import Amend

        self.with_observation(lambda seen: self.app.push_screen(Amend(self.desk, seen)))

    def with_observation(
        self, then: Callable[[str], object], otherwise: Callable[[Row], object] | None = None
    ) -> None:
        """Do something with the marked observation, once it is there; any other row is for `otherwise`."""

        def marked(row: Row) -> None:
            if not row.id.startswith((CHANGE, MOVED)):
                then(row.id)
            elif otherwise is not None:
                otherwise(row)
            elif row.id.startswith(MOVED):
                self.say("a photo that was moved; m in the history of where it is now moves it again", problem=True)
            else:
                self.say("facts are changed with e; Enter shows this change in full", problem=True)

        rows = self.query_one(Rows)
        rows.with_row(rows.marked, marked)

    def action_which(self) -> None:
        """Show then and now, or every observation."""
        self._every = not self._every
        self._show_rows()

    def action_beside(self) -> None:
        """Show how its paint behaves beside other makers' paints of the same pigments; for the tester alone."""
        self.work(self._beside, instead_of="beside", holds=False)

    async def _beside(self) -> None:
        specimen, found = self._specimen, self._history
        self._stop.set()  # what an earlier key began
        stop = self._stop = Event()
        progress = HowFar(self, stop)

        def ask(ledger: "Ledger") -> list[str] | None:
            from qcledger.report.behaviour import of_specimen
            from qcledger.report.kept import Stopped

            try:
                return of_specimen(ledger, specimen, progress)
            except Stopped:
                return None

        self.say("all grades are read; Esc stops")
        await self.desk.settled()  # and not in the thread that saves: no save waits while all grades are read
        told = await self.desk.read(ask)
        if found is not None and told is not None and self.is_current:
            self.say("")
            self.app.push_screen(Words(f"Beside peers: {found.specimen.sticker}", told))

    def on_screen_suspend(self) -> None:
        """Stop the work beside the page when another one comes to the front."""
        self._stop.set()

    def on_unmount(self) -> None:
        """Stop it when the page is left."""
        self._stop.set()

    def action_retest(self) -> None:
        """Have this specimen tested again: why, and how."""
        self.work(self._retest)

    async def _retest(self) -> None:
        from qcledger.screens.forms.deciding import decide

        found = self._history
        if found is not None and await self.is_own(self._specimen):
            title = f"{found.specimen.sticker}, {found.title}"
            decide(self, DecisionKind.RETEST, Specimen.TABLE, self._specimen, title)

    def action_move(self) -> None:
        """Move one of its photos to where it belongs; the later one in front is proposed."""
        from qcledger.screens.record.moving import move_photo

        pictures = self._history.in_time if self._history else []
        front = self._pair % len(pictures) if pictures and self._pair else len(pictures) - 1
        self.work(partial(move_photo, self, pictures, front))

    def action_photos(self) -> None:
        """Show the next pair of photos; after the last, the first and the latest again."""
        count = len(self._history.pictures) if self._history else 0
        self._pair = (self._pair + 1) % max(count, 1)
        self._show_shots()
