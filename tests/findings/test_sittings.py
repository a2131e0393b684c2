"""What is graded in one sitting counts once, wherever the tester lives and whatever midnight does meanwhile."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from qcledger.findings.checks import sittings
from qcledger.findings.evidence import Unit, sitting_of
from qcledger.findings.trail import trail_of
from qcledger.findings.wording import came_from
from qcledger.ledger import Ledger
from qcledger.records import Parcel, Specimen, Trial
from qcledger.vocab import Occasion
from tests.ledger.given import PACKED, basics, steady, unpacked


def seen(place, zone, bought_on, *times):
    """Return the tested rows of one specimen bought on a day and looked at when unpacked at these times."""
    late = steady(datetime(2026, 12, 24, tzinfo=UTC))
    with Ledger.create(place, letters="OV", tester="Oda Vane", sources=late, zone=zone) as ledger:
        ledger.append([*basics(), PACKED])
        parcel, whole = ledger.get(Parcel, "parcel"), ledger.get(Specimen, "specimen")
        ledger.append([replace(parcel, id="p2", bought_on=bought_on)])
        for n, at in enumerate(times):
            ledger.append([
                replace(whole, id=f"s{n}", sticker=f"OV 1{n:03}", parcel="p2"),
                Trial(id=f"t{n}", specimen=f"s{n}", occasion=Occasion.UNPACKING, at=at),
                unpacked(f"o{n}", trial=f"t{n}", at=at),
            ])  # fmt: skip
        return ledger.tested_rows()


@pytest.mark.parametrize("zone", ["America/Los_Angeles", "Europe/Berlin", "Pacific/Auckland", "Asia/Kolkata"])
def test_an_afternoon_over_midnight_in_greenwich_is_one_sitting(tmp_path, zone):
    """From two to six in Los Angeles, over midnight in UTC: one sitting, so no second one confirms a fault."""
    begin = datetime(2026, 11, 19, 22, tzinfo=UTC)
    rows = seen(tmp_path / "mine.sqlite", zone, date(2026, 11, 1), *(begin + timedelta(hours=n) for n in range(5)))
    assert {row.trial_at.day for row in rows} == {19, 20}
    assert sittings({sitting_of(row) for row in rows}) == "1 sitting of unpacking"


def test_two_sittings_of_one_day_are_two(tmp_path):
    """A morning and an evening with six hours between."""
    begin = datetime(2026, 11, 19, 8, tzinfo=UTC)
    rows = seen(tmp_path / "mine.sqlite", "Europe/Berlin", date(2026, 11, 1), begin, begin + timedelta(hours=6))
    assert {row.day for row in rows} == {date(2026, 11, 19)}
    assert sittings({sitting_of(row) for row in rows}) == "2 sittings of unpacking"


def test_a_sentence_never_says_that_it_was_unpacked_before_it_was_bought(tmp_path):
    """Bought and unpacked on 20 November in Auckland, when it is the 19th in Greenwich."""
    rows = seen(
        tmp_path / "mine.sqlite", "Pacific/Auckland", date(2026, 11, 20), datetime(2026, 11, 19, 21, tzinfo=UTC)
    )
    said = came_from(trail_of(Unit(row, None, None) for row in rows))
    assert "on 20 November 2026. Looked at when unpacked, the maker's name in view, on 20 November 2026." in said
