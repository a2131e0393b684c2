"""Texts that were typed and not yet saved."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcledger.screens.drafts import Drafts


def test_a_draft_is_there_for_the_next_start(tmp_path):
    """What was kept is found by another start, until it is dropped."""
    path = tmp_path / "new" / "drafts.json"
    Drafts(path).keep("note 1", "so\nand so")
    again = Drafts(path)
    assert again.get("note 1") == "so\nand so"
    again.drop("note 1")
    assert Drafts(path).get("note 1") == ""


@pytest.mark.parametrize("content", [b"", b"{", b"[]", b'{"a": 1}', b"\xff", b"null"])
def test_a_broken_file_is_no_draft(content, tmp_path):
    """A draft is a help: whatever lies there, there is none, and a new one can be kept."""
    path = tmp_path / "drafts.json"
    path.write_bytes(content)
    drafts = Drafts(path)
    assert drafts.get("a") == ""
    drafts.keep("a", "text")
    assert Drafts(path).get("a") == "text"


def test_a_folder_that_cannot_be_written_stops_nobody(tmp_path):
    """Where nothing can be kept, work goes on."""
    (tmp_path / "file").write_text("no folder")
    drafts = Drafts(tmp_path / "file" / "drafts.json")
    drafts.keep("a", "text")
    assert drafts.get("a") == "text"


@given(st.text(alphabet=st.characters(codec="utf-8")))
def test_any_text_comes_back_as_it_was(tmp_path_factory, text):
    """Lines, quotes and emoji are kept."""
    path = tmp_path_factory.mktemp("drafts") / "drafts.json"
    Drafts(path).keep("a", text)
    assert Drafts(path).get("a") == text
