"""What is offered for a new sheet: what was used last by the recorded times, whatever the ids."""

from dataclasses import replace
from datetime import timedelta

import pytest

from qcledger.bench.offer import offer
from qcledger.records import Comparison, RunRow, Session, Sheet, Stage
from qcledger.vocab import Role, StageName
from tests.small import START, small_ledger


@pytest.fixture
def ledger(tmp_path):
    """Yield a ledger with one sheet at work."""
    with small_ledger(tmp_path).open(write=True) as opened:
        yield opened


def begun(ledger, name, days, control, paper="cotton"):
    """Keep a sheet begun so many days after the first, whose ids begin with `name`, with a control."""
    session = replace(ledger.get(Session, "se"), id=name, code=f"S-{name}", started_at=START + timedelta(days=days))
    sheet = Sheet(id=f"{name}-sheet", session=name, number=1, paper=paper)
    row = RunRow(
        id=f"{name}-row", session=name, sheet=sheet.id, position=1, specimen=control, role=Role.CONTROL
    )  # fmt: skip
    ledger.append([session, sheet, row])
    return session


def test_the_control_of_the_last_sheet_is_offered(ledger):
    """A sheet begun earlier may have the later ids, as one that was merged or imported has."""
    assert offer(ledger).control == ""
    begun(ledger, "zz", 1, "sp01", "rough")
    begun(ledger, "aa", 2, "sp02", "cold-pressed")
    assert offer(ledger).control == "OV 0003"
    assert offer(ledger).paper("a new comparison") == "cold-pressed"


def test_the_conditions_of_the_stage_begun_last_are_offered(ledger):
    """By the hour it was begun, not by its id; before any was begun, those of the first stage."""
    session = begun(ledger, "aa", 2, "sp02")
    stages = [
        Stage(id="c", session=session.id, name=StageName.WET, lamp="window"),
        Stage(id="a", session=session.id, name=StageName.AFTER_24H, lamp="bulb"),
        Stage(id="b", session=session.id, name=StageName.DRY, lamp="tubes"),
    ]
    ledger.append(stages)
    assert offer(ledger).proposed()["lamp"] == "window"
    at = session.started_at
    ledger.append([replace(stages[0], started_at=at), replace(stages[2], started_at=at + timedelta(hours=4))])
    assert offer(ledger).proposed()["lamp"] == "tubes"


def test_the_comparison_begun_last_is_offered(ledger):
    """By its day, whatever its id."""
    day = START.date()
    ledger.append([Comparison(id="zz", title="older", question="", started_on=day - timedelta(days=9))])
    ledger.append([Comparison(id="aa", title="newer", question="", started_on=day + timedelta(days=9))])
    assert offer(ledger).proposed()["comparison"] == "newer"


def test_the_rubric_that_was_chosen_is_offered(ledger):
    """Chosen on its page, it stands in the form of a new sheet."""
    assert offer(ledger, "pencil").proposed()["rubric"] == "pencil"
