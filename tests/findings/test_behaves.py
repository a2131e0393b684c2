"""Paints beside other makers' paints of the same pigments: what is counted, what is left out, and what is said."""

from pathlib import Path

import pytest

from qcledger.findings.behaves import BehaviourVerdict, TraitLook, beside_peers, counts, declared
from qcledger.findings.wording_of_behaviour import bits_words, is_told, near_words, pair_words, verdict_words
from qcledger.findings.words import banned_in
from qcledger.rubric import load
from qcledger.rubric.pigments import load as load_pigments

ROOT = Path(__file__).parents[2]
CRITERIA = load(ROOT / "rubrics" / "watercolour.yaml").criteria
PIGMENTS = load_pigments(ROOT / "rubrics" / "pigments.yaml")
KINDS = {
    "PG18": {"granulation": 3.0, "staining": 0.5, "opacity": 1.0, "rewetting_in_fives": 4.0},
    "PG7": {"granulation": 0.0, "staining": 4.5, "opacity": 1.0, "rewetting_in_fives": 0.5},
    "PY42": {"granulation": 1.5, "staining": 1.5, "opacity": 2.5, "rewetting_in_fives": 0.5},
    "PR108": {"granulation": 0.0, "staining": 1.5, "opacity": 4.5, "rewetting_in_fives": 0.5},
}


def paint(name, maker, label, inside=None, **more):
    """Return the looks of one paint, three lots, as the pigment inside is graded."""
    facts = {"format": "tube", "sitting": f"sitting of {maker}", "lots": 3, **more}
    return [
        TraitLook(key, name, maker, tuple(sorted(label.split())), facts["format"], lot, facts["sitting"], grade)
        for lot in range(facts["lots"])
        for key, grade in KINDS[inside or label].items()
    ]


def shelf(makers=6):
    """Return one paint of each kind at so many makers."""
    return [look for n in range(makers) for kind in KINDS for look in paint(f"{kind} {n}", f"maker {n}", kind)]


def found(seen):
    """Return what is found, by paint."""
    return {one.paint: one for one in beside_peers(seen, CRITERIA)}


ODD = paint("odd", "maker 9", "PG18", inside="PG7")


def test_a_paint_with_another_pigment_inside_is_told():
    """It behaves unlike its peers, its traits say how, what is inside is the nearest, and nobody else is named."""
    told = found(shelf() + ODD)
    assert {name for name, one in told.items() if one.verdict is BehaviourVerdict.UNLIKE} == {"odd"}
    words = verdict_words(told["odd"], CRITERIA)
    assert words.startswith("behaves unlike PG18 at six other makers: ")
    assert all(word in words for word in ("more staining", "less granulation", "less rewetting difficulty"))
    assert "opacity" not in words
    assert told["odd"].near[0][0] == ("PG7",)
    assert "Nearest among the other pigments on file: PG7." in near_words(told["odd"])


def test_words_accuse_nobody():
    """No word says what is in a paint, and none is banned."""
    told = found(shelf() + ODD)
    for one in told.values():
        words = f"{verdict_words(one, CRITERIA)} {bits_words(one)}"
        assert banned_in(words) == ()
        assert "is not" not in words


@pytest.mark.parametrize(("makers", "verdict"), [(3, BehaviourVerdict.NO_BASELINE), (4, BehaviourVerdict.UNLIKE)])
def test_four_makers_are_a_baseline(makers, verdict):
    """Three other makers are none, however far the paint lies from them."""
    one = found(shelf(makers) + ODD)["odd"]
    assert one.verdict is verdict
    if verdict is BehaviourVerdict.NO_BASELINE:
        assert verdict_words(one, CRITERIA) == "no peer baseline for PG18: three other makers, it takes 4"


def test_makers_count_and_not_their_paints():
    """Many paints of three makers are still three makers; the paint's own maker is none of its peers."""
    more = [look for n in range(3) for m in range(5) for look in paint(f"again {n} {m}", f"maker {n}", "PG18")]
    own = [look for m in range(5) for look in paint(f"own {m}", "maker 9", "PG18")]
    assert found(shelf(3) + more + own + ODD)["odd"].verdict is BehaviourVerdict.NO_BASELINE


def test_more_lots_make_no_more_of_it():
    """Thirty lots of a paint say as much as three of the same grades."""
    many = paint("odd", "maker 9", "PG18", inside="PG7", lots=30)
    assert found(shelf() + many)["odd"].bits == pytest.approx(found(shelf() + ODD)["odd"].bits)


