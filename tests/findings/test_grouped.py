"""Where a rubric takes something else than pigments to make peers, findings compare within that."""

from dataclasses import replace

from qcledger.findings import find, gather
from qcledger.findings.field import fields
from qcledger.findings.finding import CheckName
from qcledger.findings.scope import scope_of
from qcledger.findings.wording import beside, extent_word, subject
from qcledger.findings.wording_of_checks import check_words
from qcledger.findings.wording_of_counts import statement
from qcledger.findings.wording_of_settling import would_settle
from qcledger.report.board import extent_words
from qcledger.rubric import PeerGroup
from qcledger.rubric.model import BY_FORMAT, PIGMENTS
from qcledger.vocab import Extent, Occasion, Standing
from tests.findings.made import HALF, criterion, only, paints, row

HARDNESS = PeerGroup("hardness", "hardness", "hardnesses")
BY_HARDNESS = replace(criterion(), peers=HARDNESS)
GRADES = ("2H", "HB", "2B", "4B")


def pencils(maker, *, bad=lambda hardness: 0, said=GRADES, **more):
    """Return one maker's pencils, one of each hardness, whose labels say it and no pigment."""
    return [
        replace(one, pigments=(), facts=(f"hardness: {one.pigments[0]}",), grade=bad(one.pigments[0]))
        for one in paints(maker, pigments=said, **more)
    ]


def found(rows, *criteria):
    return find(gather(rows, only(*(criteria or (BY_HARDNESS,)))))


def of(rows, maker, *criteria):
    return next(one for one in found(rows, *criteria).findings if one.maker == maker)


def test_what_a_label_says_of_the_part_makes_peers():
    """A pencil's peers are those of its hardness, however it is printed; another part of a label says nothing."""
    rows = [
        row(pigments=(), facts=("hardness: HB",), grade=4),
        row(maker="B", pigments=(), facts=("hardness:  hb ", "core: wax")),
        row(maker="C", pigments=(), facts=("hardness: 2H",)),
        row(maker="D", pigments=("PR101",), facts=("core: HB",)),
    ]
    whole = fields(gather(rows, only(BY_HARDNESS)))["froth"]
    assert {lot.row.maker for lot in whole.peers(whole.of_cell("A", HALF))} == {"B"}
    assert whole.shelf.group.names == [("HB",), ("2H",), ()]


def test_silent_labels_are_compared_by_format():
    """Things whose labels do not say it are each other's peers in a format; by pigments they are nobody's."""
    rows = [row(pigments=(), grade=4), row(maker="B", pigments=()), row(maker="C", facts=("hardness: HB",))]
    whole = fields(gather(rows, only(BY_HARDNESS)))["froth"]
    assert {lot.row.maker for lot in whole.peers(whole.of_cell("A", HALF))} == {"B"}
    plain = fields(gather(rows, only(criterion())))["froth"]
    assert plain.peers(plain.of_cell("A", HALF)) == ()


def test_two_ways_of_making_peers_stand_side_by_side():
    """Each criterion groups the same specimens as its own rubric says."""
    packed = replace(
        criterion("dented"), peers=replace(PIGMENTS, silent=True), seen_at=Occasion.UNPACKING, stage=None
    )
    rows = [row(pigments=(), facts=(f"hardness: {one}",), maker=maker) for maker, one in (("A", "HB"), ("B", "2H"))]
    rows += [replace(one, criterion="dented", observation=f"d{one.observation}") for one in rows]
    known = fields(gather(rows, only(BY_HARDNESS, packed)))
    assert not known["froth"].peers(known["froth"].of_cell("A", HALF))
    assert len(known["dented"].peers(known["dented"].of_cell("A", HALF))) == 1


def test_what_most_makers_show_with_a_hardness_is_laid_to_it():
    """The hardness takes the pigment's place as an extent, and its word stands in each sentence."""
    rows = [one for maker in "ABCDEF" for one in pencils(maker, bad=lambda hardness: 5 * (hardness == "4B"))]
    one = of(rows, "A")
    assert (one.extent, one.standing) == (Extent.PIGMENT, Standing.SETTLED)
    assert (subject(one.claim), extent_word(one.claim)) == ("hardness 4B", "hardness")
    assert extent_words(one) == "shared hardness"
    assert statement(one, scope_of(one)).startswith("Hardness 4B, at 6 of 6 makers")
    assert "pigment" not in f"{statement(one, scope_of(one))} {would_settle(one)}"


def test_a_maker_is_held_against_others_of_its_hardnesses():
    """Peers are counted by hardness, three of them at three other makers, and named so in the sentence."""
    rows = [one for maker in "BCDE" for one in pencils(maker)] + pencils("A", bad=lambda _: 5)
    one = of(rows, "A")
    asked = {check.name: check for check in one.claim.checks}
    assert one.claim.extent is Extent.MAKER_FORMAT
    assert asked[CheckName.PEERS].met
    assert asked[CheckName.PEERS].found == "4"
    assert check_words(CheckName.PEERS, HARDNESS) == "hardnesses with peers"
    assert beside(one, scope_of(one)).startswith("With the same hardness in the same format, from four other makers:")


def test_without_any_label_a_maker_is_held_against_its_format():
    """A maker at 8 of 8 beside others at none has peers, each of its paints counts, and the sentence says by what."""
    rows = [
        replace(one, facts=())
        for one in [*pencils("A", bad=lambda _: 5), *(one for maker in "BCDE" for one in pencils(maker))]
    ]
    one = of(rows, "A")
    asked = {check.name: check for check in one.claim.checks}
    assert asked[CheckName.PEERS].found == "4"
    told = beside(one, scope_of(one))
    assert told.startswith("In the same format, not compared by hardness, from four other makers: none of 32")
    alone = of(rows, "A", replace(criterion(), peers=BY_FORMAT))
    assert beside(alone, scope_of(alone)).startswith("In the same format, from four other makers:")
    bare = of(rows, "A", criterion())
    assert not {check.name: check for check in bare.claim.checks}[CheckName.PEERS].met


def test_nobody_beside_it_is_said_in_its_words():
    """Without peers the sentence says what was not tested, in the rubric's word."""
    one = of(pencils("A", bad=lambda _: 5), "A")
    assert beside(one, scope_of(one)) == "We tested no other maker's paint with the same hardness in this format."
