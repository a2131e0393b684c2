"""What is exported and merged elsewhere is exactly what it was; what was changed on the way is named."""

import hashlib
import json
import os
import shutil
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from qcledger.errors import BadInput, ChainBroken, LedgerUnavailable, QcledgerError
from qcledger.exchange import export, merge_folder, to_folder
from qcledger.exchange.draft import Draft
from qcledger.exchange.manifest import Manifest, ManifestFile
from qcledger.ledger import Ledger
from qcledger.ledger.daybooks import remember
from qcledger.ledger.still import Still
from qcledger.records import TABLES, Maker, Paint, Parcel, Photo, RubricText, Session, Specimen
from qcledger.vocab import Blinding
from tests.exchange.made import files_of, full
from tests.exchange.strategies import rows_of
from tests.ledger.given import everything, steady
from tests.ledger.test_verify import edit


@pytest.fixture
def ledger(tmp_path):
    with full(tmp_path / "mine.sqlite") as made:
        yield made


@pytest.fixture
def folder(ledger, tmp_path):
    to_folder(ledger, tmp_path / "out")
    return tmp_path / "out"


@pytest.fixture
def other(tmp_path):
    place = tmp_path / "other"
    place.mkdir()
    with Ledger.create(place / "other.sqlite", letters="TL", tester="Tam Lark", daybook="other") as made:
        yield made


def assert_exact(source, target, out):
    """Assert that `target` holds `source` and its own daybook's first entry, no more."""
    assert {
        book: last for book, last in target.closing_hashes().items() if book != "other"
    } == source.closing_hashes()
    rows = everything(target)
    rows["daybook"] = [row for row in rows["daybook"] if row.id != "other"]
    assert rows == everything(source)
    assert [entry for entry in target.entries() if entry.daybook != "other"] == list(source.entries())
    before, after = files_of(out / "before"), files_of(out / "after")
    own = {"daybook.csv", "entries.csv", "manifest.json"}
    assert {name: content for name, content in after.items() if name not in own} == {
        name: content for name, content in before.items() if name not in own
    }
    for name in ("daybook.csv", "entries.csv"):
        added = set(after[name].splitlines()) - set(before[name].splitlines())
        assert len(added) == 1
        assert b"other" in added.pop()


def test_export_then_merge_into_an_empty_ledger_is_exact(ledger, other, tmp_path):
    """Entries, tables, photos and every file of a second export are equal, but for the receiver's own first entry."""
    to_folder(ledger, tmp_path / "before")
    assert merge_folder(other, tmp_path / "before") == sum(1 for _ in ledger.entries())
    to_folder(other, tmp_path / "after")
    assert_exact(ledger, other, tmp_path)
    assert other.verify() == ledger.verify() == []


LATER = datetime(2200, 6, 1, tzinfo=UTC)
"""After all the days that random rows have."""


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_export_then_merge_is_exact_for_any_texts(data, tmp_path_factory):
    """Random rows, hostile texts among them, come through export and merge unchanged."""
    out = tmp_path_factory.mktemp("any")
    (out / "other").mkdir()
    makers = data.draw(st.lists(rows_of(Maker), max_size=4, unique_by=lambda row: row.id))
    parcels = data.draw(st.lists(rows_of(Parcel), max_size=3, unique_by=lambda row: row.id))
    with (
        Ledger.create(out / "mine.sqlite", letters="OV", tester="Oda Vane", sources=steady(LATER)) as mine,
        Ledger.create(out / "other" / "other.sqlite", letters="TL", tester="Tam Lark", daybook="other") as theirs,
    ):
        drawn = [(row, data.draw(rows_of(Paint))) for row in makers]
        paints = [replace(paint, id=f"p{row.id}"[:64], maker=row.id, range=None) for row, paint in drawn]
        mine.append([*makers, *(replace(row, currency="EUR", received_on=None) for row in parcels), *paints])
        if paints and parcels:
            specimen = data.draw(rows_of(Specimen))
            links = {
                "paint": paints[0].id,
                "parcel": parcels[0].id,
                "lot": None,
                "label_version": None,
                "sticker": "OV 0001",
                "format": "tube",
                "pack": None,
            }
            mine.append([replace(specimen, **links)])
        to_folder(mine, out / "before")
        merge_folder(theirs, out / "before")
        to_folder(theirs, out / "after")
        assert_exact(mine, theirs, out)


