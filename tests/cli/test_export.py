"""``qcledger export`` writes a folder, once, and says what is in it."""

import json

from qcledger.ledger import Ledger
from tests.exchange.made import files_of, full


def test_export_says_what_it_wrote(cli, tmp_path):
    """The folder, its counts, whose each daybook is and its closing hash are printed; nothing goes to stderr."""
    with full(tmp_path / "mine.sqlite") as ledger:
        entries, closing = sum(1 for _ in ledger.entries()), ledger.closing_hashes()
    outcome = cli("export", tmp_path / "out", "--ledger", tmp_path / "mine.sqlite")
    assert (outcome.code, outcome.err) == (0, "")
    told = json.loads((tmp_path / "out" / "manifest.json").read_text(encoding="utf-8"))
    rows = sum(kept.get("rows", 0) for name, kept in told["files"].items() if name != "entries.csv")
    first, where, *books = outcome.out.splitlines()
    assert (first, where) == (f"{entries} entries, {rows} rows, 1 photos in", f"  {tmp_path / 'out'}")
    wanted = (
        (f"daybook {book}  {seq} entries  OV, Oda Vane", f"  closing hash {last}")
        for book, (seq, last) in closing.items()
    )
    assert books == [line for lines in wanted for line in lines]
    assert max(map(len, books)) <= 80


def test_export_changes_no_ledger(cli, tmp_path):
    """The ledger's file is the same byte for byte afterwards."""
    full(tmp_path / "mine.sqlite").close()
    before = (tmp_path / "mine.sqlite").read_bytes()
    assert cli("export", tmp_path / "out", "--ledger", tmp_path / "mine.sqlite").code == 0
    assert (tmp_path / "mine.sqlite").read_bytes() == before


def test_export_asks_before_it_replaces(cli, tmp_path):
    """A folder that is there is refused in one line; --force replaces one that an export wrote."""
    with Ledger.create(tmp_path / "mine.sqlite", letters="OV", tester="Oda Vane"):
        pass
    run = ("export", tmp_path / "out", "--ledger", tmp_path / "mine.sqlite")
    assert cli(*run).code == 0
    before = files_of(tmp_path / "out")
    refused = cli(*run)
    assert (refused.code, refused.out, len(refused.error_lines)) == (2, "", 1)
    assert "--force to replace an exchange folder" in refused.err
    assert cli(*run, "--force").code == 0
    assert files_of(tmp_path / "out") == before


def test_export_without_a_ledger_is_one_line(cli, tmp_path):
    """A mistyped path makes nothing."""
    refused = cli("export", tmp_path / "out", "--ledger", tmp_path / "absent.sqlite")
    assert (refused.code, len(refused.error_lines)) == (2, 1)
    assert list(tmp_path.iterdir()) == []
