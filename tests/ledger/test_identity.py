"""Who is who: equal spellings, decisions, contradictions, and one answer whatever was merged first."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcledger.errors import BadInput
from qcledger.ledger.identity import Identity, NamedRows, seller_id, united_lots, who_is_who
from qcledger.ledger.uniting import Decided
from qcledger.records import Lot, Maker, Paint, SameAs
from qcledger.vocab import Format, Sameness

AN, BE = "an ada nunn", "be ben eyre"
DAY = date(2026, 3, 9)


def decided(kind, subject, other=None, *, name=None, tester=AN, table="maker", number=0):
    """Return a decision that stands."""
    row = SameAs(
        id=f"{kind}-{subject}-{other}-{number}",
        kind=kind,
        subject_table=table,
        subject=subject,
        other=other,
        name=name,
        by=tester.removeprefix("an ").removeprefix("be "),
        on=DAY,
        reason="seen on the box",
    )
    return Decided(row, tester)


def same(subject, other, **more):
    return decided(Sameness.SAME, subject, other, **more)


def apart(subject, other, **more):
    return decided(Sameness.DIFFERENT, subject, other, **more)


def called(subject, name, **more):
    return decided(Sameness.CALLED, subject, name=name, **more)


def known(makers, *found, **more):
    return Identity(NamedRows(makers=makers, decided=found, **more))


def test_equal_spellings_are_one_without_a_word():
    """Case and blanks make no second maker, and the one they count as does not depend on their order."""
    rows = [("b", "quernlow"), ("a", "Quernlow"), ("c", "Fennacre")]
    for makers in (rows, rows[::-1]):
        one = known(makers)
        assert {one.one("maker", id_) for id_ in "ab"} == {"a"}
        assert one.one("maker", "c") == "c"
        assert one.name("maker", "b", "quernlow") == "Quernlow"
        assert one.members("maker", "b") == ("a", "b")


def test_a_decision_unites_and_the_other_name_is_shown():
    """What is declared the same counts as the other, also where its own id is smaller."""
    one = known([("a", "Halver Moor"), ("b", "Halvermoor")], same("a", "b"))
    assert (one.one("maker", "a"), one.name("maker", "a", "")) == ("b", "Halvermoor")
    assert one.names("maker", "a", "") == ("Halvermoor", "Halver Moor")


def test_a_new_spelling_of_what_was_declared_the_same_is_not_shown():
    """A third row with the older name and the smallest id joins the group and does not give it its name."""
    one = known([("b", "Halver Moor"), ("c", "Halvermoor"), ("a", "halver moor")], same("b", "c"))
    assert {one.one("maker", id_) for id_ in "abc"} == {"c"}
    assert one.name("maker", "a", "") == "Halvermoor"


def test_equal_spellings_may_be_kept_apart():
    """Two makers of one name stay two where a decision says so, and an undone one says nothing."""
    rows = [("a", "Quernlow"), ("b", "Quernlow")]
    assert known(rows, apart("a", "b")).one("maker", "b") == "b"
    assert known(rows).one("maker", "b") == "a"


def test_the_last_decision_about_a_pair_counts():
    """A tester who thinks again is heard, and nothing is told of the older word."""
    rows = [("a", "Quernlow"), ("b", "Quern Low")]
    one = known(rows, apart("a", "b"), same("b", "a"))
    assert one.one("maker", "b") == "a"
    assert one.disputed() == []
    assert known(rows, same("b", "a"), apart("a", "b")).one("maker", "b") == "b"


def test_two_testers_who_contradict_each_other_are_told():
    """The later of two testers' words counts, and a line names the other one."""
    rows = [("a", "Quernlow"), ("b", "Quern Low")]
    one = known(rows, same("b", "a"), apart("a", "b", tester=BE))
    assert one.one("maker", "b") == "b"
    (line,) = one.disputed()
    assert "ada nunn" in line
    assert "Quern Low" in line


