"""The demo reads as a tester's own ledger does: uneven times, rounded readings, missing codes, prices that move."""

from collections import defaultdict
from itertools import pairwise

import pytest

from qcledger.records import (
    Decision,
    LabelVersion,
    MakerAnswer,
    Observation,
    Question,
    ReaderNote,
    Session,
    Specimen,
    Stage,
    Trial,
)
from qcledger.records.finding_key import FindingKey
from qcledger.rubric import pigments
from qcledger.settings import shipped
from qcledger.vocab import AnswerKind, Censored, DecisionKind, Occasion, StageName
from tests.studio import onpaper, sessions, weeks
from tests.studio.diary import NAMES
from tests.studio.make import written
from tests.studio.makers import COLOURS, HALF, PIGMENTS
from tests.studio.purchases import PIECES
from tests.studio.unpacking import paint_id, specimen_id

PAGES = written()
SPECIMENS = {row.id: row for page in PAGES for row in page.records if isinstance(row, Specimen)}
PIECE_OF = {specimen_id(piece): piece for piece in PIECES}


def _rows(kind):
    return [row for page in PAGES for row in page.records if isinstance(row, kind)]


TRIALS = {row.id: row for row in _rows(Trial)}


def _saves():
    """Return the observations of each session and stage, and of each parcel, in the order of saving."""
    found = defaultdict(list)
    for row in _rows(Observation):
        trial = TRIALS[row.trial]
        if trial.occasion is not Occasion.OLDER_NOTES:
            found[trial.session or SPECIMENS[trial.specimen].parcel, row.stage].append(row)
    return [sorted(rows, key=lambda row: row.at) for rows in found.values()]


def test_turns_are_counted_in_fives_with_a_few_miscounts():
    """Strips are drawn every five turns: nearly all readings are multiples of five, and a few are not."""
    turns = [row.reading for row in _rows(Observation) if row.criterion == "rewetting_in_fives"]
    odd = sum(reading % 5 != 0 for reading in turns)
    assert len(turns) > 180
    assert 0 < odd < len(turns) / 12
    assert max(turns) == 60


def test_no_two_looks_take_the_same_time():
    """The gaps between saves differ from each other, and each save has a page of its own."""
    gaps = [(b.at - a.at).total_seconds() for rows in _saves() for a, b in pairwise(rows)]
    assert min(gaps) > 0
    assert len({round(gap, 1) for gap in gaps}) > len(gaps) / 3
    assert max(gaps.count(gap) for gap in set(gaps)) < 10
    saved = [page.at for page in PAGES for row in page.records if isinstance(row, Observation) and row.at == page.at]
    assert len(saved) > 0.99 * len(_rows(Observation))


def test_what_is_timed_is_waited_for():
    """Turns at one a second and froth that stands are saved no sooner after the save before than they took."""
    timed = {"rewetting_in_fives", "froth_time"}
    waits = [
        ((b.at - a.at).total_seconds(), b.reading)
        for rows in _saves()
        for a, b in pairwise(rows)
        if b.criterion in timed and b.reading and b.supersedes is None
    ]
    assert any(reading >= 60 for _, reading in waits)
    assert [one for one in waits if one[0] <= one[1]] == []


def test_some_grades_have_a_note():
    """A tester jots something down beside one result in twelve or so, and in many words."""
    notes = [row.note for row in _rows(Observation) if row.note]
    assert len(_rows(Observation)) / 40 < len(notes) < len(_rows(Observation)) / 8
    assert len(set(notes)) > 30


@pytest.mark.parametrize(
    ("criterion", "pigment"), [("granulation", "PR101"), ("staining", "PG50"), ("evenness", "PG18")]
)
def test_makers_differ_within_a_pigment(criterion, pigment):
    """Nine makers' paints of one pigment are not one paint: their mean grades spread over half a grade or more."""
    by_maker = defaultdict(list)
    for row in _rows(Observation):
        piece = PIECE_OF[TRIALS[row.trial].specimen]
        if row.criterion == criterion and piece.colour.pigment == pigment and row.grade is not None:
            by_maker[piece.colour.maker].append(row.grade)
    means = [sum(grades) / len(grades) for grades in by_maker.values()]
    assert len(means) >= 5
    assert max(means) - min(means) >= 0.5


def test_a_heavy_pigment_makes_a_heavy_pan():
    """Of one maker's half pans of one content, iron oxide and cobalt weigh more than quinacridone."""
    light, heavy = [], []
    for row in SPECIMENS.values():
        piece = PIECE_OF[row.id]
        if row.weight_g is None or piece.format is not HALF:
            continue
        filled = float(row.weight_g - 1) / float(row.nominal_ml)
        if piece.colour.pigment == "PV19":
            light.append(filled)
        elif PIGMENTS[piece.colour.pigment].density > 4.5:
            heavy.append(filled)
    assert max(light) < min(heavy)


