"""Sentences: what they name, and what they never say."""

import re
from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given, settings

from qcledger.findings import read
from qcledger.findings.evidence import SetAside
from qcledger.findings.finding import Apart, Stress, Without
from qcledger.findings.repeats import TESTERS_ERROR
from qcledger.findings.said import DoubtedSession, SaidBeside
from qcledger.findings.scope import scope_of
from qcledger.findings.wording import (
    further,
    headline,
    in_counts,
    in_short,
    over_formats,
    recurring,
    sentence,
    set_apart,
    so_far,
    to_ask,
)
from qcledger.findings.wording_of_settling import would_settle
from qcledger.findings.words import BANNED, banned_in
from qcledger.vocab import Blinding, Extent, Role, Severity, Standing
from tests.findings.made import HALF, PIGMENTS, TUBE, confirming, criterion, field, only, paints, row
from tests.findings.spoken import lines_of, spoken
from tests.findings.test_extent import fields


def told(rows, one=None, form=HALF):
    """Return the finding on maker A in a format."""
    found = read(rows, only(one) if one else only()).findings
    return next(one for one in found if (one.maker, one.format) == ("A", form))


def settled(found):
    """Return a finding whose lot was confirmed meanwhile, with the same counts."""

    def confirmed(claim):
        return replace(claim, standing=Standing.SETTLED) if claim.standing is Standing.TO_CONFIRM else claim

    first = confirmed(found.claim)
    return replace(found, claim=first, standing=first.standing, exceptions=tuple(map(confirmed, found.exceptions)))


LOT = [
    row(paint="Kiln Red", lot=lot, grade=5 * (lot == "Q2"), parcel=f"P{n}", session=f"S{n}")
    for lot in ("Q1", "Q2", "Q3")
    for n in (1, 2, 3)
]
CASES = {
    "holds, format of maker": told(paints("A", bad=4) + confirming("A") + field()),
    "to confirm": told(paints("A", bad=4) + field()),
    "maker": told(paints("A", bad=4, formats=(HALF, TUBE)) + confirming("A") + field(formats=(HALF, TUBE))),
    "pigment": told(field("ABCDE", bad=4, pigments=("PR101",)) + field("ABCDE", pigments=("PY42", "PB29"))),
    "format": told(field("ABCDE", bad=4) + field("ABCDE", formats=(TUBE,))),
    "lot": settled(told(LOT + field())),
    "specimen": told([row(grade=grade) for grade in (5, 0, 0, 0)] + field()),
    "one of one": told([row(grade=5)]),
    "no code": told([row(lot=None, grade=grade) for grade in (5, 0, 3)]),
    "none of six": told([row(session=None) for _ in range(6)]),
    "none found": told(paints("A", each=2, lots=("L1", "L2", "L3", "L4")) + field()),
    "not tested": told([row(grade=None, not_testable=True)]),
    "critical": told([row(grade=5), row()], criterion(severity=Severity.CRITICAL)),
}  # fmt: skip


@pytest.mark.parametrize("found", CASES.values(), ids=CASES)
def test_sentences_name_what_they_rest_on(found):
    """Maker or what is shared, fault, counts, lots, sellers, sessions or unpacking, dates and limits are told."""
    first = {Extent.PIGMENT: "PR101, at 5 of 5 makers", Extent.FORMAT: "Half pans, at 5 of 5 makers"}
    assert sentence(found).startswith(first.get(found.extent, "Maker A"))
    text = spoken(found)
    assert "froth" in sentence(found)
    assert "in what we tested" in sentence(found)
    if not found.counts.tested:
        assert "no specimen could be judged" in sentence(found)
        return
    scope = scope_of(found)
    if found.extent not in (Extent.LOT, Extent.MAKER, Extent.MAKER_FORMAT):
        assert re.search(rf"\b({scope.counts.faulty or 'none'} of {scope.counts.tested}) specimens?", text)
    assert re.search(r"\blots?\b|without a batch code", text)
    assert re.search(r"Bought from \w+ sellers? in \w+ parcels? on 1 February 2026", text)
    assert re.search(r"Tested in \w+ sessions? \(S|Looked at when unpacked, the maker's name in view", text)
    assert re.search(r"March 2026", text)
    assert re.search(r"\(95 %", text)
    assert found.standing is Standing.NONE_FOUND or "We have not tested later lots." in text


@pytest.mark.parametrize("found", CASES.values(), ids=CASES)
def test_no_banned_word(found):
    """Neither sentence, headline, counts nor advice uses a banned word."""
    claims = [claim for claim in (found.claim, *found.exceptions) if claim]
    texts = [*lines_of(found), in_short(found), would_settle(found)]
    texts += [text for claim in claims for text in (headline(found, claim), in_counts(found, claim))]
    assert [word for text in texts for word in banned_in(text)] == []


