"""What is open, to be confirmed or kept private tells nothing, in any face; leaks that are planted are found."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcledger.findings import read
from qcledger.findings.behaves import BehaviourVerdict, beside_peers, looks
from qcledger.findings.evidence import gather
from qcledger.findings.wording import further
from qcledger.public import assemble, from_findings, view
from qcledger.public.view import FIELDS, PublicCell, PublicStanding, public_cell
from qcledger.vocab import Extent, Nature, Severity, Standing
from tests.findings.made import FROTH, criterion, only, row
from tests.public import made
from tests.public.made import OPEN, SECRET, STANDINGS, MadeCell, faces, found_of, private_in, settled, tells_apart

MAKERS = ("Aldervane", "Drumlaw", "Halcyre", "Maslenne")
LOTS = st.lists(st.integers(1, 3), min_size=1, max_size=3)


@st.composite
def worlds(draw):
    """Draw the cells of some makers twice: what is public is the same, everything else is drawn anew."""
    one, other = {}, {}
    for maker in MAKERS[: draw(st.integers(1, 4))]:
        sizes = draw(LOTS)
        grades = [st.tuples(*(st.sampled_from((0.0, 4.0)) for _ in range(size))) for size in sizes]
        if draw(st.booleans()):
            first = MadeCell("settled", tuple(draw(lot) for lot in grades), draw(st.integers(0, 2)))
            one[maker] = other[maker] = first
            continue
        for world in (one, other):
            standing = draw(st.sampled_from(OPEN))
            world[maker] = MadeCell(standing, tuple(draw(lot) for lot in grades), draw(st.integers(0, 2)))
    return one, other


@given(worlds())
def test_what_is_not_settled_tells_nothing(two):
    """Whatever was seen in cells that are open, to confirm or kept private, every face is the same to the byte."""
    one, other = map(found_of, two)
    assert tells_apart(one, other) == []


@given(st.dictionaries(st.sampled_from(MAKERS), st.builds(
    MadeCell, st.sampled_from(STANDINGS), st.just(((4.0, 4.0), (4.0, 0.0), (0.0,))), st.integers(0, 3)
), min_size=1))  # fmt: skip
def test_nothing_private_stands_in_any_face(cells):
    """Sellers, testers' names, notes, decisions and reasons are in no byte of any face."""
    assert private_in(faces(made.view(found_of(cells))).values()) == []


@pytest.mark.parametrize("extent", [Extent.LOT, Extent.PARCEL, Extent.MAKER_FORMAT])
def test_what_is_settled_names_no_seller(extent):
    """A parcel, a lot or a format that is settled is told, and the seller behind it is not."""
    found = found_of({"Aldervane": MadeCell("open", ((4.0, 4.0), (0.0, 0.0)))})
    found = replace(found, findings=tuple(settled(one, extent=extent) for one in found.findings))
    shown = faces(made.view(found))
    assert all("Aldervane" in one and "Froth" in one for one in shown.values())
    assert private_in(shown.values()) == []


def test_a_check_counts_sellers_and_names_none():
    """Without which seller a claim falls is told by a number, so that what leans on one seller is still said."""
    found = found_of({"Aldervane": MadeCell("settled", ((4.0, 4.0), (4.0, 0.0)))})
    (said,) = made.view(found).statements
    assert "We could not say this without seller 1." in said.further


def test_no_line_counts_faults_that_nothing_settles():
    """What a settled lot leaves over, and what one other maker's paints showed, stands in no line beneath it."""
    rows = [
        *made.rows_of({"Aldervane": MadeCell("settled", ((4.0, 4.0), (4.0, 0.0)))}),
        *(replace(one, pigments=("P0",)) for one in made.rows_of({"Drumlaw": MadeCell("open", ((4.0, 4.0),))})),
    ]
    found = read(rows, only())
    own, other = found.findings
    both = replace(found, findings=(settled(own, extent=Extent.LOT), replace(other, claim=None, exceptions=())))
    (said,) = made.view(both).statements
    lines = further(replace(both.findings[0], claim=from_findings.without_sellers(both.findings[0].claim)))
    dropped = [line for line in lines if line not in said.further]
    assert any(line.startswith("It explains 2 of 3") for line in dropped)
    assert any("from one other maker" in line for line in dropped)
    assert said.further


