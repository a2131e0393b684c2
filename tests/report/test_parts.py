"""Why: the sentence first, then everything that led to it, at any width."""

from dataclasses import replace

import pytest
from scipy.stats import binom

from qcledger.findings import read
from qcledger.findings.finding import Stress, Without
from qcledger.findings.wording import FAIR, further, sentence, so_far
from qcledger.report.funnel import funnel
from qcledger.report.layout import width_of
from qcledger.report.parts import HOW_SURE, PRIVATE, RESTS_ON, SO_FAR, WOULD_SETTLE, parts_of, peers_words
from qcledger.report.strips import PLAIN, SHADED
from qcledger.rubric.model import PIGMENTS
from qcledger.vocab import Source
from tests.findings.made import HALF, TUBE, confirming, field, only, paints, row
from tests.hostile import HOSTILE

PEERS = peers_words(PIGMENTS)
ROWS = [
    *paints("A", bad=4),
    *paints("A", formats=(TUBE,)),
    *field("BCDE"),
    *[row(maker="B", paint="Blue", lot=lot, grade=5 * (lot == "Q2")) for lot in ("Q1", "Q2", "Q3") for _ in "123"],
    row(maker="B", grade=5, source=Source.GIFT),
    row(maker="B", grade=None, not_testable=True, parcel="P7", lot="L7"),
]


def finding(rows=ROWS, maker="A"):
    return read(rows, only()).only(maker=maker).findings[-1]


def told(one, width=78, ink=SHADED):
    """Return title and lines of each part."""
    return {part.title: part.lines for part in parts_of(one, width, ink)}


def plain(lines):
    """Return lines as running text."""
    return " ".join(" ".join(lines).split())


def test_the_sentence_comes_first_as_it_may_be_published():
    """What is still to be confirmed is private, and said so below the sentence; the sentence itself does not tell."""
    one = finding()
    parts = parts_of(one, 78, SHADED)
    assert [part.title for part in parts if part.plain] == [FAIR, HOW_SURE, RESTS_ON, WOULD_SETTLE, SO_FAR]
    assert [part.plain for part in parts] == sorted((part.plain for part in parts), reverse=True)
    assert plain(told(one)[FAIR]) == sentence(one)
    assert plain(told(one)[RESTS_ON]) == " ".join(further(one))
    assert plain(told(one)[SO_FAR]) == " ".join((*so_far(one), PRIVATE))
    for title in (FAIR, RESTS_ON):
        assert "confirm" not in plain(told(one)[title])
        assert "faulty" not in plain(told(one)[title])
    assert "//- to confirm" in told(one)["Standing"][0]
    confirmed = finding([*ROWS, *confirming("A", number=3)])
    assert plain(told(confirmed)[FAIR]) == sentence(confirmed)
    assert plain(told(confirmed)[RESTS_ON]) == " ".join(further(confirmed))
    assert SO_FAR not in told(confirmed)


def test_the_page_of_one_format_says_when_its_sentence_counts_more():
    """A maker over its formats: the sentence counts both, and the page says which one it shows."""
    rows = [
        *paints("A", bad=4, formats=(HALF, TUBE)), *confirming("A"), *field("BCDEF", formats=(HALF, TUBE)),
    ]  # fmt: skip
    one = read(rows, only()).only(maker="A", format=TUBE).findings[0]
    assert "The sentence counts tubes and half pans; what follows is of the tubes." in told(one)["Standing"]
    assert not any("The sentence counts" in line for line in told(finding())["Standing"])


def test_a_standing_says_beside_it_what_it_rests_on():
    """In how many stress checks a claim stands is told in the first line of its standing, however many these are."""
    one = finding([*ROWS, *confirming("A", number=3)])
    for stands, words in (
        (False, "settled: this maker's half pans; stands in 1 of 2 stress checks"),
        (True, "settled: this maker's half pans; stands in 2 of 2 stress checks"),
    ):
        stress = Stress((Without("lot", "L1 of Red", stands), Without("seller", "one", True)))
        shown = " ".join(told(replace(one, claim=replace(one.claim, stress=stress)))["Standing"])
        assert words in shown


@pytest.mark.parametrize("width", [120, 78, 60, 40, 22])
def test_a_lot_names_every_seller_and_session_at_any_width(width):
    """What has no room behind a lot's line stands below it: nothing of sellers and sessions is cut."""
    shops = ("Oskerlin Colour Hall", "Quayside Counter")
    rows = [
        row(maker="A", lot="Q4471", seller=shop, parcel=f"P{n}", session=f"S0{n}") for n, shop in enumerate(shops)
    ]
    lines = told(read([*rows, *field("BCDE")], only()).only(maker="A").findings[0], width)["Lots, each by itself"]
    assert "Oskerlin Colour Hall, Quayside Counter; S00, S01" in " ".join(" ".join(lines).split())
    assert max(map(width_of, lines)) <= width


def test_tubes_that_met_pans_undried_are_named():
    """Above the observations stands which of them were not dried first; nothing where none was."""
    rows = [row(format=TUBE, undried=True), row(format=TUBE), row()]
    one = read(rows, only()).only(format=TUBE).findings[0]
    assert f"Tested beside dry ones without drying first: {rows[0].sticker}." in " ".join(told(one)["Observations"])
    assert "without drying" not in " ".join(told(finding())["Observations"])


def test_a_single_specimen_is_not_offered_for_publishing():
    """Of what is open the counts are told to its tester only, under a head that says so."""
    lonely = finding([row(grade=5), row()])
    assert "1 of 2 specimens faulty" in plain(told(lonely)[SO_FAR])
    assert "faulty" not in plain(told(lonely)[FAIR])


