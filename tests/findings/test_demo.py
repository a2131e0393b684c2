"""The acceptance table: what is planted in the demo is found as far as its evidence allows, and nothing more."""

import re
from functools import cache

import pytest

from qcledger.cli.findings import of_ledger
from qcledger.findings.evidence import SetAside
from qcledger.findings.model import answer, question
from qcledger.findings.pooled import FLOOR, LINE, SURE, least_fields
from qcledger.findings.scope import scope_of
from qcledger.findings.wording_of_checks import level_rows
from qcledger.findings.wording_of_labels import label_sentence
from qcledger.findings.words import banned_in
from qcledger.ledger import Ledger
from qcledger.report.kept import WorkedOut
from qcledger.report.store import Store
from qcledger.vocab import Extent, Format, Standing
from tests.findings.spoken import spoken
from tests.studio.truths import EXPECTED, EXPECTED_LABELS, Expected

ORDER = [Standing.NONE_FOUND, Standing.OPEN, Standing.TO_CONFIRM, Standing.SETTLED]
WIDEST_FIRST = list(Extent)
AGAINST = {Extent.MAKER, Extent.MAKER_FORMAT, Extent.PAINT}


@pytest.fixture(scope="module")
def found(demo_file, demo_home):
    """Return the findings of the committed demo."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("QCLEDGER_HOME", str(demo_home))
        with Ledger.open(demo_file) as ledger:
            yield of_ledger(ledger)


@pytest.mark.parametrize("seed", [1, 2])
def test_no_standing_hangs_on_the_seed(demo_file, found, seed, tmp_path):
    """Drawn anew, the accusation nearest to its line is as strong, and stands in the same checks."""
    key, store = "wrapper_adhesion", Store(tmp_path)
    with Ledger.open(demo_file) as ledger:
        reading = WorkedOut(ledger, None, store)
    asked = reading.asked[key]
    store.put(asked.key, answer(question(asked.field, asked.suspects, asked.line), seed=seed))
    reading.work_out([key])
    drawn = {(one.maker, one.format): one.standing for one in reading.found.findings if one.criterion.key == key}
    assert drawn == {(one.maker, one.format): one.standing for one in found.findings if one.criterion.key == key}


def concerned(found, wanted: Expected):
    """Return the findings that an expected line is about."""
    return [
        one
        for one in found.findings
        if one.criterion.key == wanted.criterion
        and wanted.maker in (None, one.maker_name)
        and wanted.format in (None, one.format)
    ]


def claims_on(one, wanted: Expected):
    """Return the claims of a finding that speak of the paint an expected line names, or all where it names none."""
    claims = [claim for claim in (one.claim, *one.exceptions) if claim]
    return [
        claim
        for claim in claims
        if wanted.paint is None or {lot.row.paint_name for lot in claim.lots if lot.faulty} & {wanted.paint}
    ]


FAULTS = [line for line in EXPECTED if line.extents != frozenset({Extent.SESSION})]


@cache
def name(line: Expected) -> str:
    """Return a name for a line of the table."""
    return f"{line.number} {line.criterion} {line.maker or ''}"


@pytest.mark.parametrize("wanted", FAULTS, ids=name)
def test_planted_truths(found, wanted):
    """Each planted truth reaches an extent that is right, within the standings its evidence allows."""
    cells = concerned(found, wanted)
    assert cells
    standings, extents = set(), set()
    for one in cells:
        for claim in claims_on(one, wanted):
            standings.add(claim.standing)
            extents |= {claim.extent} if claim.standing in ORDER[2:] else set()
    assert all(standing in ORDER[: ORDER.index(wanted.most) + 1] for standing in standings)
    if wanted.least in ORDER[2:]:
        assert max(map(ORDER.index, standings)) >= ORDER.index(wanted.least)
        assert extents & wanted.extents
    if wanted.maker is not None:
        assert extents <= wanted.extents


@pytest.mark.parametrize(
    "wanted", [line for line in FAULTS if line.least is Standing.SETTLED and line.maker], ids=name
)
def test_the_sentence_counts_what_was_planted(found, wanted):
    """The sentence names maker, paint, lot and the planted counts."""
    one = next(one for one in concerned(found, wanted) if claims_on(one, wanted))
    text = spoken(one)
    assert wanted.maker in text
    assert (wanted.paint or "") in text
    assert (wanted.lot or "") in text
    if wanted.n is not None:
        counts = scope_of(one).counts
        assert (counts.faulty, counts.tested) == (wanted.faulty or 0, wanted.n)


def test_no_maker_is_accused_of_anything_else(found):
    """Nothing is held against a maker, its format or a paint that was not planted, nor left to confirm."""
    planted = {(line.criterion, line.maker) for line in EXPECTED if line.extents & AGAINST}
    accused = {
        (one.criterion.key, one.maker_name)
        for one in found.findings
        for claim in (one.claim, *one.exceptions)
        if claim and claim.extent in AGAINST and claim.standing in ORDER[2:]
    }
    assert accused <= planted
    assert {
        ("wash_faintness", "Corvannet"),
        ("tinting_ratio", "Corvannet"),
        ("wrapper_adhesion", "Trellmere"),
    } <= accused


@pytest.mark.parametrize(
    ("criterion", "maker"),
    [("wash_faintness", "Corvannet"), ("tinting_ratio", "Corvannet"), ("wrapper_adhesion", "Trellmere")],
)
def test_each_accusation_carries_its_probability_and_k_of_n(found, criterion, maker):
    """The planted makers pass floor and fair-field check, say k of N publicly, and were looked at again."""
    told = [one for one in found.findings if (one.criterion.key, one.maker_name) == (criterion, maker)]
    one = next(one for one in told if one.standing is Standing.SETTLED)
    chance, stress = one.claim.chance, one.claim.stress
    assert chance.reach.above >= FLOOR
    assert chance.reach.far_above >= SURE
    assert chance.fair.p_value <= LINE / 5  # as many criteria of the demo could accuse somebody
    rounds = f"In {chance.fair.fields:,} simulated rounds of these same purchases with no maker worse, "
    assert f"{rounds}{chance.fair.as_strong or 'none'} looked this bad." in spoken(one)
    assert "is more than ten points above the other makers' (" in spoken(one)
    assert stress.bears_out
    assert stress.fields == chance.fair.fields >= least_fields(LINE / 5)
    assert stress.worst.as_strong >= chance.fair.as_strong


@pytest.mark.parametrize(
    ("criterion", "maker"), [("cracked", "Vardelune"), ("soft_face", "Drumlaw"), ("cracked", "Maslenne")]
)
def test_decoys_have_a_probability_and_no_accusation(found, criterion, maker):
    """The model pools them towards the field: the floor is not reached, whatever the raw rate."""
    told = [one for one in found.findings if (one.criterion.key, one.maker_name) == (criterion, maker)]
    assert told
    for one in told:
        assert one.reach.above < FLOOR
        assert one.reach.rate.low < one.pooled.formats[str(one.format),].rate.mean < one.reach.rate.high
        assert one.standing in ORDER[:2]


def test_pooling_shrinks(found):
    """The pooled rate lies between the counted one and the field's, nearer to the counted one with more lots."""
    one = next(
        one
        for one in found.findings
        if (one.criterion.key, one.maker_name) == ("wrapper_adhesion", "Trellmere") and one.counts.faulty
    )
    assert one.pooled.formats[str(one.format),].rate.mean < one.reach.rate.mean < one.counts.rate


