"""Among how many a test is corrected, counted anew by hand; and what no ledger, however odd, may change or break."""

from dataclasses import replace
from math import comb

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qcledger.findings import checks, gather, read
from qcledger.findings.among import among
from qcledger.findings.extent import Case
from qcledger.findings.field import fields
from qcledger.findings.settle import purchases
from qcledger.findings.strength import by_exchanging_lots
from qcledger.findings.wording import headline, in_counts, in_short, sentence
from qcledger.findings.wording_of_settling import would_settle
from qcledger.vocab import Extent, Format, Standing, WhyBought
from tests.findings.made import FROTH, HALF, SESSIONS, TUBE, criterion, only, row

PIGMENTS = ((), ("PR101",), ("PY42",), ("PR101", "PY42"))
FAULTY = 0.4
"""Share of the specimens in random ledgers that are graded faulty."""

LEVEL = checks.EXACT_LEVEL


@st.composite
def ledgers(draw, most=40):
    """Return rows of a small ledger: few makers, paints, lots with and without a code, one to `most` specimens."""
    rng = draw(st.randoms(use_true_random=False))
    makers, paints, lots, formats, parcels = (draw(st.integers(1, top)) for top in (5, 3, 3, 2, 3))
    rows = []
    for _ in range(draw(st.integers(1, most))):
        paint = rng.randrange(paints)
        rows.append(
            row(
                maker="ABCDE"[rng.randrange(makers)],
                paint=f"Paint {paint}",
                # A paint's pigments are those of its number, but the last one may have changed between two lots.
                pigments=rng.choice(PIGMENTS) if paint == 2 else PIGMENTS[1 + paint],
                format=(HALF, TUBE)[rng.randrange(formats)],
                lot=rng.choice((None, *(f"L{n}" for n in range(lots)))),
                parcel=f"P{rng.randrange(parcels)}",
                session=rng.choice((None, *SESSIONS)),
                grade=4 if rng.random() < FAULTY else 0,
                why=rng.choice((WhyBought.PLANNED, WhyBought.PLANNED, WhyBought.TO_CONFIRM, WhyBought.NOTE)),
            )
        )
    return rows


def field_of(rows):
    """Return the field of the rows' one criterion."""
    return fields(gather(rows, only()))[FROTH.key]


def lots_of(rows):
    """Return the rows of each lot, by what is printed or, where nothing is, by the parcel."""
    found = {}
    for one in sorted(rows, key=lambda one: one.trial_at):
        found.setdefault((one.lot or one.parcel, one.paint, one.format), []).append(one)
    return list(found.values())


def bad(rows):
    """Return how many of some rows are faulty."""
    return sum(one.grade >= FROTH.fault_line for one in rows)


def least(inside, faulty, total):
    """Return the chance that as many of the faulty as there is room for are inside."""
    most = min(inside, faulty)
    return comb(faulty, most) * comb(total - faulty, inside - most) / comb(total, inside)


def tarone(groups, level):
    """Return the smallest K that no more than K groups could come out at the level over."""
    told = [least(*group) for group in groups if min(group[:2]) >= 2 and group[0] < group[2]]
    return next(k for k in range(1, len(told) + 2) if sum(p <= level / k * (1 + 1e-9) for p in told) <= k)


def lots_by_hand(rows):
    """Return K over lots: each beside the coded lots of its paint and format."""
    coded = [lot for lot in lots_of(rows) if lot[0].lot]

    def make(lot):
        return [one for other in coded for one in other if other[0].paint == lot[0].paint
                and other[0].format is lot[0].format]  # fmt: skip

    return tarone([(len(lot), bad(make(lot)), len(make(lot))) for lot in coded], LEVEL)


def parcels_by_hand(rows):
    """Return K over parcels: the specimens of each in a maker's format beside all of that format."""
    cells = {}
    for one in rows:
        cells.setdefault((one.maker, one.format), []).append(one)
    groups = [
        (sum(one.parcel == parcel for one in cell), bad(cell), len(cell))
        for cell in cells.values()
        for parcel in {one.parcel for one in cell}
    ]
    return tarone(groups, LEVEL)


def paints_by_hand(rows):
    """Return K over paints: coded lots beside those of the maker's other paints and of others' with the pigments."""
    lots, groups = lots_of(rows), []
    for paint in {lot[0].paint for lot in lots}:
        own = [lot for lot in lots if lot[0].paint == paint]
        formats = {lot[0].format for lot in own}
        kinds = {(tuple(sorted(lot[0].pigments)), lot[0].format) for lot in own if lot[0].pigments}

        def stands_beside(lot, maker=own[0][0].maker, paint=paint, formats=formats, kinds=kinds):
            if lot[0].maker == maker:
                return lot[0].paint != paint and lot[0].format in formats
            return (tuple(sorted(lot[0].pigments)), lot[0].format) in kinds

        mine = [lot for lot in own if lot[0].lot]
        every = [*mine, *(lot for lot in lots if lot[0].lot and stands_beside(lot))]
        groups.append((len(mine), sum(bad(lot) > 0 for lot in every), len(every)))
    return tarone(groups, LEVEL)


