"""A label put right: who counts under it, what the others keep, and how all of it is taken back."""

from dataclasses import replace
from datetime import date

import pytest

from qcledger.bench import correcting, known, labelling, tobekept
from qcledger.errors import BadInput
from qcledger.ledger import Ledger
from qcledger.records import LabelVersion, Lot, Maker, Paint, Parcel, Specimen
from qcledger.report import relabelled
from qcledger.settings import Settings
from qcledger.vocab import Format
from tests.ledger.given import basics, steady

NAMED, UNNAMED, TWIN, LATER = "specimen", "unnamed", "twin", "later"
"""Pieces: one that names its label, one that names none, one of a second row of the same paint, one bought later."""


@pytest.fixture
def ledger(tmp_path):
    given = {"letters": "OV", "tester": "Oda Vane", "zone": "Etc/UTC"}
    with Ledger.create(tmp_path / "mine.sqlite", sources=steady(), **given) as found:
        found.append(basics())
        one, parcel = found.get(Specimen, NAMED), found.get(Parcel, "parcel")
        unnamed = replace(one, id=UNNAMED, sticker="OV 0002", label_version=None)
        found.append(
            [
                Paint(id="twin paint", maker="maker", name="VIRIDIAN", number="231"),
                Lot(id="twin lot", paint="twin paint", format=Format.HALF_PAN, code="Q4472"),
                replace(parcel, id="spring", bought_on=date(2026, 3, 1)),
                unnamed,
                replace(unnamed, id=TWIN, sticker="OV 0003", paint="twin paint", lot="twin lot"),
                replace(unnamed, id=LATER, sticker="OV 0004", parcel="spring"),
            ]
        )
        yield found


def pigments(ledger):
    return {one.id: correcting.label_of(ledger, one.id).index_names for one in ledger.rows(Specimen)}


def weighed(ledger, **which):
    label = correcting.label_of(ledger, NAMED)
    return correcting.weigh(ledger, label, {"index_names": ("PB29",)}, ledger.new_id, **which)


@pytest.mark.parametrize(
    ("which", "changed"),
    [
        ({}, {NAMED, UNNAMED, TWIN, LATER}),
        ({"only": [NAMED]}, {NAMED}),
        ({"only": [UNNAMED]}, {UNNAMED}),
        ({"only": [TWIN, NAMED]}, {TWIN, NAMED}),
        ({"since": date(2026, 2, 20)}, {LATER}),
        ({"since": date(2026, 3, 5)}, set()),
    ],
    ids=["all", "one named", "one unnamed", "two rows", "new print", "new print of none"],
)
def test_those_it_is_for_change_and_no_other(ledger, which, changed):
    """Also a piece that names no label, and one of a row of the same paint; taken back, all is as it was."""
    before = pigments(ledger)
    wanted = weighed(ledger, **which)
    assert {old.id for old, _ in wanted.pieces} == changed
    correcting.keep(ledger, wanted, "m")
    assert pigments(ledger) == {id_: ("PB29",) if id_ in changed else ("PG18",) for id_ in before}
    stored = correcting.last(ledger, wanted.after) if changed else wanted
    assert {old.id for old, _ in stored.pieces} <= changed
    assert correcting.take_back(ledger, wanted)
    assert not correcting.take_back(ledger, wanted)
    assert pigments(ledger) == before
    assert ledger.verify() == []


def test_a_label_that_was_taken_back_is_nobodys_latest(ledger):
    """What is put right next is the label before it, for all its pieces, also one that was entered in between."""
    stood = correcting.label_of_paint(ledger, "paint")
    pieces = {one.id for one in correcting.carrying(ledger, stood)}
    maker, paint = ledger.get(Maker, "maker"), ledger.get(Paint, "paint")
    values = {"maker": maker.name, "name": paint.name, "number": paint.number or "", "index_names": "PG81"}
    typed = labelling.read_label({**values, "seen_on": ""}, date(2026, 3, 9), Settings())
    kept = labelling.keep_label(ledger, typed, ledger.new_id, "paint")
    assert correcting.label_of_paint(ledger, "paint") == kept.label
    with_it = replace(ledger.get(Specimen, NAMED), id="between", sticker="OV 0099", label_version=kept.label.id)
    ledger.append([with_it])
    assert "says what it said before" in labelling.take_back(ledger, kept, ledger.new_id)
    assert correcting.label_of_paint(ledger, "paint") == stood == known.latest_labels(ledger)["paint"]
    carried = {one.id for one in correcting.carrying(ledger, stood)}
    assert carried == {*pieces, "between"}
    assert tobekept.stands(ledger, "paint").label == stood
    correcting.keep(ledger, correcting.weigh(ledger, stood, {"index_names": ("PB29",)}, ledger.new_id), "m")
    assert set(pigments(ledger).values()) == {("PB29",)}
    ghost = ledger.get(LabelVersion, kept.label.id)
    nobodys = correcting.weigh(ledger, ghost, {"index_names": ("PY3",)}, ledger.new_id)
    assert relabelled.peers_words(ledger, nobodys) == [relabelled.NO_PIECE]
    assert ledger.verify() == []


def test_a_new_print_that_was_taken_back_is_nobodys_latest(ledger):
    """Label of the paint is the one before it again."""
    stood = correcting.label_of_paint(ledger, "paint")
    wanted = weighed(ledger, since=date(2026, 2, 20))
    correcting.keep(ledger, wanted, "n")
    assert correcting.label_of_paint(ledger, "paint") == wanted.after
    assert correcting.take_back(ledger, wanted)
    assert correcting.label_of_paint(ledger, "paint") == stood


def test_a_label_changed_since_stays(ledger):
    """What stands by now was written later: taking back changes nothing."""
    wanted = weighed(ledger)
    correcting.keep(ledger, wanted, "m")
    ledger.append([replace(wanted.after, claims=("lightfast I",))], reason="more")
    assert not correcting.take_back(ledger, wanted)
    assert correcting.label_of(ledger, NAMED).claims == ("lightfast I",)


def test_a_form_left_as_it_stands_says_nothing(ledger):
    """A text with commas that was not touched is not parted anew; what is emptied is taken away."""
    label = replace(ledger.get(LabelVersion, "label"), chemical_names=("1,2-dioxide",), warnings="gloves\nno heat")
    values = {name: correcting.text_of(label, name) for name in correcting.WORDS}
    assert correcting.read(label, values, tuple(Format)) == {}
    assert correcting.read(label, {**values, "warnings": "", "format": "half"}, tuple(Format)) == {
        "warnings": "",
        "format": Format.HALF_PAN,
    }
    with pytest.raises(BadInput) as refused:
        correcting.read(label, {"format": "lump", "index_names": "x" * 201}, tuple(Format))
    assert [one.where for one in refused.value.problems] == ["format", "index_names"]


def test_a_reason_is_a_key_or_words():
    """One key is a reason of the list; anything longer is one's own words; none is refused."""
    assert correcting.reason_of("f") == "typed into the wrong field"
    assert correcting.reason_of(" read  it again ") == "read it again"
    with pytest.raises(BadInput):
        correcting.reason_of(" ")
