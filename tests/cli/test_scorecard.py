"""The commands that write a draft of the page, and a letter."""

import json

import pytest

from qcledger.ledger import Ledger
from qcledger.records import Decision, MakerAnswer, Publication, Question, ReaderNote
from tests.screens.findings.support import shelf_ledger


@pytest.fixture
def place(home, tmp_path):
    return shelf_ledger(tmp_path)


def test_a_draft_is_one_file_and_records_nothing(cli, place, tmp_path):
    """The page is written once, marked a draft; a second run is refused and changes nothing until it is forced."""
    page = tmp_path / "out" / "card.html"
    missing = cli("scorecard", "--ledger", place, "--to", page)
    assert (missing.code, len(missing.error_lines)) == (2, 1)
    page.parent.mkdir()
    with Ledger.open(place) as ledger:
        before = ledger.closing_hashes()
    done = cli("scorecard", "--ledger", place, "--to", page)
    assert done.code == 0
    assert "not recorded" in done.out
    assert "no legal advice" in done.err
    assert "DRAFT" in page.read_text(encoding="utf-8")
    assert [one.name for one in page.parent.iterdir()] == ["card.html"]
    first = page.read_bytes()
    again = cli("scorecard", "--ledger", place, "--to", page)
    assert (again.code, page.read_bytes()) == (2, first)
    assert "--force" in again.err
    assert cli("scorecard", "--ledger", place, "--to", page, "--force").code == 0
    with Ledger.open(place) as ledger:
        assert ledger.closing_hashes() == before
        assert ledger.rows(Publication) == []


def test_a_folder_of_somebody_elses_is_left_alone(cli, place, tmp_path):
    """Where a folder beside the page holds other files, nothing is written at all."""
    other = tmp_path / "card-photos" / "mine.txt"
    other.parent.mkdir()
    other.write_text("mine")
    refused = cli("scorecard", "--ledger", place, "--to", tmp_path / "card.html")
    assert (refused.code, len(refused.error_lines)) == (2, 1)
    assert other.read_text() == "mine"
    assert not (tmp_path / "card.html").exists()


def test_data_goes_to_stdout(cli, place):
    """JSON is the view, CSV and Markdown tell the same; a comparison that is not there is refused."""
    told = json.loads(cli("scorecard", "--ledger", place, "--as", "json").out)
    assert told["edition"]["number"] == 0
    assert {one["maker"] for one in told["cells"]} == {"Aldervane", "Corvannet", "Drumlaw", "Halcyre", "Quernlow"}
    assert cli("scorecard", "--ledger", place, "--as", "csv").out.startswith("what,edition,on,")
    assert "## Still open" in cli("scorecard", "--ledger", place, "--as", "md").out
    refused = cli("scorecard", "--ledger", place, "--as", "md", "--comparison", "winter")
    assert (refused.code, "spring" in refused.err) == (2, True)


def test_what_was_said_privately_is_in_no_face(cli, place, tmp_path):
    """Reader's words, private answers and reasons are in no face and no letter; a question in its maker's alone."""
    mark = "Sallowmark"
    assert cli("ask", "Corvannet", "--on", "2026-11-02", "--note", f"{mark} 1", "--ledger", place).code == 0
    said = ("--kind", "agrees", "--received", "2026-11-12", "--print", "We looked.", "--private", f"{mark} 2")
    assert cli("answer", "Corvannet", *said, "--ledger", place).code == 0
    assert cli("note", "Corvannet", "evenness", "--text", f"{mark} 3", "--ledger", place).code == 0
    hold = ("keep-private", "Drumlaw", "evenness", "tube", "--reason", f"{mark} 4", "--ledger", place)
    assert cli(*hold).code == 0
    with Ledger.open(place) as ledger:
        assert all(ledger.rows(kind) for kind in (Question, MakerAnswer, ReaderNote, Decision))
    page = tmp_path / "card.html"
    assert cli("scorecard", "--ledger", place, "--to", page).code == 0
    faces = [cli("scorecard", "--ledger", place, "--as", face).out for face in ("md", "csv", "json")]
    letters = [cli("letter", maker, "--ledger", place).out for maker in ("Corvannet", "Drumlaw")]
    assert f"{mark} 1" in letters[0]  # it was asked of this maker, who reads what it was asked before
    for face in (page.read_text(encoding="utf-8"), *faces, letters[0].replace(f"{mark} 1", ""), letters[1]):
        assert mark not in face
    assert all("Seller 0" not in face for face in (page.read_text(encoding="utf-8"), *faces))


def test_a_letter_goes_to_stdout_or_into_a_page(cli, place, tmp_path):
    """As text it is printed; as a page it is written once; days are read, and a maker nobody knows is refused."""
    text = cli("letter", "corvannet", "--by", "2027-12-01", "--ledger", place)
    assert text.code == 0
    assert text.out.startswith("To Corvannet,")
    assert "by 1 December 2027" in " ".join(text.out.split())
    page = tmp_path / "letter.html"
    assert cli("letter", "Corvannet", "--html", page, "--ledger", place).code == 0
    assert "<h1>To <bdi>Corvannet</bdi></h1>" in page.read_text(encoding="utf-8")
    for args, said in (
        (("Nobody",), "Corvannet"),
        (("Corvannet", "--by", "2020-01-01"), "--by"),
        (("Corvannet", "--html", page), "--force"),
    ):
        refused = cli("letter", *args, "--ledger", place)
        assert (refused.code, len(refused.error_lines)) == (2, 1)
        assert said in refused.err
