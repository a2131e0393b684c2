"""The page Stock under test, and how many keys a hand has pressed."""

from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from PIL import Image
from textual.pilot import Pilot

from qcledger.door import Door
from qcledger.ledger import Ledger
from qcledger.screens.app import Pages
from qcledger.screens.desk import Desk
from qcledger.screens.grading import Grading
from qcledger.screens.widgets.fields import Field
from qcledger.screens.widgets.lines import SaidLine
from qcledger.screens.widgets.rows import Rows
from qcledger.settings import Settings
from tests.screens.support import is_drawn, picture, settle, until

TABLE = {
    "stock": ("Stock", "qcledger.screens.stock:Stock"),
    "loose_ends": ("Loose ends", "qcledger.screens.loose_ends:LooseEnds"),
    "bench": ("Other", "tests.screens.support:Other"),
}
NOW = datetime(2026, 3, 9, 14, 2, 31, tzinfo=UTC)


class Shop:
    """The pages on a ledger, with a photo folder."""

    def __init__(self, place: Path, first: str = "stock", now: datetime = NOW, **settings: Any) -> None:
        self.place = place
        self.camera = place.parent / "camera"
        self.camera.mkdir(exist_ok=True)
        self.desk = Desk(
            Door(place),
            Door(place, write=True),
            Settings(photo_folder=str(self.camera), **settings),
            now=lambda: now,
        )
        self.app = Pages(self.desk, {first: TABLE[first], **TABLE})
        self.pilot: Pilot[Any]
        self.presses = 0

    @asynccontextmanager
    async def run(self, size: tuple[int, int] = (80, 24)) -> "AsyncIterator[Shop]":
        """Run the pages until the first one is filled."""
        async with self.app.run_test(size=size) as self.pilot:
            await self.until(lambda: self.desk.is_ready)
            await self.settle()
            yield self
        self.desk.close()

    @property
    def page(self) -> Any:
        """The page in front."""
        return self.app.screen

    @property
    def picture(self) -> str:
        """What the screen shows."""
        return picture(self.app)

    @property
    def said(self) -> str:
        """What was said last, and how far the last save came."""
        line = self.page.query_one(SaidLine)
        return f"{line.said} {line.saved}"

    @property
    def on_page(self) -> str:
        """The name of the page in front, once it is drawn."""
        return type(self.app.screen).__name__ if is_drawn(self.app) else ""

    async def press(self, *keys: str) -> None:
        """Press keys as a calm hand does, far enough apart to be meant, and count them."""
        for key in keys:
            if isinstance(self.page, Grading):
                self.page._press = None
            await self.pilot.press(key)
            self.presses += 1

    async def type(self, text: str) -> None:
        """Type a text and count its keys."""
        await self.press(*text)

    async def settle(self) -> None:
        """Wait until what was asked for is shown."""
        await settle(self.pilot)

    async def until(self, true: Callable[[], bool]) -> None:
        """Wait until something is so."""
        await until(self.pilot, true)

    async def saved(self) -> None:
        """Wait until a save is said to be on disk."""
        await self.until(lambda: "saved 14:02:31" in self.said.replace("not saved", "") or "saved" in self.said)
        await self.settle()

    def field(self, name: str) -> Field:
        """Return the field of this name."""
        return next(field for field in self.page.walk_children(Field) if field.name == name)

    def ledger(self) -> Ledger:
        """Open what is on disk anew."""
        return Ledger.open(self.place)

    def shoot(self, name: str = "shot.png", shade: int = 90) -> Path:
        """Save a picture as a camera would."""
        path = self.camera / name
        Image.new("L", (16, 12), shade).save(path)
        return path

    @property
    def rows(self) -> Rows:
        """The list of the page in front."""
        return self.page.query_one(Rows)
