"""What is known about a run sheet without telling what its codes stand for."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import tzinfo
from typing import TYPE_CHECKING

from qcledger.bench import sheets
from qcledger.bench.blind import told_not_blind
from qcledger.bench.laying import Workload, workload
from qcledger.bench.orders import Balance
from qcledger.bench.planning import balance_of, rests
from qcledger.bench.runsheet import RunSheet, judged_at
from qcledger.bench.wishes import ProposedSheet
from qcledger.bench.worked import Worked, of_comparison, worked
from qcledger.records import Comparison, Session, Sheet, Stage
from qcledger.vocab import Role

if TYPE_CHECKING:
    from collections.abc import Iterable

    from qcledger.ledger import Ledger
    from qcledger.rubric import Criterion


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """One run sheet, without a word about what lies on it.

    Parameters
    ----------
    session, comparison, paper, reference
        The session, the title of its comparison, the paper of its sheet, and the paper that findings stay on; None
        where every paper counts.
    roles
        How many places there are for specimens, controls and hidden repeats.
    stages
        Its stages in order, with the hours they are due.
    not_blind
        A line for each reason why something cannot be judged blind.
    work
        How long hands are busy with it.
    balance
        How even its order is; None when it was not planned.
    way
        How its things are worked with, as its rubrics say.
    zone
        The time zone its hours are told in; None is this machine's.
    """

    session: Session
    comparison: str
    paper: str
    reference: str | None
    roles: Mapping[Role, int]
    stages: tuple[Stage, ...]
    not_blind: tuple[str, ...]
    work: Workload
    balance: Balance | None
    way: Worked
    zone: tzinfo | None = None

    @property
    def places(self) -> int:
        """How many places the sheet has."""
        return sum(self.roles.values())

    @property
    def rests(self) -> tuple[int, ...]:
        """The places after which the eyes rest."""
        return rests(self.places)


def of_proposal(proposal: ProposedSheet) -> tuple[Facts, ...]:
    """Return the facts of each proposed sheet."""
    wish, laid = proposal.wish, proposal.laid
    every = [*wish.plan.specimens, *([wish.control] if wish.control else [])]
    criteria = [
        criterion
        for rubric in proposal.rubrics
        for key, criterion in rubric.criteria.items()
        if any(judged_at(criterion, stage) for stage in wish.plan.stages)
        and (not wish.criteria or key in wish.criteria)
    ]
    format_of = {one.id: one.format for one in every}
    stages = [record for record in laid.records if isinstance(record, Stage)]
    return tuple(
        Facts(
            session=session,
            comparison=wish.plan.comparison.title,
            paper=wish.plan.paper,
            reference=wish.plan.comparison.reference_paper,
            roles=Counter(spot.role for spot in order),
            stages=tuple(stage for stage in stages if stage.session == session.id),
            not_blind=_not_blind(session, criteria, {one.format for one in every}),
            work=workload(asked_of(criteria, session), [format_of[spot.item.specimen] for spot in order]),
            balance=laid.balance,
            way=worked(proposal.rubrics),
            zone=wish.zone,
        )
        for session, order in zip(laid.sessions, laid.orders, strict=True)
    )


def of_session(ledger: "Ledger", session: Session) -> tuple[Facts, tuple[RunSheet, ...]]:
    """Return the facts of a session's sheet, and the sheet at each of its stages."""
    first = sheets.load(ledger, session.id)
    names = [stage.name for stage in first.stages] or [first.stage]
    found = tuple(sheets.load(ledger, session.id, name) for name in names)
    criteria = [criterion for sheet in found for criterion in sheet.criteria.values()]
    comparison = ledger.get(Comparison, session.comparison)
    facts = Facts(
        session=session,
        comparison=first.comparison,
        paper=", ".join(dict.fromkeys(sheet.paper for sheet in ledger.rows(Sheet, session=session.id))),
        reference=comparison.reference_paper if comparison else None,
        roles=Counter(line.row.role for line in first.lines),
        stages=first.stages,
        not_blind=_not_blind(session, criteria, {line.specimen.format for line in first.lines}),
        work=workload(criteria, [line.specimen.format for line in first.lines]),
        balance=balance_of(session),
        way=of_comparison(ledger, comparison),
        zone=ledger.zone,
    )
    return facts, found


def asked_of(criteria: "Iterable[Criterion]", session: Session) -> "list[Criterion]":
    """Return what a session asks: nothing that needs the names while its codes are unknown."""
    return [one for one in criteria if not (session.is_blind and one.names_in_view)]


def _not_blind(session: Session, criteria: "Iterable[Criterion]", formats: set[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(told_not_blind(asked_of(criteria, session), formats))) if session.is_blind else ()
