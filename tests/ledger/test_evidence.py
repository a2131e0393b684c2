"""What cannot have been so: refused of new rows, let be in what stands already, and never counted."""

import re
from dataclasses import replace
from datetime import date, timedelta

import pytest

from qcledger import rubric
from qcledger.errors import BadInput
from qcledger.ledger import Ledger
from qcledger.ledger.doubts import in_words
from qcledger.records import (
    LabelVersion,
    Lot,
    MakerAnswer,
    Observation,
    Paint,
    Parcel,
    Preparation,
    Session,
    Specimen,
    Stage,
    Trial,
)
from qcledger.vocab import TAKEN_BACK, Doubt, Format, Occasion, PreparationKind, SpecimenState, StageName
from tests.ledger.given import KEPT, NOON, PACKED, basics, everything, graded, steady, tried, unpacked

DAY = timedelta(days=1)
PIECE = {"paint": "paint", "format": Format.HALF_PAN, "parcel": "parcel"}
AT_UNPACKING = Trial(id="unpacked", specimen="specimen", occasion=Occasion.UNPACKING, at=NOON)
OLDER_NOTES = Trial(id="older", specimen="specimen", occasion=Occasion.OLDER_NOTES, at=NOON)
LATE_PARCEL = Parcel(id="late", bought_on=date(2026, 3, 1), received_on=date(2026, 3, 9), seller="s", currency="EUR")


def again(**fields):
    """Return one more trial of the specimen at the bench."""
    return Trial(**{"id": "more", "specimen": "specimen", "occasion": Occasion.BENCH, "at": NOON} | fields)


IMPOSSIBLE = {
    "tested before it was bought": (
        [again(at=NOON.replace(month=1, day=31, hour=9))],
        "trial of OV 0001 (bench) at: found '2026-01-31T09:00Z'; allowed: 2026-02-01, when OV 0001 came, or later",
    ),
    "tested before it arrived": (
        [LATE_PARCEL, Specimen(id="s2", sticker="OV 0002", **PIECE | {"parcel": "late"}),
         replace(again(at=NOON - 2 * DAY), specimen="s2")],
        "allowed: 2026-03-09, when OV 0002 came, or later",
    ),
    "the other of a mix not there yet": (
        [LATE_PARCEL, Specimen(id="s2", sticker="OV 0002", **PIECE | {"parcel": "late"}),
         again(at=NOON - 2 * DAY, mixed_with="s2")],
        "allowed: 2026-03-09, when OV 0002 came, or later",
    ),
    "seen before it was bought": (
        [graded("o", at=NOON.replace(month=1))],
        "observation evenness at: found '2026-01-09T12:00Z'; allowed: 2026-02-01, when OV 0001 came, or later",
    ),
    "arrived before it was bought": (
        [replace(LATE_PARCEL, received_on=date(2026, 2, 28))],
        "parcel late received_on: found '2026-02-28'; allowed: 2026-03-01, the day it was bought, or later",
    ),
    "bought in a year that cannot be meant": (
        [replace(LATE_PARCEL, bought_on=date(1, 1, 1))],
        "parcel late bought_on: found '0001-01-01'; allowed: a day from 1900-01-01 on",
    ),
    "unpacking criterion at the bench": (
        [PACKED, unpacked("o", trial="trial")],
        "observation cracked criterion: found 'cracked'; allowed: criteria judged at bench",
    ),
    "bench criterion at unpacking": (
        [AT_UNPACKING, graded("o", trial="unpacked")],
        "observation evenness criterion: found 'evenness'; allowed: criteria judged at unpacking",
    ),
    "second result of a trial": (
        [graded("o"), graded("p", 2.0)],
        "observation evenness criterion: found 'evenness'; allowed: one result in a trial",
    ),
    "supersedes one of another trial": (
        [graded("o"), again(), graded("p", 2.0, trial="more", supersedes="o", reason="slip")],
        "; allowed: an observation of the same trial and criterion",
    ),
    "supersedes one of another criterion": (
        [graded("o"), graded("p", 2.0, criterion="opacity", supersedes="o", reason="slip")],
        "; allowed: an observation of the same trial and criterion",
    ),
    "lot of another paint": (
        [Paint(id="other", maker="maker", name="Ochre"),
         Specimen(id="s2", sticker="OV 0002", lot="lot", **PIECE | {"paint": "other"})],
        "specimen OV 0002 lot: found 'Q4471'; allowed: a lot of the same paint and format",
    ),
    "lot of another format": (
        [Specimen(id="s2", sticker="OV 0002", lot="lot", **PIECE | {"format": Format.TUBE})],
        "specimen OV 0002 lot: found 'Q4471'; allowed: a lot of the same paint and format",
    ),
    "label of another paint": (
        [Paint(id="other", maker="maker", name="Ochre"),
         Specimen(id="s2", sticker="OV 0002", label_version="label", **PIECE | {"paint": "other"})],
        "specimen OV 0002 label_version: found 'a label seen on 2026-01-05'; allowed: a label of the same paint",
    ),
    "sticker taken": (
        [Specimen(id="s2", sticker="ov 1", **PIECE)],
        "specimen ov 1 sticker: found 'ov 1'; allowed: one that no other specimen has; ov 0002 is free",
    ),
}  # fmt: skip


