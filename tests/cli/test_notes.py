"""Readers' notes from a file: all or none, none twice, and no reader's name."""

import pytest

from qcledger.ledger import Ledger
from qcledger.records import ReaderNote
from tests.hostile import HOSTILE
from tests.screens.findings.support import shelf_ledger

HEADER = "maker,fault,format,lot,told_on,note\n"


@pytest.fixture
def place(home, tmp_path):
    return shelf_ledger(tmp_path)


def kept(place):
    with Ledger.open(place) as ledger:
        return ledger.rows(ReaderNote)


def test_notes_come_in_once(cli, place, tmp_path):
    """Two lines are two notes; the same file again, and one line twice, add nothing; a dry run keeps nothing."""
    file = tmp_path / "notes.csv"
    lines = ["Corvannet,evenness,half pan,L7,2026-06-08,pale", "Drumlaw,soft,,,2026-06-09,"]
    file.write_text(HEADER + "\n".join((*lines, lines[0])) + "\n", encoding="utf-8")
    assert cli("notes", file, "--dry-run", "--ledger", place).code == 0
    assert kept(place) == []
    assert cli("notes", file, "--ledger", place).code == 0
    assert sorted((one.fault, one.lot_code, one.note) for one in kept(place)) == [
        ("evenness", "L7", "pale"),
        ("soft", None, ""),
    ]
    again = cli("notes", file, "--ledger", place)
    assert again.out.startswith("0 readers' notes, 3 kept already")
    assert len(kept(place)) == 2


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (HEADER + "Nobody,evenness,,,,\n", "notes.csv line 2, maker"),
        (HEADER + "Corvannet,evenness,,,2199-01-01,\n", "notes.csv line 2, told_on"),
        (HEADER + "Corvannet,evenness,,,,write to a@example.org\n", "looks like an e-mail address"),
        ("maker,price\n", "column price"),
        (HEADER, "no notes"),
        ("", "header"),
    ],
)
def test_a_file_is_kept_whole_or_not_at_all(cli, place, tmp_path, text, said):
    """A maker nobody knows, a day to come, an address, another column or nothing: named with its line, none kept."""
    file = tmp_path / "notes.csv"
    good = "Corvannet,evenness,,,,\n"
    file.write_text(text + (good if text.count("\n") > 1 else ""), encoding="utf-8")
    refused = cli("notes", file, "--ledger", place)
    assert refused.code == 2
    assert said in refused.err
    assert kept(place) == []


@pytest.mark.parametrize("text", [one for one in HOSTILE if one.strip() and '"' not in one][:6])
def test_hostile_words_stay_text(cli, place, tmp_path, text):
    """Whatever a reader wrote is kept as text, and steers no terminal."""
    file = tmp_path / "notes.csv"
    file.write_text(f'maker,fault,note\nCorvannet,evenness,"{text}"\n', encoding="utf-8")
    done = cli("notes", file, "--although", "--ledger", place)
    assert "\x1b" not in done.out + done.err
    assert done.code in (0, 2)
