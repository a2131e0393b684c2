"""The reference of names: what it holds, in which words, and how wrong files are refused."""

import pytest

from qcledger.errors import BadInput
from qcledger.rubric import names, reference
from qcledger.rubric.colour_index import base_name, index_name
from qcledger.rubric.ladder import WIDTH, name_lines
from qcledger.rubric.model import SOURCE_TAGS
from qcledger.rubric.names import NameKind
from qcledger.settings import own_rubrics, reference_files, rubric_files, shipped

PATH = shipped("rubrics") / "names.yaml"
NAMES = names.load(PATH)
TEXT = PATH.read_text(encoding="utf-8")
BY_WORD = {word: name for name in NAMES.names for word in name.words}


def test_every_entry_is_sourced_and_in_normal_form():
    """Each name and family names its source, and its pigments are Colour Index names without a suffix."""
    for one in (*NAMES.names, *NAMES.families.values()):
        assert one.source.partition(": ")[0] in SOURCE_TAGS
        assert all(index_name(name) == name == base_name(name) for name in one.pigments)


def test_names_stand_in_several_languages():
    """One entry holds a name in English, German, French, Italian and Spanish, with and without umlauts and blanks."""
    viridian = BY_WORD["viridian"]
    assert viridian is BY_WORD["vertemeraude"] is BY_WORD["verdesmeraldo"] is BY_WORD["chromoxidgrunfeurig"]
    assert BY_WORD["chromoxidgruenfeurig"] is viridian
    assert BY_WORD["kobaltblau"] is BY_WORD["cobaltblue"]


def test_kinds_of_names():
    """A traditional name promises its pigments, an earth a family, and a mixture nothing by itself."""
    assert (BY_WORD["viridian"].kind, BY_WORD["viridian"].pigments) == (NameKind.PIGMENT, {"PG18"})
    assert BY_WORD["cobaltviolet"].pigments >= {"PV14", "PV49"}
    assert BY_WORD["burntsienna"].kind is NameKind.EARTH
    assert BY_WORD["sapgreen"].kind is NameKind.MIXTURE


@pytest.mark.parametrize(
    ("chemical", "families"),
    [
        ("chlorinated copper phthalocyanine", {"phthalo"}),
        ("Kupferphthalocyanin", {"phthalo"}),
        ("sodium aluminosilicate", {"ultramarine"}),
        ("copper azomethine", {"azomethine"}),
        ("carbazole dioxazine", {"dioxazine"}),
        ("calcium carbonate", {"carbonate"}),
        ("carbon black", {"carbon"}),
        ("oxyde de chrome hydraté", {"chromium"}),
        ("gum arabic", set()),
    ],
)
def test_the_longest_chemical_word_counts(chemical, families):
    """*Azo* stands in azomethine and in carbazole, *carbon* in carbonate; the longer word is read first."""
    assert NAMES.families_in(chemical) == families


def test_families_agree_with_the_reference_of_pigments():
    """A pigment of the reference that one family lists is of a chemistry that some family names."""
    both = reference.load(reference_files())
    for name, pigment in both.pigments.items():
        assert both.families_of(name), f"{name}, {pigment.chemistry}: no family"


def test_a_pigment_that_says_it_goes_under_a_name_counts_as_one_of_it():
    """What the reference of pigments calls cobalt blue belongs to that name, whichever file says so."""
    both = reference.load(reference_files())
    cobalt_blue = next(one for one in both.names.names if one.title == "cobalt blue")
    sold = {base_name(name) for name, pigment in both.pigments.items() if "cobalt blue" in pigment.names}
    assert sold
    assert cobalt_blue.pigments >= sold | BY_WORD["cobaltblue"].pigments


def test_the_file_is_a_reference_and_no_rubric():
    """It is listed beside the rubrics and taken for none; a tester's own file takes its place."""
    assert "names" not in rubric_files()
    assert reference_files()["names"] == PATH
    own = own_rubrics() / "names.yaml"
    own.parent.mkdir(parents=True, exist_ok=True)
    own.write_text(TEXT, encoding="utf-8")
    try:
        assert reference_files()["names"] == own
    finally:
        own.unlink()


@pytest.mark.parametrize(
    ("found", "put", "said"),
    [
        ("reference: names", "reference: other", "found 'other'; allowed: names"),
        ("pigments: [PG18]", "pigments: [PG-18]", "a Colour Index name such as PG18"),
        ("pigments: [PG18]", "pigments: [PB15:3]", "a Colour Index name such as PB15"),
        ("pigments: [PG18]", "colours: [PG18]", "key colours"),
        ("families: [phthalo]", "families: [phtalein]", "phtalein"),
        ("kind: mixture", "kind: blend", "pigment, earth, mixture"),
        ("{en: [malachite]", "{eng: [malachite]", "languages by two letters"),
        ("{en: [malachite]", "{en: [viridian]", "each name once"),
        ("{en: [malachite]", '{en: ["?"]', "a word with letters or digits"),
        ("source: from memory", "source: hearsay", "from memory"),
        ("hues: Bk W B Br", "hues: Bk Grey", "hue letters"),
    ],
)
def test_wrong_files_are_refused_with_their_line(found, put, said):
    """What was found, where and what is allowed stand in one line; nothing else is taken from the file."""
    assert found in TEXT
    with pytest.raises(BadInput) as refused:
        names.parse(TEXT.replace(found, put), "names.yaml")
    assert said in str(refused.value)
    assert "names.yaml line " in str(refused.value)


def test_a_name_promises_something_or_is_a_mixture():
    """A traditional name without pigments and families would promise nothing, and is refused."""
    with pytest.raises(BadInput, match="unless its kind is mixture"):
        names.parse(TEXT.replace("    pigments: [PG18]\n", ""), "names.yaml")


def test_lines_fit():
    """Every entry prints in the width of a terminal."""
    assert all(len(line) <= WIDTH for name in NAMES.names for line in name_lines(name))