@settings(max_examples=60, deadline=None)
@given(rows=ledgers(most=80))
def test_counted_by_hand(rows):
    """The numbers that paints, lots and parcels are corrected by are those that plain loops over the rows count."""
    field = field_of(rows)
    found = among(field, LEVEL)
    assert (found.paints, found.lots, found.parcels) == (
        paints_by_hand(rows),
        lots_by_hand(rows),
        parcels_by_hand(rows),
    )


@settings(max_examples=40, deadline=None)
@given(rows=ledgers(most=80), some=st.randoms(use_true_random=False))
def test_counted_by_hand_without_what_is_explained(rows, some):
    """What a pigment explains is left out of the numbers as if it had never been bought."""
    field = field_of(rows)
    gone = frozenset(lot.key for lot in field.lots if some.random() < 0.3)
    left = [one for one in rows if (one.lot or one.parcel, one.paint, one.format) not in gone]
    rest = field.without(gone)
    if left:
        found = among(rest, LEVEL)
        assert (found.paints, found.lots, found.parcels) == (
            paints_by_hand(left),
            lots_by_hand(left),
            parcels_by_hand(left),
        )


@pytest.mark.parametrize("rows", [[row()], [row(grade=5)], [row(lot=None, grade=5)], [row(pigments=(), grade=5)]])
def test_one_specimen_is_corrected_by_one(rows):
    """Where nothing could stand out the number is 1, never 0."""
    field = field_of(rows)
    found = among(field, LEVEL)
    assert (found.paints, found.lots, found.parcels) == (1, 1, 1)


def told(rows, *criteria):
    """Return of each cell its standing and its claims: extent, faulty specimens and which checks are met."""
    return {
        (one.criterion.key, one.maker, one.format): (
            one.standing,
            one.claim and _told(one.claim),
            sorted(map(_told, one.exceptions)),
        )
        for one in read(rows, only(*criteria)).findings
    }


def _told(claim):
    asked = sorted((check.name, check.need, check.met) for check in claim.checks)
    return str(claim.extent), str(claim.standing), sorted(claim.explained), asked


@settings(max_examples=40, deadline=None)
@given(rows=ledgers(most=60), some=st.randoms(use_true_random=False))
def test_names_and_order_decide_nothing(rows, some):
    """Other names of makers, paints, lots and formats, and rows in another order, change no finding."""
    names = dict(zip("ABCDE", some.sample("VWXYZ", 5), strict=True))
    forms = dict(zip((HALF, TUBE), some.sample((Format.FULL_PAN, TUBE), 2), strict=True))
    renamed = [
        replace(
            one,
            maker=names[one.maker],
            maker_name=f"House {names[one.maker]}",
            format=forms[one.format],
            lot=one.lot and f"code of {one.lot}",
            paint=f"no. {hash(one.paint)}",
        )
        for one in some.sample(rows, len(rows))
    ]
    wanted = {(key, names[maker], forms[form]): what for (key, maker, form), what in told(rows).items()}
    assert told(renamed) == wanted


@settings(max_examples=25, deadline=None)
@given(rows=ledgers(most=60))
def test_another_criterion_with_the_same_grades_makes_nothing_firmer(rows):
    """The same grades under a second criterion are found twice, and alike, and no firmer."""
    scum = criterion("scum")
    twice = told([*rows, *(replace(one, observation=f"{one.observation}b", criterion="scum") for one in rows)],
                 FROTH, scum)  # fmt: skip
    once = told(rows)
    assert {key[1:]: what for key, what in twice.items() if key[0] == "scum"} == {k[1:]: v for k, v in once.items()}
    firm = [Standing.SETTLED, Standing.TO_CONFIRM]
    for key, (standing, *_) in once.items():
        assert twice[key][0] is standing or (standing in firm and twice[key][0] is not Standing.NONE_FOUND)


@settings(max_examples=60, deadline=None)
@given(rows=ledgers(), grade=st.sampled_from((None, 0, 5)))
def test_no_ledger_breaks_a_sentence(rows, grade):
    """Whatever was bought, also with no fault or nothing sound, each finding has its sentences, all in numbers."""
    if grade is not None:
        rows = [replace(one, grade=grade) for one in rows]
    for found in read(rows, only()).findings:
        every = [claim for claim in (found.claim, *found.exceptions) if claim]
        text = [sentence(found), in_short(found), would_settle(found)]
        text += [part(found, claim) for claim in every for part in (headline, in_counts)]
        assert not [part for part in text if "nan" in part.casefold().split()]
        assert all(0 <= one.number <= 1000 for one in purchases(found))
        assert all(
            claim.explained <= {one.specimen for one in rows if one.grade == 5 or grade is None} for claim in every
        )
        assert grade != 0 or not every


@settings(max_examples=60, deadline=None)
@given(rows=ledgers(most=60))
def test_nothing_is_said_to_be_single_and_its_makers(rows):
    """A specimen that counts against its maker or its format is not said to be a single one, settled or not."""
    case = Case(field_of(rows), by_exchanging_lots)
    against = frozenset(one for claim in case.accusations for one in claim.explained)
    for found in read(rows, only()).findings:
        for claim in (found.claim, *found.exceptions):
            if claim and claim.extent is Extent.SPECIMEN and claim.standing is Standing.SETTLED:
                assert not claim.explained & against
