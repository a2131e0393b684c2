"""Published facts about CAS numbers and the Colour Index."""

import re

import pytest

from qcledger.rubric import pigments
from qcledger.rubric.colour_index import cas_is_valid, family
from qcledger.settings import shipped

PIGMENTS = pigments.load(shipped("rubrics") / "pigments.yaml")


@pytest.mark.parametrize("number", ["7732-18-5", "58-08-2", "13463-67-7"])
def test_cas_examples_pass(number):
    """CAS registry, check-digit verification: 7732-18-5 water, 58-08-2 caffeine; 13463-67-7 titanium dioxide.

    Source: CAS, check digit verification of CAS Registry Numbers, n.d. [mem].
    """
    assert cas_is_valid(number)
    assert not cas_is_valid(number[:-1] + str((int(number[-1]) + 1) % 10))


def test_the_published_sum():
    """CAS registry's worked example for water: 8x1 + 1x2 + 2x3 + 3x4 + 7x5 + 7x6 = 105, so the digit is 5.

    Source: CAS, check digit verification of CAS Registry Numbers, n.d. [mem].
    """
    assert (8 * 1 + 1 * 2 + 2 * 3 + 3 * 4 + 7 * 5 + 7 * 6) % 10 == 5
    assert cas_is_valid("7732-18-5")


BLOCKS = {
    # Chemical blocks of the Colour Index by first digits, read in a public page: nitroso 10, monoazo 11-19, disazo
    # 20-29, triarylmethane 42-44, xanthene 45, quinoline 47, methine 48, azine 50, oxazine 51, aminoketone 56,
    # anthraquinone 58-72, indigoid 73, phthalocyanine 74, mineral 77: Understanding Coatings Raw Materials, table
    # 3.1, at kraska.biz. Natural dyes 75: from memory.
    "nitroso": ["10"],
    "monoazo": ["11", "15", "19"],
    "disazo": ["20", "29"],
    "triarylmethane": ["42", "44"],
    "xanthene": ["45"],
    "quinoline": ["47"],
    "methine": ["48"],
    "azine": ["50"],
    "oxazine": ["51"],
    "aminoketone": ["56"],
    "anthraquinone": ["58", "65", "72"],
    "indigoid": ["73"],
    "phthalocyanine": ["74"],
    "natural": ["75"],
    "inorganic": ["77"],
}


@pytest.mark.parametrize(("block", "starts"), BLOCKS.items())
def test_numbers_lie_in_their_blocks(block, starts):
    """The first two digits of a constitution number name its chemical block.

    Source: Mannari & Patel 2015, Understanding Coatings Raw Materials, table 3.1 [read; author and year mem].
    """
    assert {family(f"{start}000") for start in starts} == {block}


METALS_AND_MINERALS = re.compile(
    "oxide|ochre|earth|cobalt|cadmium|zinc|titan|chrom|manganate|manganese|iron|ultramarine|ferric|bismuth|tin|carbon"
    "|lead|silicate"
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
    "naphthol": "monoazo",
    "disazo": "disazo",
    "azomethine": "methine",
    "nickel dioxine": "methine",
    "nitroso": "nitroso",
    "xanthene": "xanthene",
    "anthraquinone": "anthraquinone",
    "synthetic indigo": "indigoid",
    "plant indigo": "natural",
    "cochineal": "natural",
    "madder": "natural",
    "quinophthalone": "aminoketone",
    "isoindoline": "aminoketone",
    "isoindolinone": "aminoketone",
    "diketopyrrolopyrrole": "aminoketone",
}


@pytest.mark.parametrize("pigment", [one for one in PIGMENTS.values() if one.numbers], ids=lambda one: one.name)
def test_numbers_agree_with_chemistry(pigment):
    """A metal or mineral pigment has a number in 77, an organic one in the block of its family.

    Source: the blocks of Mannari & Patel 2015 above [read]; quinacridones in block 73 [mem].
    """
    organic = {block for word, block in ORGANIC.items() if word in pigment.chemistry}
    if organic:
        assert organic == set(pigment.families)
    else:
        assert METALS_AND_MINERALS.search(pigment.chemistry)
        assert pigment.families == ("inorganic",)


def test_pigments_without_a_number_are_few():
    """Where no reference we know gives a constitution number, none stands; the test above leaves these out.

    Source: Colour Index, Society of Dyers and Colourists 1971, as far as it was found quoted [mem].
    """
    without = [name for name, pigment in PIGMENTS.items() if not pigment.numbers]
    assert without == ["PY216", "PV42", "PV55", "PV62", "PB86", "PBr8"]


