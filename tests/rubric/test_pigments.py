"""The pigment reference: what it holds, what it admits not to know, and how wrong files are refused."""

import dataclasses
import re

import pytest

from qcledger.errors import MESSAGE_LIMIT, BadInput
from qcledger.rubric import pigments
from qcledger.rubric.colour_index import index_name
from qcledger.rubric.ladder import WIDTH, pigment_lines
from qcledger.rubric.model import PUBLISHED_TAGS, SOURCE_TAGS, is_published
from qcledger.settings import shipped
from qcledger.vocab import Amount, Cover, Rewet, Strength

PATH = shipped("rubrics") / "pigments.yaml"
PIGMENTS = pigments.load(PATH)
EACH = pytest.mark.parametrize("pigment", PIGMENTS.values(), ids=PIGMENTS)


def test_the_reference_is_a_mapping_by_normal_name():
    """Pigments are found by their Colour Index name in normal form, in the order of the file."""
    assert len(PIGMENTS) == 116
    assert all(index_name(name) == name == pigment.name for name, pigment in PIGMENTS.items())
    with pytest.raises(KeyError):
        PIGMENTS["PG999"]


def test_printed_names_are_found():
    """A printed form or a colon suffix leads to the pigment; other words to none."""
    assert PIGMENTS.find("P.G. 18") is PIGMENTS["PG18"]
    assert PIGMENTS.find("Pigment Blue 15:3") is PIGMENTS["PB15"]
    assert PIGMENTS.find("PR83:1") is PIGMENTS["PR83"]
    assert PIGMENTS.find("Viridian") is None
    assert PIGMENTS.find("PG999") is None


def test_a_row_in_full():
    """Viridian, from memory and common practice: grainy, clear, lifts, weak, hard to rewet."""
    viridian = PIGMENTS["PG18"]
    assert (viridian.names, viridian.numbers, viridian.cas) == (("viridian",), ("77289",), "12001-99-9")
    assert viridian.chemistry == "hydrated chromium(III) oxide"
    assert (viridian.grain, viridian.cover, viridian.stain) == ((Amount.MARKED,), (Cover.LIGHT,), (Amount.NONE,))
    assert (viridian.strength, viridian.rewet) == ((Strength.SLIGHT,), (Rewet.HARD,))
    assert "chromium" in viridian.bench_reminder[0].text
    assert viridian.label_expected == ()
    assert viridian.pairs[0].pigments == ("PG18", "PG7")
    assert viridian.sources["traits"] == "common practice, no source"
    with pytest.raises(dataclasses.FrozenInstanceError):
        viridian.chemistry = "x"


TOLD_OTHERWISE = {
    ("PR83", "PR177"),  # by a strip in light
    ("PG23", "PG18", "PBr7"),  # by a mixture that parts in a wet wash
}


def test_telling_pairs_contrast_traits():
    """The first two pigments of a telling pair differ in at least two traits, or something else tells them."""
    for pair in PIGMENTS.pairs:
        one, other = (PIGMENTS[name] for name in pair.pigments[:2])
        apart = [
            trait for trait in ("grain", "stain", "strength", "rewet") if getattr(one, trait) != getattr(other, trait)
        ]
        assert len(apart) >= 2 or pair.pigments in TOLD_OTHERWISE


@pytest.mark.parametrize(
    "told",
    [("PG18", "PG7"), ("PV16", "PV23"), ("PB33", "PB15"), ("PB28", "PB29"), ("PR83", "PR177"), ("PV15", "PV23"),
     ("PB36", "PB15", "PG7"), ("PG50", "PG7", "PW6"), ("PR108", "PR254"), ("PR233", "PV19"), ("PG23", "PG18", "PBr7"),
     ("PBk9", "PBk7")],
)  # fmt: skip
def test_what_labels_confuse_is_told_apart(told):
    """What is sold under one name and is not one pigment stands as a telling pair, at each of its pigments."""
    (pair,) = (pair for pair in PIGMENTS.pairs if pair.pigments == told)
    assert all(pair in PIGMENTS[name].pairs for name in told)


COMMON = """
    PBk7 PY65 PY74 PY97 PY151 PY175 PY83 PY139 PY153 PR112 PR170 PR177 PR178 PR188 PR202 PR206 PR209 PR255 PR264
    PR259 PV49 PV55 PB16 PB74 PBr6 PY1 PY41 PY119 PY138 PY159 PY216 PO48 PO49 PO64 PO71 PR3 PR176 PR187 PR207
    PR242 PV29 PV32 PV37 PV42 PV62 PB66 PB72 PB73 PB86 PG8 PG10 PBr8 PBr25 PBr33 PBk10 PBk28 PBk31 PW5 PW18 PW20
    NR4 NR9 NB1 BV10
"""


