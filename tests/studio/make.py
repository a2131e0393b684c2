"""Makes the demo: replays the studio's pages into a ledger and writes it as an exchange folder.

The same seed and the same photos give the same bytes: times are those of the pages, ids and salts come from the seed,
and each daybook is kept in a settings folder of its own.
"""

import csv
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from itertools import count
from pathlib import Path

from qcledger.exchange import to_folder
from qcledger.ledger import Ledger, Sources
from qcledger.settings import HOME_VARIABLE
from tests.studio import onpaper, papers, sessions, unpacking, weeks
from tests.studio.chance import ident, salts
from tests.studio.diary import GUEST, NAMES, OWNER, Page, Shot
from tests.studio.photos import album

DEMO = Path(__file__).parents[2] / "demo_ledger"

Camera = Callable[[Shot, Path], None]
"""Saves a photo to a file."""


def written() -> list[Page]:
    """Return everything that was written."""
    return [*papers.pages(), *unpacking.pages(), *sessions.pages(), *onpaper.pages(), *weeks.pages()]


def diary() -> list[Page | Shot]:
    """Return everything that was written and photographed, in the order of time."""
    return sorted([*(pages := written()), *album.shots(pages)], key=lambda one: one.at)


class Clock:
    """The studio's clock, set by hand before each page."""

    def __init__(self) -> None:
        self.at: datetime | None = None

    def now(self) -> datetime:
        """Return the time it was set to."""
        assert self.at is not None
        return self.at


class Writer:
    """One tester writing into a ledger at home: own settings folder, ids and salts."""

    def __init__(self, name: str, home: Path, first: datetime) -> None:
        self.name, self.home, self.clock = name, home, Clock()
        self.clock.at = first
        numbers, salt = count(1), salts(name)
        sources = Sources(self.clock.now, lambda: ident("made", name, next(numbers)), lambda: next(salt))
        home.mkdir()
        with self._at_home():
            book = ident("daybook", name)
            self.ledger = Ledger.create(
                home / "studio.ledger", letters=name, tester=NAMES[name], sources=sources, daybook=book
            )

    @contextmanager
    def _at_home(self) -> Iterator[None]:
        before = os.environ.get(HOME_VARIABLE)
        os.environ[HOME_VARIABLE] = str(self.home)
        try:
            yield
        finally:
            os.environ.pop(HOME_VARIABLE)
            if before is not None:
                os.environ[HOME_VARIABLE] = before

    def write(self, one: Page | Shot, picture_of: Camera) -> None:
        """Append a page, or file the photo that `picture_of` saves."""
        self.clock.at = one.at
        with self._at_home():
            if isinstance(one, Page):
                self.ledger.append(one.records, reason=one.reason)
                return
            picture = self.home / one.name
            picture_of(one, picture)
            self.ledger.add_photo(picture, specimen=one.specimen, observation=one.observation, caption=one.caption)

    def take(self, other: "Writer") -> None:
        """Take in what another tester wrote."""
        with self._at_home():
            pictures = {path.stem: path for path in other.ledger.photos.glob("*.jpg")}
            self.ledger.adopt(other.ledger.entries(), pictures)

    def close(self) -> None:
        """Close the ledger."""
        with self._at_home():
            self.ledger.close()


def replay(home: Path, picture_of: Camera) -> Writer:
    """Return the owner's ledger with the whole diary in it; the guest works in a ledger of their own between."""
    writers: dict[str, Writer] = {}
    turn = OWNER
    for one in diary():
        if one.by not in writers:
            writers[one.by] = Writer(one.by, home / one.by, one.at)
        if one.by != turn:
            writers[one.by].take(writers[turn])
            turn = one.by
        writers[one.by].write(one, picture_of)
    if GUEST in writers:
        writers[GUEST].close()
    return writers[OWNER]


def kept_picture(shot: Shot, path: Path) -> None:
    """Take a photo from the committed demo instead of drawing it: a few pixels hang on processor and library."""
    with (DEMO / "photo.csv").open(encoding="utf-8", newline="") as table:
        kept = {row["file_name"]: f"{row['sha256']}.{row['kind']}" for row in csv.DictReader(table)}
    shutil.copyfile(DEMO / "photos" / kept[shot.name], path)


def make(folder: Path, picture_of: Camera = album.save) -> None:
    """Write the demo as an exchange folder to `folder`, which must not exist or be empty."""
    with tempfile.TemporaryDirectory() as place:
        owner = replay(Path(place), picture_of)
        try:
            to_folder(owner.ledger, folder)
        finally:
            owner.close()


def remake(folder: Path = DEMO) -> None:
    """Replace `folder` by the demo made anew."""
    with tempfile.TemporaryDirectory() as place:
        made = Path(place) / "demo"
        make(made)
        shutil.rmtree(folder, ignore_errors=True)
        shutil.copytree(made, folder)
