"""``qcledger rubric``: lists, checks, and prints ladders."""

import json
import re

import pytest

from qcledger import rubric
from qcledger.errors import MESSAGE_LIMIT
from qcledger.settings import shipped

NAMES = [path.stem for path in sorted(shipped("rubrics").glob("*.yaml"))]


def test_without_a_name_the_shipped_ones_are_listed(cli):
    """One line a file: name, title, what it holds, and the beginning of its version."""
    done = cli("rubric")
    assert (done.code, done.err) == (0, "")
    lines = done.out.splitlines()
    assert [line.split()[0] for line in lines] == NAMES
    watercolour = rubric.load(shipped("rubrics") / "watercolour.yaml")
    (line,) = (line for line in lines if line.startswith("watercolour"))
    assert watercolour.title in line
    assert f"{len(watercolour.criteria)} criteria" in line
    assert watercolour.hash.startswith(line.split()[-1])
    assert len(line.split()[-1]) == 12


def test_the_list_as_json(cli):
    """The same rows as JSON, with the whole version."""
    rows = json.loads(cli("rubric", "--json").out)
    assert [row["name"] for row in rows] == NAMES
    assert all(re.fullmatch(r"[0-9a-f]{64}", row["hash"]) for row in rows)


@pytest.mark.parametrize("name", NAMES)
def test_every_shipped_file_prints_within_80_columns(cli, name):
    """Whatever the file, no line is wider than a plain terminal."""
    done = cli("rubric", name)
    assert (done.code, done.err) == (0, "")
    assert max(map(len, done.out.splitlines())) <= 80


def test_ladders_stand_one_below_the_other(cli):
    """A rubric is printed one criterion at a time, each anchor on a rung of its own, in the order of the file."""
    out = cli("rubric", "packaging").out
    pack = rubric.load(shipped("rubrics") / "packaging.yaml")
    places = [out.index(f"({key})") for key in pack.criteria]
    assert places == sorted(places)
    assert len(re.findall(r"^  \d  \S", out, re.MULTILINE)) == sum(len(one.anchors) for one in pack.criteria.values())


def test_one_criterion_alone(cli):
    """--criterion prints one ladder and no other, with its fault line and sources."""
    done = cli("rubric", "watercolour", "--criterion", "rewetting_in_fives")
    assert done.code == 0
    assert "Rewetting difficulty (rewetting_in_fives)" in done.out
    assert "Granulation" not in done.out
    assert "a fault from here on, major [our proposal]" in done.out
    assert re.findall(r"^  (\d)  ", done.out, re.MULTILINE) == ["0", "1", "2", "3", "4", "5"]


def test_one_criterion_as_json(cli):
    """--json gives the same criterion as data."""
    data = json.loads(cli("rubric", "watercolour", "--criterion", "rewetting_in_fives", "--json").out)
    assert list(data["criteria"]) == ["rewetting_in_fives"]
    assert data["criteria"]["rewetting_in_fives"]["reading"]["limits"] == [5, 10, 20, 35, 60]
    assert list(data["criteria"]["rewetting_in_fives"]["anchors"]) == ["0", "1", "2", "3", "4", "5"]
    assert data["hash"] == rubric.load(shipped("rubrics") / "watercolour.yaml").hash


def test_one_pigment_alone(cli):
    """The pigment reference is checked by the same command; a pigment is named by its Colour Index name."""
    done = cli("rubric", "pigments", "--criterion", "PG18")
    assert done.code == 0
    assert "PG18: viridian" in done.out
    assert "local law win" in " ".join(done.out.split())
    assert "PG17" not in done.out
    data = json.loads(cli("rubric", "pigments", "--criterion", "PG18", "--json").out)
    assert data["pigments"]["PG18"]["rewet"] == ["hard"]


def test_a_file_of_ones_own(cli, tmp_path):
    """A tester's own file is checked where it lies."""
    path = tmp_path / "mine.yaml"
    text = (shipped("rubrics") / "pencil.yaml").read_text(encoding="utf-8")
    path.write_text(text.replace("title: Coloured pencils", "title: My pencils"), encoding="utf-8")
    done = cli("rubric", path)
    assert done.code == 0
    assert done.out.startswith("mine.yaml can be used: 14 criteria, version ")
    assert "My pencils" in done.out


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (["nope"], ["'nope'", "watercolour"]),
        (["watercolour", "--criterion", "shine"], ["'shine'", "rewetting_in_fives, froth_amount"]),
        (["--criterion", "salt"], ["'salt'", "a rubric's name"]),
        (["\x1b[31mnope"], ["nope"]),
        (["watercolour", "--weight"], ["--weight"]),
    ],
)
def test_wrong_calls_are_told_in_one_line(cli, args, words):
    """Exit 2, nothing on stdout, one line on stderr with what is allowed."""
    done = cli("rubric", *args)
    assert (done.code, done.out) == (2, "")
    assert len(done.error_lines) == 1
    assert len(done.error_lines[0]) <= MESSAGE_LIMIT
    assert done.error_lines[0].isprintable()
    for word in words:
        assert word in done.error_lines[0]


def test_a_wrong_file_is_told_with_its_line(cli, tmp_path):
    """File, line, what was found and what is allowed; exit 2."""
    path = tmp_path / "mine.yaml"
    text = (shipped("rubrics") / "pencil.yaml").read_text(encoding="utf-8")
    path.write_text(text.replace("kind: count", "kind: stars", 1), encoding="utf-8")
    line = text[: text.index("kind: count")].count("\n") + 1
    done = cli("rubric", path)
    assert (done.code, done.out) == (2, "")
    assert done.err == f"mine.yaml line {line}: found 'stars'; allowed: grade, choice, count, reading\n"