@pytest.mark.parametrize("name", COMMON.split())
def test_common_pigments_are_in_the_reference(name):
    """What watercolours are made of beyond the classics has a row, with its chemistry."""
    assert PIGMENTS[name].chemistry


NAMES = {
    "Potter's pink": {"PR233"},
    "Hansa yellow": {"PY1", "PY3", "PY65", "PY74", "PY97"},
    "nickel azo yellow": {"PY150"},
    "green gold": {"PY129", "PG10"},
    "pyrrole orange": {"PO73", "PO71"},
    "pyrrole red": {"PR254", "PR255", "PR264"},
    "perylene red": {"PR149", "PR178"},
    "English red": {"PR101", "PR102"},
    "Indian red": {"PR101", "PR102"},
    "caput mortuum": {"PR101"},
    "cerulean blue": {"PB35", "PB36"},
    "cobalt blue": {"PB28", "PB72", "PB73", "PB74"},
    "cobalt violet": {"PV14", "PV49", "PV62"},
    "quinacridone magenta": {"PR122", "PR202"},
    "quinacridone violet": {"PV19", "PV55"},
    "ultramarine pink": {"PR259"},
    "lamp black": {"PBk6", "PBk7"},
    "phthalo green": {"PG7", "PG36"},
}


@pytest.mark.parametrize(("name", "stands_for"), NAMES.items())
def test_a_traditional_name_stands_for_all_its_pigments(name, stands_for):
    """A name that several pigments are sold under is a name of each, so that none is called a substitute."""
    assert {pigment.name for pigment in PIGMENTS.values() if name in pigment.names} == stands_for


def _hints(name):
    return " ".join(hint.text for hint in PIGMENTS[name].hints)


def test_what_was_mended():
    """Traits, numbers and cautions agree with the hints beside them, and references that differ are all named."""
    for name in ("PR101", "PY42"):  # both were said to cover, though clear grades of both are sold
        assert Cover.LIGHT in PIGMENTS[name].cover
        assert Cover.COVERS in PIGMENTS[name].cover
    for name in ("PV15", "PR259"):
        assert PIGMENTS[name].bench_reminder == PIGMENTS["PB29"].bench_reminder != ()
    assert set(PIGMENTS["PO20"].numbers) == {"77199", "77202", "77196"}
    assert all(number in _hints("PO20") for number in PIGMENTS["PO20"].numbers)
    assert "58000:1" in _hints("PR83")
    assert "Hardly made" in _hints("PB33")
    assert PIGMENTS["PY53"].rewet == PIGMENTS["PR233"].rewet == ()


@pytest.mark.parametrize(("name", "cas"), [("PY154", "68134-22-5"), ("PO73", "84632-59-7"), ("PB35", "1345-19-3")])
def test_cas_numbers_that_were_missing(name, cas):
    """Numbers that were left out stand now (from memory; the check digits hold)."""
    assert PIGMENTS[name].cas == cas


@pytest.mark.parametrize(
    ("name", "usual", "also"),
    [("PR122", "980-26-7", "16043-40-6"), ("PBk11", "12227-89-3", "1317-61-9"), ("PB27", "14038-43-8", "25869-00-5")],
)
def test_a_second_cas_number_stands_behind_the_usual_one(name, usual, also):
    """Both numbers in use stand, the usual one first, and a hint says where the second one is from."""
    assert PIGMENTS[name].cas_numbers == (usual, also)
    assert PIGMENTS[name].cas == usual
    assert also in _hints(name)


@pytest.mark.parametrize("name", ["PR83", "PB27", "PY40", "PV23", "PR122", "PY35", "PY37", "NR4", "NR9", "BV10"])
def test_what_light_changes_is_said(name):
    """A pigment that light is known to change says so."""
    assert "light" in _hints(name).casefold()


def _sources_of(pigment):
    remarks = (*pigment.bench_reminder, *pigment.label_expected, *pigment.hints, *pigment.pairs)
    return [*pigment.sources.values(), *(remark.source for remark in remarks)]


@EACH
def test_every_fact_has_a_source(pigment):
    """Each kind of fact, reminder, expectation, hint and telling pair begins its source with one of the tags."""
    assert set(pigment.sources) == set(pigments.FACTS)
    assert all(tag.partition(": ")[0] in SOURCE_TAGS for tag in _sources_of(pigment))


