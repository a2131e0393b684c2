"""A run sheet in words: what it asks, how blind and how even it is, and when its stages are due."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, tzinfo

from qcledger.bench.facts import Facts, of_proposal
from qcledger.bench.laying import EVENING, Workload, looked_at, of_sheet
from qcledger.bench.onpaper import kept_apart
from qcledger.bench.orders import Balance
from qcledger.bench.planning import REST_MINUTES
from qcledger.bench.runsheet import RunSheet
from qcledger.bench.wishes import ProposedSheet
from qcledger.clock import local
from qcledger.findings.words import how_many, listed
from qcledger.report.layout import columns, paragraph, width_of
from qcledger.vocab import Blinding, Role


def about(facts: Facts) -> list[str]:
    """Return the facts of a sheet, a line each; none says what a code stands for."""
    return [line for line in _told(facts) if line]


def proposed(proposal: ProposedSheet) -> list[str]:
    """Return what is told of a proposal before it is kept: each sheet, then its paper; none of it names a code."""
    said = proposal.wish.plan.said
    told = [line for one in of_proposal(proposal) for line in (*about(one), *onward(one))]
    return [*told, said] if said and not proposal.wish.plan.is_apart else told


def onward(facts: Facts) -> list[str]:
    """Return how a sheet that was just laid out is prepared and printed, a line each."""
    session = facts.session
    by_whom = {Blinding.OTHER_PERSON: "--key FILE --for NAME", Blinding.OPEN: ""}
    prepared = by_whom.get(session.blinding, "--strips FILE")
    steps = (("to prepare it", prepared), ("to print it", "--print FILE"))
    return [f"{why}: qcledger sheet {session.code} {options}" for why, options in steps if options]


def _told(facts: Facts) -> Iterator[str]:
    session = facts.session
    yield f"Session {session.code}, {facts.comparison}; tester {session.tester}; {blinding(facts)}"
    if facts.reference not in (None, facts.paper):
        yield kept_apart(facts.reference or "", facts.paper)
    yield _places(facts.roles)
    yield even(facts.balance) if facts.balance else ""
    if facts.rests:
        yield f"rest your eyes {REST_MINUTES} minutes after {_after(facts.rests)}"
    yield from (
        f"{stage.name} due {_hour(stage.due_at, facts.zone)}" for stage in facts.stages if stage.due_at is not None
    )
    yield from hands_on(facts.work)
    yield from facts.not_blind
    yield from session.note.splitlines()


def hands_on(work: Workload) -> Iterator[str]:
    """Give how long hands are busy, which test takes most, and whether that is more than an evening."""
    if work.longest is not None:
        title, most = work.longest
        yield f"hands-on about {in_hours(work.minutes)}, of which {title} {in_hours(most)}"
        if work.evenings > 1:
            yield f"more than an evening of {in_hours(EVENING)}: ask for fewer criteria or specimens, or take several"
    if work.untold:
        yield f"no minutes are told of {listed(list(work.untold))}"


def in_hours(minutes: float) -> str:
    """Return minutes in words: ``45 min``, ``3 h``, ``6 h 40 min``; under an hour at least 1."""
    hours, rest = divmod(max(round(minutes), 1), 60)
    return " ".join(part for part in (f"{hours} h" if hours else "", f"{rest} min" if rest else "") if part)


def put_down_text(stages: Sequence[RunSheet], width: int = 80) -> str:
    """Return what is put down and when, as numbered steps, then what is looked at and at which stage.

    Parameters
    ----------
    stages
        The sheet at each of its stages, in order.
    width
        Columns that a line may take.
    """
    parts = [*put_down(stages), *to_look_at(stages)]
    told = [
        [heading, *(line for one in lines for line in paragraph(one, rest="    ", width=width))]
        for heading, lines in parts
    ]
    return "\n\n".join("\n".join(part) for part in told) + "\n"


def put_down(stages: Sequence[RunSheet]) -> list[tuple[str, list[str]]]:
    """Return the steps of a sheet under headings that say when, numbered through, as long lines."""
    told: dict[str, list[str]] = {}
    for number, one in enumerate(of_sheet(stages), 1):
        heading = f"Put down {one.when}, in this order:"
        told.setdefault(heading, []).append(f"{number} {listed(list(one.tests))}: {one.step}")
    return list(told.items()) or [("The rubric does not say what is put down.", [])]


def to_look_at(stages: Sequence[RunSheet]) -> list[tuple[str, list[str]]]:
    """Return what is looked at, test by test, under a heading for each stage, as long lines."""
    return [(f"Look, {stage}:", [f"{one.test}: {one.look}" for one in looks]) for stage, looks in looked_at(stages)]


def blinding(facts: Facts) -> str:
    """Return how blind a session is: ``blind, shuffled by myself``."""
    if facts.session.blinding is Blinding.OPEN:
        return "open"
    return f"blind, {facts.session.blinding}" if facts.session.is_blind else f"closed; was {facts.session.blinding}"


def _places(roles: Mapping[Role, int]) -> str:
    parts = [how_many(roles.get(Role.SPECIMEN, 0), "specimen")]
    if roles.get(Role.REPEAT):
        parts.append(how_many(roles[Role.REPEAT], "hidden repeat"))
    if roles.get(Role.CONTROL):
        parts.append("the control first and last")
    return f"{sum(roles.values())} places: {listed(parts)}"


def even(balance: Balance) -> str:
    """Return how even an order is, in words that name nothing."""
    if balance.exact:
        return "exact: each specimen follows each other equally often and has each place equally often"
    near = f"makers side by side with themselves {how_many(balance.side_by_side, 'time')}"
    return f"imbalance {balance.imbalance:.1f}, where shuffles have {balance.shuffled:.1f} on average; {near}"


def _after(places: tuple[int, ...]) -> str:
    return f"place{'s' if len(places) > 1 else ''} {listed([str(place) for place in places])}"


def _hour(at: datetime, zone: tzinfo | None) -> str:
    return f"{local(at, zone):%Y-%m-%d %H:%M}"


def sheet_text(facts: Facts, stages: tuple[RunSheet, ...]) -> str:
    """Return a sheet for a terminal of 80 columns: its facts, then its places and how many results each has."""
    lines = [line for fact in about(facts) for line in paragraph(fact, rest="    ")]
    head = ("place", "code" if facts.session.is_blind else "sticker", *(str(sheet.stage) for sheet in stages))
    rows = [(str(n + 1), stages[0].label(n), *(_done(sheet, n) for sheet in stages)) for n in _numbers(stages)]
    widths = (-5, 9, *(max(10, width_of(sheet.stage)) for sheet in stages))
    return "\n".join([*lines, "", *columns([head, *rows], widths)]) + "\n"


def _numbers(stages: tuple[RunSheet, ...]) -> range:
    return range(len(stages[0].lines))


def _done(sheet: RunSheet, line: int) -> str:
    results = [sheet.result(place) for place in sheet.places_of(line)]
    return f"{sum(not one.is_open for one in results)} of {len(results)}"
