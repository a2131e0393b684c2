"""Texts that were typed and not yet saved: each belongs to a ledger and a window, and outlives both."""

import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcledger.door import LedgerIdentity
from qcledger.screens.drafts import Drafts
from qcledger.screens.windows import Window

HERE = LedgerIdentity("/here/ledger.sqlite", frozenset({"mine", "hers"}))


class Opened:
    """A window with its drafts."""

    def __init__(self, folder, ledger=HERE):
        self.window = Window(folder)
        self.window.claim(ledger)
        self.drafts = Drafts(self.window)

    def gone(self):
        """Close it."""
        self.window.close()


def found(folder, name, ledger=HERE):
    """Return the draft that another start is given, which ends at once."""
    window = Opened(folder, ledger)
    try:
        return window.drafts.get(name)
    finally:
        window.gone()


def files(folder):
    """Return what stands in all files of windows."""
    return [path.read_text(encoding="utf-8") for path in sorted(folder.glob("*/*.json"))]


def test_a_draft_is_there_for_the_next_start(tmp_path):
    """What was kept is found by another start, until it is dropped; then no file is left."""
    first = Opened(tmp_path / "new")
    first.drafts.keep("note 1", "so\nand so")
    first.gone()
    again = Opened(tmp_path / "new")
    assert again.drafts.get("note 1") == "so\nand so"
    again.drafts.drop("note 1")
    again.gone()
    assert found(tmp_path / "new", "note 1") == ""
    assert files(tmp_path / "new") == []


def test_a_draft_of_another_ledger_is_not_offered(tmp_path):
    """What was typed at the demo stays with the demo, and is there when the demo is opened again."""
    demo = LedgerIdentity("/demo/ledger.sqlite", frozenset({"visitor"}))
    first = Opened(tmp_path, demo)
    first.drafts.keep("parcel", "common seller Corner shop")
    first.gone()
    assert found(tmp_path, "parcel") == ""
    assert found(tmp_path, "parcel", demo) == "common seller Corner shop"


def test_a_new_ledger_at_the_place_of_an_older_one_has_no_drafts(tmp_path):
    """The place alone does not tell a ledger; one that has grown since is still the same."""
    first = Opened(tmp_path)
    first.drafts.keep("parcel", "typed")
    first.gone()
    assert found(tmp_path, "parcel", LedgerIdentity(HERE.place, frozenset({"new"}))) == ""
    grown = LedgerIdentity(HERE.place, HERE.daybooks | {"his"})
    assert found(tmp_path, "parcel", grown) == "typed"


def test_two_windows_never_overwrite_each_other(tmp_path):
    """Both type into a field of one name; whoever comes after both is given the later, then the other."""
    one, other = Opened(tmp_path), Opened(tmp_path)
    one.drafts.keep("note 1", "from the first")
    other.drafts.keep("note 1", "from the second")
    one.drafts.keep("note 2", "only here")
    assert one.drafts.get("note 1") == "from the first"
    assert other.drafts.get("note 2") == ""
    one.gone()
    other.gone()
    third = Opened(tmp_path)
    in_turn = [third.drafts.get("note 1")]
    third.drafts.drop("note 1")
    in_turn.append(third.drafts.get("note 1"))
    third.drafts.drop("note 1")
    assert sorted(in_turn) == ["from the first", "from the second"]
    assert third.drafts.get("note 1") == ""
    assert third.drafts.get("note 2") == "only here"
    third.gone()


def test_an_open_window_keeps_its_drafts_to_itself(tmp_path):
    """A second window takes over nothing of one that is still there, and everything once it is gone."""
    first = Opened(tmp_path)
    first.drafts.keep("note 1", "being typed")
    assert found(tmp_path, "note 1") == ""
    first.gone()
    assert found(tmp_path, "note 1") == "being typed"


def test_a_killed_window_leaves_its_drafts(tmp_path):
    """A process that is killed in the middle of its work leaves its drafts; while it lives none is offered."""
    code = (
        "import sys, time, pathlib\n"
        "from qcledger.door import LedgerIdentity\n"
        "from qcledger.screens.drafts import Drafts\n"
        "from qcledger.screens.windows import Window\n"
        "window = Window(pathlib.Path(sys.argv[1]))\n"
        f"window.claim(LedgerIdentity({HERE.place!r}, frozenset({sorted(HERE.daybooks)!r})))\n"
        "Drafts(window).keep('note 1', 'half a sen')\n"
        "print('kept', flush=True)\n"
        "time.sleep(600)\n"
    )
    with subprocess.Popen([sys.executable, "-c", code, str(tmp_path)], stdout=subprocess.PIPE) as other:
        try:
            assert other.stdout is not None
            other.stdout.readline()
            assert found(tmp_path, "note 1") == ""
        finally:
            other.kill()
    assert found(tmp_path, "note 1") == "half a sen"