def test_nothing_planted_is_called_none_found(found):
    """No cell with a planted fault at its maker comes out sound."""
    planted = [line for line in FAULTS if line.least is Standing.SETTLED and line.maker and line.format]
    assert not [one for line in planted for one in concerned(found, line) if one.standing is Standing.NONE_FOUND]


def test_the_clean_null_prints_its_ceiling(found):
    """0 of 6 sticks: not more than 39 % is said, and none found is not claimed on six."""
    (one,) = concerned(found, next(line for line in EXPECTED if line.number == 11))
    assert "Even so, up to 39 % could be faulty" in spoken(one)


def test_two_grades_of_one_index_name_are_no_mismatch(found):
    """Clear and covering PR101 differ in opacity, a trait: nothing is said against Trellmere's labels."""
    assert "opacity" in {trait.criterion.key for trait in found.traits}
    assert not {one.criterion.key for one in found.findings} & {"opacity", "granulation", "staining"}


def test_a_label_that_contradicts_itself_is_quoted_and_has_no_rate(found):
    """The planted label is told word for word with our reference and the tester's grade; it is in no count."""
    told = [fact for fact in found.label_facts if fact.against]
    assert len(told) == len(EXPECTED_LABELS)
    for fact, wanted in zip(told, EXPECTED_LABELS, strict=True):
        assert (fact.maker_name, fact.paint_name, fact.format) == (wanted.maker, wanted.paint, wanted.format)
        assert len(fact.stickers) == wanted.specimens
        assert (fact.label, fact.since) != (None, None)
        text = label_sentence(fact)
        assert f'"{wanted.chemistry}"' in text
        assert "Our reference: PG18, chemistry: hydrated chromium" in text
        assert "did not have analysed" in text
        assert banned_in(text) == ()
        assert not re.search("%|\\brate|lots", text)
    graded = {grade.criterion.key for fact in found.label_facts for grade in fact.grades}
    assert graded
    assert graded.isdisjoint(one.criterion.key for one in found.findings)


def test_gifts_and_older_notes_are_apart(found):
    """The planted faults of the gift and the older notes are seen and counted nowhere."""
    apart = {
        (one.criterion.key, left.reason): left.faulty for one in found.findings for left in one.apart if left.faulty
    }
    assert apart["parted_binder", SetAside.GIFT] == 1
    assert ("froth_amount", SetAside.OLDER_NOTES) in apart
    drumlaw = next(
        one
        for one in found.findings
        if (one.criterion.key, one.maker_name, one.format) == ("froth_amount", "Drumlaw", Format.HALF_PAN)
    )
    assert drumlaw.counts.faulty == 0


def test_every_sentence_is_fair(found):
    """Each names counts, lots, sellers, sessions or unpacking, a date and its limits, without a banned word."""
    for one in found.findings:
        text = spoken(one)
        assert banned_in(text) == ()
        counts = scope_of(one).counts
        if not counts.tested:
            continue
        assert "in what we tested" in text
        assert "lot" in text or "without a batch code" in text
        assert "Bought from" in text
        assert "session" in text or "unpacked" in text
        assert " 2026" in text
        assert "(95 %" in text


def test_every_extent_has_its_chance(found):
    """An accusation keeps what the model says of each extent: the maker's format is worse, its pigments are not."""
    told = [
        one for one in found.findings if one.criterion.key == "wrapper_adhesion" and one.maker_name == "Trellmere"
    ]
    one = next(one for one in told if one.standing is Standing.SETTLED)
    levels = {level.extent: level for level in one.levels}
    assert list(levels) == [*WIDEST_FIRST[:5], Extent.LOT]
    assert levels[Extent.MAKER_FORMAT].chance == one.reach.above >= FLOOR
    assert levels[Extent.PIGMENT].chance < FLOOR
    assert ("Trellmere, half pan", "above the other makers in this format") in {row[:2] for row in level_rows(one)}
