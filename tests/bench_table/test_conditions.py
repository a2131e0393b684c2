"""Conditions of a stage, noted and amended at any time."""

from dataclasses import replace

import pytest

from qcledger.bench import closing, conditions
from qcledger.errors import BadInput
from qcledger.records import Session, Stage
from tests.small import START, graded, small_ledger

WET = {"water": "rain water", "brush": "round 8", "lamp": "north", "temperature_c": "22", "humidity_pct": "48"}


@pytest.fixture
def small(home, tmp_path):
    return graded(small_ledger(tmp_path))


def note(ledger, stage, texts, reason=""):
    noted = conditions.load(ledger, "se", stage)
    return conditions.write(ledger, noted, conditions.typed(texts), reason=reason, new_id=ledger.new_id)


def test_what_was_not_noted_is_added_after_closing(small):
    """The check of a closed session lists it no longer once it is noted, for each stage of its own."""
    with small.open(write=True) as ledger:
        session = replace(ledger.get(Session, "se"), closed_at=START.replace(day=12))
        ledger.append([session])
        assert len(closing.not_noted(ledger, session)) == 5
        assert note(ledger, "wet", WET).told[-1] == "humidity 48"
        assert closing.not_noted(ledger, session) == [
            f"{word} at the stage dry" for word in ("water", "brush", "lamp", "temperature", "humidity")
        ]
        offered = conditions.load(ledger, "se", "")
        assert offered.stage == "dry"
        assert (offered.offered("water"), offered.offered("humidity_pct"), offered.stands("water")) == (
            "rain water", 48.0, None,
        )  # fmt: skip
        note(ledger, "dry", WET | {"humidity_pct": "40"})
        assert closing.not_noted(ledger, session) == []
        assert [row.humidity_pct for row in (ledger.get(Stage, "wet"), ledger.get(Stage, "dry"))] == [48.0, 40.0]


def test_what_is_amended_needs_a_reason_and_keeps_then_and_now(small):
    """Without one nothing is stored; with it both values and the reason are told, and starts of stages stay."""
    with small.open(write=True) as ledger:
        note(ledger, "wet", WET)
        before = ledger.get(Stage, "wet")
        with pytest.raises(BadInput, match="why humidity is amended"):
            note(ledger, "wet", WET | {"humidity_pct": "52"})
        assert ledger.get(Stage, "wet") == before
        written = note(ledger, "wet", WET | {"humidity_pct": "52"}, "misread the meter")
        assert written.told == ("humidity 52, was 48",)
        assert ledger.get(Stage, "wet") == replace(before, humidity_pct=52.0)
        told = conditions.lines(ledger, ledger.get(Session, "se"))
        assert told[1] == "amended at wet: humidity 52, was 48; misread the meter"
        assert conditions.write_back(ledger, written)
        assert ledger.get(Stage, "wet") == before
        assert not conditions.write_back(ledger, written)


def test_what_cannot_be_is_refused_by_its_field(small):
    """A humidity beyond its range, a temperature that is no number; the same again writes nothing."""
    for texts in ({"humidity_pct": "120"}, {"temperature_c": "warm"}):
        with pytest.raises(BadInput, match=next(iter(texts))):
            conditions.typed(texts)
    with small.open(write=True) as ledger:
        note(ledger, "wet", WET)
        heads = ledger.closing_hashes()
        assert note(ledger, "wet", WET).told == ()
        assert ledger.closing_hashes() == heads