def test_prices_hang_on_pigment_shop_and_day():
    """Cobalt costs more than earth at each maker; one pan costs differently by shop, and more after July."""
    prices = defaultdict(set)
    for row in SPECIMENS.values():
        piece = PIECE_OF[row.id]
        prices[piece.colour.maker, piece.format, piece.colour.pigment, piece.order.currency].add(row.price_minor)
    pairs = [
        (prices[maker, form, "PG50", coin], ochres)
        for (maker, form, pigment, coin), ochres in list(prices.items())
        if pigment == "PY42" and prices.get((maker, form, "PG50", coin))
    ]
    assert len(pairs) >= 8
    assert all(min(cobalt) > 1.2 * max(ochre) for cobalt, ochre in pairs)
    assert any(len(some) > 1 for some in prices.values())


def test_a_third_of_the_pieces_has_no_batch_code():
    """About a third were bought without one, and what was graded of the code says so."""
    without = sum(piece.lot is None for piece in PIECES) / len(PIECES)
    assert 0.25 < without < 0.4
    for row in _rows(Observation):
        if row.criterion == "batch_code":
            assert (row.grade == 5) == (PIECE_OF[TRIALS[row.trial].specimen].lot is None)


def test_hazard_words_are_graded_as_the_scale_says():
    """A label without them is graded 0 where the table expects none for the pigments it declares."""
    known = pigments.load(shipped("rubrics") / "pigments.yaml")
    labels = {row.paint: row for row in _rows(LabelVersion)}
    graded = [row for row in _rows(Observation) if row.criterion == "hazard_information"]
    assert len(graded) > 40
    for row in graded:
        label = labels[SPECIMENS[TRIALS[row.trial].specimen].paint]
        expected = any(known[name].label_expected for name in label.index_names)
        assert row.grade == (5 if expected and not label.warnings else 0)
    silent = labels[paint_id(COLOURS["Halcyre", "Ultramarine"])]
    assert silent.warnings == ""


def test_one_tester_has_one_name():
    """Daybooks, sessions, stages, grades and decisions name each tester alike."""
    said = {row.tester for kind in (Observation, Session, Stage) for row in _rows(kind)} - {None}
    assert said == set(NAMES.values())
    assert {row.by for row in _rows(Decision)} | {row.by for row in _rows(Question)} == {NAMES["OV"]}


def test_one_maker_answered_and_one_let_the_day_pass():
    """Of four makers asked two answered, one did not by its day, and one has time left; one finding is private."""
    questions = {row.id: row for row in _rows(Question)}
    kinds = {questions[row.question].maker: row.kind for row in _rows(MakerAnswer)}
    assert len(questions) == 4
    assert sorted(kinds.values()) == sorted([AnswerKind.WITHDRAWN, AnswerKind.OTHER, AnswerKind.NONE])
    for row in _rows(MakerAnswer):
        asked = questions[row.question]
        assert (row.asked_on, row.asked) == (asked.asked_on, asked.note)
        if row.kind is AnswerKind.NONE:
            assert row.answered_on is None
            assert [page.at.date() for page in PAGES if row in page.records] > [asked.answer_by]
        else:
            assert asked.asked_on < row.answered_on <= asked.answer_by
    kept = [row for row in _rows(Decision) if FindingKey.decided(row.subject_table, row.subject)]
    assert [row.kind for row in kept] == [DecisionKind.HOLD_BACK]
    assert len(_rows(ReaderNote)) == 1


def test_poured_pans_are_looked_at_after_four_weeks():
    """The pans of one day are graded 28 days later; what hangs in the window is due after three and twelve months."""
    rows = [row for row in _rows(Observation) if TRIALS[row.trial].session == sessions.session_id(weeks.CODE)]
    assert {row.criterion for row in rows} == {"poured_cracking", "poured_shrinking", "poured_stickiness"}
    assert len(rows) == 3 * len(weeks.shelf()) >= 18
    assert {(row.at.date() - weeks.BEGUN.date()).days for row in rows} == {28}
    stages = [row for row in _rows(Stage) if row.session == sessions.session_id(weeks.CODE)]
    ended = {row.name for row in stages if row.ended_at}
    assert {row.name for row in stages} - ended == {"after 3 months", "after 12 months"}


def test_a_sheet_at_work_is_graded_at_a_hand_s_pace():
    """Froth that is timed on the sheet at work is saved later than it stood, within its wet stage."""
    rows = sorted(
        (row for row in _rows(Observation) if TRIALS[row.trial].session == sessions.session_id(onpaper.CODE)),
        key=lambda row: row.at,
    )
    assert {row.stage for row in rows} == {StageName.WET}
    froth = [(a, b) for a, b in pairwise(rows) if b.criterion == "froth_time" and b.censored is Censored.EXACT]
    assert froth
    assert all((b.at - a.at).total_seconds() > b.reading for a, b in froth)