def test_two_names_for_one_maker_from_two_testers_are_told():
    """Each says that the other's name is the one to show: the later counts."""
    rows = [("a", "Quernlow"), ("b", "Quern Low")]
    one = known(rows, same("b", "a"), same("a", "b", tester=BE))
    assert one.name("maker", "a", "") == "Quern Low"
    assert len(one.disputed()) == 1


def test_a_circle_is_cut_and_told():
    """Three that are each the next one are one, called as the newest decisions say."""
    rows = [("a", "Aa"), ("b", "Bb"), ("c", "Cc")]
    one = known(rows, same("a", "b"), same("b", "c"), same("c", "a"))
    assert {one.one("maker", id_) for id_ in "abc"} == {"a"}
    assert len(one.disputed()) == 1


def test_what_is_two_by_way_of_a_third_is_passed_over_and_told():
    """Two that are kept apart do not become one by an older decision about a third."""
    rows = [("a", "Aa"), ("b", "Bb"), ("c", "Cc")]
    one = known(rows, same("a", "c"), same("c", "b"), apart("a", "b"))
    assert one.one("maker", "a") != one.one("maker", "b")
    assert len(one.disputed()) == 1


def test_a_new_name_is_shown_and_the_older_ones_stay_findable():
    """The last new name counts; each name still finds the maker, and unites it with one that is written so."""
    one = known(
        [("a", "Halver Moor"), ("b", "HALVERMOOR")], called("a", "Halvermoor"), called("a", "Halvermoor & Co")
    )
    assert one.name("maker", "b", "") == "Halvermoor & Co"
    assert one.one("maker", "b") == "a"
    assert one.found_by("maker", "halver moor") == ["a", "b"]


PAINTS = [("p1", "m", "Fen Green", None, None), ("p2", "m", "fen green", "12", None)]


def test_an_empty_number_may_be_the_others_and_two_numbers_are_two():
    """A paint without a number is the one that has one, unless it could be either of two."""
    assert known([("m", "Quernlow")], paints=PAINTS).one("paint", "p2") == "p1"
    three = [*PAINTS, ("p3", "m", "Fen Green", "14", None)]
    one = known([("m", "Quernlow")], paints=three)
    assert [one.one("paint", id_) for id_ in ("p1", "p2", "p3")] == ["p1", "p2", "p3"]


def test_paints_of_two_ranges_are_two_and_of_one_maker_in_two_spellings_one():
    """The range parts paints; the maker's spelling does not."""
    makers = [("m", "Quernlow"), ("n", "quernlow")]
    ranges = [("r", "m", "Studio"), ("s", "n", "studio"), ("t", "n", "Finest")]
    paints = [(f"p{row}", maker, "Fen Green", None, row) for row, maker in (("r", "m"), ("s", "n"), ("t", "n"))]
    one = known(makers, ranges=ranges, paints=paints)
    assert one.one("range", "s") == "r"
    assert [one.one("paint", id_) for id_ in ("pr", "ps", "pt")] == ["pr", "pr", "pt"]


def test_sellers_go_by_their_names():
    """Spellings that parcels give are one, and a decision unites two."""
    names = ["Corner Shop", "corner shop", "Cornershop"]
    sellers = [(seller_id(name), name) for name in names]
    decision = same(seller_id("Cornershop"), seller_id("Corner Shop"), table="seller")
    one = known((), decision, sellers=sellers)
    assert {one.seller(name) for name in names} == {"Corner Shop"}
    assert one.sellers_found_by("cornershop") == sorted(names)
    assert one.seller("Elsewhere") == "Elsewhere"


NAMES = ("Quernlow", "quernlow", "Quern Low", "Halver Moor", "Halvermoor")
IDS = tuple("abcdefg")
KINDS = st.sampled_from([Sameness.SAME, Sameness.DIFFERENT, Sameness.CALLED])


