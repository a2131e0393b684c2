"""What is due."""

import json
from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from qcledger.bench import closing, due, opening, unfiled
from qcledger.bench.due import Due, LooseEndKind
from qcledger.ledger import Ledger
from qcledger.records import Decision, Maker, MakerAnswer, Observation, Session, Specimen, Stage, Trial
from qcledger.vocab import Blinding, DecisionKind, Occasion, SpecimenState, StageName
from tests.small import START, ten

NOW = START + timedelta(days=30)


@pytest.fixture
def ledger(small):
    with small.open(write=True) as found:
        yield found


def found(ledger, kind, now=NOW) -> list[Due]:
    return [one for one in due.due(ledger, now) if one.kind is kind]


def test_a_sheet_at_work_is_due_and_a_closed_one_is_not(ledger):
    """The line says session, stage and how far it has come, and leads to the session."""
    (one,) = found(ledger, LooseEndKind.STAGE)
    assert one.subject == "se"
    assert "S04" in one.words
    assert "wet, 0 of" in one.words
    session = ledger.get(Session, "se")
    ledger.append([replace(session, closed_at=START)], reason="closed")
    assert found(ledger, LooseEndKind.STAGE) == []


def test_a_parcel_is_told_until_each_of_its_pieces_is_looked_at_or_left(ledger):
    """The line counts what waits and leads to the first of it; a grade given blind changes nothing, a seal does."""
    (one,) = found(ledger, LooseEndKind.UNOPENED)
    assert one.subject == "sp00"
    assert one.words == "3 specimens bought 2026-01-02, from OV 0001 on, not unpacked yet"
    session = ledger.get(Session, "se")
    ledger.append([replace(session, blinding=Blinding.SHUFFLED)], reason="blind")
    ledger.append([Trial(id="t1", specimen="sp01", occasion=Occasion.BENCH, at=START, session="se")])
    assert found(ledger, LooseEndKind.UNOPENED) == [one]
    ledger.append([Trial(id="t2", specimen="sp00", occasion=Occasion.UNPACKING, at=START)])
    (left,) = found(ledger, LooseEndKind.UNOPENED)
    assert left.subject == "sp01"
    assert left.words == "2 of 3 specimens bought 2026-01-02, from OV 0002 on, not unpacked yet"
    ledger.append([Trial(id="t3", specimen="sp01", occasion=Occasion.UNPACKING, at=START)])
    ledger.append([replace(ledger.get(Specimen, "sp02"), state=SpecimenState.RESERVE)], reason="left sealed")
    assert found(ledger, LooseEndKind.UNOPENED) == []


@pytest.mark.parametrize("decided", ["close", "void"])
def test_what_a_closed_sheet_has_judged_counts_as_opened(ledger, decided):
    """From the day of its first grade, for a blind sheet once its codes are open; what was not judged stays."""
    session = replace(ledger.get(Session, "se"), blinding=Blinding.SHUFFLED)
    ledger.append([session], reason="blind")
    trials = [Trial(id=f"t{n}", specimen=f"sp0{n}", occasion=Occasion.BENCH, at=START, session="se") for n in (1, 2)]
    seen = Observation(id="o1", trial="t1", criterion="turns", rubric=ten().hash, at=START, tester="OV", grade=2.0)
    gone = replace(seen, id="o2", trial="t2", grade=None, not_testable="used up")
    ledger.append([*trials, seen, gone])
    assert opening.at_bench(ledger, "se")[0].id == "sp01"
    assert ledger.get(Specimen, "sp01").state is SpecimenState.UNOPENED
    who = {"by": "OV", "at": NOW, "new_id": lambda: "de"}
    records = closing.close(session, "", **who) if decided == "close" else closing.void(session, "lamp", **who)
    opening.keep_decided(ledger, "se", records, "closed")
    found = {one.sticker: (one.state, one.opened_on) for one in ledger.rows(Specimen)}
    assert found["OV 0002"] == (SpecimenState.OPENED, START.date())
    assert {found[one] for one in ("OV 0001", "OV 0003")} == {(SpecimenState.UNOPENED, None)}


def test_a_sheet_of_another_tester_is_no_loose_end(ledger, tmp_path):
    """Only one's own is, and it says whose it is where two testers have sessions."""
    with Ledger.create(tmp_path / "tl.sqlite", letters="TL", tester="Tilo") as guest:
        guest.adopt(list(ledger.entries()), {})
        guest.append([replace(ledger.get(Session, "se"), id="theirs", tester="Tilo")])
        ledger.adopt(list(guest.entries()), {})
        (mine,) = found(ledger, LooseEndKind.STAGE)
        assert (mine.subject, mine.words.partition(",")[0]) == ("se", "session S04 of OV")
        sheets = found(guest, LooseEndKind.STAGE) + found(guest, LooseEndKind.CLOSE)
        assert [(one.subject, one.words.partition(",")[0]) for one in sheets] == [("theirs", "session S04 of Tilo")]