@settings(max_examples=25, deadline=None)
@given(fields())
def test_no_banned_word_in_any_field(rows):
    """Whatever the field, its sentences use no banned word and fill every gap."""
    for one in read(rows, only()).findings:
        text = f"{spoken(one)} {would_settle(one)}"
        assert banned_in(text) == ()
        assert "None" not in text
        assert "  " not in text
        assert "{" not in text


def test_the_words_the_owner_banned_are_banned():
    """All, always, fraud, cheap and defective are among them, as is defect."""
    assert {"all", "always", "fraud", "cheap", "defective", "defect"} <= set(BANNED)


def test_faulty_paints_are_counted_where_there_are_several():
    """How many of its paints are faulty is said beside the lots: two bad paints of many are not many bad paints."""
    rows = paints("A", bad=4, pigments=PIGMENTS[:2]) + paints("A", pigments=PIGMENTS[2:]) + field()
    (one,) = read(rows, only()).only(maker="A").findings
    assert "4 of 8 specimens faulty, in 4 of 8 lots, over 2 of 4 paints, in what we tested." in so_far(one)[0]


def test_a_bad_lot_is_told_as_a_lot():
    """The demo's kind of sentence: the lot's counts, the others', and that it is not the maker."""
    text = sentence(CASES["lot"])
    assert text == (
        "Maker A Kiln Red, half pan, froth: 3 of 3 specimens of lot Q2 faulty, none of 6 from two other lots, "
        'in what we tested. Seen: "anchor 5". This points to the lot, not to the maker.'
    )
    limit = "In other lots, by these 6, up to 39 % could be faulty, or 78 % where faults come by the lot (95 %)."
    assert limit in further(CASES["lot"])


def test_peers_are_of_the_paints_that_the_sentence_counts():
    """Other makers' paints of other pigments are no peers of the one paint that a lot belongs to."""
    reds = [row(maker=maker, paint="Rust", grade=5 * (maker == "B")) for maker in "BCD"]
    blues = [row(maker=maker, paint="Sea", pigments=("PB29",)) for maker in "ABCD"]
    text = spoken(told([*LOT, *reds, *blues]))
    assert "With the same pigments in the same format, from three other makers: 1 of 3 specimens faulty." in text
    over_formats = spoken(CASES["maker"])
    assert "in the same formats, from five other makers: none of 80 specimens faulty." in over_formats
    pans_only = paints("A", bad=4, formats=(HALF, TUBE)) + field()
    (one, _) = read(pans_only, only()).only(maker="A").findings
    assert "With the same pigments as half pans, from five other makers: none of 40 specimens faulty." in spoken(
        replace(one, claim=replace(CASES["maker"].claim, lots=one.field.lots[:16]))
    )


def test_a_single_specimen_is_told_with_its_lot():
    """Beside how many sound ones of its lot, or that it is the only one."""
    assert "beside three sound ones of its lot L1, in what we tested." in sentence(CASES["specimen"])
    alone = told([row(grade=5)], criterion(severity=Severity.CRITICAL))
    assert "the only one of its lot L1 that was looked at for this, in what we tested." in sentence(alone)


def graded_again(first, **more):
    """Return a further trial of a specimen."""
    number = more.pop("number", 1)
    name = f"{first.trial}-{number}"
    return replace(first, trial=name, observation=name, trial_at=first.trial_at + timedelta(hours=number), **more)


def test_further_grades_of_the_one_specimen_are_told():
    """A hidden repeat, or a retest, that came out sound stands in the sentence in counts, and a faulty one too."""
    bad, *rest = [row(grade=grade) for grade in (5, 0, 0, 0)]
    repeats = [graded_again(bad, role=Role.REPEAT, grade=grade, number=n) for n, grade in enumerate((0, 4), 1)]
    text = spoken(told([bad, *rest, repeats[0], *field()]))
    assert f"Graded again, as a hidden repeat, {bad.sticker} was sound in 1 of 1." in text
    both = [*repeats, graded_again(bad, grade=0, session="S2", session_code="S2", number=3)]
    text = spoken(told([bad, *rest, *both, *field()]))
    assert f"Graded again, as a hidden repeat or in a later trial, {bad.sticker} was sound in 2 of 3." in text


