"""What every new run sheet begins with: the comparison, the session, its paper, its stages and its specimens."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Final

from qcledger import stickers
from qcledger.bench.stages import USUAL_DUE
from qcledger.errors import bad
from qcledger.records import Comparison, Session, Sheet, Specimen, Stage
from qcledger.vocab import Blinding

MOST_LINES: Final = 24
"""Specimens on one sheet; eyes tire after so many (our proposal), and a printed sheet has 3 x 8 cells."""

LIMITS: Final = {"temperature_c": (-40.0, 60.0), "humidity_pct": (0.0, 100.0)}
"""What the conditions that are numbers may be."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """What a stage is worked under."""

    water: str | None = None
    brush: str | None = None
    lamp: str | None = None
    temperature_c: float | None = None
    humidity_pct: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetPlan:
    """A sheet to begin: `comparison` is an old or a new one, `stages` those its rubrics call for.

    `due` is how long after the start of a planned sheet each stage is due, as far as its rubrics say.
    `said` is what is to be known of its paper before it is made; see `onpaper`.
    """

    comparison: Comparison
    code: str
    tester: str
    paper: str
    stages: Sequence[str]
    specimens: Sequence[Specimen]
    paper_lot: str | None = None
    conditions: Conditions = field(default_factory=Conditions)
    due: Mapping[str, timedelta] = field(default_factory=lambda: USUAL_DUE)
    said: str = ""

    @property
    def is_apart(self) -> bool:
        """Whether its paper is not that of its comparison, so that it does not count towards findings."""
        return self.comparison.reference_paper not in (None, self.paper)


def find(
    names: Sequence[str], known: Mapping[str, Specimen], where: str = "specimens", own: str = ""
) -> tuple[Specimen, ...]:
    """Return the specimens with these stickers, whatever the case of their letters and the zeros of their counts.

    A count alone means `own` letters, unless only other letters have it.

    Raises
    ------
    BadInput
        When there are none, too many, or one twice, or a sticker is not in this ledger or may be several.
    """
    if not 1 <= len(names) <= MOST_LINES:
        raise bad(where, f"{len(names)} specimens", f"1 to {MOST_LINES} on a sheet")
    found = tuple(known.get(name) or _alike(name, known, where, own) for name in names)
    ids = [one.id for one in found]
    twice = next((one.sticker for one in found if ids.count(one.id) > 1), None)
    if twice is not None:
        raise bad(where, f"{twice} twice", "each specimen once")
    return found


def _alike(name: str, known: Mapping[str, Specimen], where: str, own: str) -> Specimen:
    near = stickers.meant(name, known, own)
    if len(near) == 1:
        return known[near[0]]
    if near:
        raise bad(where, name, f"one of {', '.join(near[:4])}")
    one = min(known, default="")
    raise bad(where, name, f"known stickers, such as {one}" if one else "known stickers; there is none yet")


def session_of(plan: SheetPlan, id: str, at: datetime) -> Session:  # noqa: A002 - the field's own name
    """Return the session of a plan, open."""
    return Session(
        id=id,
        code=plan.code,
        comparison=plan.comparison.id,
        tester=plan.tester,
        blinding=Blinding.OPEN,
        started_at=at,
    )


def sheet_of(plan: SheetPlan, id: str, session: Session) -> Sheet:  # noqa: A002 - the field's own name
    """Return the sheet of paper of a session."""
    return Sheet(id=id, session=session.id, number=1, paper=plan.paper, paper_lot=plan.paper_lot)


def stages_of(
    plan: SheetPlan, session: Session, new_id: Callable[[], str], due: Mapping[str, datetime] | None = None
) -> list[Stage]:
    """Return the stages of a session under the plan's conditions, `due` at these times."""
    under = plan.conditions
    return [
        Stage(
            id=new_id(),
            session=session.id,
            name=name,
            due_at=(due or {}).get(name),
            water=under.water,
            brush=under.brush,
            lamp=under.lamp,
            temperature_c=under.temperature_c,
            humidity_pct=under.humidity_pct,
        )
        for name in plan.stages
    ]