@pytest.mark.parametrize(
    ("closed_at", "named"),
    [(NOON, "trial of OV 0001 (session 4) at: "), (None, "trial (session 4) at: ")],
    ids=["closed", "blind"],
)
def test_a_trial_is_named_by_specimen_and_session(ledger, closed_at, named):
    """Never by its id; and in a blind session not by its sticker, for the line would stand beside its code."""
    ledger.append([replace(ledger.get(Session, "session"), closed_at=closed_at)], reason="as it was")
    early = again(session="session", at=NOON.replace(month=1, day=31, hour=9))
    with pytest.raises(BadInput) as refused:
        ledger.append([early])
    assert refused.value.line().startswith(named)
    assert ("OV 0001" in refused.value.line()) is (closed_at is not None)


@pytest.mark.parametrize("what", IMPOSSIBLE)
def test_what_cannot_have_been_so_is_refused_whole(ledger, what):
    """Named in one line with the row, what was found and what is allowed; nothing of the append is stored."""
    records, message = IMPOSSIBLE[what]
    before = everything(ledger), ledger.closing_hashes()
    with pytest.raises(BadInput) as error:
        ledger.append(records)
    assert message in str(error.value)
    assert (everything(ledger), ledger.closing_hashes()) == before


@pytest.mark.parametrize("sticker", ["A-17", "OV", "OV0001", "OV 1.5", "17", "ABCDE 1", "O1 2", "OV \u0661", "OV -1"])
def test_a_sticker_is_letters_and_a_count(ledger, sticker):
    """Whatever else a text may be, it is no sticker."""
    with pytest.raises(BadInput, match="one to four letters, a blank and a count, as in OV 0147"):
        ledger.append([Specimen(id="s2", sticker=sticker, **PIECE)])


@pytest.mark.parametrize("sticker", ["ÖV 0002", "B 7", "ovap 123456789"])
def test_stickers_of_other_letters_are_stickers(ledger, sticker):
    """Letters of any alphabet, one to four, and any count."""
    ledger.append([Specimen(id="s2", sticker=sticker, **PIECE)])
    assert ledger.get(Specimen, "s2").sticker == sticker


AHEAD = {
    "parcel": Parcel(id="x", bought_on=date(2026, 3, 11), seller="s", currency="EUR"),
    "label_version": LabelVersion(id="x", paint="paint", seen_on=date(2026, 3, 11)),
    "preparation": Preparation(id="x", specimen="specimen", kind=PreparationKind.FRESH, on=date(2027, 1, 1)),
    "maker_answer": MakerAnswer(id="x", maker="maker", asked_on=date(2026, 4, 1), asked="?"),
    "trial": again(at=NOON + DAY),
    "observation": graded("x", at=NOON + DAY),
}