def test_a_kept_paint_and_health_read_as_open():
    """A lot of a paint that is kept private, and what may concern health and was not released, is told as open."""
    found = found_of({"Aldervane": MadeCell("open", ((4.0, 4.0), (0.0, 0.0)))})
    found = replace(found, findings=tuple(settled(one, extent=Extent.LOT) for one in found.findings))
    (finding,) = found.findings
    kept = from_findings.PublicRules(kept_paints=frozenset({finding.lots[0].row.paint}))
    (cell,) = made.view(found, kept).cells
    assert (cell.standing, cell.faulty, cell.statements) == (PublicStanding.OPEN, None, ())
    rows = made.rows_of({"Aldervane": MadeCell("settled", ((4.0, 4.0), (0.0, 0.0)))})
    health = read(rows, only(criterion(severity=Severity.CRITICAL)))
    (cell,) = made.view(health).cells
    assert (cell.standing, cell.faulty) == (PublicStanding.OPEN, None)
    released = from_findings.PublicRules(released=frozenset({from_findings.key_of(finding)}))
    told = made.view(health, released)
    assert [(one.standing, one.faulty) for one in told.cells] == [(PublicStanding.SETTLED, 2)]
    assert [(one.tested, one.faulty) for one in told.statements] == [(2, 2), (2, 2)]
    assert all("health" in one.sentence for one in told.statements)


def test_an_exception_that_is_to_be_confirmed_is_in_no_count():
    """BehaviourVerdict a settled lot, a further claim that is only to be confirmed is neither named nor counted."""
    cells = {"Aldervane": MadeCell("open", ((4.0, 4.0), (4.0, 0.0)))}
    found = found_of(cells)
    first = settled(found.findings[0], extent=Extent.LOT)
    more = replace(first.claim, standing=Standing.TO_CONFIRM, lots=first.lots[1:], subject=("Red", "L01"))
    both = replace(found, findings=(replace(first, exceptions=(more,)),))
    alone = replace(found, findings=(first,))
    assert tells_apart(both, alone) == []
    (cell,) = made.view(both).cells
    assert cell.faulty == 2


def test_a_fault_that_nothing_settles_is_not_none_found():
    """A cell in which little was found reads as open; only one without any fault reads as none found."""
    for grades, standing in (
        (((0.0, 0.0),), PublicStanding.NONE_FOUND),
        (((0.0, 4.0),), PublicStanding.OPEN),
    ):
        found = found_of({"Aldervane": MadeCell("open", grades)})
        found = replace(found, findings=tuple(replace(one, standing=Standing.NONE_FOUND) for one in found.findings))
        (cell,) = made.view(found).cells
        assert (cell.standing, cell.faulty) == (standing, 0 if standing is PublicStanding.NONE_FOUND else None)


@pytest.mark.parametrize("standing", list(PublicStanding))
def test_a_cell_holds_only_what_the_table_lets_it(standing):
    """Every field of a cell is in the table, and one that is not public at its standing stays empty."""
    names = {one.name for one in PublicCell.__dataclass_fields__.values()}
    assert names == set(FIELDS)
    known = dict.fromkeys(names - {"standing"}, 7)
    made_ = public_cell(standing, **known)
    empty = {name for name in names - {"standing"} if getattr(made_, name) != 7}
    assert empty == {name for name in names if standing not in FIELDS[name]}


# Leaks that are planted on purpose


def _worlds():
    bad = {"Aldervane": MadeCell("to confirm", ((4.0, 4.0), (4.0,)))}
    sound = {"Aldervane": MadeCell("open", ((0.0, 0.0), (0.0,)))}
    return found_of(bad), found_of(sound)


def _count_of_the_open(monkeypatch):
    monkeypatch.setattr(view, "FIELDS", {**FIELDS, "faulty": frozenset(PublicStanding)})
    monkeypatch.setattr(from_findings, "_told_lots", lambda finding, _: finding.lots)


def _to_confirm_as_settled(monkeypatch):
    monkeypatch.setattr(from_findings, "SETTLED", Standing.TO_CONFIRM)


def _open_lots_dropped(monkeypatch):
    kept = assemble._lots

    def without(seen, *rest):
        return (one for one in kept(seen, *rest) if not any(f.unconfirmed for f in _of(seen, one)))

    def _of(seen, lot):
        return next(one.of for one in seen.values() if (one.lot.row.lot_code or "") == lot.code)

    monkeypatch.setattr(assemble, "_lots", without)


@pytest.mark.parametrize("leak", [_count_of_the_open, _to_confirm_as_settled, _open_lots_dropped])
def test_a_planted_leak_is_found(monkeypatch, leak):
    """A count of an open cell, a claim to confirm told as settled, and an empty place that tells are each noticed."""
    assert tells_apart(*_worlds()) == []
    leak(monkeypatch)
    assert tells_apart(*_worlds()) != []


def test_a_planted_seller_is_found(monkeypatch):
    """Where claims kept their sellers' names, the lines beneath a sentence would tell them in every face."""
    monkeypatch.setattr(from_findings, "without_sellers", lambda claim: claim)
    found = found_of({"Aldervane": MadeCell("settled", ((4.0, 4.0), (4.0, 0.0)))})
    assert all(private_in([face]) == [SECRET] for face in faces(made.view(found)).values())


