"""``qcledger findings`` on the demo: faces, filters, errors."""

import csv
import json
import shutil
from io import StringIO

import pytest

from qcledger.ledger import Ledger


@pytest.fixture(scope="module")
def made(demo_file):
    """Return the demo's ledger, made once."""
    return demo_file


@pytest.fixture(autouse=True)
def _at_once(request, monkeypatch):
    """Leave the pooled model out: what it decides on the demo is shown by tests/findings/test_demo.py."""
    if "worked_out" not in request.fixturenames:
        monkeypatch.setattr("qcledger.report.kept.WorkedOut.work_out", lambda *args, **kwargs: None)


@pytest.fixture
def worked_out(monkeypatch):
    """Let the model answer, with as few fair fields as tell a maker as faint as Corvannet."""
    for module in ("model", "pooled"):
        monkeypatch.setattr(f"qcledger.findings.{module}.fields_for", lambda line: 2 / line)


@pytest.fixture
def ask(made, cli):
    """Return a function that runs ``qcledger findings`` on the demo."""
    return lambda *args: cli("findings", "--ledger", made, *args)


def test_text_tells_the_planted_truths_first(ask):
    """The plain command prints what reaches some extent, then tables, in 80 columns."""
    told = ask()
    assert (told.code, told.err) == (0, "")
    top = " ".join(told.out.partition("all makers:")[0].split())
    for part in (
        "pigment PG18",
        "format, half pan",
        "maker Corvannet",
        "lot Q4471 of Kiln Red",
        "this maker's half pans",
    ):
        assert part in top
    labels = " ".join(told.out.partition("Labels, word for word")[2].split())
    assert "Fennacre Viridian, tube" in labels
    assert 'chemistry "chlorinated copper phthalocyanine"' in labels
    assert max(map(len, told.out.splitlines())) <= 80


def test_what_is_worked_out_is_kept(ask, home, worked_out, monkeypatch):
    """Not waited for, an accusation reads "checking"; waited for, it holds; the next run reads the kept answer."""
    args = ("--criterion", "wash_faintness")
    hasty = ask(*args, "--no-wait").out
    assert "... faintness: maker Corvannet" in hasty
    assert "strip: own counts" in hasty
    told = ask(*args).out
    assert "/// faintness: maker Corvannet" in told
    assert "simulated rounds with no maker worse" in " ".join(told.split())
    assert "strip: pooled" in told
    assert list((home / "worked_out").glob("*.json"))
    monkeypatch.setattr("qcledger.findings.model.answer", None)
    assert ask(*args).out == ask(*args, "--no-wait").out == told
    why = " ".join(ask("--why", "corvannet", *args).out.split())
    for part in ("as counted", "Chance of any excess over 0.999", "stress checks", "which anyone can redo"):
        assert part in why


def test_the_demo_command_prints_the_same(ask, made, cli, home):
    """What the demo prints is what findings prints of its copy."""
    demo = cli("demo")
    assert demo.code == 0
    assert demo.out == ask().out


def test_filters_narrow(ask):
    """Criterion by key or title, maker in any case, format: only those rows, and each cell a line."""
    lines = list(
        csv.DictReader(StringIO(ask("--criterion", "Separated binder", "--maker", "QUERNLOW", "--as", "csv").out))
    )
    assert [(line["criterion"], line["maker"], line["format"]) for line in lines] == [
        ("parted_binder", "Quernlow", "tube")
    ]
    assert "Maslenne     stick" in ask("--criterion", "froth_amount", "--format", "stick").out


def test_json_is_json(ask):
    """Every face is the same findings."""
    told = json.loads(ask("--as", "json", "--maker", "Corvannet").out)
    assert {one["maker"] for one in told["findings"]} == {"Corvannet"}
    assert {"maker"} <= {one["points_to"] for one in told["findings"]}
    assert {one["pooled"] for one in told["findings"] if one["specimens"]} == {"awaited"}


def test_why(ask):
    """The sentence that may be published while a claim is checked, and everything that led to it."""
    told = " ".join(ask("--why", "quernlow", "--criterion", "parted_binder").out.split())
    assert "separated binder: eleven specimens from four lots, in what we tested. No judgement is published" in told
    assert "... checking, points to lot Q4471 of Kiln Red" in told
    assert "met: sound lots of the paint, 3 (needed 2 or more)" in told


def test_a_comparison_by_its_title(ask, made):
    """One comparison alone is found by its title or id; recurrence is still counted over all."""
    told = json.loads(ask("--as", "json").out)["findings"]
    with Ledger.open(made) as ledger:
        from qcledger.records import Comparison

        titles = [row.title for row in ledger.rows(Comparison)]
    for title in titles:
        one = json.loads(ask("--comparison", title, "--as", "json").out)["findings"]
        assert 0 < len(one) <= len(told)


@pytest.mark.parametrize(
    ("args", "near"),
    [
        (("--maker", "Quernlo"), "Quernlow"),
        (("--why", "Corvanet"), "Corvannet"),
        (("--criterion", "froth"), "froth_amount"),
        (("--format", "halfpan"), "half pan"),
        (("--comparison", "none such"), "allowed"),
        (("--maker", "zzz"), "Aldervane"),
    ],
)
def test_unknown_names_are_one_line(ask, args, near):
    """An unknown name ends with 2 and one line: what was asked, and what is near or allowed."""
    told = ask(*args)
    assert (told.code, told.out, len(told.error_lines)) == (2, "", 1)
    assert args[0] in told.err
    assert args[1] in told.err
    assert near in told.err


def test_a_criterion_that_nobody_graded(ask):
    """A criterion of the rubric without a grade is known, and has no findings yet."""
    told = ask("--criterion", "short_measure")
    assert (told.code, told.out) == (0, "Nothing has been graded yet, so there are no findings.\n")


def test_no_ledger(cli, tmp_path):
    """Without a ledger: one line, nothing made."""
    told = cli("findings", "--ledger", tmp_path / "none.ledger")
    assert (told.code, len(told.error_lines)) == (2, 1)
    assert list(tmp_path.iterdir()) == []


def test_an_empty_ledger(cli, tmp_path):
    """A new ledger has no findings, and says so in every face."""
    place = tmp_path / "new.ledger"
    Ledger.create(place, letters="OV", tester="Ann").close()
    assert "no findings" in cli("findings", "--ledger", place).out
    assert cli("findings", "--ledger", place, "--as", "csv").out == ""
    assert cli("findings", "--ledger", place, "--maker", "Anyone").code == 2


def test_reading_changes_nothing(ask, made, tmp_path):
    """Printing findings leaves the ledger's bytes as they were."""
    before = tmp_path / "before"
    shutil.copy(made, before)
    ask("--as", "csv")
    assert made.read_bytes() == before.read_bytes()


def test_peers_stand_beside_a_maker_as_they_were_counted(ask):
    """What belongs to a format is not printed as if the other makers had none of it."""
    told = ask("--why", "Trellmere", "--criterion", "froth_amount", "--format", "half pan").out
    assert "peers 28/37 at eight other makers" in " ".join(told.split())
    assert "81 of nine makers the true share may be" in " ".join(told.split())