def test_the_hour_of_a_stage(ledger):
    """A planned hour counts; else the last stage is due 24 hours after the first grade, as its name says."""
    from qcledger.bench.sheets import SheetHead

    session = ledger.get(Session, "se")
    wet = Stage(id="w", session="se", name=StageName.WET, started_at=START)
    head = SheetHead(session, "x", StageName.AFTER_24H, 0, 1)
    planned = Stage(id="d", session="se", name=StageName.AFTER_24H, due_at=NOW)
    assert due.due_at(head, [wet]) == START + timedelta(hours=24)
    assert due.due_at(head, [wet, planned]) == NOW
    assert due.due_at(replace(head, stage=StageName.DRY), [wet]) is None
    assert due.due_at(head, []) is None


def test_a_sheet_whose_last_stage_is_done_waits_to_be_closed(ledger):
    """Every stage was ended, so nothing is left to judge and the session is to be closed."""
    done = [replace(one, ended_at=START) for one in ledger.rows(Stage, session="se")]
    done.append(Stage(id="last", session="se", name=StageName.AFTER_24H, ended_at=START))
    ledger.append(done, reason="ended")
    assert found(ledger, LooseEndKind.STAGE) == []
    (one,) = found(ledger, LooseEndKind.CLOSE)
    assert (one.subject, one.words.endswith("close it")) == ("se", True)


def test_answers_are_awaited_until_they_came(ledger):
    """The oldest question first, with its age in days."""
    ledger.append([MakerAnswer(id="an", maker="mk", asked_on=date(2026, 4, 1), asked="?")])
    (one,) = found(ledger, LooseEndKind.ANSWER)
    assert one.words == f"Trellmere: asked {(NOW.date() - date(2026, 4, 1)).days} days ago, no answer yet"
    ledger.append(
        [MakerAnswer(id="an", maker="mk", asked_on=date(2026, 4, 1), asked="?", answered_on=date(2026, 4, 2))]
    )
    assert found(ledger, LooseEndKind.ANSWER) == []


def test_a_retest_is_due_until_the_bench_saw_it(ledger):
    """A trial on a later day, or a later decision about it, ends it."""
    retest = Decision(
        id="de", kind=DecisionKind.RETEST, subject_table="specimen", subject="sp00", by="OV",
        on=date(2026, 3, 9), reason="soft",
    )  # fmt: skip
    ledger.append([retest])
    (one,) = found(ledger, LooseEndKind.RETEST)
    assert (one.words, one.subject) == ("retest OV 0001: soft", "sp00")
    trial = Trial(id="tr", specimen="sp00", occasion=Occasion.BENCH, at=START + timedelta(days=3), session="se")
    ledger.append([trial])
    assert found(ledger, LooseEndKind.RETEST) == []


def test_the_later_of_one_day_is_the_later_entry(ledger):
    """Merged and imported ids tell no time: of two decisions of one day the one written later counts."""
    retest = Decision(
        id="b", kind=DecisionKind.RETEST, subject_table="specimen", subject="sp00", by="OV",
        on=date(2026, 3, 9), reason="soft",
    )  # fmt: skip
    ledger.append([replace(retest, id="c", kind=DecisionKind.KEEP, reason="sound")])
    ledger.append([retest])
    assert len(found(ledger, LooseEndKind.RETEST)) == 1
    ledger.append([replace(retest, id="a", kind=DecisionKind.KEEP, reason="sound after all")])
    assert found(ledger, LooseEndKind.RETEST) == []


def test_a_retest_in_a_blind_session_stays_until_that_is_closed(ledger):
    """A line that went away with a grade would tell which code was just judged."""
    retest = Decision(
        id="de", kind=DecisionKind.RETEST, subject_table="specimen", subject="sp00", by="OV",
        on=date(2026, 3, 9), reason="soft",
    )  # fmt: skip
    blind = replace(ledger.get(Session, "se"), blinding=Blinding.SHUFFLED)
    trial = Trial(id="tr", specimen="sp00", occasion=Occasion.BENCH, at=START + timedelta(days=3), session="se")
    ledger.append([retest, blind, trial], reason="blind from the start")
    assert len(found(ledger, LooseEndKind.RETEST)) == 1
    ledger.append([replace(blind, closed_at=START)], reason="closed")
    assert found(ledger, LooseEndKind.RETEST) == []


