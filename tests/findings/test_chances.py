"""How likely a purchase settles a finding: by the outcomes that findings themselves call settled."""

from datetime import date

import pytest

from qcledger.findings import read
from qcledger.findings.chances import named_only, ways
from qcledger.findings.settle import Buy
from qcledger.stats.further import further_faulty, rates_of
from qcledger.vocab import Extent, Standing, WhyBought
from tests.findings.made import SESSIONS, field, only, paints, row

CONFIRM = {"why": WhyBought.TO_CONFIRM, "parcel": "P9", "bought_on": date(2026, 5, 1)}


def about(rows):
    """Return the finding on maker A."""
    return next(one for one in read(rows, only()).findings if one.maker == "A")


def like(faulty, tested, *others):
    """Return what is known of the rate of a group that showed so much, beside others."""
    return rates_of([(faulty, tested), *others]).after(faulty, tested)


def of_kind(finding, what):
    """Return the ways of one kind by how many pieces they buy at the end."""
    return {way.pieces[-1].count: way for way in ways(finding) if way.what is what}


def foreseen(rows, count, rate, buy):
    """Return the chance that findings call it settled once `count` were bought, outcome by outcome."""
    chances = further_faulty(count, *rate)
    firm = [
        about([*rows, *buy(count, faulty)]).standing in (Standing.SETTLED, Standing.NONE_FOUND)
        for faulty in range(count + 1)
    ]
    return sum(chance for chance, met in zip(chances, firm, strict=True) if met)


def bad_lot(sound=("L1", "L3")):
    """Return the rows of a lot of three, faulty, and of sound lots of three beside it."""
    rows = [row(lot="L2", grade=4, session=session) for session in SESSIONS]
    return rows + [row(lot=lot, session=session) for lot in sound for session in SESSIONS]


def test_a_further_specimen_of_a_lot():
    """3 of 3, to confirm: for one, two and three more, as findings answer each number of faulty ones."""
    rows = bad_lot()
    found = of_kind(about(rows), Buy.CONFIRM_LOT)

    def buy(count, faulty):
        return [row(lot="L2", grade=4 * (n < faulty), session=SESSIONS[n % 3], **CONFIRM) for n in range(count)]

    assert set(found) == {1, 2}  # of three, two must be faulty: that is dearer and less likely
    for count, way in found.items():
        assert way.chance == pytest.approx(foreseen(rows, count, like(3, 3, (0, 3), (0, 3)), buy))
    assert found[1].pieces[0].lot == "L2"
    assert found[1].pieces[0].confirms


def test_a_lot_without_sound_ones_buys_these_too():
    """Three faulty of one lot, nothing beside: other lots as planned, and a further specimen to confirm."""
    finding = about(bad_lot(sound=("L1",)))
    (way, *_) = [one for one in ways(finding) if one.what is Buy.LOTS_OF_PAINT]
    beside, further = way.pieces
    assert (beside.confirms, beside.lot, further.confirms, further.lot) == (False, None, True, "L2")
    assert 0 < way.chance < 1
    sound = [row(lot=f"N{n // 2}", session=SESSIONS[n % 2], parcel="P8") for n in range(beside.count)]
    more = [row(lot="L2", grade=4, **CONFIRM)]
    assert about([*bad_lot(sound=("L1",)), *sound, *more]).standing is Standing.SETTLED


def test_a_stray_specimen_is_settled_beside_sound_ones():
    """1 of 2: two more of its lot, both sound."""
    rows = [row(grade=5), row()]
    (way,) = of_kind(about(rows), Buy.OF_THE_LOT).values()

    def buy(count, faulty):
        return [row(grade=5 * (n < faulty)) for n in range(count)]

    assert way.pieces[0].count == 2
    assert way.chance == pytest.approx(foreseen(rows, 2, like(1, 2), buy))