def test_exporting_twice_writes_the_same_bytes(ledger, tmp_path):
    """Two exports of one ledger are the same byte for byte."""
    to_folder(ledger, tmp_path / "one")
    to_folder(ledger, tmp_path / "two")
    assert files_of(tmp_path / "one") == files_of(tmp_path / "two")


def test_merging_twice_adds_nothing(folder, other):
    """A folder that is here already brings no entry, and changes no hash."""
    merge_folder(other, folder)
    before = other.closing_hashes()
    assert merge_folder(other, folder) == 0
    assert other.closing_hashes() == before


def test_the_folder_holds_what_is_promised(ledger, folder):
    """There is a CSV for every table, the entries, the photos not redacted, a manifest, and a page on all of it."""
    names = {path.name for path in folder.iterdir()}
    assert names == {f"{table}.csv" for table in TABLES} | {"entries.csv", "manifest.json", "photos", "README.md"}
    kept, gone = sorted(ledger.rows(Photo), key=lambda row: row.caption, reverse=True)
    assert os.listdir(folder / "photos") == [f"{kept.sha256}.png"]  # noqa: PTH208
    assert gone.observation == "second"
    told = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
    assert (told["format"], told["version"]) == ("qcledger exchange folder", 2)
    files = files_of(folder)
    del files["manifest.json"]
    assert {name: kept["sha256"] for name, kept in told["files"].items()} == {
        name: hashlib.sha256(content).hexdigest() for name, content in files.items()
    }
    assert told["files"]["photo.csv"]["rows"] == 2
    assert {book: (last["seq"], last["hash"]) for book, last in told["closing"].items()} == ledger.closing_hashes()


def test_a_manifest_has_one_spelling():
    """Whatever order files and daybooks are given in, the text is the same, and letters are as they are."""
    files = {"maker.csv": ManifestFile("b" * 64, 2), "entries.csv": ManifestFile("a" * 64, 3)}
    text = Manifest(files, {"ö": (2, "d" * 64), "a": (1, "c" * 64)}, program="1.2.3").text()
    assert text == (
        '{\n  "closing": {\n'
        f'    "a": {{\n      "hash": "{"c" * 64}",\n      "seq": 1\n    }},\n'
        f'    "ö": {{\n      "hash": "{"d" * 64}",\n      "seq": 2\n    }}\n  }},\n'
        '  "files": {\n'
        f'    "entries.csv": {{\n      "rows": 3,\n      "sha256": "{"a" * 64}"\n    }},\n'
        f'    "maker.csv": {{\n      "rows": 2,\n      "sha256": "{"b" * 64}"\n    }}\n  }},\n'
        '  "format": "qcledger exchange folder",\n  "program": "1.2.3",\n  "version": 2\n}\n'
    )


def test_files_are_utf8_with_line_feeds(folder):
    """Text files have no byte order mark and no carriage return outside quotes; a redacted body is an empty cell."""
    for name, content in files_of(folder).items():
        if name.endswith((".csv", ".json")):
            assert not content.startswith(b"\xef\xbb\xbf")
            assert b"\r" not in content
            assert content.decode("utf-8").endswith("\n")
    note = next(line for line in (folder / "entries.csv").read_text().splitlines() if ",reader_note,note," in line)
    assert ",,," in note


def test_a_rubric_keeps_every_blank(tmp_path, other):
    """The text of a rubric is hashed as it stands, so that carriage returns and tabs come through, too."""
    text = (Path(__file__).parents[1] / "ten.yaml").read_text(encoding="utf-8") + "# a\ttab\r\n"
    kept = RubricText(id=hashlib.sha256(text.encode()).hexdigest(), key="ten", text=text)
    with Ledger.create(tmp_path / "mine.sqlite", letters="OV", tester="Oda Vane") as mine:
        mine.append([kept])
        to_folder(mine, tmp_path / "out")
        merge_folder(other, tmp_path / "out")
        assert other.rows(RubricText) == [kept]


