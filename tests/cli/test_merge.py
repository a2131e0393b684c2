"""``qcledger merge`` takes daybooks in whole, or says in one line why not."""

import csv
import hashlib
import io
import shutil

from qcledger.exchange import to_folder
from qcledger.ledger import Ledger
from tests.exchange.made import full
from tests.ledger.given import basics, steady


def folders(tmp_path):
    """Make an exported folder, and a ledger to merge it into; returns the arguments of a merge."""
    (tmp_path / "theirs").mkdir()
    with full(tmp_path / "theirs" / "ledger.sqlite") as theirs:
        to_folder(theirs, tmp_path / "out")
    with Ledger.create(tmp_path / "mine.sqlite", letters="TL", tester="Tam Lark", daybook="mine"):
        pass
    return "merge", tmp_path / "out", "--ledger", tmp_path / "mine.sqlite"


def test_merge_counts_new_entries(cli, tmp_path):
    """The first merge says how many entries were new, the second that there were none."""
    run = folders(tmp_path)
    first = cli(*run)
    entries = (tmp_path / "out" / "entries.csv").read_text(encoding="utf-8")
    with Ledger.open(tmp_path / "mine.sqlite") as ledger:
        count = sum(entry.daybook != "mine" for entry in ledger.entries())
    assert (first.code, first.out, first.err) == (0, f"{count} new entries\n", "")
    assert entries.count("\n") >= count
    assert cli(*run).out == "0 new entries; this ledger has what the folder holds\n"


def test_merge_names_every_changed_file(cli, tmp_path):
    """Two changed files are two lines, exit code 2, and an untouched ledger."""
    run = folders(tmp_path)
    for name in ("maker.csv", "lot.csv"):
        with (tmp_path / "out" / name).open("a") as stream:
            stream.write("x\n")
    before = (tmp_path / "mine.sqlite").read_bytes()
    refused = cli(*run)
    assert (refused.code, refused.out) == (2, "")
    assert sorted(line.split(":")[0] for line in refused.error_lines) == ["lot.csv", "maker.csv"]
    assert (tmp_path / "mine.sqlite").read_bytes() == before


def test_merge_refuses_another_story(cli, tmp_path):
    """A daybook that goes on differently in a copy is refused with exit code 1, and both hashes are named."""
    for name in ("mine", "copy"):
        (tmp_path / name).mkdir()
    with Ledger.create(tmp_path / "mine" / "l.sqlite", letters="OV", tester="Oda Vane", sources=steady()) as mine:
        mine.append(basics()[:2])
        shutil.copy(tmp_path / "mine" / "l.sqlite", tmp_path / "copy" / "l.sqlite")
        mine.append(basics()[2:3])
        to_folder(mine, tmp_path / "out")
    place = str(tmp_path / "mine" / "l.sqlite")
    shutil.copy(tmp_path / "copy" / "l.sqlite", place)  # set back by hand, so that the daybook goes on
    from qcledger.ledger import daybooks

    with Ledger.open(place) as restored:
        ((book, (seq, last)),) = restored.closing_hashes().items()
    daybooks.remember(str(restored.where), daybooks.Remembered(book, seq, last))
    with Ledger.open(place, write=True) as restored:
        restored.append([basics()[5]])
    refused = cli("merge", tmp_path / "out", "--ledger", place)
    assert (refused.code, refused.out, len(refused.error_lines)) == (1, "", 1)
    assert "disagree" in refused.err


def test_merge_wants_an_exported_folder(cli, tmp_path):
    """A folder without a manifest, or none at all, is one line."""
    run = folders(tmp_path)
    for place in (tmp_path, tmp_path / "absent", tmp_path / "mine.sqlite"):
        refused = cli("merge", place, *run[2:])
        assert (refused.code, len(refused.error_lines)) == (2, 1)
        assert "no manifest.json" in refused.err


def test_merge_refuses_a_daybook_that_lost_its_end(cli, tmp_path):
    """A last entry cut off, with its file's hash put right, is seen by the closing hash of the manifest."""
    run = folders(tmp_path)
    entries, told = tmp_path / "out" / "entries.csv", tmp_path / "out" / "manifest.json"
    rows = list(csv.reader(io.StringIO(entries.read_text(encoding="utf-8"), newline="")))
    kept = io.StringIO(newline="")
    csv.writer(kept, lineterminator="\n").writerows(rows[:-1])
    old = hashlib.sha256(entries.read_bytes()).hexdigest()
    entries.write_text(kept.getvalue(), encoding="utf-8", newline="")
    new = hashlib.sha256(entries.read_bytes()).hexdigest()
    told.write_text(told.read_text(encoding="utf-8").replace(old, new), encoding="utf-8")
    refused = cli(*run)
    assert (refused.code, refused.out, len(refused.error_lines)) == (2, "", 1)
    assert "entries.csv: found 'daybook" in refused.err
