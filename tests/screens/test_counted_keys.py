"""How many keys a tester's work takes: counted by pilot and again in a real terminal, at 80x24 and 120x40."""

import asyncio
import re
import shutil
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

import pytest
from PIL import Image

from qcledger.bench import faults
from qcledger.door import Door
from qcledger.ledger import Ledger
from qcledger.records import Observation, Photo, Specimen
from qcledger.screens.app import Pages
from qcledger.screens.desk import Desk
from qcledger.settings import load_settings, settings_file
from tests.screens.support import picture, until
from tests.screens.terminal import Terminal, terminal
from tests.small import small_ledger

IN_TMUX = {"enter": "Enter", "space": "Space", "escape": "Escape", "comma": ",", "f3": "F3"}


class Hands(Protocol):
    """Hands on the keys of the program, which count."""

    presses: int

    async def press(self, *keys: str) -> None:
        """Press keys."""

    async def sees(self, *texts: str) -> str:
        """Wait until the screen shows these texts, wherever its lines break; return it."""


def joined(drawn: str) -> str:
    """Return what is drawn as one line."""
    return " ".join(drawn.split())


@dataclass
class ByPilot:
    """Hands on a program in this process."""

    pilot: Any
    presses: int = 0

    async def press(self, *keys: str) -> None:
        """Press keys one after the other."""
        for key in keys:
            await self.pilot.press(key)
            self.presses += 1

    async def sees(self, *texts: str) -> str:
        """Wait until all these texts are on the screen."""
        await until(self.pilot, lambda: all(text in joined(picture(self.pilot.app)) for text in texts))
        return picture(self.pilot.app)


@dataclass
class InTerminal:
    """Hands on a program in a terminal of its own."""

    term: Terminal
    presses: int = 0

    async def press(self, *keys: str) -> None:
        """Press keys, each as one signal of the keyboard."""
        for key in keys:
            self.term.press(IN_TMUX.get(key, key))
            self.presses += 1

    async def sees(self, *texts: str) -> str:
        """Wait until all these texts are drawn."""
        return await asyncio.to_thread(self.term.until, lambda drawn: all(text in joined(drawn) for text in texts))


@asynccontextmanager
async def by_pilot(place: Path, size: tuple[int, int], _: Path) -> AsyncIterator[Hands]:
    """Run the pages in this process."""
    desk = Desk(Door(place), Door(place, write=True), load_settings())
    async with Pages(desk).run_test(size=size) as pilot:
        yield ByPilot(pilot)
    desk.close()


@asynccontextmanager
async def in_terminal(place: Path, size: tuple[int, int], home: Path) -> AsyncIterator[Hands]:
    """Run the program in a terminal."""
    with terminal(home, size) as term:
        term.program("--ledger", str(place))
        yield InTerminal(term)
        term.press("C-q")
        await asyncio.to_thread(term.sees, "code=0")


WAYS = [
    pytest.param((how, size), id=f"{name} {size[0]}x{size[1]}", marks=marks)
    for how, name, size, marks in (
        (by_pilot, "pilot", (80, 24), ()),
        (by_pilot, "pilot", (120, 40), ()),
        (in_terminal, "terminal", (80, 24), ()),
        (in_terminal, "terminal", (120, 40), pytest.mark.calibration),  # a start of the program takes its time
    )
]


@pytest.fixture(params=WAYS)
def run(request, home: Path) -> Callable[[Path], Any]:
    """Return what runs the program on a ledger, and gives hands on its keys."""
    how, size = request.param
    return lambda place: how(place, size, home)


def rows(place: Path, kind: type[Any], **fields: object) -> list[Any]:
    """Return what is on disk."""
    with Ledger.open(place) as ledger:
        return ledger.rows(kind, **fields)


async def test_a_specimen_of_ten_criteria_takes_eleven_keys(run, tmp_path):
    """A digit a criterion and Enter, as quick as a machine sends them: each lands where it was meant."""
    place = small_ledger(tmp_path).place
    async with run(place) as hands:
        await hands.sees("Loose ends", "all keys")
        await hands.press("comma", "b")
        await hands.sees("Turns", "1 of 10", "specimen 1 of 3")
        before = hands.presses
        await hands.press(*"2112012201", "enter")
        await hands.sees("specimen 2 of 3", "Turns", "saved ")
        assert hands.presses - before == 11
    seen = {one.criterion: one for one in rows(place, Observation)}
    order = ["turns", "spread", "bubbles", "evenness", "veil", "rough", "shine", "edge", "tint", "smell"]
    assert [seen[key].choice or seen[key].grade for key in order] == [2, 1, 1, 2, 0, 1, "satin", 2, 0, 1]


