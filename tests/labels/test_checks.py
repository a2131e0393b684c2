"""Checks of labels without statistics."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcledger.labels import LabelRemark, SaidLevel, about, missing, proposals
from qcledger.labels.said import HELD_BACK
from qcledger.records import LabelVersion
from qcledger.rubric import load, reference
from qcledger.rubric.model import is_published
from qcledger.settings import reference_files, shipped
from qcledger.vocab import ProposedFrom
from tests.hostile import HOSTILE

REFERENCE = reference.load(reference_files())
REMARK, DIFFERS, CONTRADICTS = SaidLevel.REMARK, SaidLevel.DIFFERS, SaidLevel.CONTRADICTS


def everything(source: str) -> bool:
    """Trust every source, so that a check shows how far it would go."""
    return True


def label(**fields) -> LabelVersion:
    return LabelVersion(id="lb", paint="pt", seen_on=date(2026, 3, 9), **fields)


def said(name="Meadow", trust=everything, **fields) -> list[LabelRemark]:
    return list(about(label(**fields), name, REFERENCE, trust))


def told(name, index_names, trust=everything, **fields) -> dict[str, SaidLevel]:
    """Return the highest level by field, remarks left out."""
    found: dict[str, SaidLevel] = {}
    for one in said(name, trust, index_names=tuple(index_names.split("|")), **fields):
        if one.level > REMARK:
            found[one.field] = max(one.level, found.get(one.field, REMARK))
    return found


def grades(name, index_names, trust=everything, **fields) -> float | None:
    """Return the grade that is proposed for label mismatch."""
    printed = tuple(index_names.split("|")) if index_names else ()
    found = proposals(label(index_names=printed, **fields), name, REFERENCE, trust)
    return found[ProposedFrom.NAME].grade if ProposedFrom.NAME in found else None


# Index names


@pytest.mark.parametrize("printed", ["P.G. 18", "PG-18", "Pigment Green 18", "C.I. PG18"])
def test_other_forms_of_an_index_name_are_read_and_said(printed):
    """A form other than PG18 is no error; the remark says how it was read."""
    (one,) = said(index_names=(printed,))
    assert (one.field, one.level, one.words) == ("index_names", REMARK, f"{printed} read as PG18")


def test_an_entry_of_several_names_is_read_and_said():
    """PB29 + PV19 in one entry is two pigments, and neither of them is unknown."""
    (one,) = said(index_names=("PB29 + PV19",))
    assert one.words == "PB29 + PV19 read as PB29, PV19"
    assert told("Meadow", "PB29 + PV19", claims=("single pigment",)) == {"claims": CONTRADICTS}


def test_a_number_beside_an_index_name_is_held_against_it():
    """PB29 (77007) is right; PB29 (74160) is inorganic by its name and phthalocyanine by its number."""
    assert told("Ultramarine", "PB29 (77007)") == {}
    assert told("Ultramarine", "PB29 (74160)") == {"constitution_numbers": CONTRADICTS}


def test_what_is_no_index_name_or_unknown_is_a_remark():
    """Words name what was typed and which of the two it is."""
    words = [one.words for one in said(index_names=("green", "PG999"))]
    assert words == ["green: no form of a Colour Index name", "PG999 is not in our reference"]
    assert told("Viridian", "green") == told("Viridian", "PG999") == {}


def test_a_normal_name_needs_no_words():
    """PG18 with its own number, chemistry and CAS number leaves every field silent."""
    fields = {"constitution_numbers": ("77289",), "chemical_names": ("hydrated chromium oxide",)}
    assert said("Viridian", index_names=("PG18",), cas_numbers=("12001-99-9",), **fields) == []


# Names: said rightly of honest labels


@pytest.mark.parametrize(
    ("name", "pigments"),
    [
        ("Cerulean Blue", "PB36"),
        ("Cerulean Blue Chromium", "PB36"),
        ("Cadmium Light Red", "PR108"),
        ("Pyrrole Light Red", "PR254"),
        ("Cadmium Orange", "PY35|PR108"),
        ("Cadmium Yellow Deep", "PO20"),
        ("Quinacridone Magenta", "PR202"),
        ("Quinacridone Violet", "PV55"),
        ("Perylene Red", "PR178"),
        ("Pyrrole Red", "PR255"),
        ("Pyrrole Red", "PR264"),
        ("Cobalt Violet", "PV49"),
        ("Cobalt Blue Deep", "PB74"),
        ("Ultramarine Pink", "PR259"),
        ("Lamp Black", "PBk7"),
        ("Phthalo Green (yellow shade)", "PG36"),
        ("Kobaltviolett hell", "PV49"),
        ("Vert émeraude", "PG18"),
        ("Chromoxidgrün feurig", "PG18"),
        ("Blu oltremare", "PB29"),
        ("Azul de cobalto", "PB28"),
    ],
)
def test_a_right_name_is_told_nothing_and_graded_0(name, pigments):
    """Every pigment that is customary under a name belongs to it, and a family's word is kept by its chemistry."""
    assert told(name, pigments) == {}
    assert grades(name, pigments) == 0