@pytest.mark.parametrize("table", AHEAD)
def test_nothing_has_happened_yet_that_lies_ahead(ledger, table):
    """A day or time beyond the easternmost calendar is refused, with the time it is now."""
    with pytest.raises(BadInput, match="allowed: nothing later than now, 2026-03-09T12:00Z"):
        ledger.append([AHEAD[table]])


def test_what_is_due_may_lie_ahead_and_so_may_tomorrow_in_the_east(ledger):
    """A stage is planned; and where the sun rises first it is tomorrow already."""
    ledger.append([Stage(id="s", session="session", name=StageName.DRY, due_at=NOON + 3 * DAY)])
    ledger.append([Parcel(id="x", bought_on=date(2026, 3, 10), seller="s", currency="EUR")])
    ledger.append(tried("x", at=NOON + timedelta(hours=13)))


def test_a_day_begins_in_the_east(ledger):
    """A test on the morning of the day of purchase, fourteen hours ahead of UTC, is on that day."""
    ledger.append([replace(again(at=NOON.replace(month=1, day=31, hour=11)), id="east")])
    with pytest.raises(BadInput, match="came, or later"):  # of older notes only the day is known
        ledger.append([replace(OLDER_NOTES, at=NOON.replace(month=1, day=31))])


def test_older_notes_may_be_of_either_kind(ledger):
    """A spreadsheet holds what was seen at the bench and at unpacking side by side."""
    ledger.append([OLDER_NOTES, PACKED, unpacked("a", trial="older"), graded("b", trial="older")])
    assert {row.doubt for row in ledger.tested_rows()} == {None}


def used_up(ledger):
    """Let the specimen be used up, and return since when it is."""
    ledger.append([replace(ledger.get(Specimen, "specimen"), state=SpecimenState.USED_UP)])
    return ledger.history("specimen", "specimen")[-1].at


def test_what_is_used_up_is_not_tested_any_more(ledger):
    """A trial before that moment may still be typed from paper; one after it may not, unless it is opened again."""
    since = used_up(ledger)
    ledger.append([again(at=since - timedelta(minutes=1)), graded("o", trial="more")])
    later = replace(again(at=since + timedelta(minutes=1)), id="later")
    with pytest.raises(BadInput, match=r"allowed: a time before 2026-03-09T12:00Z, when OV 0001 was used up"):
        ledger.append([later])
    ledger.append([replace(ledger.get(Specimen, "specimen"), state=SpecimenState.OPENED)], reason="some was left")
    ledger.append([later])


CHANGED = {
    "parcel": (replace(basics()[5], bought_on=date(2026, 3, 10)), "when OV 0001 came, or later"),
    "specimen": (replace(basics()[6], parcel="younger"), "when OV 0001 came, or later"),
    "trial": (replace(basics()[-1], occasion=Occasion.UNPACKING), "criteria judged at unpacking"),
    "lot": (replace(basics()[4], format=Format.TUBE), "a lot of the same paint and format"),
    "label": (replace(basics()[3], paint="other"), "a label of the same paint"),
}


@pytest.mark.parametrize("kind", CHANGED)
def test_no_amendment_turns_evidence_into_what_cannot_have_been(ledger, kind):
    """A row written again must leave those that rest on it as they can have been."""
    younger = Parcel(id="younger", bought_on=date(2026, 3, 10), seller="s", currency="EUR")
    early = NOON - DAY
    ledger.append([replace(ledger.get(Trial, "trial"), at=early), graded("o", at=early)], reason="slip")
    ledger.append([younger, Paint(id="other", maker="maker", name="Ochre")])
    before = everything(ledger), ledger.closing_hashes()
    record, message = CHANGED[kind]
    with pytest.raises(BadInput, match=message):
        ledger.append([record], reason="moved")
    assert (everything(ledger), ledger.closing_hashes()) == before