async def test_a_known_paint_in_a_parcel_takes_at_most_twelve_keys(run, tmp_path):
    """Beside batch code and price: letters of maker and paint, and Enter; the piece is saved with its sticker."""
    place = small_ledger(tmp_path).place
    async with run(place) as hands:
        await hands.sees("Loose ends", "all keys")
        await hands.press("comma", "s")
        await hands.sees("OV 0003", "new parcel")
        await hands.press("n")
        await hands.sees("seller", "to the lines")
        await hands.press(*"Lantern", "f3")
        await hands.sees("batch code", "faults")
        before = hands.presses
        await hands.press(*"tre", "space", *"vi", "enter")
        given = hands.presses
        await hands.press(*"T8")
        given = hands.presses - given
        await hands.press("enter")
        price = hands.presses
        await hands.press(*"5.90")
        given += hands.presses - price
        await hands.press("enter")
        await hands.sees("OV 0004 saved")
        assert hands.presses - before - given == 9 <= 12
    (one,) = rows(place, Specimen, sticker="OV 0004")
    assert (one.paint, one.price_minor, one.format) == ("pt0", 590, "half pan")


async def test_a_sound_piece_takes_two_keys_and_a_fault_with_its_photo_five(run, tmp_path, home):
    """Space and Enter; letter, digit, photo and these two. At most four and six are allowed."""
    place, camera = small_ledger(tmp_path).place, tmp_path / "camera"
    camera.mkdir()
    Image.new("L", (16, 12), 90).save(camera / "shot.png")
    settings_file().write_text(f'photo_folder = "{camera}"\n', encoding="utf-8")
    async with run(place) as hands:
        await hands.sees("Loose ends", "all keys")
        await hands.press("comma", "s")
        await hands.sees("OV 0003", "faults")
        await hands.press("g")
        await hands.sees("piece 3 of 3", "c Cracked")
        before = hands.presses
        await hands.press("space", "enter")
        await hands.sees("piece 1 of 3", "c Cracked")
        assert hands.presses - before == 2 <= 4
        before = hands.presses
        await hands.press("w", "3", "f")
        await hands.sees("shot.png filed with Wrapper stuck to the paint, OV 0001")
        await hands.press("space", "enter")
        await hands.sees("piece 2 of 3", "c Cracked", "saved ")
        assert hands.presses - before == 5 <= 6
    with Ledger.open(place) as ledger:
        sound, faulty = (faults.load(ledger, key).seen for key in ("sp02", "sp00"))
        assert (len(sound), len(faulty)) == (12, 12)
        assert {one.grade for one in sound.values() if one.choice is None} <= {0, 1}
        (wrapper,) = (one for place_, one in faulty.items() if place_.criterion == "wrapper_adhesion")
        (photo,) = ledger.rows(Photo)
        assert (wrapper.grade, photo.observation) == (3, wrapper.id)


@pytest.fixture
def demo(demo_file, demo_home, home, tmp_path) -> Path:
    """Return a copy of the demo whose findings are worked out, as a tester finds it on the second day."""
    shutil.copytree(demo_home, home, dirs_exist_ok=True)
    return Path(shutil.copyfile(demo_file, tmp_path / "demo.ledger"))


def key_of(drawn: str, words: str) -> str:
    """Return the key of the line on which some words stand."""
    lines = re.split(r"\n (?=[1-9a-l] )", drawn)
    (line,) = (one for one in lines if words in joined(one))
    return line[0]


async def test_the_demo_s_faults_are_three_keys_from_the_first_screen_and_its_drifted_session_one(run, demo):
    """The page of findings, then the digit of the line: why. The session has its key on the first screen."""
    async with run(demo) as hands:
        drawn = await hands.sees("Loose ends", "session S07", "to do")
        before = hands.presses
        await hands.press(key_of(drawn, "session S07 of TL, guest: control and repeats moved"))
        await hands.sees("Session S07", "We propose to void")
        assert hands.presses - before == 1 <= 2
        for said, why in (
            ("Trellmere, half pan: wrapper stuck to the paint", "wrapper stuck to the paint: 4 of 6"),
            ("lot Q4471: separated binder", "separated binder: 4 of 4"),
        ):
            await hands.press("comma", "l")
            await hands.sees("[l Loose ends]", "session S07")
            before = hands.presses
            await hands.press("comma", "f")
            drawn = await hands.sees("Settled", said)
            await hands.press(key_of(drawn, said))
            await hands.sees("Why", why)
            assert hands.presses - before == 3
            await hands.press("escape")
            await hands.sees("[f Findings]", "all cells")
