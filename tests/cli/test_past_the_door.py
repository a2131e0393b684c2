"""A ledger may hold rows that never passed its door; nothing of them steers the terminal that shows them."""

import json
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing

import pytest

from qcledger.text import steers

POISON = "\x1b[2J\x1b]52;c;aGVsbG8=\x07\x9b31m\u202e\r"
PLACES = (
    ("maker", "name"),
    ("paint", "name"),
    ("lot", "code"),
    ("parcel", "seller"),
    ("specimen", "sticker"),
    ("comparison", "title"),
    ("session", "code"),
    ("session", "tester"),
    ("session", "note"),
    ("observation", "tester"),
    ("observation", "note"),
    ("decision", "reason"),
    ("daybook", "tester"),
)


@pytest.fixture(scope="module")
def poisoned(demo_file, tmp_path_factory):
    """Return a copy of the demo whose names were changed with SQL, and a maker and a session of it."""
    place = tmp_path_factory.mktemp("poisoned") / "ledger.sqlite"
    shutil.copyfile(demo_file, place)
    with closing(sqlite3.connect(place)) as database:
        for table, column in PLACES:
            database.execute(f"UPDATE {table} SET {column} = substr({column}, 1, 150) || ?", (POISON,))
        (code,) = database.execute("SELECT code FROM session ORDER BY id").fetchone()
        database.commit()
    return place, code


def texts(value):
    """Yield every text of a value as JSON holds it."""
    if isinstance(value, dict):
        for name, one in value.items():
            yield name
            yield from texts(one)
    elif isinstance(value, list):
        for one in value:
            yield from texts(one)
    elif isinstance(value, str):
        yield value


def check(done):
    """Assert that nothing printed steers a terminal."""
    for printed in (done.out, done.err):
        assert steers(printed) is None, printed[: steers(printed) + 1][-60:]


@pytest.mark.parametrize(
    "args",
    [
        ("findings", "--no-wait"),
        ("findings", "--no-wait", "--why", "Trellmere[2J]52;c;aGVsbG8=31m"),
        ("findings", "--no-wait", "--as", "csv"),
        ("price", "--by", "paint"),
        ("price", "--trend"),
        ("price", "--by", "piece", "--as", "csv"),
        ("tester",),
        ("tester", "--charts"),
        ("tester", "--as", "csv"),
        ("sheet",),
        ("verify",),
    ],
    ids=" ".join,
)
def test_no_face_passes_on_what_steers_a_terminal(cli, poisoned, args):
    """Text and CSV hold the names that were put in with SQL, without the characters that steer."""
    done = cli(*args, "--ledger", poisoned[0])
    check(done)
    assert done.code in (0, 1)
    assert done.out


@pytest.mark.parametrize(
    "args", [("findings", "--no-wait", "--as", "json"), ("price", "--as", "json"), ("tester", "--as", "json")]
)
def test_json_holds_no_steering_character_once_it_is_read(cli, poisoned, args):
    """Nor does one come back when another program has read the JSON, where it may stand as an escape."""
    done = cli(*args, "--ledger", poisoned[0])
    check(done)
    told = list(texts(json.loads(done.out)))
    assert any("[2J" in text for text in told)
    assert [text for text in told if steers(text) is not None] == []


def test_the_checks_of_a_session_are_shown_as_text(cli, poisoned):
    """A session is found by its code as it is read, and its tester's name is plain."""
    check(cli("tester", "--check", poisoned[1], "--ledger", poisoned[0]))


@pytest.mark.parametrize(
    "args",
    [
        ("findings", "--maker", POISON + "x"),
        ("findings", "--why", POISON + "x"),
        ("findings", "--comparison", POISON + "x"),
        ("findings", "--criterion", POISON + "x"),
        ("findings", "--format", POISON + "x"),
        ("findings", "--as", POISON + "x"),
        ("findings", "--" + POISON),
        ("price", "--pigment", POISON + "x"),
        ("price", "--in", POISON + "x"),
        ("price", "--found", POISON + "x"),
        ("tester", "--check", POISON + "x"),
        ("sheet", POISON + "x"),
        ("sheet", "--poured", POISON + "x"),
        ("rubric", POISON + "x"),
        ("import", POISON + "x.csv"),
        ("merge", POISON + "x"),
        (POISON,),
    ],
    ids=lambda args: " ".join(args).replace(POISON, ""),
)
def test_what_was_typed_is_quoted_without_what_steers(cli, poisoned, args):
    """An error line shows what was found, and no more of it than a reader may see."""
    place = (
        ["--ledger", poisoned[0]] if args[0] in ("findings", "price", "tester", "sheet", "merge", "import") else []
    )
    done = cli(*args, *place)
    assert done.code == 2
    assert done.err
    check(done)


@pytest.mark.parametrize(
    "args", [("tester",), ("findings", "--no-wait", "--why", "Trellmere"), ("tester", "--as", "json")], ids=" ".join
)
def test_an_output_that_lacks_characters_gets_others(demo_file, home, tmp_path, args):
    """Under Latin-1 a text is printed with what it can show; data for another program stays UTF-8."""
    place = tmp_path / "ledger.sqlite"
    shutil.copyfile(demo_file, place)
    with closing(sqlite3.connect(place)) as database:
        database.execute("UPDATE observation SET tester = '筆 Ødegård'")
        database.execute("UPDATE maker SET name = name || ' 漆' WHERE name <> 'Trellmere'")
        database.commit()
    done = subprocess.run(
        [sys.executable, "-m", "qcledger", *args, "--ledger", place],
        capture_output=True,
        env={"PYTHONIOENCODING": "latin-1", "QCLEDGER_HOME": str(home), "PYTHONPATH": ":".join(sys.path)},
    )
    assert done.returncode == 0, done.stderr
    if "json" in args:
        assert "筆 Ødegård" in done.stdout.decode("utf-8")
    elif args == ("tester",):
        assert "Tester ? Ødegård" in done.stdout.decode("latin-1")
