"""The control over the sessions, drawn: a line a session, its value as a mark in the band where it is expected.

Grades have few values: their band reaches one grade to either side of the middle of the other sessions, which is the
rule of the session check. Readings have an individuals chart, each session held against the others.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import fmean, median

from qcledger.findings.control import ControlLook, History
from qcledger.findings.drift import MOST_ON_ONE
from qcledger.findings.repeats import USUAL_SCATTER
from qcledger.findings.words import how_many
from qcledger.report.layout import cut, paragraph
from qcledger.report.strips import Ink
from qcledger.rubric import Criterion
from qcledger.stats.control_chart import Rule, broken, deviation_of, ewma, individuals
from qcledger.vocab import GRADE_NOTE, Kind

WORST = 5.0
FEWEST = 3
"""Sessions from which a chart is drawn."""
SIDE, AFTER, NARROW = 12, 24, 44
"""Columns for a session's code and tester, and for the words behind; width below which the words give way."""

RULES: Mapping[Rule, str] = {
    Rule.BEYOND: "outside the band",
    Rule.TWO_OF_THREE: "2 of 3 near one edge",
    Rule.FOUR_OF_FIVE: "4 of 5 off the middle",
    Rule.EIGHT: "8 in a row on one side",
}
"""What breaking a run rule is called."""


@dataclass(frozen=True, slots=True)
class ChartMarks:
    """The characters of a chart: the band, its middle, a value in it, and one that moved."""

    band: str
    middle: str
    value: str
    moved: str


_SHADED, _PLAIN = ChartMarks("░", "┆", "█", "▓"), ChartMarks(".", "|", "o", "#")


def marks_of(ink: Ink) -> ChartMarks:
    """Return the characters that go with what strips are drawn with."""
    return _PLAIN if ink.shades.isascii() else _SHADED


@dataclass(frozen=True, slots=True)
class ChartPoint:
    """One session on a chart: its value, where it is expected (None where that is not known), and what it broke."""

    look: ControlLook
    value: float
    centre: float | None
    low: float
    high: float
    words: str = ""

    @property
    def moved(self) -> bool:
        """Whether anything is said about it."""
        return bool(self.words)


@dataclass(frozen=True, slots=True)
class Series:
    """The control on one criterion: its places in the order of time, the unit, and the ends of the scale."""

    title: str
    unit: str
    places: tuple[ChartPoint, ...]
    ends: tuple[float, float]
    deviation: float

    @property
    def far(self) -> float:
        """The farthest that a session moved, in units of what is allowed."""
        spans = [
            (abs(one.value - one.centre), one.high - one.centre) for one in self.places if one.centre is not None
        ]
        return max((by / room for by, room in spans if room), default=0.0)


def series_of(looks: History, criteria: Mapping[str, Criterion], scatter: float = USUAL_SCATTER) -> list[Series]:
    """Return a chart's worth of values for each criterion with `FEWEST` sessions, the farthest moved first.

    Parameters
    ----------
    looks
        The control in each session.
    criteria
        The criteria by key.
    scatter
        By how much one grade scatters, in grades.
    """
    found = [
        _readings(criteria[key], own) if _is_read(criteria[key], own) else _grades(criteria[key], own, scatter)
        for key, own in looks.items()
        if len(own) >= FEWEST
    ]
    return sorted(found, key=lambda one: (-one.far, one.title))


def _is_read(criterion: Criterion, looks: Sequence[ControlLook]) -> bool:
    return criterion.kind is Kind.READING and all(look.readings for look in looks)


def _grades(criterion: Criterion, looks: Sequence[ControlLook], scatter: float) -> Series:
    """Return grades held to the middle of the other sessions, one grade to either side."""
    places, scores = [], []
    for look in looks:
        others = [one.grade for one in looks if one is not look and not one.void]
        centre = median(others) if others else None
        scores.append(0.0 if centre is None or look.void else look.grade - centre)
        ends = (0.0, WORST) if centre is None else (centre - MOST_ON_ONE, centre + MOST_ON_ONE)
        words = f"moved {scores[-1]:+g}" if abs(scores[-1]) > MOST_ON_ONE else ""
        places.append(ChartPoint(look, look.grade, centre, *ends, words=words))
    runs = broken(scores, (Rule.EIGHT,))
    told = [_and(place, RULES[Rule.EIGHT] if run else "") for place, run in zip(places, runs, strict=True)]
    return Series(criterion.title, "", tuple(told), (0.0, WORST), scatter)