def changed_name(folder):
    (folder / "maker.csv").write_bytes((folder / "maker.csv").read_bytes().replace(b"moved", b"Moved"))
    return "maker.csv: found a file changed since it was written"


def changed_photo(folder):
    photo = next((folder / "photos").iterdir())
    photo.write_bytes(photo.read_bytes()[:-1] + b"\x00")
    return f"photos/{photo.name}: found a file changed since it was written"


def missing_table(folder):
    (folder / "lot.csv").unlink()
    return "lot.csv: found no file"


def another_file(folder):
    (folder / "notes.txt").write_text("x")
    return "notes.txt: found a file that is not in the manifest"


def link(folder):
    shutil.move(folder / "lot.csv", folder.parent / "lot.csv")
    (folder / "lot.csv").symlink_to(folder.parent / "lot.csv")
    return "lot.csv: found a link"


def no_manifest(folder):
    (folder / "manifest.json").unlink()
    return "found 'no manifest.json'"


def rewritten(folder, change):
    told = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
    change(told)
    (folder / "manifest.json").write_text(json.dumps(told))


def newer(folder):
    rewritten(folder, lambda told: told.update(version=3))
    return "manifest.json: found 'version 3'"


def other_format(folder):
    rewritten(folder, lambda told: told.update(format="something else"))
    return "manifest.json: found 'something else'"


def outside(folder):
    rewritten(folder, lambda told: told["files"].update({"../mine.sqlite": told["files"]["lot.csv"]}))
    return "manifest.json: found 'a file named ../mine.sqlite'"


def infinite(folder):
    path = folder / "manifest.json"
    path.write_text(path.read_text(encoding="utf-8").replace('"seq": ', '"seq": 1e999, "was": '), encoding="utf-8")
    return "manifest.json: found 'a text that this program did not write'"


def rows_in_words(folder):
    rewritten(folder, lambda told: told["files"]["lot.csv"].update(rows="many"))
    return "manifest.json: found 'many rows of lot.csv'"


def rows_past_counting(folder):
    rewritten(folder, lambda told: told["files"]["entries.csv"].update(rows=10**30))
    return "rows of entries.csv'"


def no_json(folder):
    (folder / "manifest.json").write_text("[" * 100_000)
    return "manifest.json: found"


@pytest.mark.parametrize(
    "harm",
    [
        changed_name,
        changed_photo,
        missing_table,
        another_file,
        link,
        no_manifest,
        newer,
        other_format,
        outside,
        infinite,
        rows_in_words,
        rows_past_counting,
        no_json,
    ],
)
def test_a_folder_that_is_not_as_written_is_refused(folder, other, harm):
    """Whatever was done to a folder is named, in one line, and nothing of it is taken in."""
    before = list(other.entries())
    says = harm(folder)
    with pytest.raises(BadInput) as refused:
        merge_folder(other, folder)
    assert len(refused.value.problems) == 1
    assert says in str(refused.value)
    assert list(other.entries()) == before


def test_an_entry_rewritten_with_its_manifest_breaks_the_chain(folder, other):
    """Whoever changes an entry and the manifest with it is found out by the chain."""
    entries = folder / "entries.csv"
    entries.write_bytes(entries.read_bytes().replace(b"read the wrong row", b"read the right row"))
    digest = hashlib.sha256(entries.read_bytes()).hexdigest()
    rewritten(folder, lambda told: told["files"]["entries.csv"].update(sha256=digest))
    with pytest.raises(ChainBroken):
        merge_folder(other, folder)
    assert len(list(other.entries())) == 1