def test_the_day_a_parcel_came_may_be_mended_after_an_observation_was_amended(ledger):
    """A superseded observation is no second result of its trial, so it stands in the way of nothing."""
    ledger.append([graded("o")])
    ledger.append([graded("p", 2.0, supersedes="o", reason="misread the scale")])
    came = date(2026, 2, 3)
    ledger.append([replace(ledger.get(Parcel, "parcel"), received_on=came)], reason="typed wrongly")
    assert ledger.get(Parcel, "parcel").received_on == came


def test_rows_that_move_together_may_move(ledger):
    """What counts is how the rows stand in the end: the lot and its specimen change format in one append."""
    lot, specimen = ledger.get(Lot, "lot"), ledger.get(Specimen, "specimen")
    ledger.append(
        [replace(lot, format=Format.FULL_PAN), replace(specimen, format=Format.FULL_PAN)], reason="measured"
    )
    assert ledger.get(Specimen, "specimen").format == Format.FULL_PAN


@pytest.fixture
def older(tmp_path, monkeypatch):
    """Give a ledger written before there were these rules, with everything in it that they refuse now."""
    with (
        monkeypatch.context() as before,
        Ledger.create(
            tmp_path / "old.sqlite", letters="OV", tester="Oda Vane", sources=steady(), daybook="old"
        ) as made,
    ):
        before.setattr("qcledger.ledger.rules.check_evidence", lambda *_: None)
        made.append([*basics(), PACKED, graded("sound")])
        made.append([Specimen(id="odd", sticker="A-17", **PIECE), Specimen(id="twin", sticker="ov 1", **PIECE)])
        made.append([AT_UNPACKING, graded("elsewhere", 5.0, trial="unpacked")])
        made.append([replace(again(at=NOON - 90 * DAY), id="early"), graded("early", 5.0, trial="early")])
        made.append([replace(again(at=NOON + 90 * DAY), id="ahead"), graded("ahead", 5.0, trial="ahead")])
        made.append([graded("second", 5.0, at=NOON + timedelta(seconds=1))])
        made.append([Specimen(id="gone", sticker="OV 0009", **PIECE)])
        made.append([Specimen(id="gone", sticker="OV 0009", state=SpecimenState.USED_UP, **PIECE)])
        made.append([Trial(id="gone", specimen="gone", occasion=Occasion.BENCH, at=NOON + timedelta(hours=1))])
        made.append([graded("gone", 5.0, trial="gone", at=NOON + timedelta(hours=1))])
    return tmp_path / "old.sqlite"


DOUBTED = {
    "elsewhere": Doubt.ELSEWHERE,
    "early": Doubt.EARLY,
    "ahead": Doubt.LATE,
    "second": Doubt.SECOND,
    "gone": Doubt.USED_UP,
    "sound": None,
}


def test_a_ledger_older_than_the_rules_opens_verifies_and_says_what_does_not_count(older):
    """Nothing of it is lost; what cannot have been so is marked with the reason."""
    with Ledger.open(older, write=True) as ledger:
        assert ledger.verify() == []
        rows = ledger.tested_rows()
        assert {row.observation: row.doubt for row in rows} == DOUBTED
        assert "1 result does not count, dated before its specimen came: OV 0001" in list(in_words(rows))
        ledger.rebuild()
        assert ledger.tested_rows() == rows


def test_what_stands_so_may_be_amended_and_taken_back(older):
    """A row is not held to a rule in what it keeps; and a result that should not be there can be taken back."""
    with Ledger.open(older, write=True, sources=steady(NOON + DAY, "more")) as ledger:
        ledger.append([replace(ledger.get(Specimen, "odd"), note="moved")], reason="shelf")
        ledger.append([replace(ledger.get(Trial, "early"), note="the day is a slip")], reason="looked up")
        with pytest.raises(BadInput, match="one to four letters"):
            ledger.append([replace(ledger.get(Specimen, "odd"), sticker="A-18")], reason="shelf")
        for slip in ("elsewhere", "early"):
            seen = ledger.get(Observation, slip)
            back = replace(seen, id=f"no {slip}", supersedes=slip, reason="slip", grade=None, not_testable=TAKEN_BACK)
            ledger.append([back])
        with pytest.raises(BadInput, match="criteria judged at unpacking"):
            ledger.append([graded("again", trial="unpacked", supersedes="no elsewhere", reason="once more")])