def test_grades_that_tell_nothing_of_it_are_not_told_as_further_ones():
    """A repeat in a void session, one that could not be judged, and a repeat of a sound neighbour are left out."""
    bad, sound, *rest = [row(grade=grade) for grade in (5, 0, 0, 0)]
    others = [
        graded_again(bad, role=Role.REPEAT, grade=0, void=True, number=1),
        graded_again(bad, role=Role.REPEAT, grade=None, not_testable=True, number=2),
        graded_again(sound, role=Role.REPEAT, grade=0, number=3),
    ]
    assert "Graded again" not in spoken(told([bad, sound, *rest, *others, *field()]))


def holding(*checks):
    """Return the finding on a bad lot that was put to these stress checks."""
    found = CASES["lot"]
    return replace(found, claim=replace(found.claim, stress=Stress(checks)))


def test_a_sentence_names_without_what_it_does_not_stand():
    """A seller, and of the fault line the nearest shift; what leaves too little to tell is no weakness."""
    weak = holding(
        Without("seller", "the corner shop", False),
        Without("session", "S1", True),
        Without("lot", "Q1 of Kiln Red", False, True),
        Without("fault line", "half a grade milder", False),
        Without("fault line", "a grade milder", False),
    )
    assert "We could not say this without seller the corner shop." in further(weak)
    assert "If only grade 3.5 and worse counted, we could not say this." in further(weak)
    assert "grade 4" not in spoken(weak)
    assert "could not say" not in spoken(holding(Without("session", "S1", True)))
    assert "could not say" not in spoken(CASES["lot"])
    assert banned_in(spoken(weak)) == ()


def test_many_weaknesses_are_counted():
    """Three are named, the others counted; draws of the tester's own error are told together."""
    sellers = [Without("seller", f"s{n}", False) for n in range(5)]
    draws = [Without(TESTERS_ERROR, f"draw {n}", n > 0) for n in range(4)]
    lines = further(holding(*sellers, *draws))
    named = "without seller s0, without seller s1, without seller s2 or without two more"
    assert f"We could not say this {named}." in lines
    assert "In 1 of 4 draws of our own grading error we could not say this." in lines


def test_what_was_bought_to_confirm_is_told_as_bought():
    """Planned and later purchases are never one count: what was bought to confirm stands by itself."""
    assert "parcels on 1 February 2026, two specimens bought to confirm. " in spoken(CASES["holds, format of maker"])


def test_what_a_sentence_counts_is_told_beside_what_counts_otherwise():
    """Where the sentence counts half pans and tubes, or one paint of several, the page says so; else nothing."""
    assert over_formats(CASES["maker"]) == (
        "The sentence counts tubes and half pans; what follows is of the half pans."
    )
    assert over_formats(CASES["lot"]) == ""


def test_what_is_to_confirm_is_not_public():
    """Of an unconfirmed accusation the public learns how much was looked at, no count of faults, and of nobody."""
    found = CASES["to confirm"]
    assert found.standing is Standing.TO_CONFIRM
    text = " ".join((sentence(found), *further(found)))
    assert "eight specimens from eight lots of four paints" in text
    assert "No judgement is published: this is open." in text
    assert "points to" not in text
    assert "faulty" not in text
    assert "8 of 8 specimens faulty, in what we tested." in so_far(found)[0]


def test_what_is_open_and_what_is_to_confirm_read_alike():
    """Whoever reads the public words of either cannot tell them apart."""
    found = CASES["to confirm"]
    open_ = replace(found, standing=Standing.OPEN)
    assert (sentence(open_), further(open_)) == (sentence(found), further(found))


def test_none_of_six_prints_its_ceiling():
    """A clean null says what is still possible: 39 % for 0 of 6."""
    assert "Even so, up to 39 % could be faulty" in spoken(CASES["none of six"])


def test_no_batch_code_speaks_of_these_units():
    """Two of three without a code: these units only."""
    text = spoken(CASES["no code"])
    assert "2 of 3 specimens faulty, in one parcel without a batch code" in text
    assert "No batch code was found, so this speaks of these specimens only." in text


def test_a_lot_from_one_parcel_is_told_so():
    """Where the bad lot came in one parcel, the way there is not ruled out, and the sentence says so."""
    rows = [replace(one, parcel="A/P1") if one.lot_code == "Q2" else one for one in LOT]
    assert "The faulty ones came in one parcel, so the way there is not ruled out." in spoken(
        settled(told(rows + field()))
    )
    assert "one parcel" not in spoken(CASES["lot"])


def test_blinding_is_told():
    """A test that was not blind says so."""
    assert "not blind" in spoken(told([row(blinding=Blinding.OPEN)]))
    assert "under codes we shuffled ourselves" in spoken(told([row()]))