# What was looked at, and no judgement is published

TITLES = ("froth", "evenness")


@st.composite
def looked_at(draw):
    """Draw twice what one maker's specimens had on one criterion, which is open: how many were looked at, and faults.

    On another criterion each of them was looked at and none was faulty, so that all are known to be there.
    """
    lots = draw(st.lists(st.integers(1, 4), min_size=1, max_size=3))
    places = [(lot, number) for lot, size in enumerate(lots) for number in range(size)]
    worlds_ = []
    for _ in range(2):
        seen = draw(st.lists(st.sampled_from(places), unique=True, min_size=1))
        worlds_.append({place: draw(st.sampled_from((0.0, 4.0))) for place in sorted(seen)})
    return places, worlds_


def _world(places, seen):
    """Return findings in which evenness was looked at everywhere and none found, and froth where `seen` says."""
    rows = []
    for lot, number in places:
        same = {
            "maker": "Aldervane", "maker_name": "Aldervane", "lot": f"A-{lot}", "lot_code": f"L{lot}",
            "specimen": f"s{lot}.{number}", "sticker": f"OV {lot}{number:03d}",
        }  # fmt: skip
        rows.append(row(**same, criterion="evenness", trial=f"e{lot}.{number}", observation=f"e{lot}.{number}"))
        if (lot, number) in seen:
            rows.append(
                row(**same, grade=seen[lot, number], trial=f"f{lot}.{number}", observation=f"f{lot}.{number}")
            )
    found = read(rows, only(*map(criterion, TITLES)))
    standing = {"evenness": Standing.NONE_FOUND, "froth": Standing.OPEN}
    chosen = (replace(one, claim=None, exceptions=(), standing=standing[one.criterion.key]) for one in found.findings)
    return replace(found, findings=tuple(chosen))


@given(looked_at())
def test_an_open_cell_tells_neither_how_often_it_was_looked_at_nor_what_was_seen(drawn):
    """Open for want of specimens and open because of a fault read alike in every face, to the byte."""
    places, (one, other) = drawn
    assert tells_apart(_world(places, one), _world(places, other)) == []


def test_a_planted_count_of_an_open_cell_is_found(monkeypatch):
    """Were its specimens counted, two looked at without a fault and nine with one would be told apart."""
    places = [(lot, number) for lot in range(3) for number in range(3)]
    few, many = {(0, 0): 0.0, (0, 1): 0.0}, dict.fromkeys(places, 4.0)
    assert tells_apart(_world(places, few), _world(places, many)) == []
    monkeypatch.setattr(view, "FIELDS", {**FIELDS, "tested": frozenset(PublicStanding)})
    assert "json" in tells_apart(_world(places, few), _world(places, many))


TRAITS = tuple(criterion(key, nature=Nature.TRAIT, fault_line=None) for key in ("granulation", "staining", "opacity"))


def with_traits(odd):
    """Return rows of a settled cell, and of seven makers' three pigments; one maker's PG18 is graded `odd`."""
    cells = made.rows_of({"Aldervane": MadeCell("settled", ((4.0, 4.0), (4.0, 0.0)))})
    usual = {"PG18": 0.5, "PB28": 3.0, "PY42": 4.5}
    return cells + [
        row(
            maker=maker, maker_name=maker, paint=f"{pigment} {maker}", paint_name=pigment, pigments=(pigment,),
            lot=f"{pigment} {maker}", criterion=trait.key, grade=odd if (maker, pigment) == ("M6", "PG18") else grade,
        )
        for maker in (f"M{n}" for n in range(7)) for pigment, grade in usual.items() for trait in TRAITS
    ]  # fmt: skip


def test_how_a_paint_behaves_beside_its_peers_reaches_no_face():
    """One paint is called unlike its peers to the tester, or none is: every face is the same to the byte."""
    told = []
    for odd in (0.5, 5.0):
        evidence = gather(with_traits(odd), only(FROTH, *TRAITS))
        beside = beside_peers(looks(evidence), evidence.criteria)
        unlike = [one for one in beside if one.verdict is BehaviourVerdict.UNLIKE]
        found = read(with_traits(odd), only(FROTH, *TRAITS))
        whole = replace(found, findings=tuple(settled(one) for one in found.findings))
        told.append((len(unlike), faces(made.view(whole))))
    (none, calm), (one, odd_faces) = told
    assert (none, one) == (0, 1)
    assert calm == odd_faces
    assert not any("behaves" in face or "peer baseline" in face for face in odd_faces.values())