@pytest.mark.parametrize(
    ("name", "pigments"),
    [
        ("Viridian Hue", "PG7"),
        ("Viridian (imitation)", "PG7"),
        ("Viridian imit.", "PG7"),
        ("Kobaltblauton", "PB29"),
        ("Kobaltblau-Ton", "PB29"),
        ("Kobaltblau Farbton", "PB29"),
        ("Teinte de cobalt", "PB15:3"),
        ("Verde smeraldo imitazione", "PG7"),
        ("Cadmium-free Red", "PR254"),
        ("Kadmiumgelb cadmiumfrei", "PY150"),
        ("Jaune de cadmium sans cadmium", "PY150"),
        ("Permanent Alizarin Crimson", "PV19"),
    ],
)
def test_a_declared_substitute_is_no_fault(name, pigments):
    """Hue, imitation, Ton, teinte, permanent and cadmium-free each declare that another pigment is inside."""
    assert told(name, pigments) == {}
    assert grades(name, pigments) == 0


def test_a_substitute_may_be_declared_beside_the_name():
    """The word hue among the claims counts as one in the name; permanent there speaks of light, and does not."""
    assert told("Viridian", "PG7", claims=("hue",)) == {}
    assert told("Viridian", "PG7", claims=("permanent",)) == {"name": DIFFERS}


@pytest.mark.parametrize(
    ("name", "pigments"),
    [
        ("Indian Red", "PR102"),
        ("Burnt Sienna", "PR101"),
        ("Yellow Ochre", "PY150|PV23"),
        ("Ocker", "PG7"),
        ("Terre verte", "PG7|PBr7"),
    ],
)
def test_earth_names_get_no_more_than_a_remark(name, pigments):
    """What is sold under an earth's name is wide by custom: no grade follows, right or wrong."""
    assert told(name, pigments) == {}
    assert grades(name, pigments) is None


@pytest.mark.parametrize(
    ("name", "pigments"),
    [
        ("Indigo", "PB15|PV19|PB60"),
        ("Sap Green", "PG7|PY150"),
        ("Payne's Grey", "PB29|PBk9"),
        ("Sepia", "PBk9|PR101"),
        ("Naples Yellow", "PW6|PY42"),
        ("Neapelgelb", "PBr24|PW6"),
        ("Azores Blue", "PB29"),
    ],
)
def test_customary_mixtures_and_fancy_names_promise_nothing(name, pigments):
    """A name that is customary for mixtures is graded as any fancy name with its pigments shown."""
    assert told(name, pigments) == {}
    assert grades(name, pigments) == 0


def test_genuine_makes_a_mixture_name_a_promise():
    """Indigo may be any mixture; genuine indigo is the plant's."""
    assert told("Indigo", "PB60|PBk9") == {}
    assert told("Indigo genuine", "PB60|PBk9")["name"] == DIFFERS
    assert told("Indigo", "PB60|PBk9", claims=("genuine",))["name"] == DIFFERS
    assert told("Indigo genuine", "NB1") == {}


# Names: found where they are wrong


@pytest.mark.parametrize(
    ("name", "pigments"),
    [
        ("Viridian", "PG7"),
        ("Viridian", "PG18|PG7"),
        ("Cobalt Blue", "PB28|PB29"),
        ("Kobaltblau", "PB29"),
        ("Vert émeraude", "PG7"),
        ("Rose Madder", "PV19"),
        ("Vermilion", "PR254"),
        ("Cadmium Yellow", "PY150"),
        ("Cadmium Yellow", "PR108"),
        ("Quinacridone Red", "PR254"),
        ("Aureolin", "PY150"),
        ("Blu di cobalto", "PB15:3"),
    ],
)
def test_a_name_that_part_of_the_pigments_does_not_keep_differs(name, pigments):
    """One pigment that does not belong is enough for a traditional name, in whatever language."""
    assert told(name, pigments) == {"name": DIFFERS}
    assert grades(name, pigments) == 3