def test_a_bad_cell_among_the_entries_is_named_with_its_line(folder, other):
    """A cell that no ledger writes is named by file, line and column."""
    entries = folder / "entries.csv"
    lines = entries.read_text(encoding="utf-8").split("\n")
    lines[3] = lines[3].replace(",3,", ",third,", 1)
    entries.write_text("\n".join(lines), encoding="utf-8", newline="")
    digest = hashlib.sha256(entries.read_bytes()).hexdigest()
    rewritten(folder, lambda told: told["files"]["entries.csv"].update(sha256=digest))
    with pytest.raises(BadInput, match=r"entries\.csv line \d+, seq: found 'third'"):
        merge_folder(other, folder)


def test_an_export_stands_in_nobodys_way(ledger, folder, tmp_path):
    """A place that is taken is refused; with force, only an exchange folder with nothing else in it is replaced."""
    with pytest.raises(BadInput, match="something there already"):
        to_folder(ledger, folder)
    before = files_of(folder)
    ledger.append([Maker(id="late", name="Halcyre")])
    to_folder(ledger, folder, force=True)
    assert files_of(folder).keys() == before.keys()
    assert files_of(folder) != before
    (folder / "mine.txt").write_text("x")
    with pytest.raises(BadInput, match=r"mine\.txt"):
        to_folder(ledger, folder, force=True)
    (tmp_path / "empty").mkdir()
    (tmp_path / "file").write_text("x")
    (tmp_path / "link").symlink_to(folder)
    for place in ("empty", "file", "link", "mine.sqlite", "nowhere/out"):
        with pytest.raises(BadInput):
            to_folder(ledger, tmp_path / place, force=True)
    assert (folder / "mine.txt").read_text() == "x"
    assert (tmp_path / "file").read_text() == "x"


def test_an_export_that_fails_leaves_nothing(ledger, tmp_path, monkeypatch):
    """When the disk refuses half-way, or the tester stops it, no folder and no draft of one is left."""
    before = sorted(tmp_path.iterdir())
    write = export.write_durably
    for error in (OSError(28, "No space left on device"), KeyboardInterrupt()):
        written = []

        def refuse(path, content, error=error, written=written):
            written.append(path.name)
            if path.suffix == ".png":
                raise error
            write(path, content)

        monkeypatch.setattr(export, "write_durably", refuse)
        with pytest.raises((LedgerUnavailable, KeyboardInterrupt)):
            to_folder(ledger, tmp_path / "out")
        assert len(written) == 1
        assert sorted(tmp_path.iterdir()) == before


