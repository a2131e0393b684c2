"""Rubrics as ladders of anchors: the files at hand, and one that is looked at while any editor changes it."""

import asyncio
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar, Final

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType

from qcledger.screens import keys
from qcledger.screens.desk import Desk
from qcledger.screens.page import Page
from qcledger.screens.reading import ReadingPage
from qcledger.screens.widgets.rows import Column, Row, Rows
from qcledger.settings import own_rubrics, rubric_files

if TYPE_CHECKING:
    from qcledger.rubric.watched import WatchedRubric

POLL_S: Final = 0.5
"""Seconds between two looks whether the file was changed."""
COLUMNS: Final = (
    Column("rubric", 14),
    Column("title, or why it is refused", 20, grows=True, need=1),
    Column("holds", 12, need=2),
    Column("whose", 12, need=3),
)
_DIGITS: Final = 12
"""How many digits of a version are enough to tell it by."""
CHOSEN: Final = "{} is proposed for the next new comparison, until this window is left"


class RubricsPage(Page):
    """Every rubric at hand: those that came with the program, and one's own."""

    KEY = "rubrics"
    TITLE = "Rubrics"
    BINDINGS: ClassVar[list[BindingType]] = list(keys.bindings("rubrics"))

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self._rows: list[Row] = []

    def body(self) -> ComposeResult:
        """Lay out the list."""
        yield Rows(COLUMNS, self._load)

    def on_mount(self) -> None:
        """Begin in the list."""
        super().on_mount()
        self.query_one(Rows).focus()

    async def fill(self) -> None:
        """Read every file, and list it with what it holds."""
        self._rows = await asyncio.to_thread(_listed)
        self.head(f"{len(self._rows)} files", f"your own belong in {own_rubrics()}")
        rows = self.query_one(Rows)
        rows.show(len(self._rows), marked=rows.marked)

    async def _load(self, first: int, most: int) -> Sequence[Row]:
        return self._rows[first : first + most]

    @on(Rows.Picked)
    def _picked(self, message: Rows.Picked) -> None:
        message.stop()
        if (path := rubric_files().get(message.row.id)) is not None:
            self.app.push_screen(RubricPage(self.desk, message.row.id, path))

    def action_open(self) -> None:
        """Show the marked rubric as its ladders."""
        self.query_one(Rows).action_pick()

    def action_choose(self) -> None:
        """Propose the marked rubric for the next new comparison."""
        rows = self.query_one(Rows)
        if self._rows:
            self.desk.rubric = self._rows[rows.marked].id
            self.say(CHOSEN.format(self.desk.rubric))


class RubricPage(ReadingPage):
    """One rubric, a criterion at a time, read again whenever its file is written.

    Parameters
    ----------
    desk
        Whose window chooses a rubric.
    name
        What the rubric is called.
    path
        Its file.
    """

    KEY = "rubric"
    TITLE = "Rubric"
    BINDINGS: ClassVar[list[BindingType]] = list(keys.bindings("rubric"))

    def __init__(self, desk: Desk, name: str, path: Path) -> None:
        super().__init__(desk)
        self._called, self._path = name, path
        self._watched: WatchedRubric | None = None
        self._at: str | None = None
        """Key of the criterion that is shown; None for what the file says of itself."""

    def on_mount(self) -> None:
        """Look now and then whether the file was changed."""
        super().on_mount()
        self.set_interval(POLL_S, self._poll)

    def _poll(self) -> None:
        if self.is_current and self._watched is not None:
            self.work(self._look, instead_of="look", holds=False)

    async def fill(self) -> None:
        """Read the file, and show it."""
        from qcledger.rubric.watched import WatchedRubric

        watched = self._watched or WatchedRubric(self._path)
        await asyncio.to_thread(watched.look)
        self._watched = watched
        self._show()

    async def _look(self) -> None:
        """Show the file anew if it was changed, from the criterion that is another now."""
        watched = self._watched
        if watched is None or not await asyncio.to_thread(watched.look):
            return
        if not watched.refused and watched.changed and self._at not in watched.changed:
            self._at = watched.changed[0]
            self.query_one("#parts").scroll_home(animate=False)
        self._show()

    def _keys(self) -> list[str | None]:
        good = self._watched.good if self._watched else None
        return [None, *(good.criteria if good else ())]

    def _show(self) -> None:
        from qcledger.rubric.ladder import heading, index, ladder

        watched = self._watched
        if watched is None:
            return
        width, good, known = self.room(), watched.good, self._keys()
        self._at = self._at if self._at in known else None
        if good is None:
            self.head(self._called)
            self.tell([("Refused as it stands", [])], width)
        elif (one := good.criteria.get(self._at or "")) is not None:
            title, *lines = ladder(one, width)
            self.head(self._called, f"{known.index(self._at)} of {len(known) - 1}")
            self.tell([(title, lines)], width)
        else:
            title, *lines = heading(good, width)
            self.head(self._called, f"version {good.hash[:_DIGITS]}")
            self.tell([(title, lines), ("Criteria", index(good, width))], width)
        last = ". What is shown is the last version that could be used." if watched.refused and good else ""
        self.say(f"{watched.refused}{last}", problem=bool(watched.refused))

    def action_criterion(self, by: int) -> None:
        """Show the next criterion, or the one before."""
        known = self._keys()
        self._at = known[(known.index(self._at) + by) % len(known)]
        self.query_one("#parts").scroll_home(animate=False)
        self._show()

    def action_choose(self) -> None:
        """Propose this rubric for the next new comparison."""
        self.desk.rubric = self._called
        self.say(CHOSEN.format(self._called))


def _listed() -> list[Row]:
    from qcledger.rubric.watched import WatchedRubric

    rows = []
    for name, path in rubric_files().items():
        watched = WatchedRubric(path)
        watched.look()
        good = watched.good
        told = good.title if good else watched.refused
        holds = f"{len(good.criteria)} criteria" if good else "refused"
        rows.append(Row(name, (name, told, holds, "your own" if path.parent == own_rubrics() else "came along")))
    return rows