def test_white_beside_the_pigment_is_a_remark():
    """A white lightens a paint; it takes no promise away, and gives no grade of 0 either."""
    assert told("Cerulean Blue", "PB35|PW6") == {}
    assert grades("Cerulean Blue", "PB35|PW6") is None


def test_another_colour_beside_a_traditional_name_speaks_of_a_mixture():
    """Cobalt blue is one pigment; a cobalt blue green may hold a green."""
    assert told("Cobalt Blue", "PB28|PG7") == {"name": DIFFERS}
    assert told("Cobalt Blue Green", "PB28|PG7") == {}


@pytest.mark.parametrize("name", ["Viridiana", "Meadow", "Cobaltia"])
def test_other_words_promise_no_traditional_name(name):
    """Names are whole words: what only begins as viridian does is none."""
    assert "viridian" not in " ".join(one.words for one in said(name, index_names=("PG7",)) if one.field == "name")


# What is not known


@pytest.mark.parametrize(
    "pigments",
    ["PB15|PBk999", "PB15|PBk999|PV19", "PG7|PY999", "PY150|PR999"],
)
def test_nothing_is_held_against_a_label_that_declares_an_unknown_pigment(pigments):
    """The unknown pigment's number and chemistry are its own: a remark says that our reference does not hold it."""
    fields = {"constitution_numbers": ("77266", "11740"), "chemical_names": ("carbon black", "quinacridone")}
    assert told("Meadow", pigments, **fields) == {}
    assert grades("Meadow", pigments, **fields) == 0
    assert "not in our reference" in " ".join(one.words for one in said(index_names=tuple(pigments.split("|"))))


@pytest.mark.parametrize(
    "pigments", ["PB15|PBk7", "PB15|PBk7|PV19", "PG7|PY65", "PG7|PY97", "PG7|PB74", "PY150|PR255"]
)
def test_everyday_mixtures_do_not_contradict_themselves(pigments):
    """Numbers and chemical names of the second pigment are not held against the first."""
    fields = {
        "constitution_numbers": ("77266", "73900", "11740", "11767", "77366", "561050"),
        "chemical_names": ("carbon black", "arylide", "cobalt zinc silicate", "diketopyrrolopyrrole", "quinacridone"),
    }
    kinds = {"PBk7": (0, 0), "PY65": (2, 1), "PY97": (3, 1), "PB74": (4, 2), "PR255": (5, 3)}
    number, chemistry = kinds[pigments.split("|")[1]]
    mine = {"constitution_numbers": (fields["constitution_numbers"][number],)}
    mine["chemical_names"] = (fields["chemical_names"][chemistry],)
    assert told("Meadow", pigments, **mine) == {}


def test_what_rests_on_memory_is_held_back_and_says_so():
    """The same words stand there as a remark, with each fact they rest on and its source, and propose no grade."""
    fields = {"index_names": ("PG7",)}
    (free,) = [one for one in said("Viridian", **fields) if one.field == "name"]
    (held,) = [one for one in said("Viridian", lambda _: False, **fields) if one.field == "name"]
    assert (free.level, held.level, held.held_back) == (DIFFERS, REMARK, True)
    assert held.words == f"{free.words}; {HELD_BACK}"
    assert '"viridian" is usually PG18; declared PG7, no "hue" in the name' in free.words
    assert [(one.of, one.field) for one in free.ours] == [("viridian", "names"), ("PG7", "chemistry")]
    assert all(f"[{one.source}]" in free.words for one in free.ours)
    assert grades("Viridian", "PG7", lambda _: False) is None


@given(st.sampled_from([everything, is_published, lambda _: False]))
def test_less_trust_never_says_more(trust):
    """Whatever is trusted, a label is told the same statements, at the same level or below."""
    fields = {"index_names": ("PG18",), "chemical_names": ("copper phthalocyanine",), "cas_numbers": ("1-00-0",)}
    wary, free = said("Cobalt Blue", trust, **fields), said("Cobalt Blue", **fields)
    assert [one.statement for one in wary] == [one.statement for one in free]
    assert all(mine.level <= other.level for mine, other in zip(wary, free, strict=True))


# Numbers, chemistry, CAS


