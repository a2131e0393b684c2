"""Days are those of the daybook that tells them, whoever reads it, and on whichever machine."""

import json
import os
import subprocess
import sys
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from qcledger.clock import noon
from qcledger.errors import BadInput
from qcledger.exchange import plan_folder, to_folder
from qcledger.ledger import Ledger, queries_record, queries_stock
from qcledger.records import Parcel, Preparation, Session, Specimen, Trial, Zone
from qcledger.vocab import Format, Occasion, PreparationKind
from tests.ledger.given import NOON, PACKED, basics, graded, steady, unpacked
from tests.test_clock import CHANGES, LIVED

OPENED = Trial(id="unpacked", specimen="specimen", occasion=Occasion.UNPACKING, at=NOON)


def begun(place, zone=None, at=NOON, **who):
    """Return a ledger with one trial that waits for its observations, begun in a zone."""
    made = Ledger.create(
        place, letters="OV", tester="Oda Vane", sources=steady(at + timedelta(days=400)), zone=zone, **who
    )
    made.append(basics())
    return made


def opened_at(ledger, *times, **fields):
    """Write a trial at unpacking at each of these times, with one observation, and return the tested rows."""
    numbers = range(len(ledger.rows(Trial)), len(ledger.rows(Trial)) + len(times))
    ledger.append([
        PACKED,
        *(replace(OPENED, id=f"u{n:02}", at=at) for n, at in zip(numbers, times, strict=True)),
        *(unpacked(f"p{n:02}", trial=f"u{n:02}", at=at, **fields) for n, at in zip(numbers, times, strict=True)),
    ])  # fmt: skip
    return ledger.tested_rows()


# What a daybook records


def test_a_zone_is_recorded_with_the_daybook(places):
    """It is the second entry of a daybook begun in it, and days are told by it; without one nothing is recorded."""
    with begun(places.new("mine"), "Pacific/Auckland") as ledger:
        assert [(held.since, held.row.name) for held in ledger.zones] == [(2, "Pacific/Auckland")]
        assert ledger.day(datetime(2026, 11, 19, 21, tzinfo=UTC)) == date(2026, 11, 20)
        assert ledger.verify() == []
    with begun(places.new("other")) as ledger:
        assert (ledger.zones, ledger.zone, ledger.rows(Zone)) == ((), None, [])


@pytest.mark.parametrize("name", ["Berlin", "Mars/Olympus", "/etc/localtime", "europe/berlin"])
def test_a_zone_that_is_none_is_refused_whole(places, name):
    """In one line, before there is a ledger, or with nothing stored in one."""
    place = places.new("mine")
    with pytest.raises(BadInput, match="time zone: found"):
        begun(place, name)
    with begun(place) as ledger:
        before = ledger.closing_hashes()
        with pytest.raises(BadInput, match="an IANA name"):
            ledger.set_zone(name)
        assert ledger.closing_hashes() == before


def test_a_zone_holds_from_its_entry_on_and_the_first_for_all_before(places):
    """An evening in Berlin, recorded before its zone, is that day; after a move to Auckland it is the next."""
    evening = datetime(2026, 3, 9, 21, 30, tzinfo=UTC)
    with begun(places.new("mine")) as ledger:
        opened_at(ledger, evening)
        ledger.set_zone("Europe/Berlin")
        opened_at(ledger, evening)
        ledger.set_zone("Pacific/Auckland")
        rows = opened_at(ledger, evening)
        assert [row.day.day for row in rows] == [9, 9, 10]
        ledger.set_zone("Pacific/Auckland")  # said again, it is one entry
        assert len(ledger.rows(Zone)) == 2
        ledger.rebuild()
        assert ledger.tested_rows() == rows


def test_a_zone_that_was_wrong_is_corrected_for_all_it_held_for(places):
    """The one recorded last is replaced, with a reason; those before it stay."""
    evening = datetime(2026, 3, 9, 21, 30, tzinfo=UTC)
    with begun(places.new("mine"), "Europe/Berlin") as ledger:
        opened_at(ledger, evening)
        ledger.set_zone("Asia/Tokyo")
        opened_at(ledger, evening)
        ledger.set_zone("Europe/London", corrects=True, reason="typed the wrong one")
        assert [row.day.day for row in ledger.tested_rows()] == [9, 9]
        assert [held.row.name for held in ledger.zones] == ["Europe/Berlin", "Europe/London"]
        assert ledger.verify() == []


