"""The guide, to be read beside the work: the page's own chapter first, every other one a key away."""

from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import ClassVar, Final

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import VerticalScroll
from textual.widgets import ContentSwitcher, Markdown

from qcledger.screens import keys
from qcledger.screens.desk import Desk
from qcledger.screens.page import Page
from qcledger.screens.widgets.rows import Column, Row, Rows
from qcledger.screens.widgets.tables import Chapter
from qcledger.settings import shipped

ORDER: Final = (
    "stock",
    "bench",
    "plan",
    "close",
    "tester",
    "loose_ends",
    "strips",
    "findings",
    "price",
    "shopping",
    "behaviour",
    "cautions",
    "rubrics",
    "settings",
)
"""Chapters in the order of the work; those not named here follow by name."""
OF_PAGE: Final[Mapping[str, str]] = {
    "parcel": "stock", "label": "stock", "names": "stock", "unpacking": "stock", "specimen": "stock",
    "due_list": "loose_ends", "photos": "loose_ends", "form": "loose_ends", "said": "loose_ends",
    "put_down": "bench", "map": "bench",
    "record": "bench", "closing": "close", "look": "bench", "amend": "bench", "behind": "bench",
    "imports": "import", "before": "import", "sheet_row": "import",
    "publish": "publishing", "rubric": "rubrics",
    "findings": "strips", "opening": "strips", "why": "strips",
}  # fmt: skip
"""The chapter of each page that has none of its own name."""


@cache
def chapters() -> Mapping[str, str]:
    """Return every chapter's name and title, in the order of reading."""
    titles = {path.stem: _title(path) for path in shipped("guide").glob("*.md")}
    rank = {name: place for place, name in enumerate(ORDER)}
    return {name: titles[name] for name in sorted(titles, key=lambda name: (rank.get(name, len(rank)), name))}


def _title(path: Path) -> str:
    with path.open(encoding="utf-8") as text:
        return text.readline().lstrip("# ").strip()


class Guide(Page):
    """One chapter, or the list of them.

    Parameters
    ----------
    desk
        The desk of the pages; nothing is asked of it.
    page
        Key of the page whose chapter is opened, or the name of a chapter.
    """

    KEY = "guide"
    TITLE = "Guide"
    BINDINGS: ClassVar[list[BindingType]] = list(keys.bindings("guide"))
    DEFAULT_CSS = """
    Guide ContentSwitcher, Guide VerticalScroll, Guide Rows { height: 1fr; }
    Guide Markdown { padding: 0; margin: 0; background: $background; }
    """

    def __init__(self, desk: Desk, page: str) -> None:
        super().__init__(desk)
        self._names = list(chapters())
        name = OF_PAGE.get(page, page)
        self._at = self._names.index(name) if name in self._names else 0
        self._opening = True
        self._ahead = 0
        """Screens to read on that were asked for while a chapter was being opened."""

    def body(self) -> ComposeResult:
        """Lay out the chapter and, behind it, the list."""
        with ContentSwitcher(initial="chapter"):
            with VerticalScroll(id="chapter"):
                yield Chapter(open_links=False)
            yield Rows((Column("chapter", 20, grows=True),), self._load, id="contents")

    async def fill(self) -> None:
        """Show the chapter at hand."""
        name = self._names[self._at]
        text = (shipped("guide") / f"{name}.md").read_text(encoding="utf-8")
        self.head(chapters()[name], f"{self._at + 1} of {len(self._names)}")
        self.query_one(ContentSwitcher).current = "chapter"
        scroll = self.query_one("#chapter", VerticalScroll)
        self.set_focus(None)  # the keys are the page's until there is something to scroll
        self.say("opening the chapter ...")
        await self.query_one(Markdown).update(text)
        self.say("")
        scroll.scroll_home(animate=False)
        scroll.focus()
        self.call_after_refresh(self._opened)

    def _opened(self) -> None:
        """Read on as far as was asked for meanwhile."""
        self._opening, ahead, self._ahead = False, self._ahead, 0
        if ahead:
            self.action_turn(ahead)

    async def _load(self, first: int, most: int) -> Sequence[Row]:
        return [Row(name, (chapters()[name],)) for name in self._names[first : first + most]]

    def _open(self, name: str) -> None:
        if name in self._names:
            self._at, self._opening = self._names.index(name), True
            self.work(self.fill, instead_of="fill")

    @on(Markdown.LinkClicked)
    def _followed(self, event: Markdown.LinkClicked) -> None:
        """Open the chapter a link names; no other link leads anywhere from here."""
        event.stop()
        self._open(Path(event.href).stem)

    @on(Rows.Picked)
    def _picked(self, message: Rows.Picked) -> None:
        message.stop()
        self._open(message.row.id)

    def action_contents(self) -> None:
        """Show every chapter by its title, or go back to the one at hand."""
        switcher = self.query_one(ContentSwitcher)
        if switcher.current == "contents":
            self._open(self._names[self._at])
            return
        self.workers.cancel_group(self, "fill")  # a chapter still being opened would take the keys from the list
        self.say("")
        switcher.current = "contents"
        self.head("contents")
        rows = self.query_one(Rows)
        rows.show(len(self._names), marked=self._at)
        rows.focus()

    def action_chapter(self, by: int) -> None:
        """Open the chapter after this one, or the one before."""
        self._open(self._names[(self._at + by) % len(self._names)])

    def action_turn(self, screens: int) -> None:
        """Read on, or go up, by what the window holds less a line."""
        if self._opening:
            self._ahead += screens
            return
        scroll = self.query_one("#chapter", VerticalScroll)
        scroll.scroll_relative(y=screens * max(scroll.size.height - 1, 1), animate=False)