def test_a_missing_or_changed_photo_is_not_exported(ledger, tmp_path):
    """An export never passes on a photo that is not the one that was filed."""
    kept = next(row for row in ledger.rows(Photo) if row.specimen)
    path = ledger.photo_path(kept)
    content = path.read_bytes()
    path.write_bytes(content + b"x")
    with pytest.raises(ChainBroken, match="was changed"):
        to_folder(ledger, tmp_path / "out")
    path.unlink()
    with pytest.raises(ChainBroken, match="is missing"):
        to_folder(ledger, tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_an_export_is_of_one_moment(ledger, tmp_path, monkeypatch):
    """While others write, the ledger is exported as it stood when the export began, and nobody waits for that."""
    numbers = iter(range(1000))
    rows = Still.rows

    def writing(self, kind, take):
        ledger.append([Maker(id=f"late{next(numbers)}", name="Halcyre")])
        rows(self, kind, take)

    monkeypatch.setattr(Still, "rows", writing)
    before, count = ledger.closing_hashes(), sum(1 for _ in ledger.entries())
    written = to_folder(ledger, tmp_path / "out")
    assert next(numbers) == len(TABLES)
    assert written.closing == before
    assert written.files["entries.csv"].rows == count
    assert "Halcyre" not in (tmp_path / "out" / "maker.csv").read_text("utf-8")
    assert not [path.name for path in (tmp_path / "out").iterdir() if path.name.startswith(".")]


def test_a_session_that_becomes_blind_during_an_export_stops_it(ledger, tmp_path, monkeypatch):
    """What is blind is looked for in what is written, too, not only before."""
    monkeypatch.setattr(export, "_refuse_blind", _second_time(export._refuse_blind))
    (session,) = (row for row in ledger.rows(Session) if row.closed_at)
    blind = replace(session, id="late", code="S99", blinding=Blinding.OTHER_PERSON, closed_at=None)
    ledger.append([blind])
    with pytest.raises(BadInput, match="session S99, still blind"):
        to_folder(ledger, tmp_path / "out")
    assert not (tmp_path / "out").exists()


def _second_time(refuse):
    calls = iter(["the first"])

    def check(sessions):
        if next(calls, None) is None:
            refuse(sessions)

    return check


@pytest.mark.parametrize(
    ("statement", "told"),
    [
        ("UPDATE maker SET name = 'Vardelune'", "maker .*other values"),
        ("DELETE FROM observation", "row of observation that is not there"),
        ("UPDATE entry SET body = substr(body, 1, 9) WHERE kind = 'maker'", "a body that does not fit its hash"),
        ("DELETE FROM entry WHERE seq = 3", "entry 4 after entry 2"),
        ("UPDATE entry SET at = replace(at, 'Z', '+00:00')", "found time"),
        ("ALTER TABLE maker ADD COLUMN stars TEXT", "table maker other than"),
    ],
)
def test_a_damaged_ledger_is_not_exported(tmp_path, statement, told):
    """Whatever in a database is not as it was written is named, and nothing is exported."""
    with full(tmp_path / "mine.sqlite"):
        pass
    edit(tmp_path / "mine.sqlite", statement)
    before = sorted(tmp_path.iterdir())
    with Ledger.open(tmp_path / "mine.sqlite") as ledger, pytest.raises(ChainBroken, match=told):
        to_folder(ledger, tmp_path / "out")
    assert sorted(tmp_path.iterdir()) == before


def test_damaged_pages_are_not_exported(tmp_path):
    """With one page of the file zeroed, or two swapped, an export is refused or says what the sound ledger said."""
    place = tmp_path / "mine.sqlite"
    with full(place) as ledger:
        to_folder(ledger, tmp_path / "sound")
    sound, content = files_of(tmp_path / "sound"), place.read_bytes()
    size = int.from_bytes(content[16:18])
    pages = [content[at : at + size] for at in range(0, len(content), size)]
    refused = 0
    for number in range(1, len(pages), 4):
        for other in (bytes(size), pages[(number + 5) % len(pages)]):
            spoilt = list(pages)
            spoilt[number] = other
            if any(other):
                spoilt[(number + 5) % len(pages)] = pages[number]
            place.write_bytes(b"".join(spoilt))
            try:
                with Ledger.open(place) as ledger:
                    to_folder(ledger, tmp_path / "out")
            except QcledgerError:
                refused += 1
                assert not (tmp_path / "out").exists()
            else:
                assert files_of(tmp_path / "out") == sound
                shutil.rmtree(tmp_path / "out")
    assert refused > len(pages) // 4


def test_a_disk_that_gives_back_other_bytes_is_noticed(ledger, tmp_path, monkeypatch):
    """Every file is read again before the export is said to be done."""
    again = export._read_again

    def spoil(folder, written, progress):
        path = folder / "maker.csv"
        path.write_bytes(path.read_bytes().replace(b"Quern", b"Quarn"))
        again(folder, written, progress)

    monkeypatch.setattr(export, "_read_again", spoil)
    with pytest.raises(ChainBroken, match=r"gives back something else.*maker\.csv"):
        to_folder(ledger, tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_the_newest_daybook_is_the_one_begun_last(tmp_path):
    """Where this machine has none of its own, rows are for the daybook begun last by its entry, whatever its id."""
    day = timedelta(days=1)
    (tmp_path / "later").mkdir()
    with (
        Ledger.create(
            tmp_path / "a.sqlite", letters="OV", tester="Oda Vane", daybook="zz", sources=steady(LATER)
        ) as a,
        Ledger.create(
            tmp_path / "later" / "b.sqlite",
            letters="TL",
            tester="Tam Lark",
            daybook="aa",
            sources=steady(LATER + day),
        ) as b,
    ):
        to_folder(a, tmp_path / "before")
        merge_folder(b, tmp_path / "before")
        remember(b.where, None)
        assert Draft(b).daybook.id == "aa"