def test_a_new_daybook_begins_in_the_zone_of_its_machine(places):
    """A copy of a ledger that is written to elsewhere has its own days from its first entry on."""
    evening = datetime(2026, 3, 9, 21, 30, tzinfo=UTC)
    with begun(places.new("mine"), "Europe/Berlin") as ledger:
        opened_at(ledger, evening)
        ledger.backup(places.folder / "copy")
    copy = next((places.folder / "copy").glob("*.sqlite"), None)
    if copy is None:
        pytest.skip("a backup of a server is restored elsewhere")
    with Ledger.open(copy, write=True, zone="Pacific/Auckland", sources=steady(NOON + timedelta(900), "c")) as other:
        assert [held.row.name for held in other.zones] == ["Pacific/Auckland"]
        assert [row.day.day for row in opened_at(other, evening)] == [9, 10]


def test_another_testers_zone_is_never_imported(ledger, tmp_path):
    """A folder's zones belong to its daybooks: an import leaves them out, a merge brings each with its own."""
    ledger.set_zone("Europe/Berlin")
    to_folder(ledger, tmp_path / "folder")
    with begun(tmp_path / "mine.sqlite", "Pacific/Auckland", daybook="mine") as mine:
        plan = plan_folder(mine, tmp_path / "folder")
        assert Zone not in map(type, plan.records)
        assert any(line.startswith("zone.csv is left out") for line in plan.guesses)


# Days


@pytest.mark.parametrize("name", LIVED)
@pytest.mark.parametrize("autumn", [False, True])
def test_an_afternoon_is_one_sitting_and_one_day(tmp_path, name, autumn):
    """In every zone, also on the day on which the clock is changed; the next morning is another of both."""
    day = CHANGES[name][autumn]
    midday = noon(day, ZoneInfo(name))
    with begun(tmp_path / "mine.sqlite", name) as ledger:
        rows = opened_at(ledger, *(midday + timedelta(hours=n) for n in range(2, 8)))
        assert {row.day for row in rows} == {day}
        assert len({row.sitting for row in rows}) == 1
        later = opened_at(ledger, midday + timedelta(hours=21))
        assert [row.day - day for row in later[6:]] == [timedelta(days=1)]
        assert len({row.sitting for row in later}) == 2


def test_a_sitting_is_one_testers(tmp_path):
    """Two who unpack at the same time do not sit together; a session is its own, whenever it was."""
    with begun(tmp_path / "mine.sqlite", "Europe/Berlin") as ledger:
        opened_at(ledger, NOON)
        rows = opened_at(ledger, NOON + timedelta(minutes=1), tester="Tam Lorne")
        assert len({row.sitting for row in rows}) == 2
        ledger.append([graded("bench")])
        assert next(row for row in ledger.tested_rows() if row.session).sitting == "session"


def test_where_a_sitting_ends_does_not_depend_on_what_is_asked_for(tmp_path):
    """With a comparison only some paints are shown; what was unpacked between them is work all the same."""
    other = {"id": "s2", "sticker": "OV 0002", "paint": "p2", "lot": None, "label_version": None}
    with begun(tmp_path / "mine.sqlite", "Europe/Berlin") as ledger:
        paint, whole = ledger.get(type(basics()[2]), "paint"), ledger.get(Specimen, "specimen")
        ledger.append([replace(paint, id="p2", name="Kiln Red", number=None), replace(whole, **other)])
        hours = (0, 5, 10)
        ledger.append([
            PACKED,
            *(
                replace(OPENED, id=f"u{n}", at=NOON + timedelta(hours=n), specimen="s2" if n == 5 else "specimen")
                for n in hours
            ),
            *(unpacked(f"p{n}", trial=f"u{n}", at=NOON + timedelta(hours=n)) for n in hours),
        ])  # fmt: skip
        shown = ledger.tested_rows("comparison")
        assert [row.observation for row in shown] == ["p0", "p10"]
        assert len({row.sitting for row in shown}) == 1


def test_nothing_is_unpacked_the_day_before_it_was_bought(tmp_path):
    """Bought on the 20th in Auckland and looked at that morning, when it is the 19th in Greenwich."""
    with begun(tmp_path / "mine.sqlite", "Pacific/Auckland") as ledger:
        parcel, whole = ledger.get(Parcel, "parcel"), ledger.get(Specimen, "specimen")
        morning = datetime(2026, 11, 19, 21, tzinfo=UTC)
        ledger.append([
            PACKED,
            replace(parcel, id="today", bought_on=date(2026, 11, 20), received_on=date(2026, 11, 20)),
            replace(whole, id="s2", sticker="OV 0002", parcel="today"),
            replace(OPENED, specimen="s2", at=morning),
            unpacked("first", trial="unpacked", at=morning),
        ])  # fmt: skip
        (row,) = ledger.tested_rows()
        assert (row.bought_on, row.day, row.doubt) == (date(2026, 11, 20), date(2026, 11, 20), None)


