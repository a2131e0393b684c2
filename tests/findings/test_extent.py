"""The decision: what is never said, whatever the field looks like."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qcledger import rubric
from qcledger.findings import read
from qcledger.findings.finding import CheckName
from qcledger.records import TestedRow
from qcledger.settings import REFERENCES, shipped
from qcledger.vocab import Extent, Format, Severity, Standing, WhyBought
from tests.findings.made import FROTH, HALF, PIGMENTS, TUBE, confirming, criterion, field, only, paints, row
from tests.findings.spoken import spoken

CHARGE = {Extent.MAKER: 2, Extent.MAKER_FORMAT: 1}


@st.composite
def fields(draw):
    """Return a small field, most of it with a maker or a format that is worse than the rest."""
    worse = draw(st.sampled_from(["maker", "half pans", "nobody", "format", "pigment"]))
    rows = []
    for maker in "ABCDE":
        for form in (HALF, TUBE):
            for pigment in PIGMENTS[: draw(st.sampled_from((4, 4, 3)))]:
                for place in range(draw(st.sampled_from((2, 2, 1)))):
                    bad = {
                        "nobody": False,
                        "maker": maker == "A",
                        "half pans": maker == "A" and form is HALF,
                        "format": form is HALF,
                        "pigment": pigment == "PR101",
                    }[worse]
                    grade = draw(st.sampled_from([4] * 11 + [0] if bad else [0] * 15 + [4]))
                    rows += paints(
                        maker,
                        bad=grade,
                        formats=(form,),
                        pigments=(pigment,),
                        lots=(f"L{place}",),
                        each=draw(st.integers(1, 2)),
                        session=f"S{draw(st.integers(1, 3))}",
                        parcel=f"P{place}",
                    )
    if draw(st.booleans()):
        rows += confirming("A", number=3)
    return rows


def told(rows):
    """Return what is said of each maker's format, without names."""
    return {
        (one.maker, one.format): (one.standing, one.extent, one.leaning, one.counts)
        for one in read(rows, only()).findings
    }


def charge(one):
    """Return how much a finding lays to the maker."""
    return CHARGE.get(one.extent, 0) if one.standing in (Standing.TO_CONFIRM, Standing.SETTLED) else 0


@settings(max_examples=40, deadline=None)
@given(fields(), st.data())
def test_a_sound_specimen_never_widens_an_accusation(rows, data):
    """One more sound specimen of a lot of maker A never lays more to A, in any of its formats."""
    before = {one.format: charge(one) for one in read(rows, only()).findings if one.maker == "A"}
    like = data.draw(st.sampled_from([one for one in rows if one.maker == "A"]))
    new = row()
    more = replace(like, specimen=new.specimen, trial=new.trial, observation=new.observation, grade=0)
    after = {one.format: charge(one) for one in read([*rows, more], only()).findings if one.maker == "A"}
    assert all(after[form] <= before[form] for form in before)


@settings(max_examples=25, deadline=None)
@given(fields(), st.permutations("ABCDE"))
def test_relabelling_makers_permutes_findings(rows, order):
    """What is said depends on no maker's name."""
    names = dict(zip("ABCDE", order, strict=True))
    renamed = [replace(one, maker=names[one.maker], maker_name=f"Maker {names[one.maker]}") for one in rows]
    wanted = {(names[maker], form): said for (maker, form), said in told(rows).items()}
    assert told(renamed) == wanted


@settings(max_examples=25, deadline=None)
@given(fields(), st.randoms())
def test_order_of_rows_does_not_matter(rows, chance):
    """Shuffled rows give the same findings."""
    shuffled = chance.sample(rows, len(rows))
    assert told(shuffled) == told(rows)


@settings(max_examples=40, deadline=None)
@given(fields())
def test_what_is_said_rests_on_faults_and_checks(rows):
    """A claim that stands has every check met but those its standing leaves open; nothing is said without a fault."""
    for one in read(rows, only()).findings:
        lacking = {check.name for check in one.checks if not check.met}
        if one.standing in (Standing.SETTLED, Standing.NONE_FOUND):
            assert not lacking
        if one.standing is Standing.TO_CONFIRM:
            assert lacking == {CheckName.CONFIRMED}
        if one.extent:
            assert one.counts.faulty
        if one.standing is Standing.NONE_FOUND:
            assert one.counts.tested >= 5
            assert one.counts.lots >= 2


