"""``qcledger merge`` takes daybooks in whole, or says in one line why not."""

import csv
import hashlib
import io
import json
import shutil
from dataclasses import replace

from qcledger.exchange import codec, csvfile, to_folder
from qcledger.ledger import Ledger
from qcledger.records import Entry, Maker, Paint, Parcel, columns
from tests.exchange.made import files_of, full
from tests.ledger.given import PACKED, basics, steady, unpacked
from tests.ledger.test_merge import resealed


def folders(tmp_path):
    """Make an exported folder, and a ledger to merge it into; returns the arguments of a merge."""
    (tmp_path / "theirs").mkdir()
    with full(tmp_path / "theirs" / "ledger.sqlite") as theirs:
        to_folder(theirs, tmp_path / "out")
    with Ledger.create(tmp_path / "mine.sqlite", letters="TL", tester="Tam Lark", daybook="mine", zone="Etc/UTC"):
        pass
    return "merge", tmp_path / "out", "--ledger", tmp_path / "mine.sqlite"


def test_merge_counts_new_entries(cli, tmp_path):
    """The first merge says how many entries were new, the second that there were none."""
    run = folders(tmp_path)
    first = cli(*run)
    entries = (tmp_path / "out" / "entries.csv").read_text(encoding="utf-8")
    with Ledger.open(tmp_path / "mine.sqlite") as ledger:
        count = sum(entry.daybook != "mine" for entry in ledger.entries())
    new = "New here: daybook id-000001 of OV, Oda Vane"
    assert (first.code, first.out, first.err) == (0, f"{count} new entries\n{new}\n", "")
    assert entries.count("\n") >= count
    assert cli(*run).out == "0 new entries; this ledger has what the folder holds\n"


def test_merge_says_that_a_daybook_counts_as_ones_own(cli, tmp_path):
    """Letters and name are all that says whose a daybook is, so one that bears the tester's own is pointed out."""
    run = folders(tmp_path)
    place = tmp_path / "again.sqlite"
    Ledger.create(place, letters="ov", tester="oda vane", zone="Etc/UTC").close()
    told = " ".join(cli(*run[:3], place).out.split())
    assert "of OV, Oda Vane; it bears your letters and name, and counts as yours" in told


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
    assert refused.err.endswith("qcledger import FOLDER brings its rows in as yours.\n")
    assert cli("import", tmp_path / "out", "--ledger", place).code == 0  # and that is a way out
    with Ledger.open(place) as both:
        assert [row.name for row in both.rows(Paint)] == ["Viridian"]
        assert len(both.rows(Parcel)) == 1
        assert both.verify() == []


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


def copied(tmp_path):
    """Make a copy of a ledger, which this machine has no daybook in; returns its path."""
    with Ledger.create(
        tmp_path / "first.sqlite", letters="TL", tester="Tam Lark", sources=steady(prefix="c")
    ) as first:
        first.append(basics()[:3])
    shutil.copy(tmp_path / "first.sqlite", tmp_path / "copy.sqlite")
    return tmp_path / "copy.sqlite"


def spoil(folder):
    """Let an exported folder hold a whole chain whose last row names a maker that is nowhere."""
    entries, told = folder / "entries.csv", folder / "manifest.json"
    with Ledger.create(folder.with_name("x.sqlite"), letters="BO", tester="Ben", daybook="unfit") as other:
        other.append([Maker(id="gone", name="x"), Paint(id="paint of it", maker="gone", name="x")])
        chain = list(other.entries())
    first = resealed(chain[:1], "paint", "p", '{"reason":"","record":{"id":"p","maker":"gone","name":"x","note":""}}')
    header = [column.name for column in columns(Entry)]
    text = "".join(csvfile.line(cells) for cells in [header, *map(codec.cells, first)])
    entries.write_text(text, encoding="utf-8", newline="")
    content = json.loads(told.read_text(encoding="utf-8"))
    content["files"]["entries.csv"]["sha256"] = hashlib.sha256(entries.read_bytes()).hexdigest()
    content["closing"] = {"unfit": {"seq": 2, "hash": first[-1].hash}}
    told.write_text(json.dumps(content), encoding="utf-8")


def test_a_refused_merge_leaves_a_copy_as_it_was(cli, home, tmp_path):
    """Whether the folder, its chains or its rows are refused, no daybook is begun for it, here or in the settings."""
    folders(tmp_path)
    copy = copied(tmp_path)
    with Ledger.create(tmp_path / "theirs.sqlite", letters="BO", tester="Ben", daybook="forked") as theirs:
        theirs.append([Maker(id="maker", name="theirs")])
        to_folder(theirs, tmp_path / "unfit")
    spoil(tmp_path / "unfit")
    before, remembered = copy.read_bytes(), files_of(home)
    (tmp_path / "out" / "maker.csv").write_text("x\n")
    for folder in (tmp_path / "out", tmp_path / "unfit", tmp_path, tmp_path / "absent"):
        assert cli("merge", folder, "--ledger", copy).code > 0
        assert copy.read_bytes() == before
        assert files_of(home) == remembered


def test_a_merge_into_a_copy_begins_a_daybook_only_with_news(cli, tmp_path):
    """With nothing new the copy stays as it was; with news it has a daybook of its own, with its own letters."""
    folders(tmp_path)
    copy = copied(tmp_path)
    with Ledger.open(copy) as ledger:
        to_folder(ledger, tmp_path / "same")
    before = copy.read_bytes()
    assert cli("merge", tmp_path / "same", "--ledger", copy).out.startswith("0 new entries")
    assert copy.read_bytes() == before
    assert cli("merge", tmp_path / "out", "--ledger", copy).code == 0
    with Ledger.open(copy, write=True) as ledger:
        assert (ledger.daybook.letters, ledger.daybook.tester) == ("TL", "Tam Lark")
        assert len(ledger.closing_hashes()) == 3


def test_what_was_taken_in_and_does_not_count_is_said(cli, tmp_path, monkeypatch):
    """A chain with what cannot have been so comes in whole; merge and verify say what of it does not count."""
    with monkeypatch.context() as older:
        older.setattr("qcledger.ledger.rules.check_evidence", lambda *_: None)
        with Ledger.create(tmp_path / "old.sqlite", letters="BO", tester="Ben", sources=steady()) as theirs:
            twin = replace(basics()[6], id="twin", sticker="OV 1")
            theirs.append([*basics(), PACKED, unpacked("x", trial="trial"), twin])
            to_folder(theirs, tmp_path / "out")
    with Ledger.create(tmp_path / "mine.sqlite", letters="TL", tester="Tam Lark"):
        pass
    minded = [
        "Mind: 1 result does not count, of a criterion that is not judged there: OV 0001",
        "Mind: two specimens are called OV 1; give one another sticker",
    ]
    merged = cli("merge", tmp_path / "out", "--ledger", tmp_path / "mine.sqlite")
    assert (merged.code, merged.out.splitlines()[2:]) == (0, minded)
    verified = cli("verify", "--ledger", tmp_path / "mine.sqlite")
    assert (verified.code, verified.out.splitlines()[-2:]) == (0, minded)
    assert max(map(len, verified.out.splitlines())) <= 80