@EACH
def test_what_was_published_is_named(pigment):
    """A source that was read somewhere says where."""
    read = [tag for tag in _sources_of(pigment) if tag.startswith(PUBLISHED_TAGS)]
    assert [tag for tag in read if not is_published(tag)] == []


def test_only_what_was_published_is_certain():
    """A field is certain if something is known of it and its source is named; no fact of PG999 is asked for."""
    ochre, magenta, bare = PIGMENTS["PY42"], PIGMENTS["PR122"], PIGMENTS["PV42"]
    assert pigments.certain(ochre, "numbers")
    assert not pigments.certain(ochre, "cas")  # from memory
    assert pigments.certain(magenta, "cas")
    assert not pigments.certain(magenta, "traits")  # common practice
    assert pigments.certain(bare, "chemistry")
    told = dataclasses.replace(bare, sources={**bare.sources, "numbers": "seen in a public page: x"})
    assert not pigments.certain(told, "numbers")  # a source, and nothing it says
    unnamed = dataclasses.replace(ochre, sources={**ochre.sources, "numbers": "seen in a public page"})
    assert not pigments.certain(unnamed, "numbers")
    with pytest.raises(KeyError):
        pigments.certain(ochre, "price")


@EACH
def test_what_a_label_should_say_has_a_published_reason(pigment):
    """A bench reminder is no expectation: what a label is expected to say stands apart, with reason and source."""
    for one in pigment.label_expected:
        assert one.reason
        assert is_published(one.source)
        assert one.text not in {remark.text for remark in pigment.bench_reminder}


def test_few_labels_are_expected_to_warn():
    """Most pigments call for no hazard words on a label, the common ones with a bench reminder among them."""
    assert {name for name, pigment in PIGMENTS.items() if pigment.label_expected} == {"PY41"}
    assert all(PIGMENTS[name].bench_reminder for name in ("PB15", "PW6", "PB29", "PR108"))


METALS = ("cadmium", "cobalt", "manganese", "nickel", "chromium", "antimony", "lead")


@EACH
def test_hazardous_metals_are_reminded_of(pigment):
    """A pigment whose chemistry names one of these metals carries the reminder of it."""
    named = [metal for metal in METALS if re.search(rf"\b{metal}", pigment.chemistry)]
    reminders = " ".join(remark.text for remark in pigment.bench_reminder)
    assert [metal for metal in named if metal not in reminders] == []


def test_reminders_defer():
    """Beside the reminders stands who decides: label, safety data sheet and local law."""
    assert "The label, the safety data sheet and local law win" in PIGMENTS.cautions[0].text


@EACH
def test_lines_fit_the_terminal(pigment):
    """A pigment is told within 80 columns, with its numbers and traits in whole words."""
    lines = pigment_lines(pigment)
    assert max(map(len, lines)) <= WIDTH
    text = " ".join(" ".join(lines).split())
    for word in (pigment.name, *pigment.numbers, *pigment.grain, *pigment.cover, *pigment.rewet):
        assert word in text


GOOD = """\
reference: pigments
title: Pigments
about: A few.
sources: {names: from memory, chemistry: from memory, numbers: from memory, cas: from memory, traits: from memory}
bench_reminders:
  dust:
    say: No dust.
    source: from memory
label_expectations:
  lead:
    say: A warning.
    because: It was asked for.
    source: "seen in a public page: y"
telling_pairs:
  - pigments: [PW4, PW6]
    say: One covers.
    source: from memory
pigments:
  PW4:
    chemistry: zinc oxide
    numbers: [77947]
    cas: [1314-13-2, 7732-18-5]
    label_expected: [lead]
    grain: [none]
    cover: [half]
    stain: [none]
    strength: [slight, marked]
    rewet: [middling]
  PW6:
    names: [titanium white]
    chemistry: titanium dioxide
    numbers: [77891]
    grain: [none]
    cover: [covers]
    stain: [slight]
    strength: [marked]
    rewet: [easy]
    bench_reminder: [dust]
    sources: {numbers: "seen in a public page: x"}
"""


def test_sources_of_a_pigment_win():
    """A pigment's own tag replaces the file's for that kind of fact alone; a missing CAS number stays unknown."""
    white = pigments.parse(GOOD, "own.yaml")["PW6"]
    assert white.sources["numbers"] == "seen in a public page: x"
    assert white.sources["chemistry"] == "from memory"
    assert white.cas is None
    assert "  CAS: not sure" in pigment_lines(white)


