"""The pigment reference: what it holds, what it admits not to know, and how wrong files are refused."""

import dataclasses
import re

import pytest

from qcledger.errors import MESSAGE_LIMIT, BadInput
from qcledger.rubric import pigments
from qcledger.rubric.colour_index import index_name
from qcledger.rubric.ladder import WIDTH, pigment_lines
from qcledger.rubric.model import SOURCE_TAGS
from qcledger.settings import shipped
from qcledger.vocab import Amount, Cover, Rewet, Strength

PATH = shipped("rubrics") / "pigments.yaml"
PIGMENTS = pigments.load(PATH)
EACH = pytest.mark.parametrize("pigment", PIGMENTS.values(), ids=PIGMENTS)


def test_the_reference_is_a_mapping_by_normal_name():
    """Pigments are found by their Colour Index name in normal form, in the order of the file."""
    assert len(PIGMENTS) == 52
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
    assert "chromium" in viridian.hazards[0].text
    assert viridian.pairs[0].pigments == ("PG18", "PG7")
    assert viridian.sources["traits"] == "common practice, no source"
    with pytest.raises(dataclasses.FrozenInstanceError):
        viridian.cas = "x"


def test_telling_pairs_contrast_traits():
    """The first two pigments of a telling pair differ in at least two traits, so that a sheet can tell them apart."""
    for pair in PIGMENTS.pairs:
        one, other = (PIGMENTS[name] for name in pair.pigments[:2])
        apart = [
            trait for trait in ("grain", "stain", "strength", "rewet") if getattr(one, trait) != getattr(other, trait)
        ]
        assert len(apart) >= 2
    assert {pair.pigments for pair in PIGMENTS.pairs} >= {("PG18", "PG7"), ("PV16", "PV23"), ("PB33", "PB15")}


@EACH
def test_every_fact_has_a_source(pigment):
    """Each kind of fact, hazard, hint and telling pair begins its source with one of the tags."""
    sources = [*pigment.sources.values(), *(remark.source for remark in (*pigment.hazards, *pigment.hints))]
    sources += [pair.source for pair in pigment.pairs]
    assert set(pigment.sources) == set(pigments.FACTS)
    assert all(tag.partition(": ")[0] in SOURCE_TAGS for tag in sources)


METALS = ("cadmium", "cobalt", "manganese", "nickel", "chromium", "antimony")


@EACH
def test_hazardous_metals_are_reminded_of(pigment):
    """A pigment whose chemistry names one of these metals carries the reminder of it."""
    named = [metal for metal in METALS if re.search(rf"\b{metal}", pigment.chemistry)]
    reminders = " ".join(remark.text for remark in pigment.hazards)
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
hazards:
  dust:
    say: No dust.
    source: from memory
telling_pairs:
  - pigments: [PW4, PW6]
    say: One covers.
    source: from memory
pigments:
  PW4:
    chemistry: zinc oxide
    numbers: [77947]
    cas: 1314-13-2
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
    hazards: [dust]
    sources: {numbers: "seen in a public page: x"}
"""


def test_sources_of_a_pigment_win():
    """A pigment's own tag replaces the file's for that kind of fact alone; a missing CAS number stays unknown."""
    white = pigments.parse(GOOD, "own.yaml")["PW6"]
    assert white.sources["numbers"] == "seen in a public page: x"
    assert white.sources["chemistry"] == "from memory"
    assert white.cas is None
    assert "CAS: not sure of one" in "\n".join(pigment_lines(white))


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
    "unknown reminder": (_changed("hazards: [dust]", "hazards: [lead]"), "lead", ["'lead'", "dust"]),
    "unknown key": (_changed("    cas:", "    CAS:"), "CAS:", ["key CAS", "chemistry"]),
    "missing trait": (_changed("    rewet: [easy]\n", ""), "names: [titanium", ["no key rewet"]),
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
