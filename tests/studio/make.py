"""Makes the demo: replays the studio's pages into a ledger and writes it as an exchange folder.

The same seed gives the same bytes: times are those of the pages, ids and salts come from the seed, and each daybook
is kept in a settings folder of its own.
"""

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from itertools import count
from pathlib import Path

from qcledger.exchange import to_folder
from qcledger.ledger import Ledger, Sources
from qcledger.settings import HOME_VARIABLE
from tests.studio import papers, sessions, unpacking
from tests.studio.chance import ident, salts
from tests.studio.diary import GUEST, NAMES, OWNER, Page, Shot
from tests.studio.photos import album

DEMO = Path(__file__).parents[2] / "demo_ledger"


def diary() -> list[Page | Shot]:
    """Return everything that was written and photographed, in the order of time."""
    pages = [*papers.pages(), *unpacking.pages(), *sessions.pages()]
    return sorted([*pages, *album.shots(pages)], key=lambda one: one.at)


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

    def write(self, one: Page | Shot) -> None:
        """Append a page, or file a photo."""
        self.clock.at = one.at
        with self._at_home():
            if isinstance(one, Page):
                self.ledger.append(one.records, reason=one.reason)
                return
            picture = self.home / one.name
            album.save(one, picture)
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


def replay(home: Path) -> Writer:
    """Return the owner's ledger with the whole diary in it; the guest works in a ledger of their own between."""
    writers: dict[str, Writer] = {}
    turn = OWNER
    for one in diary():
        if one.by not in writers:
            writers[one.by] = Writer(one.by, home / one.by, one.at)
        if one.by != turn:
            writers[one.by].take(writers[turn])
            turn = one.by
        writers[one.by].write(one)
    if GUEST in writers:
        writers[GUEST].close()
    return writers[OWNER]


def make(folder: Path) -> None:
    """Write the demo as an exchange folder to `folder`, which must not exist or be empty."""
    with tempfile.TemporaryDirectory() as place:
        owner = replay(Path(place))
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
