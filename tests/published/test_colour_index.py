"""Published facts about CAS numbers and the Colour Index."""

import re

import pytest

from qcledger.rubric import pigments
from qcledger.rubric.colour_index import cas_is_valid, family
from qcledger.settings import shipped

PIGMENTS = pigments.load(shipped("rubrics") / "pigments.yaml")


@pytest.mark.parametrize("number", ["7732-18-5", "58-08-2", "13463-67-7"])
def test_cas_examples_pass(number):
    """CAS registry, check-digit verification: 7732-18-5 water, 58-08-2 caffeine; 13463-67-7 titanium dioxide."""
    assert cas_is_valid(number)
    assert not cas_is_valid(number[:-1] + str((int(number[-1]) + 1) % 10))


def test_the_published_sum():
    """CAS registry's worked example for water: 8x1 + 1x2 + 2x3 + 3x4 + 7x5 + 7x6 = 105, so the digit is 5."""
    assert (8 * 1 + 1 * 2 + 2 * 3 + 3 * 4 + 7 * 5 + 7 * 6) % 10 == 5
    assert cas_is_valid("7732-18-5")


BLOCKS = {
    # Chemical blocks of the Colour Index by first digits, read in a public page: nitroso 10, monoazo 11-19, disazo
    # 20-29, methine 48, oxazine 51, aminoketone 56, anthraquinone 58-72, indigoid 73, phthalocyanine 74, mineral 77.
    "nitroso": ["10"],
    "monoazo": ["11", "15", "19"],
    "disazo": ["20", "29"],
    "methine": ["48"],
    "oxazine": ["51"],
    "aminoketone": ["56"],
    "anthraquinone": ["58", "65", "72"],
    "indigoid": ["73"],
    "phthalocyanine": ["74"],
    "inorganic": ["77"],
}


@pytest.mark.parametrize(("block", "starts"), BLOCKS.items())
def test_numbers_lie_in_their_blocks(block, starts):
    """The first two digits of a constitution number name its chemical block."""
    assert {family(f"{start}000") for start in starts} == {block}


METALS_AND_MINERALS = re.compile(
    "oxide|ochre|earth|cobalt|cadmium|zinc|titan|chrom|manganate|manganese|iron|ultramarine|ferric|bismuth|tin|carbon"
)
ORGANIC = {
    "phthalocyanine": "phthalocyanine",
    "quinacridone": "indigoid",  # 73900 and 73915 sit in the 73 block (from memory)
    "perylene": "anthraquinone",
    "indanthrone": "anthraquinone",
    "alizarin": "anthraquinone",
    "dioxazine": "oxazine",
    "monoazo": "monoazo",
    "nickel azo": "monoazo",
    "benzimidazolone": "monoazo",
    "azomethine": "methine",
    "isoindolinone": "aminoketone",
    "diketopyrrolopyrrole": "aminoketone",
}


@pytest.mark.parametrize("pigment", PIGMENTS.values(), ids=PIGMENTS)
def test_numbers_agree_with_chemistry(pigment):
    """A metal or mineral pigment has a number in 77, an organic one in the block of its family."""
    organic = [block for word, block in ORGANIC.items() if word in pigment.chemistry]
    if organic:
        assert pigment.families == tuple(organic)
    else:
        assert METALS_AND_MINERALS.search(pigment.chemistry)
        assert pigment.families == ("inorganic",)


READ_IN_PUBLIC_PAGES = {
    # Chemical dossiers, a museum encyclopaedia, printing and excipient pages: names, numbers and CAS numbers as read.
    "PY37": ("77199", None),
    "PY42": ("77492", None),
    "PR101": ("77491", None),
    "PR108": ("77202", None),
    "PV14": (None, "13455-36-2"),
    "PV16": ("77742", "10101-66-3"),
    "PV19": (None, "1047-16-1"),
    "PB15": ("74160", "147-14-8"),
    "PB28": ("77346", "1345-16-0"),
    "PB29": ("77007", None),
    "PB35": ("77368", None),
    "PG7": ("74260", None),
    "PG17": ("77288", "1308-38-9"),
    "PBr24": ("77310", "68186-90-3"),
    "PBk11": ("77499", None),
}


@pytest.mark.parametrize(("name", "read"), READ_IN_PUBLIC_PAGES.items())
def test_facts_read_in_public_pages(name, read):
    """Numbers and CAS numbers that were read somewhere stand as read, and are tagged so."""
    number, cas = read
    pigment = PIGMENTS[name]
    if number:
        assert pigment.numbers == (number,)
        assert pigment.sources["numbers"].startswith("seen in a public page")
    if cas:
        assert pigment.cas == cas
        assert pigment.sources["cas"].startswith("seen in a public page")


def test_every_cas_number_in_the_reference_passes():
    """No CAS number in pigments.yaml has a wrong check digit, and most pigments have one."""
    numbers = [pigment.cas for pigment in PIGMENTS.values() if pigment.cas]
    assert len(numbers) == len(set(numbers)) > 40
    assert all(cas_is_valid(number) for number in numbers)
