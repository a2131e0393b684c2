"""Formats, stages and parts of a label: which words the door takes, and whose they are."""

from dataclasses import replace
from datetime import date

import pytest

from qcledger.errors import BadInput
from qcledger.ledger import Ledger, words
from qcledger.records import LabelVersion, Lot, Maker, ReaderNote, RubricText, Specimen, Stage
from qcledger.settings import own_rubrics
from qcledger.vocab import Format
from tests.ledger.given import NOON, graded
from tests.pens import TEXT, bought, pens


def refused(ledger, *records):
    before = list(ledger.entries())
    with pytest.raises(BadInput) as caught:
        ledger.append(records)
    assert list(ledger.entries()) == before
    return caught.value.line()


def kept():
    rubric = pens()
    return RubricText(id=rubric.hash, key=rubric.key, text=rubric.text)


def lay_down(text=TEXT):
    own_rubrics().mkdir(parents=True, exist_ok=True)
    (own_rubrics() / "pen_lines.yaml").write_text(text)


OWN = {
    "lot": Lot(id="own", paint="paint", format="ampoule", code="J1"),
    "label": LabelVersion(id="own", paint="paint", seen_on=date(2026, 1, 1), format="ampoule"),
    "note": ReaderNote(id="own", maker="maker", told_on=NOON.date(), fault="dry", format="ampoule"),
    "stage": Stage(id="own", session="session", name="after a week"),
    "fact": LabelVersion(id="own", paint="paint", seen_on=date(2026, 1, 1), facts=("steadiness: two stars",)),
}
ALLOWED = {"stage": "one of wet, dry, after 24 h", "fact": "core, then a colon and what is printed"}


@pytest.mark.parametrize("name", OWN)
def test_a_word_needs_a_rubric_that_declares_it(ledger, name):
    """Without one it is refused, with the words there are; with one that is kept, the same row comes in."""
    line = refused(ledger, OWN[name])
    assert ALLOWED.get(name, "one of tube, half pan, full pan, stick, bottle, pencil") in line
    ledger.append([kept()])
    ledger.append([OWN[name]])
    assert ledger.get(type(OWN[name]), "own") == OWN[name]
    assert ledger.verify() == []


def test_a_refusal_says_the_words_of_rubrics_too(ledger):
    """What is allowed is the trade's words in their order, then the rubric's own."""
    ledger.append([kept()])
    line = refused(ledger, replace(OWN["lot"], format="carton"))
    assert line.endswith(
        "format: found 'carton'; allowed: one of tube, half pan, full pan, stick, bottle, pencil, "
        "ampoule, cartridge, jar, vial, woodless pencil"
    )
    fact = replace(OWN["fact"], facts=("steadiness: two stars", "cone: 4"))
    for facts, told in ((fact.facts, "'cone'"), (("steadiness",), "'steadiness:'")):
        found, _, allowed = refused(ledger, replace(fact, facts=facts)).partition("; allowed: one of ")
        assert found.endswith(told)
        assert "steadiness, " in allowed
        assert allowed.endswith(", then a colon and what is printed")


def test_a_rubric_may_come_with_the_rows_that_use_its_words(ledger):
    """Of rows written together it may come after them, as the tables of a folder have it."""
    ledger.append([OWN["lot"], kept()])
    assert ledger.fit([OWN["note"]])[1] == []


def test_an_observation_has_a_stage_of_its_own_rubric(ledger):
    """A stage of another rubric is refused, though the ledger knows it; a usual one is taken."""
    ledger.append([kept(), OWN["stage"]])
    line = refused(ledger, graded("first", stage="after a week"))
    assert "stage: found 'after a week'; allowed: one of wet, dry, after 24 h, as rubric watercolour has them" in line
    own = graded("own", rubric=pens().hash, criterion="fading", grade=3.0, stage="after a week")
    ledger.append([graded("first", stage="dry"), own])
    assert ledger.get(type(own), "own").stage == "after a week"


def test_a_rubric_in_the_testers_folder_lends_its_words_and_is_kept_with_them(ledger):
    """The row brings the rubric's text into the ledger, once; what nobody uses is not kept."""
    lay_down()
    ledger.append([Maker(id="other", name="Trellmere")])
    assert [row.key for row in ledger.rows(RubricText)] == ["watercolour"]
    entries = ledger.append([OWN["lot"]])
    assert [entry.kind for entry in entries] == ["rubric_text", "lot"]
    assert ledger.get(RubricText, pens().hash) == kept()
    assert [entry.kind for entry in ledger.append([OWN["note"]])] == ["reader_note"]
    with ledger.reading() as connection:
        assert words.formats(connection) == (*Format, "ampoule", "cartridge", "jar", "vial", "woodless pencil")


def test_a_file_that_is_no_rubric_lends_nothing(ledger):
    """One whose criteria cannot be read could not be kept; it is passed over, and read again once it was mended."""
    lay_down(TEXT.replace("kind: grade", "kind: stars"))
    assert "'ampoule'" in refused(ledger, OWN["lot"])
    lay_down()
    ledger.append([OWN["lot"]])


def test_a_merged_row_is_judged_by_the_rubrics_that_come_with_it(ledger, places):
    """Another tester's format comes in with the rubric that declares it, where no such file lies."""
    lay_down()
    with Ledger.create(places.new("theirs"), letters="TL", tester="Tam Lark", daybook="theirs") as theirs:
        theirs.append(bought())
        entries = list(theirs.entries())
    (own_rubrics() / "pen_lines.yaml").unlink()
    assert ledger.adopt(entries, {}) == len(entries)
    assert ledger.get(Specimen, "sp0").format == "vial"
    assert ledger.get(RubricText, pens().hash) == kept()
    assert ledger.verify() == []