@settings(max_examples=40, deadline=None)
@given(fields())
def test_what_belongs_to_a_pigment_or_format_is_charged_to_nobody(rows):
    """No specimen explained by a pigment or a format is among those held against a maker."""
    for one in read(rows, only()).findings:
        claims = [claim for claim in (one.claim, *one.exceptions) if claim and claim.standing is Standing.SETTLED]
        wide = {s for claim in claims if claim.extent in (Extent.PIGMENT, Extent.FORMAT) for s in claim.explained}
        against = {s for claim in claims if claim.extent in CHARGE for s in claim.explained}
        assert not wide & against


def test_none_found_needs_its_own_specimens():
    """Sound neighbours say nothing about a cell with two specimens of its own."""
    few = paints("A", pigments=("PR101",)) + field()
    many = paints("A", each=2, lots=("L1", "L2", "L3", "L4")) + field()
    stands = {
        name: next(one for one in read(rows, only()).findings if one.maker == "A")
        for name, rows in (("few", few), ("many", many))
    }
    assert stands["few"].standing is Standing.OPEN
    assert {check.name for check in stands["few"].checks if not check.met} >= {
        CheckName.SPECIMENS,
        CheckName.UPPER_LIMIT,
    }
    assert stands["many"].standing is Standing.NONE_FOUND


def test_one_large_lot_is_not_enough_for_none_found():
    """Thirty sound specimens of one lot say nothing about the next lot."""
    rows = [row(paint="Paint PR101") for _ in range(30)] + field()
    found = next(one for one in read(rows, only()).findings if one.maker == "A")
    assert found.standing is Standing.OPEN


def test_faults_no_more_than_elsewhere_are_none_found():
    """Where the cell's own limit is low enough, one fault in forty is no pattern."""
    rows = paints("A", lots=tuple(f"L{n}" for n in range(8)), each=2) + field(each=2)
    worse = [replace(rows[5], grade=4)] + [one for one in rows if one is not rows[5]]
    found = next(one for one in read(worse, only()).findings if one.maker == "A")
    assert (found.counts.faulty, found.standing) == (1, Standing.NONE_FOUND)


def test_a_field_of_faults_is_no_yardstick():
    """Where everybody's half pans fail, nobody's are called sound."""
    found = read(field("ABCDE", bad=4, each=3), only()).findings
    assert Standing.NONE_FOUND not in {one.standing for one in found}


@pytest.mark.parametrize(
    "rows",
    [
        [row(grade=5)],
        [row(grade=0)],
        [row(grade=None, not_testable=True)],
        [row(grade=5, lot=None)],
        [row(pigments=(), grade=5), row(maker="B", pigments=())],
        paints("A", bad=5),
        paints("A"),
        field("ABCDE", bad=5),
        field("ABCDE"),
        paints("A", bad=5, lots=(None,)) + field(lots=(None,)),
        paints("A", bad=5, formats=tuple(Format)),
        [row(paint="X", lot="L1", grade=5) for _ in range(9)],
        [row(grade=5, why=WhyBought.TO_CONFIRM) for _ in range(3)],
        [row(grade=5, why=WhyBought.NOTE) for _ in range(3)],
    ],
    ids=[
        "1 of 1", "0 of 1", "not testable", "no code", "no pigments", "all bad, one maker", "no fault, one maker",
        "all bad", "no fault", "no codes anywhere", "every format", "one lot", "only to confirm", "only of a note",
    ],
)  # fmt: skip
def test_odd_ledgers_give_a_finding(rows):
    """Nothing crashes, each cell gets a finding, and none of these accuses a maker publicly."""
    found = read(rows, only()).findings
    assert {(one.maker, one.format) for one in found} == {(one.maker, one.format) for one in rows}
    assert not [one for one in found if charge(one) and one.standing is Standing.SETTLED]
    tested = Counter(one.maker for one in rows if not one.not_testable)
    assert sum(one.counts.tested for one in found) == sum(tested.values())


