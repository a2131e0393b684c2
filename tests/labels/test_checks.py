"""Checks of labels without statistics."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcledger.labels import about, missing, proposals
from qcledger.labels.checks import What
from qcledger.records import LabelVersion
from qcledger.rubric import pigments
from qcledger.settings import shipped
from tests.hostile import HOSTILE

REFERENCE = pigments.load(shipped("rubrics") / "pigments.yaml")


def label(**fields) -> LabelVersion:
    return LabelVersion(id="lb", paint="pt", seen_on=date(2026, 3, 9), **fields)


def said(name="Meadow", **fields) -> list[tuple[str, str, str]]:
    return [(one.field, str(one.what), one.words) for one in about(label(**fields), name, REFERENCE)]


@pytest.mark.parametrize("printed", ["P.G. 18", "PG-18", "Pigment Green 18"])
def test_other_forms_of_an_index_name_are_read_and_said(printed):
    """A form other than PG18 is no error; the words say how it was read."""
    assert said(index_names=(printed,)) == [("index_names", "form", f"{printed} read as PG18")]


def test_a_normal_name_needs_no_words():
    """PG18 with its own number, chemistry and CAS number leaves every field silent."""
    assert said("Viridian", index_names=("PG18",), constitution_numbers=("77289",), cas_numbers=("12001-99-9",)) == []


def test_what_is_no_index_name_or_unknown_is_said():
    """Words name what was typed and which of the two it is."""
    words = [text for _, _, text in said(index_names=("green", "PG999"))]
    assert words == ["green: no form of a Colour Index name", "PG999 is not in our reference"]


def test_a_number_of_another_reference_differs_and_names_the_source():
    """Two public references give PB35 as 77346 and 77368; so another number differs, it is not called wrong."""
    ((field, what, words),) = said(index_names=("PB35",), constitution_numbers=("77346",))
    assert (field, what) == ("constitution_numbers", "differs")
    assert words.startswith("77346 differs from our reference (PB35 77368, seen in a public page")


def test_a_misprinted_number_is_told_from_another_family():
    """One educational page prints PV14 as 77630 for 77360: two neighbours that changed places."""
    ((_, what, words),) = said(index_names=("PV14",), constitution_numbers=("77630",))
    assert what == "differs"
    assert "read it again" in words


def test_a_number_of_another_family_contradicts():
    """74 is the phthalocyanine block of the Colour Index, and PG18 is inorganic."""
    ((_, what, words),) = said(index_names=("PG18",), constitution_numbers=("74260",))
    assert what == "contradicts"
    assert "74 is phthalocyanine, not inorganic" in words


def test_chemical_words_of_another_family_contradict():
    """A label that prints PG18 and a phthalocyanine contradicts itself, though copper is a metal."""
    ((field, what, words),) = said(
        "Viridian", index_names=("PG18",), chemical_names=("chlorinated copper phthalocyanine",)
    )
    assert (field, what) == ("chemical_names", "contradicts")
    assert "says phthalocyanine, PG18 is inorganic" in words


def test_the_check_digit_of_a_cas_number():
    """7732-18-5 is water (CAS registry, from memory) and valid; with another last digit it is read again."""
    assert said(cas_numbers=("7732-18-5",)) == []
    assert said(cas_numbers=("7732-18-4",))[0][2] == "7732-18-4: the check digit does not fit, read it again"
    assert said(cas_numbers=("7732185",))[0][2] == "7732185: not of the form 1308-38-9"


def test_another_cas_number_differs_from_our_reference():
    """A valid number of another substance is held against the pigments declared."""
    words = said(index_names=("PG18",), cas_numbers=("7732-18-5",))[0][2]
    assert words.startswith("7732-18-5 differs from our reference (PG18 12001-99-9")


@pytest.mark.parametrize(
    ("name", "index", "speaks"),
    [
        ("Viridian", "PG7", True),
        ("Viridian Hue", "PG7", False),
        ("Viridian", "PG18", False),
        ("Permanent viridian (deep)", "PG7", True),
        ("Meadow", "PG7", False),
        ("Viridiana", "PG7", False),
    ],
)
def test_a_traditional_name_on_another_pigment_needs_hue(name, index, speaks):
    """The hue rule (labelling norm for artists' paints, from memory) looks at whole words of the name."""
    assert [what for _, what, _ in said(name, index_names=(index,))] == ([str(What.NO_HUE)] if speaks else [])


def test_single_pigment_claims_are_counted():
    """A claim of one pigment is held against how many are declared."""
    fields = {"claims": ("Single-pigment colour",), "index_names": ("PG18", "PG7")}
    assert ("claims", "claim", '"Single-pigment colour", but 2 declared') in said("Meadow", **fields)


def test_what_is_missing():
    """Nothing typed misses both kinds of pigment information; a warning is missed where one is expected."""
    assert missing(label(), REFERENCE) == ("Colour Index names", "constitution numbers or chemical names")
    lead = {"index_names": ("PY41",), "constitution_numbers": ("77588",)}
    assert missing(label(**lead), REFERENCE) == ("hazard words, though our reference expects some",)
    assert missing(label(**lead, warnings="holds lead"), REFERENCE) == ()


@pytest.mark.parametrize("name", ["PB15", "PW6", "PB29", "PB28", "PR108", "PY35", "PG7"])
def test_a_bench_reminder_is_no_reason_for_a_label(name):
    """A pigment to mind at the bench misses no hazard words: nothing published asks its label for any."""
    pigment = REFERENCE[name]
    assert pigment.bench_reminder
    assert missing(label(index_names=(name,), constitution_numbers=pigment.numbers), REFERENCE) == ()


@pytest.mark.parametrize(
    ("name", "number"),
    [("PR122", "16043-40-6"), ("PBk11", "1317-61-9"), ("PB27", "25869-00-5"), ("PY37", "1306-23-6")],
)
def test_a_second_cas_number_in_use_does_not_differ(name, number):
    """Where two CAS numbers are in use for a pigment, a label may print either."""
    assert said(index_names=(name,), cas_numbers=(number,)) == []


def test_a_number_beside_a_pigment_without_one_in_the_reference_is_left_alone():
    """Where our reference has no constitution number there is nothing to hold a printed one against."""
    assert REFERENCE["PV42"].numbers == ()
    assert said(index_names=("PV42",), constitution_numbers=("73903",)) == []


@pytest.mark.parametrize(
    ("name", "fields", "grades"),
    [
        ("Viridian", {"index_names": ("PG18",), "constitution_numbers": ("77289",)}, (0, 0)),
        ("Viridian", {"index_names": ("PG18",)}, (1, 0)),
        ("Meadow", {"index_names": ("PG18",)}, (1, 1)),
        ("Viridian", {"index_names": ("PG7",)}, (1, 3)),
        ("Viridian Hue", {"index_names": ("PG7",)}, (1, 0)),
        ("Viridian", {"index_names": ("PG18",), "chemical_names": ("copper phthalocyanine",)}, (0, 5)),
        ("Meadow", {}, (3, None)),
        ("Meadow", {"chemical_names": ("iron oxide",)}, (None, None)),
    ],
)
def test_grades_that_follow_from_the_text(name, fields, grades):
    """Each anchor of the label rubric that a text can reach is proposed; what it cannot decide stays open."""
    found = proposals(label(**fields), name, REFERENCE)
    assert (found.get("pigment_information"), found.get("label_mismatch")) == grades


@given(st.lists(st.sampled_from(HOSTILE) | st.text(), max_size=4), st.text())
def test_any_text_gets_words_and_no_error(texts, name):
    """Whatever is typed, checks say something or nothing; they block nothing."""
    given_ = tuple(texts)
    typed = label(index_names=given_, constitution_numbers=given_, chemical_names=given_, cas_numbers=given_)
    assert isinstance(about(typed, name, REFERENCE), tuple)
    assert set(proposals(typed, name, REFERENCE).values()) <= {0, 1, 3, 5}
