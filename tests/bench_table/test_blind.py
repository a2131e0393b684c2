"""What cannot be blind is said, and whatever touches a session's blinding is recorded."""

from dataclasses import replace

import pytest

from qcledger.bench.blind import key_given, open_early, strips_given, told_not_blind
from qcledger.errors import BadInput
from qcledger.records import Session
from qcledger.rubric import load
from qcledger.rubric.handled import not_blind
from qcledger.settings import shipped
from qcledger.vocab import Blinding, Format
from tests.small import START

PIECE = "the tester sees the specimen itself"
BLIND = Session(
    id="se", code="S05", comparison="cp", tester="Oda Vane", blinding=Blinding.OTHER_PERSON, started_at=START
)


def test_what_cannot_be_blind_follows_from_the_rubric():
    """Tests on the piece itself, what is seen at unpacking, and what is not asked of every format on the sheet."""
    criteria = load(shipped("rubrics") / "watercolour.yaml").criteria
    on_the_piece = {key for key, one in criteria.items() if not_blind(one, [Format.HALF_PAN])}
    assert on_the_piece == {"rewetting_in_fives", "froth_amount", "froth_time"}
    packaging = load(shipped("rubrics") / "packaging.yaml").criteria
    assert {not_blind(one, list(Format)) for one in packaging.values()} == {"pack and label are in view"}
    gouache = load(shipped("rubrics") / "gouache.yaml").criteria
    assert [
        key for key, one in gouache.items() if one.stage and not_blind(one, one.formats)
    ] == []  # bent over a pencil, none of it
    assert not_blind(replace(criteria["opacity"], on_the_piece=True), [Format.TUBE]) == PIECE
    assert not_blind(replace(criteria["rewetting_in_fives"], on_the_piece=False), [Format.TUBE]) == ""
    some = replace(criteria["opacity"], formats=(Format.TUBE,))
    assert not_blind(some, [Format.TUBE]) == ""
    assert not_blind(some, [Format.TUBE, Format.STICK]) == "asked only of tube"
    (line,) = told_not_blind(criteria.values(), [Format.TUBE])
    assert line == f"Rewetting difficulty, Work-up froth, How long froth stands: cannot be blind, {PIECE}"


def test_opening_early_needs_a_reason_and_leaves_an_open_session():
    """The note keeps what was planned; a session that is open or closed is not opened again."""
    opened = open_early(BLIND, "a pan fell", START)
    assert (opened.blinding, opened.is_blind, opened.closed_at) == (Blinding.OPEN, False, None)
    assert opened.note == "2026-03-09 09:00 UTC: opened early, planned by another person: a pan fell"
    with pytest.raises(BadInput, match="reason"):
        open_early(BLIND, "  ", START)
    for session in (opened, replace(BLIND, closed_at=START)):
        with pytest.raises(BadInput, match="not blind"):
            open_early(session, "again", START)


def test_a_key_is_for_another_person_only():
    """Not for the tester, not where the tester prepares the sheet; each time is noted."""
    once = key_given(BLIND, "Ann Prep", START)
    assert once.is_blind
    assert key_given(once, "Ann Prep", START).note.count("key sheet printed for Ann Prep") == 2
    for name in ("", "oda vane"):
        with pytest.raises(BadInput, match="not the tester"):
            key_given(BLIND, name, START)
    with pytest.raises(BadInput, match="by another person"):
        key_given(replace(BLIND, blinding=Blinding.SHUFFLED), "Ann", START)
    with pytest.raises(BadInput, match="a session that is blind"):
        key_given(replace(BLIND, closed_at=START), "Ann", START)


def test_strips_are_for_a_tester_alone():
    for blinding in (Blinding.SHUFFLED, Blinding.CODED):
        assert "folded strips printed" in strips_given(replace(BLIND, blinding=blinding), START).note
    with pytest.raises(BadInput, match="for another person"):
        strips_given(BLIND, START)
    with pytest.raises(BadInput, match="a session that is blind"):
        strips_given(replace(BLIND, blinding=Blinding.OPEN), START)
