"""What is laid to a pigment or a format, and so to nobody."""

from dataclasses import replace

from qcledger.findings import read
from qcledger.findings.finding import CheckName
from qcledger.findings.wording_of_settling import would_settle
from qcledger.vocab import Extent, Standing
from tests.findings.made import HALF, PIGMENTS, TUBE, field, only, paints, row


def claims(rows):
    """Return standing and extent by maker and format."""
    return {
        (one.maker, one.format): (one.standing, one.claim and one.claim.extent) for one in read(rows, only()).findings
    }


def hard(makers, **more):
    """Return ranges in which PR101 is faulty and nothing else."""
    return [
        one
        for maker in makers
        for one in paints(maker, bad=4, pigments=("PR101",), **more) + paints(maker, pigments=PIGMENTS[1:], **more)
    ]


def froths(makers, pans=4, tubes=0):
    """Return ranges in half pans and tubes, each with its own grade."""
    return [
        one
        for maker in makers
        for one in paints(maker, bad=pans, formats=(HALF,)) + paints(maker, bad=tubes, formats=(TUBE,))
    ]


def test_a_pigment_hard_for_everyone_accuses_nobody():
    """Every maker's finding names the pigment."""
    found = claims(hard("ABCDE"))
    assert set(found.values()) == {(Standing.SETTLED, Extent.PIGMENT)}


def test_one_maker_free_of_it_in_nine_leaves_the_pigment():
    """Most makers are enough; the one that is free of it is not charged."""
    found = claims(hard("ABCDEFGH") + paints("I", each=2))
    assert found["A", HALF] == (Standing.SETTLED, Extent.PIGMENT)
    assert found["I", HALF][1] is None


def test_as_many_makers_free_of_it_refute_the_pigment():
    """Four makers show it and four are free of it in four specimens each: no pigment is named."""
    found = claims(hard("ABCD", each=2) + field("EFGH", each=2))
    assert Extent.PIGMENT not in {extent for _, extent in found.values()}


def test_makers_with_two_sound_specimens_do_not_tell():
    """Four makers show it and four have two sound specimens each, which say neither: the pigment."""
    found = claims(hard("ABCD", each=2) + field("EFGH"))
    assert found["A", HALF] == (Standing.SETTLED, Extent.PIGMENT)


def test_one_bad_maker_is_not_the_pigment():
    """All at one maker and one in 25 at three others: without the one too little is left of the contrast."""
    others = [
        one
        for maker in "BCD"
        for one in hard(maker, lots=("L1",)) + paints(maker, pigments=("PR101",), lots=("L2",), each=24)
    ]
    found = claims(hard("A", each=5) + others)
    assert Extent.PIGMENT not in {extent for _, extent in found.values()}


def test_three_makers_only_point_to_the_pigment():
    """Below four makers that show it it is not settled, and more makers are asked for."""
    for sound in ([], field("DE")):
        found = read(hard("ABC") + sound, only()).findings[0]
        assert (found.standing, found.leaning) == (Standing.OPEN, Extent.PIGMENT)
        assert CheckName.MAKERS in {check.name for check in found.claim.unmet}
        assert would_settle(found) == "Half pans with PR101 from one more maker."


def test_who_is_left_out_is_told_as_it_is_done():
    """Of four makers two are left out at a time, of fewer one: the check says which."""
    for makers, words in (("ABCD", "whichever two makers are left out"), ("ABC", "whichever maker is left out")):
        claim = read(hard(makers), only()).findings[0].claim
        assert words in next(one.needed for one in claim.checks if one.name is CheckName.ANY_MAKERS_OUT)


def test_what_is_asked_of_more_makers_is_named():
    """A shared pigment asks for it in the formats it was seen in, a shared format for that format."""
    both = read(hard("ABC") + hard("ABC", formats=(TUBE,)), only()).findings[0]
    assert would_settle(both) == "Tubes and half pans with PR101 from one more maker."
    pans = next(one for one in read(froths("AB") + field("C"), only()).findings if one.claim)
    assert would_settle(pans) == "Half pans from two more makers."