def test_it_is_merged_word_for_word_and_still_does_not_count(ledger, older):
    """A chain cannot be edited: it is taken in whole, its hashes as they were, and its doubts stay doubts."""
    with Ledger.open(older) as other:
        assert ledger.adopt(other.entries(), {}) == len(list(other.entries()))
        assert ledger.closing_hashes()["old"] == other.closing_hashes()["old"]
    assert {row.observation: row.doubt for row in ledger.tested_rows()} == DOUBTED
    assert ledger.verify() == []


def test_a_tester_may_correct_one_observation_on_two_machines_and_one_counts(places):
    """Neither daybook knew of the other: both are taken in; the first counts, and either can be taken back."""
    ledgers = []
    for number, name in enumerate(("one", "two")):
        sources = steady(NOON + number * DAY, name)
        made = Ledger.create(places.new(name), letters="OV", tester="Oda Vane", sources=sources, daybook=name)
        ledgers.append(made)
    one, two = ledgers
    one.append([*basics(), graded("first")])
    two.adopt(one.entries(), {})
    one.append([graded("by one", 2.0, supersedes="first", reason="slip", at=NOON + timedelta(hours=2))])
    two.append([graded("by two", 4.0, supersedes="first", reason="slip", at=NOON + timedelta(hours=1))])
    one.adopt(two.entries(), {})
    two.adopt(one.entries(), {})
    for made in ledgers:
        assert {row.observation: row.doubt for row in made.tested_rows()} == {"by one": Doubt.SECOND, "by two": None}
    taken = graded("back", None, supersedes="by two", reason="agreed", not_testable=TAKEN_BACK)
    two.append([taken])
    assert {row.observation: row.doubt for row in two.tested_rows()} == {"by one": None, "back": Doubt.SECOND}
    for made in ledgers:
        assert made.verify() == []
        made.close()


def test_a_program_that_chose_a_sticker_is_given_the_next_one(ledger):
    """Within the transaction that writes it: no two terminals hand out one sticker, and a repeated save keeps it."""
    pieces = [Specimen(id=f"s{n}", sticker="OV 0001", **PIECE) for n in range(3)]
    ledger.append(pieces, numbered={one.id for one in pieces})
    assert [ledger.get(Specimen, one.id).sticker for one in pieces] == ["OV 0002", "OV 0003", "OV 0004"]
    assert ledger.append(pieces, numbered={one.id for one in pieces}) == ()


def test_a_daybooks_letters_begin_stickers(tmp_path):
    """Letters that could begin no sticker begin no daybook, and no file is left."""
    with pytest.raises(BadInput, match="one to four letters, as in OV"):
        Ledger.create(tmp_path / "l.sqlite", letters="O1", tester="Oda")
    assert list(tmp_path.iterdir()) == []


def test_the_rules_ask_the_rubric_it_was_graded_with(ledger):
    """Where a criterion is judged is what its own rubric says, not what another one does."""
    text = re.sub(r"seen_at: bench\n    stage: [^\n]*\n", "seen_at: unpacking\n", KEPT.text, count=1)
    text = re.sub(r"    put_down:\n(?:      .*\n)+", "", text, count=1)  # nothing is put down when a parcel is opened
    changed = rubric.parse(text, "changed")
    key = next(name for name, one in changed.criteria.items() if one.seen_at is Occasion.UNPACKING)
    with pytest.raises(BadInput, match="judged at unpacking"):
        ledger.append([ledger.keep_rubric(changed), graded("o", criterion=key, rubric=changed.hash)])