def test_a_number_of_another_reference_differs_and_names_the_source():
    """Two public references give PB35 as 77346 and 77368, both of cobalt blues: a remark with ours and its source."""
    (one,) = said(index_names=("PB35",), constitution_numbers=("77350",))
    assert (one.field, one.level) == ("constitution_numbers", REMARK)
    assert one.words.startswith("77350 differs from our reference")
    assert "PB35, numbers: 77368" in one.words
    assert "[seen in a public page" in one.words
    assert told("Cerulean", "PB35", constitution_numbers=("77346",)) == {}


def test_a_misprinted_number_is_told_from_another_family():
    """One educational page prints PV14 as 77630 for 77360: two neighbours that changed places."""
    (one,) = said(index_names=("PV14",), constitution_numbers=("77630",))
    assert one.level is REMARK
    assert "read it again" in one.words


def test_a_number_of_another_family_contradicts():
    """74 is the phthalocyanine block of the Colour Index, and PG18 is inorganic."""
    (one,) = said(index_names=("PG18",), constitution_numbers=("74260",))
    assert one.level is CONTRADICTS
    assert "74 is phthalocyanine, not inorganic" in one.words


def test_a_number_of_another_pigment_differs():
    """77007 is ultramarine and in the same block as cobalt blue; PG7's number is not PB15's, though of one family."""
    assert told("Meadow", "PB28", constitution_numbers=("77007",)) == {"constitution_numbers": DIFFERS}
    assert told("Meadow", "PB15", constitution_numbers=("74260",)) == {"constitution_numbers": DIFFERS}


def test_a_number_of_no_known_block_is_a_remark():
    """PV19 is listed under 46500 as well; we know no block there."""
    assert told("Quinacridone Rose", "PV19", constitution_numbers=("46500",)) == {}


def test_chemical_words_of_another_family_contradict():
    """A label that prints PG18 and a phthalocyanine contradicts itself, though copper is a metal."""
    (one,) = said("Viridian", index_names=("PG18",), chemical_names=("chlorinated copper phthalocyanine",))
    assert (one.field, one.level) == ("chemical_names", CONTRADICTS)
    assert "is phthalo, PG18 is chromium" in one.words


def test_chemical_words_of_another_inorganic_pigment_differ():
    """PB28 beside sodium aluminosilicate: both are inorganic, and only the second is ultramarine."""
    assert told("Cobalt Blue", "PB28", chemical_names=("sodium aluminosilicate",)) == {"chemical_names": DIFFERS}
    assert told("Cobalt Blue", "PB28", chemical_names=("cobalt(II) aluminate",)) == {}
    assert told("Ultramarin", "PB29", chemical_names=("Natrium-Aluminium-Silikat",)) == {}


def test_the_check_digit_of_a_cas_number():
    """7732-18-5 is water (CAS registry, from memory) and valid; with another last digit it cannot be right."""
    assert said(cas_numbers=("7732-18-5",)) == []
    (one,) = said(cas_numbers=("7732-18-4",), trust=lambda _: False)
    assert (one.level, one.words) == (DIFFERS, "7732-18-4: the check digit does not fit, read it again")
    (one,) = said(cas_numbers=("7732185",))
    assert (one.level, one.words) == (REMARK, "7732185: not of the form 1308-38-9")


def test_another_cas_number_is_a_remark_unless_it_is_another_pigments():
    """A pigment may have several; that of a pigment of another chemistry differs."""
    (one,) = said(index_names=("PG18",), cas_numbers=("7732-18-5",))
    assert one.level is REMARK
    assert one.words.startswith("7732-18-5 differs from our reference")
    assert "PG18, cas: 12001-99-9" in one.words
    assert told("Meadow", "PG18", cas_numbers=("1328-53-6",)) == {"cas_numbers": DIFFERS}


# Claims and what is missing


@pytest.mark.parametrize(
    "claim",
    ["Single-pigment colour", "single pigment", "1 pigment", "Monopigment", "Einzelpigment", "mono-pigmentaire",
     "monopigmento", "pigment unique"],
)  # fmt: skip
def test_single_pigment_claims_are_counted(claim):
    """A claim of one pigment is held against how many are declared; PB15 and PB15:3 are one."""
    fields = {"claims": (claim,)}
    assert told("Meadow", "PG18|PG7", **fields) == {"claims": CONTRADICTS}
    assert told("Meadow", "PB15|PB15:3", **fields) == {}
    assert told("Meadow", "PG18", **fields) == {}