@st.composite
def worlds(draw):
    """Return makers and decisions about them, in the order of the entries."""
    makers = [(id_, draw(st.sampled_from(NAMES))) for id_ in IDS[: draw(st.integers(2, len(IDS)))]]
    ids = [id_ for id_, _ in makers]
    found = []
    for number in range(draw(st.integers(0, 8))):
        kind, subject, tester = draw(KINDS), draw(st.sampled_from(ids)), draw(st.sampled_from([AN, BE]))
        if kind is Sameness.CALLED:
            found.append(called(subject, draw(st.sampled_from(NAMES)), tester=tester, number=number))
        else:
            other = draw(st.sampled_from([id_ for id_ in ids if id_ != subject]))
            found.append(decided(kind, subject, other, tester=tester, number=number))
    return makers, found


def answers(one, makers):
    return [(one.one("maker", id_), one.name("maker", id_, name), one.members("maker", id_)) for id_, name in makers]


@given(worlds(), st.randoms())
def test_the_answer_does_not_depend_on_the_order_of_the_rows(world, chance):
    """Whatever order rows come in, each counts as the same one, is called the same, and is in the same group."""
    makers, found = world
    mixed = makers[:]
    chance.shuffle(mixed)
    assert answers(known(mixed, *found), makers) == answers(known(makers, *found), makers)
    assert known(mixed, *found).disputed() == known(makers, *found).disputed()


@given(worlds())
def test_groups_are_groups(world):
    """Each row is in the group of the one it counts as, which is one of them; groups do not overlap."""
    makers, found = world
    one = known(makers, *found)
    for id_, name in makers:
        members = one.members("maker", id_)
        assert id_ in members
        assert one.one("maker", id_) == members[0]
        assert {one.members("maker", each) for each in members} == {members}
        assert name in one.names("maker", id_, name)


@given(worlds(), st.data())
def test_the_newest_decision_holds_and_taking_it_back_restores(world, data):
    """A new decision about two counts whatever was said before; without it, all is as it was."""
    makers, found = world
    before = answers(known(makers, *found), makers)
    ids = [id_ for id_, _ in makers]
    subject, other = data.draw(st.permutations(ids))[:2]
    united = known(makers, *found, same(subject, other, number=99))
    assert united.one("maker", subject) == united.one("maker", other)
    assert answers(known(makers, *found), makers) == before


def test_a_decision_about_nothing_is_refused(ledger):
    """The ledger takes no decision about a row that is not there, about one and itself, or without its name."""
    ledger.append([Maker(id="other", name="Quern Low")])
    for wrong in (
        same("maker", "nobody"),
        same("maker", "maker"),
        same("maker", "other", table="lot"),
        called("maker", None),
        decided(Sameness.SAME, "maker"),
    ):
        with pytest.raises(BadInput):
            ledger.append([wrong.row])
    ledger.append([same("maker", "other").row])


def test_everything_tested_counts_as_the_one(ledger):
    """Maker, paint and lot of a tested row are those they count as, and a comparison has their other spellings."""
    from tests.ledger.given import graded

    ledger.append([Maker(id="a", name="quernlow"), Paint(id="b", maker="a", name="viridian")])
    ledger.append([Lot(id="c", paint="b", format=Format.HALF_PAN, code="q4471"), graded("seen")])
    (row,) = ledger.tested_rows("comparison")
    assert (row.maker, row.maker_name) == ("a", "quernlow")
    assert (row.paint, row.paint_name) == ("b", "viridian")
    assert (row.lot, row.lot_code) == ("c", "q4471")
    (piece,) = ledger.pieces()
    assert (piece.maker, piece.lot) == ("a", "c")
    with ledger.reading() as connection:
        assert united_lots(connection, who_is_who(ledger))["lot"] == ("c", "q4471")


def test_a_decision_is_undone_by_its_own_tester_alone(ledger):
    """An undone decision unites nothing, and its entries stay."""
    ledger.append([Maker(id="z", name="Quern Low")])
    decision = same("z", "maker").row
    ledger.append([decision])
    assert who_is_who(ledger).one("maker", "z") == "maker"
    from dataclasses import replace

    ledger.append([replace(decision, undone=True)], reason="two after all")
    assert who_is_who(ledger).one("maker", "z") == "z"
    assert len(ledger.history("same_as", decision.id)) == 2
    assert ledger.verify() == []
