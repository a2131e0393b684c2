"""The bench on a server: a connection that is lost, and two testers at once, each in a process of his own."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from qcledger.errors import LedgerUnavailable
from qcledger.ledger import Ledger
from qcledger.records import Daybook, Maker, Observation, Photo, Trial
from qcledger.screens.widgets.notes import NoteArea
from qcledger.settings import HOME_VARIABLE
from tests.ledger.conftest import _server
from tests.ledger.group import Group, group
from tests.screens.bench.support import Bench
from tests.small import Small, sheet, stock, ten, ticking

OTHER = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from qcledger.bench import sheets
from qcledger.bench.record import write
from qcledger.bench.result import Pencil, Result
from qcledger.bench.runsheet import SheetSquare
from qcledger.ledger import Ledger, new_id
from qcledger.records import RunRow, Session, Sheet, Stage, Photo
from qcledger.vocab import Blinding, StageName

with Ledger.open(sys.argv[1], write=True, begin=False) as ledger:
    now = datetime(2026, 3, 9, 14, 2, 31, tzinfo=UTC)
    ledger.append([
        Session(id="tl-se", code="S05", comparison="cp", tester="TL", blinding=Blinding.OPEN, started_at=now),
        Stage(id="tl-wet", session="tl-se", name=StageName.WET),
        Sheet(id="tl-sh", session="tl-se", number=1, paper="cotton 300 g, cold pressed"),
        RunRow(id="tl-rr", session="tl-se", sheet="tl-sh", position=1, specimen="sp00"),
    ])
    sheet = sheets.load(ledger, "tl-se")
    pencil = Pencil(id=new_id(), tester=ledger.daybook.tester, at=now)
    written = write(sheet, SheetSquare(0, "turns"), Result(grade=2.0), pencil=pencil, new_id=new_id)
    ledger.append(written.records)
    for photo in ledger.rows(Photo):
        print(photo.file_name, len(ledger.photo_path(photo).read_bytes()))
"""
"""What the other tester does meanwhile: grades on a sheet of his own, and looks at every photo."""


@pytest.fixture
def studio():
    """Give a group's database with Oda's sheet at work in it, set up as the guide says."""
    with group(_server()) as made:
        with Ledger.create(made.oda, letters="OV", tester="OV", sources=ticking(), zone="Etc/UTC") as ledger:
            ledger.append([ledger.keep_rubric(ten()), *stock(3), *sheet(ten(), 3)])
        yield made


def bench(studio: Group, **settings) -> Bench:
    """Return Oda's page on the server's ledger."""
    return Bench(Small(studio.oda, ten()), **settings)


def on_his_machine(folder: Path, *args: object) -> str:
    """Run Python in a process with the other tester's home, and return what it printed."""
    folder.mkdir(exist_ok=True)
    environment = {**os.environ, HOME_VARIABLE: str(folder)}
    done = subprocess.run(
        [sys.executable, *map(str, args)], capture_output=True, text=True, env=environment, timeout=300
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


async def test_a_lost_connection_loses_no_grade(studio):
    """Ended while idle, the next key saves; ended in a save, it is said, and the same key saves once."""
    async with bench(studio).run() as at:
        await at.press("3")
        await at.saved()
        studio.end_connections()
        await at.press("4")
        await at.until(lambda: at.said.saved.startswith("saved "))
        await at.saved()
        assert [seen.grade for seen in at.on_disk()] == [3.0, 4.0]
        database = at.desk._writing.ledger._database
        remembering = database.before_commit

        def cut(connection):
            remembering(connection)
            studio.end_connections()
            connection.exec_driver_sql("SELECT 1")

        database.before_commit = cut
        await at.press("2")
        lost = "was lost; not saved; try again"
        await at.until(lambda: at.said.saved == "not saved" and lost in at.said.said)
        database.before_commit = remembering
        assert len(at.on_disk()) == 2
        await at.press("2")
        await at.until(lambda: at.said.saved.startswith("saved "))
        await at.saved()
        assert sorted(seen.grade for seen in at.on_disk()) == [2.0, 3.0, 4.0]


async def test_a_connection_lost_while_typing_keeps_the_text(studio):
    """A note half typed stands when the connection is gone, and is stored once with the next save."""
    async with bench(studio).run() as at:
        await at.press("3")
        await at.saved()
        await at.press("n", *"foam")
        studio.end_connections()
        await at.press(*"ing")
        assert at.app.screen.query_one(NoteArea).text == "foaming"
        await at.press("escape")
        await at.until(lambda: at.said.saved.startswith("saved "))
        await at.saved()
        assert [seen.note for seen in at.on_disk() if seen.note] == ["foaming"]


async def test_two_testers_at_once(studio, tmp_path, monkeypatch):
    """One at the pages, one beside them: each grades his own sheet under his own name and sees the other's photo."""
    from PIL import Image

    monkeypatch.setattr("qcledger.screens.camera.STILL_S", 0.0)
    camera, his = tmp_path / "camera", tmp_path / "tilo"
    camera.mkdir()
    Image.new("RGB", (8, 8), "teal").save(camera / "one.png")
    start = ("-m", "qcledger", "start", "--letters", "TL", "--tester", "Tilo Lund", "--zone", "Etc/UTC")
    on_his_machine(his, *start, "--ledger", studio.tilo)
    async with bench(studio, photo_folder=str(camera)).run() as at:
        await at.press("3", "f")
        await at.until(lambda: "one.png filed with Turns, OV 0001" in at.said.said)
        size = (camera / "one.png").stat().st_size
        assert on_his_machine(his, "-c", OTHER, studio.tilo) == f"one.png {size}\n"
        await at.press("<", "4")
        await at.until(lambda: at.said.saved.startswith("saved "))
        await at.saved()
        with at.small.open() as ledger:
            by = {seen.id: ledger.made_by(Observation, seen.id) for seen in ledger.rows(Observation)}
            assert sorted(by.values()) == ["", "", "TL, Tilo Lund"]
            assert {row.grade for row in ledger.rows(Observation)} == {3.0, 4.0, 2.0}
            counted = {row.grade for row in ledger.tested_rows()}
            assert counted == {4.0, 2.0}
            assert len(ledger.rows(Trial)) == 2
            assert len(ledger.rows(Daybook)) == 2
            assert ledger.disputes() == []
            assert ledger.verify() == []
            assert len(ledger.rows(Photo)) == 1
    told = on_his_machine(his, "-m", "qcledger", "verify", "--ledger", studio.tilo)
    assert "Every entry, row and photo is as it was written." in told
    on_his_machine(his, "-m", "qcledger", "export", tmp_path / "out", "--ledger", studio.tilo)
    on_his_machine(his, "-m", "qcledger", "findings", "--ledger", studio.tilo)


async def test_who_has_not_joined_looks_at_the_pages(studio, tmp_path, monkeypatch):
    """The pages open; a save is refused in the line that says how to join, and no row is written."""
    home = tmp_path / "not joined"
    home.mkdir()
    monkeypatch.setenv(HOME_VARIABLE, str(home))
    at = Bench(Small(studio.tilo, ten()))
    async with at.app.run_test(size=(80, 24)) as at.pilot:
        await at.until(lambda: at.desk.is_ready)
        with pytest.raises(LedgerUnavailable, match="have not joined the ledger"):
            await at.desk.append([Maker(id="new", name="Corvannet")])
    at.desk.close()
    with at.small.open() as ledger:
        assert [row.name for row in ledger.rows(Maker)] == ["Trellmere"]
        assert len(ledger.rows(Daybook)) == 1