def test_work_on_the_piece_itself_is_said_not_to_be_blind():
    """Codes do not hide a pan under the brush; where nothing was blind anyway it is not said twice."""
    on_the_pan = replace(criterion(), how="Wet the pan.")
    said = "This was not blind: the tester sees the specimen itself."
    assert said in spoken(told([row()], on_the_pan))
    assert said not in spoken(told([row(blinding=Blinding.OPEN)], on_the_pan))
    assert said not in spoken(told([row()]))


def test_wide_extents_tell_of_everybody():
    """A pigment's sentence begins with it and counts everybody's; the maker's own stand beneath, nobody is blamed."""
    found = CASES["pigment"]
    assert sentence(found) == (
        "PR101, at 5 of 5 makers in what we tested, froth: 10 of 10 specimens faulty. "
        'Seen: "anchor 4". Common to several makers; none is blamed.'
    )
    assert "Maker A, half pan: 2 of 6 specimens faulty, 2 of 2 with PR101, in what we tested." in further(found)
    assert "Maker" not in sentence(found)


def test_what_is_left_over_is_told_by_count():
    """A bad specimen that the claim does not explain is said beside it, without laying it to anybody."""
    found = told([*LOT, row(paint="Blue", grade=5), *field()])
    assert {claim.standing for claim in found.exceptions} == {Standing.OPEN}
    text = spoken(found)
    assert "Also seen, and open: one more faulty specimen, of Blue." in text
    assert "maker's half pans" not in text


def test_exceptions_that_hold_are_named():
    """A bad lot beside a pigment's nature: whichever explains more faults leads, and the other is named."""
    hard = field("ABCDE", bad=4, pigments=("PY42",)) + field("ABCDE", pigments=("PB29",))
    lot = [replace(one, pigments=("PB29",)) for one in LOT]
    text = spoken(settled(told([*hard, *lot])))
    assert "This points to the lot, not to the maker. It explains 3 of 5 faulty ones." in text.replace(
        text[text.index(" The middle") : text.index(" It explains")], ""
    )
    assert "Common to several makers: pigment PY42, 10 of 10 specimens faulty, at 5 of 5 makers." in text
    more = [row(paint="Paint PY42", pigments=("PY42",), lot=f"M{n}", parcel=f"P{n}", grade=4) for n in range(3)]
    text = spoken(settled(told([*hard, *more, *lot])))
    assert text.startswith("PY42, at 5 of 5 makers")
    assert "5 of 5 with PY42, in what we tested; that explains 5 of its 8 faulty ones." in text
    assert "Beyond that: lot Q2 of Kiln Red, 3 of 3 specimens faulty." in text


def test_critical_is_said_of_the_specimen():
    """A fault that may concern health is said of the one specimen, and not laid to the maker."""
    assert "may concern health" in spoken(CASES["critical"])
    mould = criterion(severity=Severity.CRITICAL)
    (one,) = read([row(grade=5), *(row() for _ in "1234")], only(mould)).findings
    assert "OV" in spoken(one)
    assert spoken(one).count("health") == 1
    assert "by itself" not in spoken(one)


def test_a_mixture_is_not_called_a_pigment():
    """What only a mixture shows is laid to the pigments together, for each of them is sound alone."""
    mixed = [
        row(maker=maker, paint="Mix", pigments=("PY42", "PR101"), lot=lot, parcel=lot, grade=4)
        for maker in "ABCDE"
        for lot in ("L1", "L2")
    ]
    found = told(mixed + field("ABCDE"))
    assert (found.standing, found.extent) == (Standing.SETTLED, Extent.PIGMENT)
    assert "Common to several makers in these pigments together; none is blamed." in spoken(found)


def test_a_few_more_than_elsewhere_is_not_called_no_more():
    """Of none found the sentence says so; a few faults where others have none are not "no more"."""
    ours = [row(paint=f"Paint {n % 6}", lot=f"L{n // 6}", parcel=f"P{n // 6}", grade=0) for n in range(72)]
    some = [replace(one, grade=4) if n in (0, 7, 14) else one for n, one in enumerate(ours)]
    others = field(each=2)
    for rows, text in (
        (ours + others, "none of 72 specimens faulty"),
        (some + others, "It was not found far more often than at other makers."),
        (some + field(bad=4), "No more of it than at other makers was found."),
        (some, "Little of it was found."),
    ):
        found = read(rows, only()).findings[0]
        assert (found.maker, found.standing) == ("A", Standing.NONE_FOUND)
        assert text in sentence(found)