def test_sealed_units_are_due_after_twelve_months(ledger):
    """The day of purchase and 365 days; before that, and when it was opened, there is nothing to do."""
    sealed = replace(ledger.get(Specimen, "sp00"), state=SpecimenState.RESERVE)
    ledger.append([sealed], reason="sealed")
    bought = START.replace(month=1, day=2)
    assert found(ledger, LooseEndKind.SEALED, bought + timedelta(days=363)) == []
    (one,) = found(ledger, LooseEndKind.SEALED, bought + timedelta(days=367))
    assert one.words.startswith("OV 0001: sealed since 2026-01-02")


def test_the_age_of_the_last_backup(ledger, tmp_path):
    """None known is a loose end; a fresh one is not, and an old one tells its days."""
    assert "no backup" in found(ledger, LooseEndKind.BACKUP)[0].words
    ledger.backup(tmp_path / "copy")
    made = ledger.backed_up_at
    assert found(ledger, LooseEndKind.BACKUP, made + timedelta(days=6)) == []
    assert found(ledger, LooseEndKind.BACKUP, made + timedelta(days=8))[0].words == "the last backup is 8 days old"


def test_an_empty_ledger_asks_for_no_backup(tmp_path, home):
    """Before the first entry there is nothing to lose; from the first one on there is."""
    with Ledger.create(tmp_path / "new.sqlite", letters="AB", tester="Ada", zone="Etc/UTC") as ledger:
        assert due.due(ledger, NOW) == []
        ledger.append([Maker(id="mk", name="Trellmere")])
        assert [one.kind for one in due.due(ledger, NOW)] == [LooseEndKind.BACKUP]


def test_a_broken_note_of_backups_counts_as_none(ledger, home, tmp_path):
    """A file that somebody spoilt costs a reminder, not the page; one of an earlier version is still read."""
    for text in ("[]", "{", '{"x": 1}'):
        (home / "backups.json").write_text(text, encoding="utf-8")
        assert ledger.backed_up_at is None
    (home / "backups.json").write_text(json.dumps({ledger.where: NOW.isoformat()}), encoding="utf-8")
    assert ledger.backed_up_at == NOW
    ledger.backup(tmp_path / "copy")
    assert ledger.backed_up_at != NOW
    (kept,) = (home / "backups").iterdir()
    kept.write_text("{", encoding="utf-8")
    assert ledger.backed_up_at == NOW


def test_unfiled_photos_are_those_the_ledger_does_not_hold(ledger, tmp_path):
    """A filed picture is known by its bytes, under any name; another of the same size is not mistaken for it."""
    folder = tmp_path / "camera"
    folder.mkdir()
    for name, shade in (("a.png", 10), ("b.png", 20), ("c.png", 20)):
        Image.new("L", (8, 8), shade).save(folder / name)
    looked = unfiled.Folder(folder)
    assert [one.path.name for one in looked.unfiled(unfiled.filed(ledger))] == ["a.png", "b.png", "c.png"]
    ledger.add_photo(folder / "b.png", specimen="sp00")
    assert [one.path.name for one in looked.unfiled(unfiled.filed(ledger))] == ["a.png"]
    assert due.photos(0, "camera") == []
    assert due.photos(1, "camera")[0].words == "1 photo in camera not filed yet"


@given(st.lists(st.sampled_from(LooseEndKind), max_size=60))
def test_never_more_than_a_dozen_lines_and_no_kind_left_out(kinds):
    """Long kinds are cut and say how many more there are; every kind that has something keeps a line."""
    lines = due.fewest([Due(kind, f"{n}", str(n)) for n, kind in enumerate(kinds)])
    assert len(lines) == min(len(kinds), due.MOST)
    assert {one.kind for one in lines} == set(kinds)
    order = [list(LooseEndKind).index(one.kind) for one in lines]
    assert order == sorted(order)


def test_a_cut_kind_says_how_many_more():
    """Fourteen of one kind are eleven lines and three more."""
    lines = due.fewest([Due(LooseEndKind.ANSWER, str(n)) for n in range(14)])
    assert [one.words for one in lines[-2:]] == ["10", "3 more answers awaited"]
    assert [one.words for one in lines[-1].more] == ["11", "12", "13"]
    assert not any(one.more for one in lines[:-1])


def test_a_cut_kind_counts_what_its_lines_stand_for():
    """A line that stands for several counts as those where the rest is cut."""
    five = Due(LooseEndKind.NEXT, "five", more=tuple(Due(LooseEndKind.NEXT, f"five {n}") for n in range(5)))
    lines = due.fewest([*(Due(LooseEndKind.NEXT, str(n)) for n in range(11)), five, Due(LooseEndKind.NEXT, "last")])
    assert (len(lines), lines[-1].words, len(lines[-1].more)) == (12, "6 more purchases that findings name", 6)