def test_claims_of_several_pigments_are_counted():
    """Two pigments claimed and three declared differ; a colon suffix may count or not."""
    assert told("Meadow", "PG18|PG7|PW6", claims=("2 pigments",)) == {"claims": DIFFERS}
    assert told("Meadow", "PB15|PB15:3", claims=("2 pigments",)) == {}


def test_what_is_said_to_be_absent_is_held_against_the_chemistry():
    """Cadmium-free beside a cadmium pigment contradicts itself, in the name as among the claims."""
    assert told("Warm Red", "PR108", claims=("cadmium-free",)) == {"claims": CONTRADICTS}
    assert told("Cadmium-free Red", "PR108") == {"name": CONTRADICTS}
    assert told("Warm Red", "PR254", claims=("cadmium-free",)) == {}


def test_something_genuine_is_held_against_the_chemistry():
    """A claim of genuine cobalt beside ultramarine differs; in place of genuine cobalt does not."""
    assert told("Sky", "PB29", claims=("genuine cobalt",)) == {"claims": DIFFERS}
    assert told("Sky", "PB28", claims=("genuine cobalt",)) == {}
    assert told("Sky", "PB29", claims=("in place of genuine cobalt",)) == {}
    assert told("Sky", "PB29", claims=("genuine gum arabic",)) == {}


def test_what_is_missing():
    """Nothing typed misses both kinds of pigment information."""
    assert missing(label(), REFERENCE) == ("Colour Index names", "constitution numbers or chemical names")
    assert missing(label(index_names=("PB28",), constitution_numbers=("77346",)), REFERENCE) == ()
    assert missing(label(index_names=("PB28 (77346)",)), REFERENCE) == (), "the number stands beside the name"


def test_hazard_words_are_missed_only_where_a_published_reason_expects_them():
    """What the bench is reminded of is expected of no label: PB15 holds copper, PY41 lead with a published reason."""
    both = {"constitution_numbers": ("74160",)}
    assert missing(label(index_names=("PB15",), **both), REFERENCE) == ()
    (said,) = missing(label(index_names=("PY41",), **both), REFERENCE)
    assert said.startswith("hazard words: none found on this label; safety data sheet asked for (PY41, ")
    assert missing(label(index_names=("PY41",), warnings="contains lead", **both), REFERENCE) == ()


# Grades


@pytest.mark.parametrize(
    ("name", "fields", "wanted"),
    [
        ("Viridian", {"index_names": ("PG18",), "constitution_numbers": ("77289",)}, (0, 0)),
        ("Viridian", {"index_names": ("PG18",)}, (1, 0)),
        ("Viridian", {"index_names": ("Pigment Green 18 (77289)",)}, (0, 0)),
        ("Meadow", {"index_names": ("PG18",)}, (1, 0)),
        ("Viridian", {"index_names": ("PG7",)}, (1, 3)),
        ("Viridian Hue", {"index_names": ("PG7",)}, (1, 0)),
        ("Viridian", {"index_names": ("PG18",), "chemical_names": ("copper phthalocyanine",)}, (0, 5)),
        ("Meadow", {}, (3, None)),
        ("Meadow", {"chemical_names": ("iron oxide",)}, (None, None)),
    ],
)
def test_grades_that_follow_from_the_text(name, fields, wanted):
    """Each anchor of the label rubric that a text can reach is proposed with its reason; the rest stays open."""
    found = proposals(label(**fields), name, REFERENCE, everything)
    kinds = (ProposedFrom.PIGMENTS, ProposedFrom.NAME)
    assert tuple(found[kind].grade if kind in found else None for kind in kinds) == wanted
    assert all(one.because for one in found.values())


def test_a_missing_hazard_text_proposes_nothing():
    """A label without hazard words is typed as it is: no grade follows, whatever the bench is reminded of."""
    hazard = load(shipped("rubrics") / "label.yaml").criteria["hazard_information"]
    found = proposals(label(index_names=("PB15",)), "Phthalo Blue", REFERENCE, everything)
    assert found
    assert hazard.proposed_from not in found


@given(st.lists(st.sampled_from(HOSTILE) | st.text(), max_size=4), st.text())
def test_any_text_gets_words_and_no_error(texts, name):
    """Whatever is typed, checks say something or nothing; they block nothing."""
    given_ = tuple(texts)
    typed = label(
        index_names=given_, constitution_numbers=given_, chemical_names=given_, cas_numbers=given_, claims=given_
    )
    assert isinstance(about(typed, name, REFERENCE), tuple)
    assert {one.grade for one in proposals(typed, name, REFERENCE).values()} <= {0, 1, 3, 5}
