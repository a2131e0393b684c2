"""Saving a filled form as a new run sheet."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from qcledger.bench import offer as offers
from qcledger.bench import poured
from qcledger.bench.begin import begin
from qcledger.records import Session
from qcledger.screens.desk import Desk

if TYPE_CHECKING:
    from qcledger.ledger import Ledger


@dataclass(frozen=True, slots=True)
class Begun:
    """A sheet that was begun: the id of its session, and what is to be said of its paper."""

    session: str
    said: str


def beginner(desk: Desk, offered: offers.Offer, typed: Mapping[str, str]) -> "Callable[[Ledger], Begun]":
    """Return the job that saves a filled form, all or nothing, and gives what was begun."""

    def job(ledger: "Ledger") -> Begun:
        from qcledger.rubric import load  # here, because reading YAML is no matter of the first paint

        title = typed.get("comparison", "")
        old = offered.comparison(title)
        keys = () if old else offers.rubric_keys(typed.get("rubric", ""), offered.rubrics)
        rubrics = (
            [ledger.rubric(kept) for kept in old.rubrics] if old else [load(offered.rubrics[key]) for key in keys]
        )
        now = desk.now()
        comparison = offers.comparison_for(title, rubrics, offered, new_id=desk.new_id(), on=ledger.day(now))
        plan = offers.plan(typed, offered, comparison, rubrics)
        on, days = ledger.day(now), desk.settings.drying_days
        prepared = poured.latest(ledger, plan.specimens)
        wet = poured.why_not_dried(plan.specimens, prepared, on, days, typed.get("although", ""))
        records = begin(plan, at=now, new_id=desk.new_id, note=wet)
        ledger.append([*(ledger.keep_rubric(rubric) for rubric in rubrics), *records], reason=wet)
        return Begun(next(record.id for record in records if isinstance(record, Session)), plan.said)

    return job
