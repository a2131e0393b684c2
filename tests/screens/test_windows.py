"""What windows keep beside a ledger: a damaged file stops nobody and is told; what stays is never called gone."""

import json

import pytest

from qcledger.door import LedgerIdentity
from qcledger.screens import windowfiles
from qcledger.screens.drafts import Drafts
from qcledger.screens.windows import Window

HERE = LedgerIdentity("/here/ledger.sqlite", frozenset({"mine"}))
KEPT = {"place": HERE.place, "daybooks": ["mine"], "drafts": {}, "saves": []}
SAVE = {"at": "2026-03-01T10:00:00+00:00", "notes": [{"records": [["maker", "{}"]], "reason": "", "numbered": []}]}
FILING = {"at": "2026-03-01T10:00:00", "notes": [{"photo": "/p.jpg", "shows": {"specimen": None, "caption": "x"}}]}


def opened(folder):
    """Return a window of the ledger."""
    window = Window(folder)
    window.claim(HERE)
    return window


def left(folder, text="lent by Wenna Orrel", name="note 1"):
    """Leave a draft behind, as a window that is gone does; returns its file."""
    window = opened(folder)
    Drafts(window).keep(name, text)
    window.close()
    return next(path for path in folder.glob("*/*.json") if name in path.read_text())


def on_disk(folder):
    """Return all that stands in the folder of windows."""
    return b"".join(path.read_bytes() for path in folder.rglob("*.*") if path.is_file())


def words(found):
    """Return what is said of what was found."""
    return [one.words for one in found]


@pytest.mark.parametrize(
    "content",
    [
        "[" * 200_000,
        json.dumps(KEPT | {"daybooks": 5}),
        json.dumps(KEPT | {"daybooks": None}),
        json.dumps(KEPT | {"daybooks": [[1]]}),
        json.dumps(KEPT | {"drafts": {"note 1": [None, 3]}}),
        json.dumps(KEPT | {"saves": [5]}),
        json.dumps(KEPT | {"saves": [{"rows": []}]}),
        json.dumps(KEPT | {"saves": [SAVE | {"at": "yesterday"}]}),
        json.dumps(KEPT | {"saves": [SAVE | {"notes": [{"records": [["maker", "[" * 200_000]], "numbered": []}]}]}),
        json.dumps(KEPT | {"saves": [FILING | {"notes": [{"photo": "/p.jpg", "shows": {"caption": [[]]}}]}]}),
        json.dumps(KEPT)[:-1],
        "\x00\xff",
    ],
)
def test_a_damaged_file_is_passed_over_kept_and_told(content, tmp_path):
    """What others left is taken over all the same; the damaged file stays byte for byte, and its place is known."""
    beside = left(tmp_path).with_name("aaaa.json")
    beside.write_text(content, encoding="utf-8")
    window = opened(tmp_path)
    assert window.drafts == {"note 1": ["lent by Wenna Orrel"]}
    assert window.damaged == [beside]
    went, stays = window.throw_away(["Wenna Orrel"])
    assert (len(went), stays) == (1, [])
    window.close()
    assert beside.read_text(encoding="utf-8") == content


@pytest.mark.parametrize("save", [SAVE, FILING])
def test_a_whole_file_is_not_damaged(save, tmp_path):
    """What the program writes itself is read again, and asked about."""
    path = left(tmp_path)
    path.write_text(json.dumps(KEPT | {"saves": [save]}), encoding="utf-8")
    window = opened(tmp_path)
    assert (window.saves, window.damaged) == ([save], [])
    window.close()


def test_words_in_a_damaged_file_are_named_as_staying(tmp_path):
    """What cannot be read is looked through as it lies there: nobody is told that the words are gone."""
    path = left(tmp_path, text="lent by Wénna\nOrrel")
    path.write_bytes(path.read_bytes()[:-3])
    window = opened(tmp_path)
    assert words(window.holding(["marrec tol"])) == []
    (told,) = words(window.holding(["wénna orrel"]))
    assert told.startswith("stays: a file beside the ledger that cannot be read")
    assert str(path) in told
    went, stays = window.throw_away(["wénna orrel"])
    assert (went, words(stays)) == ([], [told])
    window.close()
    assert path.exists()


def test_what_a_window_was_writing_when_it_went_is_removed(tmp_path):
    """A file half written, beside its whole one or alone, is gone at the next start; that of an open window stays."""
    path = left(tmp_path)
    alone = path.with_name("deadbeefdeadbeef.part")
    window = opened(tmp_path)
    Drafts(window).keep("note 2", "being typed")
    (own,) = path.parent.glob("*.json")
    for part in (path.with_suffix(".part"), alone, own.with_suffix(".part")):
        part.write_text("lent by Wenna Orrel")
    other = opened(tmp_path)
    assert [part.name for part in path.parent.glob("*.part")] == [own.with_suffix(".part").name]
    other.close()
    window.close()
    assert [part.suffix for part in path.parent.glob("deadbeef*")] == []


def test_a_write_that_fails_is_told_as_staying(tmp_path, monkeypatch):
    """Where the disk takes nothing, what was typed stays in the file and is told so; once it does, it goes."""
    left(tmp_path)
    window = opened(tmp_path)
    Drafts(window).keep("note 2", "another text")
    with monkeypatch.context() as patched:
        patched.setattr(windowfiles, "write", lambda *_, **__: (_ for _ in ()).throw(OSError(28, "No space left")))
        went, stays = window.throw_away(["wenna orrel"])
        assert went == []
        assert words(stays) == [
            "stays: what was typed and not saved, note 1; its file could not be written: do this again"
        ]
        assert b"Wenna Orrel" in on_disk(tmp_path)
    window.close()
    again = opened(tmp_path)
    went, stays = again.throw_away(["wenna orrel"])
    assert (words(went), stays) == (["goes: what was typed and not saved, note 1"], [])
    assert b"Wenna Orrel" not in on_disk(tmp_path)
    assert again.drafts == {"note 2": ["another text"]}
    again.close()


def test_a_write_that_fails_leaves_nothing_half_written(tmp_path, monkeypatch):
    """The file stays as it was, and no part of another lies beside it."""
    path = tmp_path / "one.json"
    windowfiles.write(path, KEPT, surely=True)
    with monkeypatch.context() as patched:
        patched.setattr("os.fsync", lambda _: (_ for _ in ()).throw(OSError(5, "I/O error")))
        with pytest.raises(OSError, match="I/O"):
            windowfiles.write(path, KEPT | {"drafts": {"note 1": ["Wenna Orrel"]}}, surely=True)
    assert [one.name for one in tmp_path.iterdir()] == ["one.json"]
    assert windowfiles.read(path) == KEPT
