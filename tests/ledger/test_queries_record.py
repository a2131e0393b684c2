"""The record: every observation in pages, through filters, without telling blind specimens apart."""

from dataclasses import replace
from datetime import timedelta

import pytest

from qcledger.ledger.queries_record import Only, Wanted, chain, count, lines, page, photos_of
from qcledger.records import Observation, Session, Trial
from qcledger.vocab import Blinding, Occasion
from tests.hostile import HOSTILE
from tests.small import START, graded, small_ledger


@pytest.fixture
def small(home, tmp_path):
    return graded(small_ledger(tmp_path))


def ask(small, query, *args, **kwargs):
    with small.open() as ledger, ledger.reading() as connection:
        return query(connection, *args, **kwargs)


def test_the_newest_come_first_and_pages_join_up(small):
    """Eight observations in pages of three are the eight in one page, each once, newest first."""
    whole = ask(small, page, Wanted(), 0, 100)
    assert ask(small, count, Wanted()) == len(whole) == 8
    parts = [line for first in (0, 3, 6) for line in ask(small, page, Wanted(), first, 3)]
    assert parts == whole
    times = [line.observation.at for line in whole]
    assert times == sorted(times, reverse=True)
    assert ask(small, page, Wanted(), 8, 3) == []


def test_names_stand_in_place_of_ids(small):
    """A line says specimen, maker, paint, lot and session as people call them."""
    last = ask(small, page, Wanted(paint="fjell"), 0, 1)[0]
    assert (last.sticker, last.maker, last.paint, last.lot, last.session) == (
        "OV 0003",
        "Trellmere",
        "Fjell",
        "T2",
        "S04",
    )
    assert (last.void, last.blind, last.photos, last.superseded_by) == (False, False, 0, None)


FILTERS = [
    (Wanted(maker="TRELL"), 8),
    (Wanted(maker="nobody"), 0),
    (Wanted(paint="viridian"), 4),
    (Wanted(lot="t1"), 2),
    (Wanted(specimen="0002"), 2),
    (Wanted(session="s04"), 8),
    (Wanted(session="S4"), 8),
    (Wanted(specimen="ov1"), 4),
    (Wanted(specimen="OV 01"), 4),
    (Wanted(specimen="tl1"), 0),
    (Wanted(session="s05"), 0),
    (Wanted(criteria=("edge",)), 4),
    (Wanted(criteria=()), 0),
    (Wanted(paint="viridian", criteria=("tint",)), 2),
    (Wanted(only=Only.STANDING), 5),
    (Wanted(only=Only.AMENDED), 4),
    (Wanted(only=Only.NOT_TESTABLE), 0),
    (Wanted(only=Only.WITH_PHOTOS), 0),
    (Wanted(only=Only.OLDER_NOTES), 0),
]


def test_filters_let_through_what_they_say(small):
    """A text may stand anywhere in a name and in any case; several filters must all hold; count and page agree."""
    with small.open() as ledger, ledger.reading() as connection:
        for wanted, n in FILTERS:
            assert count(connection, wanted) == n, wanted
            assert len(page(connection, wanted, 0, 100)) == n, wanted


def test_a_filter_is_a_text_and_nothing_else(small):
    """Percent signs, underscores, quotes and the like stand for themselves: 78 hostile texts find what holds them."""
    names = ("Trellmere Viridian", "Trellmere Kiln Red", "Trellmere Fjell")
    with small.open() as ledger, ledger.reading() as connection:
        for text in HOSTILE:
            found = page(connection, Wanted(maker=text.replace("\0", "")), 0, 100)
            assert bool(found) == (text.replace("\0", "").lower() in names[0][:9].lower()), ascii(text)
            found = page(connection, Wanted(paint=text.replace("\0", "")), 0, 100)
            assert bool(found) == any(text.replace("\0", "").lower() in name[10:].lower() for name in names), ascii(
                text
            )


def test_what_supersedes_what_is_told_from_first_to_last(small):
    """The chain of a place is the same whichever of its observations one asks for."""
    amended = ask(small, page, Wanted(only=Only.AMENDED, criteria=("edge",)), 0, 10)
    assert len(amended) == 2
    chains = [ask(small, chain, line.observation.id) for line in amended]
    assert chains[0] == chains[1]
    assert [seen.grade for seen in chains[0]] == [3.0, 4.0]
    assert {line.superseded_by for line in amended} == {None, chains[0][1].id}
    assert ask(small, chain, "nothing") == []


def test_a_blind_specimen_is_not_told_apart(home, tmp_path):
    """Until the session is closed there is a code and no name, and no filter by name finds it; then all is there."""
    small = graded(small_ledger(tmp_path, blind=True))
    for line in ask(small, page, Wanted(), 0, 100):
        assert line.blind
        assert line.sticker in ("471", "472", "473")
        assert (line.maker, line.paint, line.lot, line.format) == ("", "", "", None)
    for wanted in (Wanted(maker="trell"), Wanted(paint="fjell"), Wanted(lot="t"), Wanted(specimen="ov")):
        assert ask(small, count, wanted) == 0
    assert ask(small, count, Wanted(session="S04")) == 8
    with small.open(write=True) as ledger:
        session = ledger.get(Session, "se")
        ledger.append([replace(session, closed_at=START + timedelta(days=2))], reason="done")
    assert ask(small, count, Wanted(maker="trell")) == 8
    assert not any(line.blind for line in ask(small, page, Wanted(), 0, 100))


def test_older_notes_are_marked(small):
    """What came from a spreadsheet says so and can be asked for alone."""
    with small.open(write=True) as ledger:
        trial = Trial(id="old", specimen="sp00", occasion=Occasion.OLDER_NOTES, at=START)
        seen = Observation(
            id="old-1", trial="old", criterion="edge", rubric=small.rubric.hash, tester="OV", at=START, grade=2.0
        )
        ledger.append([trial, seen])
    (line,) = ask(small, page, Wanted(only=Only.OLDER_NOTES), 0, 10)
    assert (line.occasion, line.observation.id) == (Occasion.OLDER_NOTES, "old-1")


def test_photos_of_an_observation_its_forerunners_and_its_specimen(small, tmp_path):
    """Photos tied to what was superseded stay with what stands; those of the specimen alone come last."""
    from PIL import Image

    newest, oldest = ask(small, page, Wanted(only=Only.AMENDED, criteria=("edge",)), 0, 10)
    with small.open(write=True) as ledger:
        for n, tie in enumerate([{"observation": None}, {"observation": oldest.observation.id}]):
            path = tmp_path / f"{n}.png"
            Image.new("RGB", (4, 4), (n, 0, 0)).save(path)
            ledger.add_photo(path, specimen="sp00", **tie)
    assert [photo.file_name for photo in ask(small, photos_of, newest.observation.id)] == ["1.png", "0.png"]
    assert ask(small, count, Wanted(only=Only.WITH_PHOTOS)) == 1
    assert ask(small, photos_of, "nothing") == []
    with small.open(write=True) as ledger:
        ledger.append([replace(ledger.get(Session, "se"), blinding=Blinding.CODED)], reason="as if it were blind")
    assert [photo.file_name for photo in ask(small, photos_of, newest.observation.id)] == ["1.png"]


def test_lines_come_in_the_order_asked_for(small):
    """Ids that are not there are passed over."""
    ids = [line.observation.id for line in ask(small, page, Wanted(), 0, 3)]
    assert [line.observation.id for line in ask(small, lines, [ids[2], "nothing", ids[0]])] == [ids[2], ids[0]]