def test_where_the_other_pigments_fail_too_it_is_not_the_pigment():
    """A pigment must stand out from the same makers' other paints."""
    found = claims(field("ABCDE", bad=4))
    assert {extent for _, extent in found.values()} == {None}


def test_a_format_bad_at_most_makers_accuses_nobody():
    """Half pans of four makers in five: the format; the free maker is not charged, nor is anybody's tube."""
    found = claims(froths("ABCD") + froths("E", pans=0))
    assert [found[maker, HALF] for maker in "ABCD"] == [(Standing.SETTLED, Extent.FORMAT)] * 4
    assert found["E", HALF][1] is None
    assert all(found[maker, TUBE][1] is None for maker in "ABCDE")


def test_half_of_the_makers_are_not_most():
    """Three of six makers do not make it the format, with three others free of it."""
    found = claims(froths("ABC") + froths("DEF", pans=0))
    assert Extent.FORMAT not in {extent for _, extent in found.values()}


def test_a_pigment_is_taken_out_before_the_format_is_asked():
    """A hard pigment sold in half pans alone does not make the half pan bad."""
    rows = hard("ABCDE") + field("ABCDE", formats=(TUBE,), pigments=PIGMENTS[1:])
    assert {extent for _, extent in claims(rows).values()} == {Extent.PIGMENT, None}


def test_without_declared_pigments_only_a_paint_is_compared_with_itself():
    """Pans and tubes of different, undeclared paints say nothing of the format; the same paints in both do."""
    apart = [
        row(
            maker=maker, paint=f"{form} {n}", pigments=(), format=form, parcel=f"P{n}", grade=4 if form is HALF else 0
        )
        for maker in "ABCDE"
        for form in (HALF, TUBE)
        for n in range(3)
    ]
    same = [replace(one, paint=f"{one.maker}/Paint {one.parcel}") for one in apart]
    assert claims(apart)["A", HALF][0] is Standing.OPEN
    assert claims(same)["A", HALF] == (Standing.SETTLED, Extent.FORMAT)


def test_two_bad_makers_are_not_the_format():
    """Half pans of two makers in eight fail, everybody else has one paint in four in pans and tubes alike."""
    rows = froths("AB", pans=4, tubes=0) + froths("CDEFGH", pans=0, tubes=0)
    some = {("CDEFGH"[n % 6], form, PIGMENTS[n % 4]) for n in range(6) for form in (HALF, TUBE)}
    rows = [replace(one, grade=4) if (one.maker, one.format, *one.pigments) in some else one for one in rows]
    found = claims(rows)
    assert Extent.FORMAT not in {extent for _, extent in found.values()}
    assert found["A", HALF][1] is Extent.MAKER_FORMAT


def test_a_pigment_tested_in_a_session_of_its_own_is_not_settled():
    """Where all of it was graded in one session and everything else in another, it may be the session."""
    rows = [replace(one, session="S3" if one.pigments == ("PR101",) else "S1") for one in hard("ABCDE")]
    found = read(rows, only()).findings[0]
    assert (found.standing, found.leaning) == (Standing.OPEN, Extent.PIGMENT)
    assert [check.name for check in found.claim.unmet] == [CheckName.TOGETHER]


def test_three_bad_makers_of_eight_are_not_the_format():
    """Five others with one faulty half pan of eight, as in their tubes, do not show it: nothing is the format's."""
    others = [
        replace(one, grade=4) if one.paint_name == "Paint PR101" and one.lot_code == "L1" else one
        for one in froths("DEFGH", pans=0)
    ]
    found = claims(froths("ABC") + others)
    assert Extent.FORMAT not in {extent for _, extent in found.values()}
    assert Extent.FORMAT in {extent for _, extent in claims(froths("ABCDE") + others[48:]).values()}
