"""Colour Index names, numbers and CAS numbers as labels print them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcledger.rubric.colour_index import (
    Printed,
    base_name,
    cas_is_valid,
    compared_as,
    family,
    index_name,
    is_near,
    printed,
)

PRINTED = {
    "PG18": [
        "PG18",
        "P.G. 18",
        "PG-18",
        "PG 18",
        "P.G.18",
        "pg18",
        "Pigment Green 18",
        "PIGMENT GREEN 18",
        "C.I. Pigment Green 18",
        "CI PG18",
        "Pigment green-18",
        " PG18 ",
        "PG018",
        "\uff30\uff27\uff11\uff18",
    ],
    "PBk6": ["PBk6", "PBK6", "PBk 6", "P.Bk.6", "Pigment Black 6", "pbk-6"],
    "PBr7": ["PBr7", "PBR7", "P.Br. 7", "Pigment Brown 7"],
    "PB15:3": ["PB15:3", "PB 15:3", "PB15 : 3", "Pigment Blue 15:3", "PB15.3", "PB 15/3", "PB15-3", "P.B. 15:3"],
    "PB29": ["P.B. 29", "C.I. Pigment Blue 29", "CI PB29", "Pigment Blau 29"],
    "PB7": ["PB7", "Pigment Blue 7"],
    "PO20": ["PO20", "P020", "PO2O", "Pigment Orange 20"],
    "PO73": ["P073", "PO73"],
    "PR101": ["PR101", "PR 1O1", "PR-101"],
    "PW6": ["PW6", "Pigment White 6"],
    "PM1": ["Pigment Metal 1"],
    "NR4": ["NR4", "Natural Red 4", "N.R. 4"],
    "NBr9": ["Natural Brown 9", "NBr9"],
    "BV10": ["BV10", "Basic Violet 10"],
    "SB67": ["Solvent Blue 67"],
    "DB199": ["Direct Blue 199"],
    "AR52": ["Acid Red 52"],
}


@pytest.mark.parametrize(
    ("normal", "printed"), [(normal, text) for normal, texts in PRINTED.items() for text in texts]
)
def test_printed_forms_have_one_normal_form(normal, printed):
    """Use, hue and serial are read however a label spaces them (forms: common practice, no source)."""
    assert index_name(printed) == normal


@pytest.mark.parametrize(
    "text",
    ["", "green", "Viridian", "PG", "18", "77289", "C.I. 77289", "PX18", "PG1800", "PG0", "PG18 PG7", "PG18 (hue)",
     "PG18:", "PG18:0", "PGG18", "P G r e e n", "PG\u0661\u0668", "PG-18-10", "PG18x", "\x1b[31mPG18", "P" * 10_000],
)  # fmt: skip
def test_other_words_are_no_names(text):
    """What is not one whole Colour Index name gives none."""
    assert index_name(text) is None


@given(
    st.sampled_from("PNBSDA"),
    st.sampled_from(["W", "Y", "O", "R", "V", "B", "G", "Br", "Bk", "M"]),
    st.integers(1, 999),
    st.sampled_from(["", ":1", ":4"]),
)
def test_a_normal_form_is_its_own(use, hue, serial, suffix):
    """Reading a normal form gives it back, whatever its case, and its base loses the suffix alone."""
    name = f"{use}{hue}{serial}{suffix}"
    assert index_name(name) == index_name(name.lower()) == index_name(name.upper()) == name
    assert base_name(name) == f"{use}{hue}{serial}"


@given(st.text(max_size=30))
def test_any_text_is_read_or_not(text):
    """Whatever is typed, nothing is raised, and what is read is in normal form."""
    name = index_name(text)
    assert name is None or index_name(name) == name
    assert isinstance(cas_is_valid(text), bool)
    family(text)


@pytest.mark.parametrize(
    ("entry", "names", "numbers", "words"),
    [
        ("PB29 + PV19", ("PB29", "PV19"), (), ()),
        ("PB29/PV19", ("PB29", "PV19"), (), ()),
        ("PB29, PV19", ("PB29", "PV19"), (), ()),
        ("PB29 and PV19", ("PB29", "PV19"), (), ()),
        ("P.W. 6 & P.Bk. 7", ("PW6", "PBk7"), (), ()),
        ("PBr7 PR101", ("PBr7", "PR101"), (), ()),
        ("PB29 (77007)", ("PB29",), ("77007",), ()),
        ("C.I. Pigment Blue 15:3 (C.I. 74160)", ("PB15:3",), ("74160",), ()),
        ("PB29 (77007) + PV19 (73900)", ("PB29", "PV19"), ("77007", "73900"), ()),
        ("PB29/77007", ("PB29",), ("77007",), ()),
        ("PB15/3/PG7", ("PB15:3", "PG7"), (), ()),
        ("PB15.3 (copper phthalocyanine)", ("PB15:3",), (), ("copper phthalocyanine",)),
        ("Pigments: PY42, PR101", ("PY42", "PR101"), (), ()),
        ("NR4", ("NR4",), (), ()),
        ("NB1/BV10", ("NB1", "BV10"), (), ()),
        ("C.I. 77007", (), ("77007",), ()),
    ],
)
def test_an_entry_may_hold_several_names_and_numbers(entry, names, numbers, words):
    """Whatever parts them, names, constitution numbers and words in brackets are each read."""
    assert printed(entry) == Printed(names, numbers, words)


@pytest.mark.parametrize(
    "entry", ["", "green", "PB29 or so", "PB29 + ?", "Viridian PG18", "PX18", "PG1800", "PG0 + PG7"]
)
def test_an_entry_with_anything_else_is_not_read(entry):
    """A part that is none of these leaves the whole entry unread, so that no half of it is taken for all."""
    assert printed(entry) is None


def test_paints_are_compared_by_every_name_in_an_entry():
    """One entry of two names and two entries of one name each are the same paint; what is not read stays."""
    assert compared_as(["PB29 + PV19"]) == compared_as(["PB29", "PV19"]) == ("PB29", "PV19")
    assert compared_as(["PB29 (77007)", "some blue"]) == ("PB29", "some blue")


@given(st.text(max_size=60))
def test_any_entry_is_read_or_not(entry):
    """Whatever is typed, nothing is raised, and every name that is read is in normal form."""
    found = printed(entry)
    assert found is None or all(index_name(name) == name for name in found.names)


def test_families_end_where_their_blocks_end():
    """Numbers outside the blocks we know have no family; five and six digits and a suffix are numbers."""
    assert family("771740") == family("77174") == family("77492:1") == "inorganic"
    assert family("19999") == "monoazo"
    assert family("20000") == "disazo"
    assert [family(text) for text in ("30000", "99999", "7749", "7749999", "seventy", "")] == [None] * 6


def test_misprints_are_near():
    """77360 printed as 77630, as one site has it, is a swap of neighbours; one other digit is near as well."""
    assert is_near("77360", "77630")
    assert is_near("77346", "77344")
    assert not is_near("77346", "77346")
    assert not is_near("77346", "77368")
    assert not is_near("77346", "773460")
    assert not is_near("77360", "07376")
    assert not is_near("12345", "14325")


@given(st.from_regex(r"[1-9][0-9]{1,6}-[0-9]{2}", fullmatch=True))
def test_one_check_digit_in_ten_is_right(stem):
    """For any CAS number exactly one check digit passes, and the others do not."""
    assert sum(cas_is_valid(f"{stem}-{digit}") for digit in range(10)) == 1


@pytest.mark.parametrize(
    "text", ["", "7732-18", "7732185", "7732-18-55", "07732-18-5", "1-18-5", "12345678-18-5", "x"]
)
def test_other_texts_are_no_cas_numbers(text):
    """Form is checked before the digit: two to seven digits, two digits, one digit."""
    assert not cas_is_valid(text)
