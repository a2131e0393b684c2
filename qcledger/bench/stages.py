"""The stages of a sheet, as its rubrics have them: in which order, and when each is due."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import timedelta
from typing import TYPE_CHECKING, Final

from qcledger.records import Comparison, RubricText, Session, Stage
from qcledger.vocab import STAGE_HOURS, StageName, stages_in_order

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.rubric import Rubric

USUAL_DUE: Final[Mapping[str, timedelta]] = {name: timedelta(hours=hours) for name, hours in STAGE_HOURS.items()}
"""How long after its start the stages of a sheet are due whose rubrics say nothing of their own."""


def in_order(rubrics: "Sequence[Rubric]") -> tuple[str, ...]:
    """Return the stages of these rubrics once each, those due first in front; the usual ones without a rubric.

    A stage whose time is not said comes after the one in front of it in its own rubric; of two rubrics that have a
    stage the first counts.
    """
    places: dict[str, float] = {}
    for rubric in rubrics:
        hours = 0.0
        for stage in rubric.stages:
            hours = hours if stage.hours is None else stage.hours
            places.setdefault(stage.name, hours)
    return tuple(sorted(places, key=lambda name: places[name])) or tuple(StageName)


def due(rubrics: "Sequence[Rubric]") -> dict[str, timedelta]:
    """Return how long after the start of a sheet each stage is due whose time a rubric says; the first counts."""
    found: dict[str, timedelta] = {}
    for stage in (stage for rubric in rubrics for stage in rubric.stages):
        if stage.after is not None:
            found.setdefault(stage.name, stage.after)
    return found or dict(USUAL_DUE)


def arranged(names: Iterable[str], order: Sequence[str]) -> tuple[str, ...]:
    """Return names in an order; those that are not in it come last."""
    names = set(names)
    return (*(name for name in order if name in names), *stages_in_order(names - set(order)))


def by_name(ledger: "Ledger", session: Session) -> dict[str, Stage]:
    """Return the stages that stand of a session, by name."""
    from qcledger.ledger.queries_sheet import stages

    with ledger.reading() as connection:
        return stages(connection, session.id)


def of_session(ledger: "Ledger", session: Session) -> list[Stage]:
    """Return the stages of a session in the order of its rubrics."""
    comparison = ledger.get(Comparison, session.comparison)
    kept = ledger.by_id(RubricText, comparison.rubrics) if comparison else {}
    order = in_order([ledger.rubric(one) for one in (comparison.rubrics if comparison else ()) if one in kept])
    rows = by_name(ledger, session)
    return [rows[name] for name in arranged(rows, order)]