COMPARED = replace(FROTH, conditions=("number of other makers on the sheet",))
OF_EACH_EXTENT = {
    Extent.MAKER_FORMAT: paints("A", bad=4)
    + paints("A", formats=(TUBE,))
    + confirming("A", bad=4)
    + field(formats=(HALF, TUBE)),
    Extent.PIGMENT: [
        one
        for maker in "ABCDE"
        for one in paints(maker, bad=4, pigments=("PR101",)) + paints(maker, pigments=("PY42", "PB29", "PG7"))
    ],
    Extent.FORMAT: [
        one for maker in "ABCDE" for one in paints(maker, bad=4, formats=(HALF,)) + paints(maker, formats=(TUBE,))
    ],
    Extent.LOT: [row(lot=lot, grade=4 * (lot == "L2")) for lot in ("L1", "L2", "L3") for _ in "123"]
    + [row(lot="L2", grade=4, parcel="P9", why=WhyBought.TO_CONFIRM)],
    Extent.SPECIMEN: [row(grade=grade) for grade in (4, 0, 0, 0)],
}


@pytest.mark.parametrize("extent", OF_EACH_EXTENT, ids=str)
def test_what_only_compares_paints_never_holds(extent):
    """Grades that depend on the makers beside it settle nothing at any extent, until each is the worst one."""
    rows = OF_EACH_EXTENT[extent]
    standings = {}
    for name, one, worst in (("a fault", FROTH, 4), ("compared", COMPARED, 4), ("shown", COMPARED, 5)):
        graded = [replace(one, grade=worst if one.grade else 0.0) for one in rows]
        found = next(f for f in read(graded, only(one)).findings if (f.maker, f.format) == ("A", HALF))
        standings[name] = (found.standing, found.claim.extent)
    assert standings == {
        "a fault": (Standing.SETTLED, extent),
        "compared": (Standing.OPEN, extent),
        "shown": (Standing.SETTLED, extent),
    }


def test_only_behaviour_against_the_label_is_a_comparison():
    """Of the shipped criteria it is the one whose grades under the worst need other makers beside it."""
    shipped_ones = [rubric.load(path) for path in shipped("rubrics").glob("*.yaml") if path.stem not in REFERENCES]
    compared = [key for one in shipped_ones for key, known in one.criteria.items() if known.by_comparison]
    assert compared == ["declared_behaviour"]


def hard_pigment(*, ours: Sequence[float], theirs: Sequence[float] = (4, 0, 0, 0, 0, 0)) -> list[TestedRow]:
    """Return PR101 with these grades in three lots at maker A and at seven others, whose other paints are sound."""
    own = [
        row(maker=maker, paint="Paint PR101", lot=f"L{n // 2}", parcel=f"P{n // 2}", grade=grade)
        for maker in "ABCDEFGH"
        for n, grade in enumerate(ours if maker == "A" else theirs)
    ]
    sound = [one for maker in "ABCDEFGH" for one in paints(maker, pigments=("PY42", "PB29", "PG7"))]
    return own + sound


def test_a_paint_may_be_worse_than_its_pigment_is():
    """10 of 10 where seven peers have 1 of 6: shared with the pigment, and this paint stands out beyond that."""
    one = next(f for f in read(hard_pigment(ours=[4] * 10), only()).findings if f.maker == "A")
    assert (one.standing, one.extent) == (Standing.SETTLED, Extent.PIGMENT)
    (beyond,) = one.exceptions
    assert (beyond.extent, beyond.standing, beyond.subject) == (Extent.PAINT, Standing.TO_CONFIRM, ("Paint PR101",))
    told = {check.name: check.found for check in beyond.checks}
    assert told[CheckName.EXCESS] == "83 % above its peers, the maker's other paints 0 %"
    assert told[CheckName.BEYOND_CHANCE].endswith("after Bonferroni's correction over 8")
    assert [check.name for check in beyond.unmet] == [CheckName.CONFIRMED]
    more = row(paint="Paint PR101", lot="L9", parcel="P9", grade=4, why=WhyBought.TO_CONFIRM)
    one = next(f for f in read([*hard_pigment(ours=[4] * 10), more], only()).findings if f.maker == "A")
    assert one.exceptions[0].standing is Standing.SETTLED
    assert "Beyond that: paint Paint PR101" in spoken(one)


@pytest.mark.parametrize(
    ("ours", "theirs"), [([4] * 2 + [0] * 4, [4] * 2 + [0] * 4), ([4] * 6, [4] * 6), ([4, 0, 4, 0, 4, 0], [4, 0] * 3)]
)
def test_a_paint_like_its_peers_is_no_exception(ours, theirs):
    """What is as bad at the peers belongs to the pigment alone."""
    found = read(hard_pigment(ours=ours, theirs=theirs), only()).findings
    assert any(one.extent is Extent.PIGMENT for one in found)
    assert not [claim for one in found for claim in one.exceptions]