def test_a_maker_is_confirmed_by_other_paints_from_another_seller():
    """All of eight faulty beside sound makers: each number of new lots, as findings answer it."""
    rows = paints("A", bad=4) + field()
    finding = about(rows)
    found = of_kind(finding, Buy.CONFIRM)
    assert min(found) == 2
    assert found[2].pieces[0].not_from == {"seller of P0", "seller of P1"}

    def buy(count, faulty):
        return [
            row(paint=f"Paint {name}", pigments=(name,), lot=f"N{n}", grade=4 * (n < faulty), **CONFIRM)
            for n, name in enumerate(["PY42", "PB29", "PG7", "PY42", "PB29", "PG7"][:count])
        ]

    for count, way in found.items():
        assert way.chance == pytest.approx(foreseen(rows, count, like(8, 8, *[(0, 8)] * 5), buy))


def test_none_found_after_sound_lots():
    """One faulty of four: so many further lots, and what is said of them, as findings say it."""
    rows = [*paints("A"), *field()]
    rows[0] = row(paint="Paint PR101", lot="L1", grade=4)
    finding = about(rows)
    found = of_kind(finding, Buy.LOTS_OF_FORMAT)
    for count, way in found.items():
        new = [row(paint=f"Paint {name}", pigments=(name,), lot=f"N{n}") for n, name in enumerate(["PY42"] * count)]
        assert about([*rows, *new]).standing is Standing.NONE_FOUND
        assert 0 < way.chance <= 1


def test_what_needs_others_cannot_be_foreseen():
    """Without a batch code it asks for one: nothing is foreseen, and it is said so."""
    finding = about([row(grade=5, lot=None)])
    assert ways(finding) == ()
    assert named_only(finding)


def test_settled_findings_and_sound_ones_ask_for_nothing():
    """No way, and nothing that could not be foreseen."""
    for rows in (paints("A", each=2, lots=("L1", "L2", "L3", "L4")) + field(), [row(), row()]):
        finding = about(rows)
        assert ways(finding) == ()
        assert not named_only(finding)


def shares(*makers):
    """Return makers and how many of them, for makers all of whose specimens are faulty or sound."""
    return sum(makers), len(makers)


def test_a_pigment_is_settled_by_makers_not_tested_with_it():
    """Three makers show it, three were tested without it: each number of faulty ones, as findings answer it."""
    with_it = [one for maker in "ABC" for one in paints(maker, bad=4, pigments=("PR101",))]
    without = [one for maker in "ABCDEF" for one in paints(maker, pigments=("PY42", "PB29", "PG7"), lots=("L1",))]
    rows = with_it + without
    finding = about(rows)
    assert finding.claim.extent is Extent.PIGMENT
    assert finding.standing is Standing.OPEN
    found = of_kind(finding, Buy.MORE_MAKERS)
    assert 1 in found
    assert found[1].pieces[0].makers == ("Maker D", "Maker E", "Maker F")
    assert found[1].pieces[0].alike == tuple(f"{maker}/Paint PR101" for maker in "ABC")
    pigments = [shares(1, 1, 1), *[shares(*[0] * 6)] * 3]

    def buy(count, faulty):
        return [
            row(maker=maker, paint="New", pigments=("PR101",), lot="N1", grade=4 * (n < faulty), session="S1")
            for n, maker in enumerate("DEF"[:count])
        ]

    for count, way in found.items():
        known = rates_of(pigments).after(3, 3)
        assert way.chance == pytest.approx(foreseen(rows, count, known, buy))


def test_a_shared_fault_without_other_makers_is_not_foreseen():
    """All makers on file were tested with it: nobody is left to ask, and that is said in words."""
    rows = [
        one
        for maker in "AB"
        for one in paints(maker, bad=4, pigments=("PR101",)) + paints(maker, pigments=("PY42", "PB29"))
    ]
    finding = about(rows)
    assert finding.claim.extent is Extent.PIGMENT
    assert of_kind(finding, Buy.MORE_MAKERS) == {}
    assert named_only(finding)