def _readings(criterion: Criterion, looks: Sequence[ControlLook]) -> Series:
    """Return readings on an individuals chart, each held against the other sessions."""
    values = [fmean(look.readings) for look in looks]
    step = min((after - before for before, after in pairwise(sorted(set(values)))), default=0.0)
    chart = individuals(values, step=step)
    points = chart.values if chart else ()
    places = [
        ChartPoint(
            look, point.value, point.centre, point.low, point.high, ", ".join(RULES[rule] for rule in point.broke)
        )
        for look, point in zip(looks, points, strict=bool(points))
    ] or [ChartPoint(look, value, None, value, value) for look, value in zip(looks, values, strict=True)]
    told = [_and(place, "") for place in places]
    edges = [edge for one in places for edge in (one.value, one.low, one.high)]
    ends = min(edges), max(edges)
    unit = criterion.reading.unit if criterion.reading else ""
    calm = [one.value for one in places if not one.look.void]
    return Series(criterion.title, unit, tuple(told), ends, deviation_of(calm, step))


def _and(place: ChartPoint, run: str) -> ChartPoint:
    words = ", ".join(part for part in (place.words, run, "void" if place.look.void else "") if part)
    return ChartPoint(place.look, place.value, place.centre, place.low, place.high, words)


def charts(series: Iterable[Series], width: int, ink: Ink) -> list[str]:
    """Return charts one below the other, `width` columns at most."""
    return [line for one in series for line in (*chart_lines(one, width, ink), "")][:-1]


def chart_lines(series: Series, width: int, ink: Ink) -> list[str]:
    """Return one chart: what moved in words, a line a session, the scale, and slow drift in words."""
    room = max(width - SIDE - (AFTER if width >= NARROW else 6), 11)
    return [
        *paragraph(f"Control, {series.title}: {said(series)}", width=width),
        *(_line(place, series, room, marks_of(ink), width) for place in series.places),
        f"{'':<{SIDE}}{_scale(series, room, width - SIDE - room - 1)}".rstrip(),
        *paragraph(slow_drift(series), width=width),
    ]


def said(series: Series) -> str:
    """Return in words what moved, and where the control lies otherwise."""
    unit = f" {series.unit}" if series.unit else ""
    calm = [one.value for one in series.places if not one.moved]
    if not calm:
        return "no steady session."
    span = f", {min(calm):g} to {max(calm):g}" if min(calm) < max(calm) else ""
    usual = f"{median(calm):g}{unit} in the middle of {how_many(len(calm), 'session')}{span}"
    far = "; ".join(f"{one.words} in {one.look.code}" for one in series.places if one.moved)
    return f"{far}. Otherwise {usual}." if far else f"steady, {usual}."


def slow_drift(series: Series) -> str:
    """Return what the running average and the steps between sessions say, of sessions that are not void."""
    counted = [one for one in series.places if not one.look.void]
    values = [one.value for one in counted]
    if len(values) < FEWEST or not series.deviation:
        return "Too few sessions to see slow drift."
    steady = [one.value for one in counted if not one.moved] or values
    points = ewma(values, fmean(steady), series.deviation)
    beyond = [one.look.code for one, point in zip(counted, points, strict=True) if point.broke]
    steps = [abs(after - before) for before, after in pairwise(values)]
    drift = f"the running average left its limits in {', '.join(beyond)}" if beyond else "no slow drift"
    last = points[-1]
    return (
        f"Running average {last.value:.3g}, expected {max(last.low, 0):.3g} to {last.high:.3g}: {drift}. "
        f"From one session to the next: {fmean(steps):.2g} on average, {max(steps):.3g} at most."
    )


def _line(place: ChartPoint, series: Series, room: int, marks: ChartMarks, width: int) -> str:
    strip = [" "] * room
    if place.centre is not None:
        low, high = (_column(edge, series, room) for edge in (place.low, place.high))
        strip[low : high + 1] = marks.band * (high + 1 - low)
        strip[_column(place.centre, series, room)] = marks.middle
    strip[_column(place.value, series, room)] = marks.moved if place.moved else marks.value
    words = f"{place.value:.3g}" if width < NARROW else f"{place.value:<5.3g}{place.words}"
    return f"{cut(place.look.code, 6)} {cut(place.look.tester, 4)} {''.join(strip)} {cut(words, AFTER - 1)}".rstrip()


def _scale(series: Series, room: int, after: int) -> str:
    line = [" "] * room
    if not series.unit:
        for grade in range(int(WORST) + 1):
            line[_column(grade, series, room)] = str(grade)
        return "".join(line)
    low, high = (f"{end:.3g}" for end in series.ends)
    return f"{low}{high:>{max(room - len(low), 1)}} {cut(series.unit, after)}"


def _column(value: float, series: Series, room: int) -> int:
    low, high = series.ends
    return min(max(round((value - low) / (high - low or 1) * (room - 1)), 0), room - 1)


def label(ink: Ink) -> str:
    """Return what a chart shows, said wherever charts are."""
    marks = marks_of(ink)
    return (
        f"{marks.value} control, {marks.moved} moved, {marks.middle} middle of the other sessions, {marks.band} "
        f"where it is expected: grades ({GRADE_NOTE}) within one grade, readings within three deviations."
    )