MOULD = criterion("mould", severity=Severity.CRITICAL)


def mouldy(rows: Sequence[TestedRow]) -> list[TestedRow]:
    """Return the rows as of mould, a critical fault."""
    return [replace(one, criterion="mould") for one in rows]


def test_what_may_concern_health_does_not_wait_for_anything_wider():
    """Eight mouldy specimens of a maker not yet confirmed: each is said at once, the maker stays to confirm."""
    rows = mouldy(paints("A", bad=5) + field())
    one = next(f for f in read(rows, only(MOULD)).findings if f.maker == "A")
    assert (one.standing, one.extent, one.claim.critical) == (Standing.SETTLED, Extent.SPECIMEN, True)
    assert sum(claim.critical for claim in one.exceptions) == 7
    assert [claim.standing for claim in one.exceptions if not claim.critical] == [Standing.TO_CONFIRM]
    assert one.unconfirmed
    told = spoken(one)
    stickers = [claim.subject[-1] for claim in (one.claim, *one.exceptions) if claim.critical]
    assert all(sticker in told for sticker in stickers)
    assert "may concern health" in told


def test_what_may_concern_health_is_said_of_a_pigment_and_of_each_specimen():
    """Where all of a pigment are mouldy, the pigment is named first and every specimen with it."""
    rows = mouldy(OF_EACH_EXTENT[Extent.PIGMENT])
    one = next(f for f in read(rows, only(MOULD)).findings if f.maker == "A")
    assert (one.standing, one.extent) == (Standing.SETTLED, Extent.PIGMENT)
    faulty = [unit.row.sticker for lot in one.lots for unit in lot.units if unit.faulty]
    assert sorted(claim.subject[-1] for claim in one.exceptions if claim.critical) == sorted(faulty)
    assert all(sticker in spoken(one) for sticker in faulty)


def test_the_worst_of_a_hard_format_is_not_cleared_by_it():
    """Where a maker is far above the others in a format that is hard for all, the sentence says so and no more."""
    hard = [
        one
        for maker in "ABCDEFGH"
        for one in paints(maker, each=3)
        + [row(maker=maker, paint=f"Paint {p}", pigments=(p,), format=TUBE, lot=n) for p in PIGMENTS for n in "12"]
    ]
    halves = [one for one in hard if one.format is HALF]
    graded = [replace(one, grade=4 if one.maker == "A" or n % 3 == 2 else 0) for n, one in enumerate(halves)]
    rows = graded + [one for one in hard if one.format is TUBE]
    found = {f.maker: f for f in read(rows, only()).findings if f.format is HALF}
    assert {f.extent for f in found.values()} == {Extent.FORMAT}
    assert "24 of 24 here, 56 of 168 at the other makers" in spoken(found["A"])
    assert "whether the maker adds to it is open" in spoken(found["A"])
    assert "none is blamed" in spoken(found["B"])
    assert "none is blamed" not in spoken(found["A"])


def test_a_session_in_which_all_is_faulty_accuses_nobody():
    """Faults in a session whose peers are faulty too, and none in another: that is not settled against a maker."""
    ours = [replace(one, session="S1") for one in paints("A", bad=5, each=2)]
    ours += [row(maker="A", paint="Paint PR101", lot="L9", session="S2", parcel="P9") for _ in range(2)]
    peers = [replace(one, session="S2") for one in field()]
    peers += [row(maker=maker, paint="Paint PR101", lot="L9", session="S1", grade=5) for maker in "BC"]
    one = next(f for f in read(ours + peers, only()).findings if f.maker == "A")
    assert (one.standing, one.leaning) == (Standing.OPEN, Extent.MAKER_FORMAT)
    assert CheckName.SESSIONS in {check.name for check in one.checks if not check.met}


def test_makers_with_few_specimens_count_together():
    """Four makers that show it among twelve with two specimens each are a third of them, not most."""
    rows = [
        replace(one, grade=4.0 if maker in "ABCD" and one.pigments == ("PR101",) else 0.0)
        for maker in "ABCDEFGHIJKL"
        for one in paints(maker)
    ]
    assert not [f for f in read(rows, only()).findings if f.extent is Extent.PIGMENT]