def test_more_specimens_of_a_lot_make_no_more_of_it():
    """A lot counts once, by the middle of its specimens."""
    assert found(shelf() + ODD * 5)["odd"] == found(shelf() + ODD)["odd"]


def test_grades_that_differ_within_a_pigment_are_left_out():
    """Where one maker sells a clear and a covering paint of one name, opacity says nothing of that name."""
    clear, covering = (
        [look._replace(grade=grade) if look.criterion == "opacity" else look for look in some]
        for some, grade in ((paint("clear", "maker 0", "PG18"), 0.5), (paint("covering", "maker 0", "PG18"), 4.5))
    )
    told = found(shelf() + clear + covering)
    for name in ("clear", "covering"):
        assert told[name].verdict is BehaviourVerdict.NO_SIGN
        assert told[name].differs_within == ("opacity",)
        assert "opacity" not in {trait.criterion for trait in told[name].traits}


def test_a_sitting_that_grades_otherwise_makes_nobody_unlike():
    """What one sitting, or a second tester, grades higher in most of its paints is taken off before."""
    strict = [
        look
        for kind in KINDS
        for n in (7, 8)
        for look in paint(f"{kind} late {n}", f"maker {n}", kind, sitting="late")
    ]
    drifted = [
        look._replace(grade=min(look.grade + 2, 5.0)) if look.criterion in ("granulation", "staining") else look
        for look in strict
    ]
    told = found(shelf() + drifted)
    assert all(one.verdict is BehaviourVerdict.NO_SIGN for one in told.values())
    calm = found(shelf() + strict)
    assert told["PG18 late 7"].bits == pytest.approx(calm["PG18 late 7"].bits, abs=2)


def test_a_makers_habit_makes_none_of_its_paints_unlike():
    """A medium that lets all of a maker's paints rewet easily says nothing of their pigments."""
    habit = [
        look._replace(grade=max(look.grade - 3, 0.0)) if look.criterion == "rewetting_in_fives" else look
        for n, kind in enumerate(("PG18",) * 6 + ("PY42",))
        for look in paint(f"soft {n}", "maker 9", kind)
    ]
    told = found(shelf() + habit)
    soft = next(trait for trait in told["soft 0"].traits if trait.criterion == "rewetting_in_fives")
    assert soft.counted < 1


def test_what_rests_on_other_makers_or_is_a_fault_is_not_asked():
    """Faults have findings of their own, and strength and faintness are judged beside the very peers."""
    asked = {key for key, one in CRITERIA.items() if counts(one)}
    assert asked >= {"granulation", "staining", "opacity", "rewetting_in_fives", "drying_shift"}
    assert not asked & {
        "wash_faintness",
        "tinting_ratio",
        "evenness",
        "grit_specks",
        "dry_finish",
        "hue_beside_peers",
    }


def test_kinds_are_told_without_suffix_and_order():
    """PB15:3 counts as PB15, and a mixture is the same in any order."""
    assert declared(("PW6", "PB15:3")) == declared(("PB15", "PW6")) == ("PB15", "PW6")


def test_nothing_graded_is_nothing_found():
    """An empty ledger, and paints that declare nothing, give nothing."""
    assert beside_peers([], CRITERIA) == ()
    assert beside_peers([look._replace(declared=()) for look in ODD], CRITERIA) == ()


def test_alone_in_a_ledger_of_one_pigment():
    """Without other pigments on file there is nothing to hold a paint against, and that is said."""
    seen = [look for n in range(6) for look in paint(f"PG18 {n}", f"maker {n}", "PG18")]
    one = found(seen)["PG18 0"]
    assert one.verdict is BehaviourVerdict.NO_BASELINE
    assert verdict_words(one, CRITERIA).endswith("too few other pigments on file")


@pytest.mark.parametrize(
    ("first", "told"),
    [
        ("PG18", True),
        ("PV16", True),
        ("PV14", True),
        ("PB33", True),
        ("PR83", False),
        ("PB28", False),
        ("PG23", False),
    ],
)
def test_pairs_that_cannot_be_told_are_named_as_such(first, told):
    """By the reference's own words: two traits of the sheet must lie two words apart."""
    (pair,) = (pair for pair in PIGMENTS.pairs if pair.pigments[0] == first)
    assert is_told(pair, PIGMENTS) is told
    words = " ".join(pair_words((first,), PIGMENTS))
    assert ("can hardly tell them apart" in words) is not told
    assert "[from memory]" in words