def test_what_was_typed_before_the_ledger_was_open_is_kept(tmp_path):
    """A text typed while the ledger was being opened is written once it is, before what was left by others."""
    gone = Opened(tmp_path)
    gone.drafts.keep("note 1", "older")
    gone.gone()
    window = Window(tmp_path)
    drafts = Drafts(window)
    drafts.keep("note 1", "newer")
    assert drafts.get("note 1") == "newer"
    window.claim(HERE)
    window.close()
    again = Opened(tmp_path)
    assert again.drafts.get("note 1") == "newer"
    again.drafts.drop("note 1")
    assert again.drafts.get("note 1") == "older"
    again.gone()


@pytest.mark.parametrize("content", [b"", b"{", b"[]", b'{"drafts": 1}', b"\xff", b"null", b'{"place": "x"}'])
def test_a_broken_file_is_no_draft(content, tmp_path):
    """A draft is a help: whatever lies there, there is none, and a new one can be kept."""
    first = Opened(tmp_path)
    first.drafts.keep("a", "lost")
    first.gone()
    (path,) = tmp_path.glob("*/*.json")
    path.write_bytes(content)
    second = Opened(tmp_path)
    assert second.drafts.get("a") == ""
    second.drafts.keep("a", "text")
    second.gone()
    assert found(tmp_path, "a") == "text"


def test_a_folder_that_cannot_be_written_stops_nobody(tmp_path):
    """Where nothing can be kept, work goes on."""
    (tmp_path / "file").write_text("no folder")
    drafts = Opened(tmp_path / "file").drafts
    drafts.keep("a", "text")
    assert drafts.get("a") == "text"


@given(st.text(alphabet=st.characters(codec="utf-8")))
def test_any_text_comes_back_as_it_was(tmp_path_factory, text):
    """Lines, quotes and emoji are kept."""
    path = tmp_path_factory.mktemp("drafts")
    first = Opened(path)
    first.drafts.keep("a", text)
    first.gone()
    assert found(path, "a") == text


def test_what_is_kept_while_the_window_goes_is_there_for_the_next(tmp_path):
    """A page that is taken down after its desk was closed still keeps its draft, and holds nobody up."""
    first = Opened(tmp_path)
    first.gone()
    first.drafts.keep("note 1", "the last word")
    assert found(tmp_path, "note 1") == "the last word"


def two_left(folder, name="note 1"):
    """Leave two texts of one name behind, as two windows that were open at once do; the second was typed later."""
    one, other = Opened(folder), Opened(folder)
    one.drafts.keep(name, "older")
    other.drafts.keep(name, "newer")
    one.gone()
    other.gone()


def test_what_was_never_shown_is_not_thrown_away(tmp_path):
    """Of two texts only the one that was given is dropped, however often; what is typed then stands above."""
    two_left(tmp_path)
    third = Opened(tmp_path)
    assert third.drafts.get("note 1") == "newer"
    third.drafts.drop("note 1")
    third.drafts.drop("note 1")
    third.drafts.keep("note 1", "newer")
    third.drafts.keep("note 1", "newest")
    third.drafts.keep("note 1", "")
    third.drafts.drop("note 1")
    third.gone()
    assert found(tmp_path, "note 1") == "older"


def test_what_was_not_taken_up_is_not_written_over(tmp_path):
    """A form of something else leaves the draft where it is; its own is kept above and given first."""
    first = Opened(tmp_path)
    first.drafts.keep("label", "Trellmere")
    assert first.drafts.get("label") == "Trellmere"
    first.drafts.pass_over("label")
    first.drafts.drop("label")
    first.drafts.keep("label", "Aldervane")
    assert first.drafts.get("label") == "Aldervane"
    first.drafts.drop("label")
    assert first.drafts.get("label") == "Trellmere"
    first.gone()


@given(st.lists(st.sampled_from(["get", "typed", "drop"])))
def test_no_text_is_lost_but_one_that_was_given(tmp_path_factory, acts):
    """Whatever is typed and dropped in between, a text left by another window stays until it was asked for."""
    path = tmp_path_factory.mktemp("drafts")
    two_left(path)
    third = Opened(path)
    seen = {third.drafts.get("note 1")}
    for act in acts:
        if act == "get":
            seen.add(third.drafts.get("note 1"))
        else:
            third.drafts.keep("note 1", act if act == "typed" else "")
    assert {"older", "newer"} - seen <= set(third.window.drafts.get("note 1", []))
    third.gone()
