"""Readings that may stop at a limit, held against those of peers: "> 60" is never 60."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from qcledger.findings import Finding
from qcledger.findings.lots import TestedLot
from qcledger.findings.words import how_many
from qcledger.report.layout import paragraph
from qcledger.stats.timed import Median, TimedComparison, against_peers
from qcledger.vocab import Censored

LINE, LEAST = 0.05, 0.0001
"""Chance from which no difference is said to be shown, and the smallest that is printed."""

FEW = 5
"""Readings on either side under which no chance is given: the test leans on many."""


@dataclass(frozen=True, slots=True)
class _Read:
    """Readings, or the limits they lie above, which of them are such limits, and how many lie below one."""

    readings: list[float]
    beyond: list[bool]
    below: int


def reading_lines(finding: Finding, width: int) -> Iterator[str]:
    """Yield the medians of a cell and of its peers, and the log-rank test; nothing where no reading can stop."""
    reading = finding.criterion.reading
    if reading is None or reading.stop_at is None:
        return
    peers = finding.field.peers(finding.lots)
    ours, theirs = _read(finding.lots), _read(peers)
    if not ours.readings:
        return
    found = against_peers(ours.readings, ours.beyond, theirs.readings, theirs.beyond)
    yield from paragraph(f"These: {median_words(found.ours, reading.unit)}.", width=width)
    if not theirs.readings:
        yield from paragraph("No readings of peers.", width=width)
        return
    makers = how_many(len({lot.row.maker for lot in peers}), "other maker")
    yield from paragraph(f"Peers, {makers}: {median_words(found.peers, reading.unit)}.", width=width)
    yield from paragraph(_test(found), width=width)
    if below := ours.below + theirs.below:
        yield from paragraph(f"Left out, known only to lie below a limit: {below}.", width=width)


def _test(found: TimedComparison) -> str:
    if min(found.ours.readings, found.peers.readings) < FEW:
        return f"Under {FEW} readings on one side: no test."
    chance = f"chance {found.p_value:.2g}" if found.p_value >= LEAST else f"chance below {LEAST:g}"
    told = f"log-rank test, {chance}; lots are not allowed for"
    if found.p_value > LINE:
        return f"No difference from the peers is shown ({told})."
    return f"These are reached {'sooner' if found.statistic > 0 else 'later'} than the peers' ({told})."


def _read(lots: Iterable[TestedLot]) -> _Read:
    rows = [unit.row for lot in lots for unit in lot.units if unit.row.reading is not None]
    kept = [row for row in rows if row.censored is not Censored.BELOW]
    beyond = [row.censored is Censored.ABOVE for row in kept]
    return _Read([row.reading or 0.0 for row in kept], beyond, len(rows) - len(kept))


def median_words(found: Median, unit: str) -> str:
    """Return a median with its interval and how many readings lie beyond a limit."""
    middle = f"> {found.above:g}" if found.median is None else f"{found.median:g}"
    low, high = (("open" if end is None else f"{end:g}") for end in (found.low, found.high))
    interval = "" if found.low is found.high is None else f" (95 %: {low} to {high})"
    beyond = f", {found.beyond} of them beyond the limit" if found.beyond else ""
    count = f"{found.readings} reading{'' if found.readings == 1 else 's'}"
    return f"median {middle} {unit}{interval} in {count}{beyond}"