def test_what_is_left_out_stays_unknown():
    """Numbers and traits that nobody is sure of are left out, and told as such."""
    short = GOOD.replace("    numbers: [77891]\n", "").replace("    rewet: [easy]\n", "")
    white = pigments.parse(short, "own.yaml")["PW6"]
    assert (white.numbers, white.families, white.rewet) == ((), (), ())
    assert "  Number: not sure" in pigment_lines(white)
    assert "rewet" not in "\n".join(pigment_lines(white))


def test_expectations_and_reminders_are_read_apart():
    """A word of one table is not a word of the other; lines tell which is which, with the reason."""
    zinc = pigments.parse(GOOD, "own.yaml")["PW4"]
    assert zinc.bench_reminder == ()
    assert zinc.label_expected == (pigments.Expected("A warning.", "It was asked for.", "seen in a public page: y"),)
    assert "  Label expected: A warning. It was asked for. [seen in a public page: y]" in pigment_lines(zinc)


def _changed(old, new):
    assert GOOD.count(old) == 1
    return GOOD.replace(old, new)


WRONG = {
    "wrong check digit": (_changed("1314-13-2", "1314-13-3"), "1314-13-3", ["'1314-13-3'", "check digit"]),
    "name in another form": (_changed("  PW4:\n", "  P.W. 4:\n"), "P.W. 4", ["such as PW4"]),
    "no name": (_changed("  PW4:\n", "  white:\n"), "white:", ["'white'", "a Colour Index name"]),
    "short number": (_changed("77947", "7794"), "7794", ["'7794'", "5 or 6 digits"]),
    "unknown trait word": (_changed("stain: [slight]", "stain: [much]"), "much", ["'much'", "none, slight, marked"]),
    "trait as a number": (_changed("stain: [slight]", "stain: [1]"), "stain: [1]", ["'1'", "none, slight, marked"]),
    "trait code": (_changed("cover: [half]", "cover: [S]"), "cover: [S]", ["'S'", "lets light through"]),
    "second number with a wrong check digit": (_changed("7732-18-5", "7732-18-4"), "7732-18-4", ["check digit"]),
    "one number twice": (_changed("7732-18-5", "1314-13-2"), "1314-13-2, 1314-13-2", ["each value once"]),
    "unknown reminder": (
        _changed("bench_reminder: [dust]", "bench_reminder: [lead]"),
        "bench_reminder: [lead]",
        ["'lead'", "dust"],
    ),
    "unknown expectation": (
        _changed("label_expected: [lead]", "label_expected: [dust]"),
        "label_expected: [dust]",
        ["'dust'", "lead"],
    ),
    "expectation from memory": (
        _changed('"seen in a public page: y"', "from memory"),
        "    source: from memory\ntelling",
        ["was published"],
    ),
    "expectation from a page without a name": (
        _changed('"seen in a public page: y"', "seen in a public page"),
        "seen in a public page\n",
        ["was published"],
    ),
    "expectation without a reason": (
        _changed("    because: It was asked for.\n", ""),
        "say: A warning",
        ["no key because"],
    ),
    "expectation no word is given for": (
        GOOD[: GOOD.index("label_expectations:")] + GOOD[GOOD.index("telling_pairs:") :],
        "label_expected",
        ["'lead'"],
    ),
    "reminders under their former key": (_changed("bench_reminders:", "hazards:"), "hazards:", ["key hazards"]),
    "unknown key": (_changed("    cas:", "    CAS:"), "CAS:", ["key CAS", "chemistry"]),
    "missing chemistry": (
        _changed("    chemistry: titanium dioxide\n", ""),
        "names: [titanium",
        ["no key chemistry"],
    ),
    "pair outside the file": (_changed("[PW4, PW6]", "[PW4, PW5]"), "PW5", ["'PW5'", "pigments of this file"]),
    "fact without a source": (_changed(", traits: from memory", ""), "sources: {names", ["no key traits"]),
    "source of nothing": (_changed("sources: {numbers:", "sources: {price:"), "price", ["key price", "names"]),
}


@pytest.mark.parametrize("case", WRONG, ids=str)
def test_a_wrong_reference_is_refused_with_its_line(case):
    """File, line, what was found and what is allowed are said in one line."""
    text, marker, words = WRONG[case]
    line = text[: text.index(marker)].count("\n") + 1
    with pytest.raises(BadInput) as caught:
        pigments.parse(text, "own.yaml")
    message = caught.value.line()
    assert len(message) <= MESSAGE_LIMIT
    assert message.startswith(f"own.yaml line {line}: found ")
    for word in words:
        assert word in message