def test_each_lot_has_its_own_strip_and_counts():
    """The bad lot first, and each beside where it was bought and tested."""
    one = finding(maker="B")
    head, first, *_, scale, label, _ = told(one)["Lots, each by itself"]
    assert head.split() == ["paint", "lot", "faulty"]
    assert first.split()[:2] == ["Blue", "Q2"]
    assert "3/3" in first
    assert first.index("█") < first.index("3/3")
    assert "seller of P1" in first
    assert "┆" in scale
    assert "own counts" in label


def test_peers_parcels_checks_and_observations_are_told():
    """Each other maker, each purchase, each check with what was found and needed, each sticker."""
    parts = told(finding())
    assert [line.split()[:2] for line in parts[PEERS][1:-1]] == [["Maker", letter] for letter in "BCDE"]
    assert [line.split()[:3] for line in parts["Parcels and sellers"][1:3]] == [
        ["seller", "of", "P0"],
        ["seller", "of", "P1"],
    ]
    assert any(line.startswith("lacking: bought to confirm, none (needed") for line in parts["Checks"])
    assert any(line.startswith("met: paints, 4 (needed 3 or more)") for line in parts["Checks"])
    observed = parts["Observations"]
    assert observed[0] == "Fault grade: 0 none, 5 worst."
    assert len(observed) == 2 + 8
    assert "4 faulty Paint PR101" in " ".join(observed[2].split())
    assert parts["What would settle it, either way"][0].startswith("Two specimens of another lot")


def test_what_was_not_counted_and_what_is_beyond_the_claim_is_told():
    """Gifts and what could not be tested are told; so is recurrence where there were several comparisons."""
    parts = told(finding(maker="B"))
    assert "1 as a gift, 1 faulty; 1 not testable" in " ".join(parts["Set apart"])
    twice = [*ROWS, *[row(maker="A", paint="Paint PR101", lot="L1", grade=0, comparison="c2")]]
    assert "seen in 1 of 2 comparisons since 2 March 2026" in " ".join(told(finding(twice))["Standing"])


def test_without_peers_it_says_so():
    """A maker whose pigments nobody else has is compared with no one."""
    one = finding(paints("A", bad=4))
    assert told(one)[PEERS] == ("We tested no other maker's.",)
    assert "Funnel" not in told(one)


@pytest.mark.parametrize("width", [10, 18, 30, 58, 78, 118, 200])
def test_no_line_is_wider_than_its_page(width):
    """Any width, shades or ASCII, however long or wide the names."""
    rows = [*ROWS, *[row(maker="A", maker_name="漆器の赤" * 9, paint_name="p" * 90, seller="漆" * 40, grade=5)]]
    for ink in (SHADED, PLAIN):
        for part in parts_of(finding(rows), width, ink):
            assert max(map(width_of, part.lines)) <= max(width, 16), part


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_names_stay_on_their_line(name):
    """Nothing that steers a terminal is left in any part."""
    rows = [
        row(maker=maker, maker_name=name, paint_name=name, lot_code=name or None, seller=name, grade=grade)
        for maker in "AB"
        for grade in (5, 0)
    ]
    text = "".join(line for part in parts_of(finding(rows), 78, SHADED) for line in part.lines)
    assert not [letter for letter in text if not letter.isprintable() and ord(letter) < 0x300]


def test_the_funnel_has_its_makers_and_limits_where_they_belong():
    """Limits are binomial quantiles (scipy: 2 and 8 of 10 at a rate of one half); who is outside stands outside."""
    assert (binom.ppf(0.025, 10, 0.5), binom.ppf(0.975, 10, 0.5)) == (2, 8)
    rows = [row(maker="A", grade=5) for _ in range(10)]
    rows += [row(maker="B", grade=0) for _ in range(10)]
    first, second, scale = funnel(finding(rows), 73)
    drawn = {line[2:9]: line[15:65] for line in (first, second)}
    assert first.startswith("> Maker A")
    assert second.startswith("  Maker B")
    for line in drawn.values():
        assert (line.index("("), line.index("|"), line.index(")")) == (1 + int(0.2 * 49), 1 + 24, 1 + int(0.8 * 49))
    assert (drawn["Maker A"].index("*"), drawn["Maker B"].index("*")) == (49, 0)
    assert (first.split()[-1], second.split()[-1]) == ("10/10", "0/10")
    assert scale.split() == ["0", "50", "100", "%"]


def test_the_funnel_opens_downwards_and_leaves_nobody_out_unsaid():
    """Whoever was tested most stands first; beyond so many the rest is counted; the one asked about is drawn."""
    makers = [f"M{number:02}" for number in range(20)]
    rows = [row(maker=one, grade=5 * (n % 2)) for place, one in enumerate(makers) for n in range(44 - 2 * place)]
    drawn = funnel(finding(rows, maker="M19"), 73)
    widths = [line.index(")") - line.index("(") for line in drawn[:16]]
    assert widths[0] < widths[7] < widths[15]
    assert [line[2:11].strip() for line in drawn[:16]] == [f"Maker M{n:02}" for n in (*range(15), 19)]
    assert drawn[15].startswith(">")
    assert drawn[-1] == "  4 more of whom less was tested"


def test_makers_without_a_fault_stand_apart_from_few_faults():
    """None is a column of its own, left of the smallest share there is."""
    rows = [row(maker=maker, grade=5 * (maker == "A" and number == 0)) for maker in "ABC" for number in range(99)]
    first, second, *_ = funnel(finding(rows), 46)
    assert (first[15:].index("*"), second[15:].index("*")) == (1, 0)


def test_no_funnel_where_it_tells_nothing():
    """One maker, no fault at all, or no room."""
    assert funnel(finding(paints("A", bad=4)), 78) == []
    assert funnel(finding(paints("A") + field()), 78) == []
    assert funnel(finding(), 20) == []