READ_IN_PUBLIC_PAGES = {
    # Chemical dossiers, a museum encyclopaedia, printing and excipient pages: names, numbers and CAS numbers as read.
    # Each is named beside the field in pigments.yaml.
    "PW4": ("77947", "1314-13-2"),
    "PW6": (None, "13463-67-7"),
    "PW18": (None, "471-34-1"),
    "PY1": ("11680", "2512-29-0"),
    "PY3": ("11710", None),
    "PY35": (None, "8048-07-5"),
    "PY40": ("77357", None),
    "PY41": ("77588", None),
    "PY53": ("77788", "8007-18-9"),
    "PY74": ("11741", "6358-31-2"),
    "PY83": (None, "5567-15-7"),
    "PY97": (None, "12225-18-2"),
    "PY184": ("771740", "14059-33-7"),
    "PO20": (None, "12656-57-4"),
    "PR3": ("12120", "2425-85-6"),
    "PR83": ("58000", "72-48-0"),
    "PR122": (None, "980-26-7"),
    "PR170": ("12475", "2786-76-7"),
    "PR176": ("12515", "12225-06-8"),
    "PV23": ("51319", "6358-30-1"),
    "PV29": ("71129", "81-33-4"),
    "PB16": (None, "574-93-6"),
    "PB27": ("77510", "14038-43-8"),
    "PB33": ("77112", None),
    "PB60": (None, "81-77-6"),
    "PB66": ("73000", "482-89-3"),
    "PB72": ("77347", "68186-87-8"),
    "PG19": ("77335", None),
    "PG23": ("77009", None),
    "PG36": (None, "14302-13-7"),
    "PBr8": (None, "1313-13-9"),
    "PBk7": ("77266", "1333-86-4"),
    "PBk9": ("77267", "8021-99-6"),
    "PBk28": ("77428", "68186-91-4"),
    "NR9": ("75330", None),
    "NB1": (None, "482-89-3"),
    "PY37": ("77199", None),
    "PY42": ("77492", None),
    "PR101": ("77491", "1309-37-1"),
    "PR108": ("77202", "58339-34-7"),
    "PV14": (None, "13455-36-2"),
    "PV16": ("77742", "10101-66-3"),
    "PV19": ("73900", "1047-16-1"),
    "PB15": ("74160", "147-14-8"),
    "PB28": ("77346", "1345-16-0"),
    "PB29": ("77007", "57455-37-5"),
    "PB35": ("77368", None),
    "PG7": ("74260", None),
    "PG17": ("77288", "1308-38-9"),
    "PBr24": ("77310", "68186-90-3"),
    "PBk11": ("77499", None),
}


@pytest.mark.parametrize(("name", "read"), READ_IN_PUBLIC_PAGES.items())
def test_facts_read_in_public_pages(name, read):
    """Numbers and CAS numbers that were read somewhere stand as read, and are tagged so.

    Source: the page named beside each field in pigments.yaml, n.d. [read].
    """
    number, cas = read
    pigment = PIGMENTS[name]
    if number:
        assert pigment.numbers[0] == number
        assert pigments.certain(pigment, "numbers")
    if cas:
        assert pigment.cas == cas
        assert pigments.certain(pigment, "cas")


def test_every_certain_number_is_read_again_here():
    """No number of the reference calls itself published without standing in the table above, as it was read.

    Source: the page named beside each field in pigments.yaml, n.d. [read].
    """
    for field, place in (("numbers", 0), ("cas", 1)):
        certain = {name for name, pigment in PIGMENTS.items() if pigments.certain(pigment, field)}
        read = {name for name, facts in READ_IN_PUBLIC_PAGES.items() if facts[place]}
        assert certain - read == set()


ONE_SUBSTANCE = [{"PB66", "NB1"}, {"PBk6", "PBk7"}]
"""Pigments that the Colour Index parts and the CAS registry does not: indigo however it is made, and soots."""


def test_every_cas_number_in_the_reference_passes():
    """No CAS number in pigments.yaml has a wrong check digit; two pigments share one if they are one substance.

    Source: CAS, check digit verification of CAS Registry Numbers, n.d. [mem].
    """
    owners = {}
    for name, pigment in PIGMENTS.items():
        for number in pigment.cas_numbers:
            assert cas_is_valid(number)
            owners.setdefault(number, set()).add(name)
    assert [names for names in owners.values() if len(names) > 1] == ONE_SUBSTANCE
    assert len(owners) > 100