def test_in_short():
    """Mark, standing and extent beside each other; what is only pointed to says so."""
    assert in_short(CASES["lot"]) == "/// settled: lot Q2 of Kiln Red"
    assert in_short(CASES["none found"]) == "--- none found"
    shared = ", common to several makers; none is blamed"
    assert in_short(CASES["pigment"]) == f"/// settled: pigment PR101{shared}"
    assert in_short(CASES["format"]) == f"/// settled: format, half pan{shared}"
    assert in_short(CASES["one of one"]).startswith("-?- open, points to specimen OV")


def test_recurrence_and_what_is_set_apart():
    """Seen in so many comparisons; gifts, missing ones and readers' notes are counted in words."""
    found = CASES["lot"]
    assert recurring(found.recurrence).startswith("seen in 1 of 1 comparison since ")
    gifts = Apart(SetAside.GIFT, 2, 1)
    assert set_apart([gifts], 1, 2) == "Not counted: 2 as a gift, 1 faulty; 1 not testable; 2 readers' notes."
    assert set_apart([]) == ""


def test_each_extent_has_its_words():
    """The cases above reach every extent that the rules can hold, but one parcel and one paint."""
    held = {found.extent for found in CASES.values() if found.extent}
    assert held == set(Extent) - {Extent.PAINT, Extent.PARCEL, Extent.SESSION}


def test_tubes_that_met_pans_undried_are_told():
    """How many of its tubes were tested without drying first; not of a test that pans do not have."""
    rows = paints("A", bad=4, formats=(TUBE,), undried=True) + confirming("A") + field(formats=(TUBE,))
    words = "By our record eight specimens were tested beside dry ones without drying first."
    assert words in spoken(told(rows, form=TUBE))
    of_tubes = replace(criterion(), formats=(TUBE,))
    assert "without drying first" not in spoken(told(rows, of_tubes, form=TUBE))
    assert "without drying first" not in spoken(told(paints("A", bad=4) + field()))


def doubted(found, check, *moved):
    """Return a finding with session S1 under question and what a stress check showed without it."""
    stress = Stress((check,)) if check else None
    said = SaidBeside(doubted=(DoubtedSession("S1", moved), DoubtedSession("S77")))
    return replace(found, said=said, claim=replace(found.claim, stress=stress))


def test_a_session_under_question_is_told_with_what_stands_without_it():
    """Why it is under question, and whether the finding stands; sessions it does not rest on are not told."""
    lot = CASES["lot"]
    for check, without in (
        (Without("session", "S1", True), "without it this still stands"),
        (Without("session", "S1", False), "without it we could not say this"),
        (Without("session", "S1", False, True), "it is counted here"),
        (None, "it is counted here"),
    ):
        lines = further(doubted(lot, check, "granulation", "staining"))
        assert f"S1 is under question (control moved on granulation and staining); {without}." in lines
        assert "S77" not in " ".join(lines)
    assert "S1 is under question (control and repeats moved)" in " ".join(further(doubted(lot, None)))
    assert "under question" not in spoken(lot)


def test_planned_and_confirming_purchases_are_told_apart():
    """A maker's sentence counts what was planned and what was bought to confirm each by itself."""
    text = sentence(CASES["holds, format of maker"])
    assert "8 of 8 planned specimens faulty, 2 of 2 bought to confirm, in what we tested." in text
    assert text.endswith("This points to this maker's half pans; why, we do not know.")


def test_what_a_maker_is_asked_is_kept_in_whole_lines():
    """Of what is to confirm a maker is asked in the counts; a limit cuts between lines, never within."""
    found = CASES["to confirm"]
    whole = to_ask(found, 10_000)
    assert whole == " ".join(so_far(found))
    short = to_ask(found, len(so_far(found)[0]) + 5)
    assert short == so_far(found)[0]
    assert to_ask(CASES["lot"], 10_000) == " ".join((sentence(CASES["lot"]), *further(CASES["lot"])))


def test_the_anchor_of_a_fault_is_told_with_how_large_it_is():
    """What the mildest faulty one showed; the middle of these beside that of the others; the number last."""
    rows = paints("A", bad=4) + confirming("A", bad=5) + field()
    (one,) = read(rows, only()).only(maker="A").findings
    assert 'Seen: "anchor 4" or worse.' in sentence(one)
    assert (
        'The middle of these: "anchor 4"; at other makers with the same pigments: "anchor 0". '
        "Fault grades 4 and 0 (0 none, 5 worst), on a scale of our own."
    ) in further(one)
    unfair = replace(criterion(), anchors=dict.fromkeys(range(6), "All is defective"))
    assert "Seen" not in sentence(told(rows, unfair))
