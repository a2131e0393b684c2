"""A small ledger in which one maker's half pans are faulty, and the pages Findings and Why on it."""

from collections.abc import AsyncIterator, Callable, Iterator, Sequence
from contextlib import asynccontextmanager
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from textual.pilot import Pilot

from qcledger.door import Door
from qcledger.ledger import Ledger
from qcledger.records import (
    Comparison,
    LabelVersion,
    Lot,
    Maker,
    Observation,
    Paint,
    Parcel,
    Record,
    Session,
    Specimen,
    Trial,
)
from qcledger.screens.app import Pages
from qcledger.screens.desk import Desk
from qcledger.screens.findings.page import FindingsPage
from qcledger.screens.widgets.strip import Strips
from qcledger.settings import Settings
from qcledger.vocab import Blinding, Format, Occasion
from tests.copies import copied
from tests.screens.support import in_front, picture, until
from tests.small import START, ten, ticking

MAKERS = ("Aldervane", "Corvannet", "Drumlaw", "Halcyre", "Quernlow")
PIGMENTS = ("PG18", "PR101", "PB36", "PY42")
FORMATS = (Format.HALF_PAN, Format.TUBE)
BAD = ("Corvannet", Format.HALF_PAN)
CRITERIA = ("evenness", "edge")


@dataclass
class Shelf:
    """Makes the records of makers whose ranges are alike: four paints, two formats, two lots of each."""

    makers: Sequence[str]
    bad: tuple[str, Format] = BAD
    criteria: Sequence[str] = CRITERIA

    def records(self, rubric: str) -> Iterator[Record]:
        """Yield everything in order."""
        for n, title in enumerate(("spring", "autumn")):
            yield Comparison(id=f"cp{n}", title=title, question="?", started_on=START.date() + timedelta(days=n))
            yield Session(
                id=f"se{n}", code=f"S0{n + 1}", comparison=f"cp{n}", tester="OV", blinding=Blinding.SHUFFLED,
                started_at=START, closed_at=START,
            )  # fmt: skip
            yield Parcel(id=f"pc{n}", bought_on=date(2026, 1, 2 + n), seller=f"Seller {n}", currency="EUR")
        for number, maker in enumerate(self.makers):
            yield Maker(id=f"mk{number}", name=maker)
            for place, pigment in enumerate(PIGMENTS):
                yield from self._paint(number, place, pigment, rubric)

    def _paint(self, number: int, place: int, pigment: str, rubric: str) -> Iterator[Record]:
        paint = f"pt{number}.{place}"
        yield Paint(id=paint, maker=f"mk{number}", name=f"{self.makers[number]} {pigment}"[:200])
        yield LabelVersion(id=f"lb{paint}", paint=paint, seen_on=date(2026, 1, 2), index_names=(pigment,))
        for form, format_ in enumerate(FORMATS):
            for n in range(2):
                end = f"{number}.{place}.{form}.{n}"
                yield Lot(id=f"lt{end}", paint=paint, format=format_, code=f"L{end}")
                yield Specimen(
                    id=f"sp{end}",
                    sticker=f"OV {number + 1}{place}{form}{n}",
                    paint=paint,
                    format=format_,
                    parcel=f"pc{n}",
                    lot=f"lt{end}",
                )
                yield Trial(id=f"tr{end}", specimen=f"sp{end}", occasion=Occasion.BENCH, at=START, session=f"se{n}")
                grade = 4.0 if (self.makers[number], format_) == self.bad else 0.0
                for key in self.criteria:
                    yield Observation(
                        id=f"ob{end}{key}", trial=f"tr{end}", criterion=key, rubric=rubric, tester="OV", at=START,
                        grade=grade if key == "evenness" else 0.0,
                    )  # fmt: skip


def shelf_ledger(folder: Path, shelf: Shelf | None = None) -> Path:
    """Make a ledger with everything on a shelf and return its place."""
    rubric, shelf = ten(), shelf or Shelf(MAKERS)

    def make(place: Path) -> None:
        with Ledger.create(place, letters="OV", tester="OV", sources=ticking()) as ledger:
            ledger.append([ledger.keep_rubric(rubric), *shelf.records(rubric.hash)])

    return copied(folder / "shelf.sqlite", repr(shelf), make)


TABLE = {
    "findings": ("FindingsPage", "qcledger.screens.findings:FindingsPage"),
    "stock": ("Other", "tests.screens.support:Other"),
}


class At:
    """The pages under test."""

    def __init__(self, app: Pages, pilot: "Pilot[Any]") -> None:
        self.app = app
        self.pilot = pilot
        self.page: FindingsPage

    async def opened(self) -> None:
        """Wait until the page has its findings."""
        await self.until(lambda: in_front(self.app, FindingsPage))
        assert isinstance(self.app.screen, FindingsPage)
        self.page = self.app.screen
        await self.until(lambda: self.page._shown is not None and not self.page._working)

    @property
    def picture(self) -> str:
        """What the screen shows."""
        return picture(self.app)

    @property
    def strips(self) -> Strips:
        """The list of the page."""
        return self.page.query_one(Strips)

    async def until(self, true: Callable[[], bool]) -> None:
        """Wait until something is so."""
        await until(self.pilot, true)

    async def sees(self, *texts: str) -> None:
        """Wait until all these texts are on the screen."""
        await self.until(lambda: all(text in self.picture for text in texts))

    async def to(self, name: str, *keys: str) -> None:
        """Mark the line whose name begins with `name`, and press keys."""
        self.strips.mark(next(n for n, line in enumerate(self.strips._lines) if line.name.startswith(name)))
        await self.until(lambda: self.strips.row is not None)
        await self.press(*keys)

    async def press(self, *keys: str) -> None:
        """Press keys, and wait after each until what it asks for is there: Esc would stop what is being worked on."""
        for key in keys:
            await self.pilot.press(key)
            await self.pilot.pause(0.02)
            await self.until(lambda: not self.page._working)


@asynccontextmanager
async def findings(place: Path, size: tuple[int, int] = (80, 24), **settings: Any) -> "AsyncIterator[At]":
    """Run the page until its findings are there."""
    desk = Desk(Door(place), Door(place, write=True), Settings(**settings))
    app = Pages(desk, TABLE)
    async with app.run_test(size=size) as pilot:
        at = At(app, pilot)
        await at.opened()
        yield at
    desk.close()
