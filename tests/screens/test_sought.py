"""Words that are to go, in what was typed: found where they were typed, and nowhere else."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcledger.screens.sought import Sought
from qcledger.screens.stock.leftover import Leftover
from qcledger.text import one_line

ROW = "0190a4b2-1c3d-7e4f-8a5b-6c7d8e9f0a1b"
WORDS = st.text(alphabet=st.characters(codec="utf-8"), min_size=3).filter(lambda text: len(one_line(text)) >= 3)
PARCEL = Leftover(parcel="p", common={"seller": "Fennacre Shop"}, line={"note": "rim"}).text()


@given(WORDS, st.sampled_from(["{}", "before {} after", "line\n{}"]))
def test_a_text_is_found_wherever_it_was_typed(text, around):
    """In a note, a field of a form, a row that was to be saved, and as it lies on the disk where that is damaged."""
    sought, typed = Sought([text]), around.format(text)
    body = json.dumps({"note": typed, "grade": 3})
    save = {"at": "2026-03-01T10:00:00", "notes": [{"records": [["observation", body]]}]}
    assert sought.in_draft("note 1", typed)
    assert sought.in_draft("reader's note", json.dumps({"note": typed}))
    assert sought.in_save(save)
    kept = {"drafts": {"reader's note": [json.dumps({"note": typed})]}}
    assert sought.in_raw(json.dumps(kept).encode()[:-2]) or "\\" in typed


@pytest.mark.parametrize(
    "text", ["Zebulon\nOrr", "Ze\\bulon", 'Ze"bulon', "Zébulon", "\U0001f58c Zebulon", "Straße Orr"]
)
def test_a_text_is_found_in_what_cannot_be_read(text):
    """Escaped as JSON writes it, once or twice, or plain."""
    for kept in (text, json.dumps(text), json.dumps({"a": json.dumps({"note": text})})):
        assert Sought([text]).in_raw(kept.encode()[:-1] + b"\xff" if kept != text else text.encode() + b"\xff")
    assert not Sought(["Marrec"]).in_raw(json.dumps(text).encode())


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("reader's note", json.dumps({"seller": "Fennacre", "note": ""})),
        ("parcel", PARCEL),
        (f"label {ROW}", "seller Quernlow\nnote 12 g"),
    ],
)
def test_names_of_fields_are_nobodys_words(name, text):
    """A text that is only what a field is called takes nothing out."""
    assert not Sought(["seller"]).in_draft(name, text)
    assert not Sought(["note"], ["other"]).in_draft(name, text)


def test_a_note_that_goes_takes_no_longer_text_with_it():
    """A whole note is looked for as all that stands in a field; the draft of its very row goes, whatever it holds."""
    sought = Sought(["rim"], [ROW])
    assert not sought.in_draft("reader's note", json.dumps({"note": "a crimson fleck", "maker": "x"}))
    assert not sought.in_draft("note 1", "a crimson fleck")
    assert not sought.in_draft("parcel", PARCEL.replace("rim", "crimson"))
    assert not sought.in_draft(f"amend note {ROW[:-1]}2", "half a no")
    assert sought.in_draft("reader's note", json.dumps({"note": "Rim\n", "maker": "x"}))
    assert sought.in_draft("note 1", " rim")
    assert sought.in_draft("parcel", PARCEL)
    assert sought.in_draft(f"amend note {ROW}", "half a no")


@pytest.mark.parametrize(
    "typed", ["1234567", '"1234567"', "[1234567]", '["1234567"', '{"phone": 1234567}', "[" * 9000]
)
def test_a_note_that_looks_like_json_is_read_as_it_was_typed(typed):
    """What somebody typed counts as typed, whatever it could mean besides."""
    assert Sought([typed[:9]]).in_draft("note 1", typed)


def test_a_picture_that_was_to_be_filed_is_found_by_its_name():
    """The whole name of a file counts without the folders it lies in."""
    save = {"at": "2026-03-01T10:00:00", "notes": [{"photo": "/shots/Wenna Orrel.jpg", "shows": {"specimen": "s"}}]}
    assert Sought(["Wenna Orrel.jpg"], [ROW]).in_save(save)
    assert not Sought(["Wenna"], [ROW]).in_save(save)
    assert Sought(["Wenna"]).in_save(save)
    assert not Sought(["specimen"]).in_save(save)