def test_lists_show_the_day_of_the_daybook(tmp_path):
    """In Record and in a specimen's history, for tests and for older notes."""
    evening = datetime(2026, 3, 9, 21, 30, tzinfo=UTC)
    with begun(tmp_path / "mine.sqlite", "Asia/Kolkata") as ledger:
        opened_at(ledger, evening)
        with ledger.reading() as connection:
            (line,) = queries_record.lines(connection, ["p01"])
            (seen,) = queries_stock.seen_on(connection, "specimen")
        assert (line.zone, seen.day) == (ZoneInfo("Asia/Kolkata"), date(2026, 3, 10))


@pytest.mark.parametrize("name", LIVED)
def test_of_older_notes_the_day_stays(tmp_path, name):
    """Noon where the daybook is, once that is recorded; noon in Greenwich in what was written before."""
    zone, day = ZoneInfo(name), date(2026, 2, 1)  # the day of purchase: a day earlier would be doubted
    with begun(tmp_path / "mine.sqlite") as ledger:
        notes = replace(OPENED, occasion=Occasion.OLDER_NOTES)
        first, second = (replace(notes, id=f"n{n}", at=noon(day, one)) for n, one in enumerate((UTC, zone)))
        ledger.append([PACKED, first, unpacked("o0", trial="n0", at=first.at)])
        ledger.set_zone(name)
        ledger.append([second, unpacked("o1", trial="n1", at=second.at)])
        rows = ledger.tested_rows()
        assert [(row.day, row.doubt) for row in rows] == [(day, None)] * 2
        early = replace(second, id="n2", at=noon(day - timedelta(days=1), zone))
        with pytest.raises(BadInput, match=f"allowed: {day}, when OV 0001 came, or later"):
            ledger.append([early])


def test_a_tube_poured_on_the_day_of_its_session_is_poured(tmp_path):
    """In Los Angeles an evening's session began on the day it did there, not a day later."""
    with begun(tmp_path / "mine.sqlite", "America/Los_Angeles") as ledger:
        session, whole = ledger.get(Session, "session"), ledger.get(Specimen, "specimen")
        evening = datetime(2026, 3, 10, 2, tzinfo=UTC)
        ledger.append([
            replace(session, started_at=evening, closed_at=evening),
            replace(whole, id="tube", sticker="OV 0002", format=Format.TUBE, lot=None),
            replace(basics()[10], id="second", position=2, specimen="tube"),
            Preparation(id="p", specimen="tube", kind=PreparationKind.POURED, on=date(2026, 3, 10)),
            Trial(id="t2", specimen="tube", occasion=Occasion.BENCH, at=evening, session="session", run_row="second"),
            graded("b", trial="t2", at=evening),
        ])  # fmt: skip
        assert [row.undried for row in ledger.tested_rows()] == [True]
        assert ledger.day_of(session, evening) == date(2026, 3, 9)


READ = """
import json, sys, time
time.tzset()
from qcledger.ledger import Ledger
with Ledger.open(sys.argv[1]) as ledger:
    rows = [[row.observation, str(row.day), row.sitting, row.doubt] for row in ledger.tested_rows()]
    print(json.dumps([rows, ledger.doubts()]))
"""


def test_two_machines_read_the_same_days(tmp_path):
    """Where a ledger is read does not matter: its days and sittings are those of its daybook."""
    evening = datetime(2026, 3, 28, 21, 30, tzinfo=UTC)
    place = tmp_path / "mine.sqlite"
    with begun(place, "Europe/Berlin") as ledger:
        opened_at(ledger, *(evening + timedelta(hours=n) for n in range(0, 40, 4)))
    read = [
        subprocess.run(
            [sys.executable, "-c", READ, str(place)],
            env={**os.environ, "TZ": zone}, capture_output=True, text=True, check=True,
        ).stdout
        for zone in ("Pacific/Auckland", "America/Los_Angeles")
    ]  # fmt: skip
    assert read[0] == read[1]
    assert len(json.loads(read[0])[0]) == 10
