"""How well a tester repeats, as text, CSV and JSON: one row builder, and the same numbers in words."""

import json
from collections.abc import Iterator, Mapping, Sequence

from qcledger.findings.checks import percent
from qcledger.findings.tester import CriterionRepeats, MeasuredTester, Shared, SideBySide
from qcledger.findings.words import listed, plural
from qcledger.report.layout import columns, paragraph
from qcledger.report.rows import Row
from qcledger.report.to_csv import table_csv
from qcledger.rubric import Criterion
from qcledger.rubric.ladder import WIDTH
from qcledger.stats.agreement import ENOUGH, KAPPA_FROM, Agreement
from qcledger.stats.alpha import ALPHA_FROM
from qcledger.stats.apart import Neighbours, ToldApart
from qcledger.stats.proportion import Interval
from qcledger.stats.trend import Trend
from qcledger.text import harmless_in
from qcledger.vocab import Kind

FORM = 2
"""Raised when a name of the JSON changes or goes; new names may come without it."""

EVERY = "all criteria together"
LINE = 0.05
"""Chance below which a drift of the scale is said to be one."""

_HEAD = ("criterion", "pairs", "equal", "within 1", "shift")
_WIDTHS = (24, -5, -6, -8, -6, 24)
NARROW = 60
"""Columns below which only counts are shown."""

NOTE = (
    "Equal and within 1 are counts and have no interval: none for a share of so few pairs holds what it says. Kappa "
    f"(quadratic weights) is given from {KAPPA_FROM} pairs of a criterion on, alpha of two testers (Krippendorff's, "
    f"ordinal) from {ALPHA_FROM} specimens on; with fewer the counts stand alone. Both: 1 perfect, 0 what chance "
    "gives, low where a criterion hardly varies. Shift: second grade less first."
)


def rows_of(testers: Sequence[MeasuredTester], criteria: Mapping[str, Criterion]) -> list[Row]:
    """Return one row a tester and criterion, the criteria together first."""
    return [_row(tester, one, criteria) for tester in testers for one in (tester.together, *tester.by_criterion)]


def _row(tester: MeasuredTester, one: CriterionRepeats, criteria: Mapping[str, Criterion]) -> Row:
    found, read = one.grades, one.readings if one.criterion and _is_read(one.criterion, criteria) else None
    return {
        "tester": tester.name,
        "criterion": one.criterion,
        "criterion_title": _title(one.criterion, criteria),
        "pairs": found.pairs,
        "equal": found.equal,
        "within_one": found.within_one,
        "shift": found.shift,
        "kappa": _kappa(one),
        **_ends("kappa", found.kappa_interval if one.criterion else None),
        "reading_pairs": read.pairs if read else None,
        "reading_deviation": read.deviation if read else None,
        "reading_limit": read.limit if read else None,
        "reading_relative": int(read.relative) if read else None,
    }


def _ends(name: str, interval: Interval | None) -> Row:
    return {
        f"{name}_low": None if interval is None else interval.low,
        f"{name}_high": None if interval is None else interval.high,
    }


def _kappa(one: CriterionRepeats) -> float | None:
    """Return kappa of one criterion; over several together it would tell criteria apart."""
    return None if one.criterion is None or one.grades.kappa is None else float(one.grades.kappa)


def _is_read(key: str, criteria: Mapping[str, Criterion]) -> bool:
    return key in criteria and criteria[key].kind is Kind.READING


def _title(key: str | None, criteria: Mapping[str, Criterion]) -> str:
    if key is None:
        return EVERY
    return criteria[key].title if key in criteria else key


def csv_of(testers: Sequence[MeasuredTester], criteria: Mapping[str, Criterion]) -> str:
    """Return the rows as CSV."""
    return table_csv(rows_of(testers, criteria))


def json_of(testers: Sequence[MeasuredTester], pairs: Sequence[SideBySide], criteria: Mapping[str, Criterion]) -> str:
    """Return ``{"form": 2, "testers": [...], "side_by_side": [...]}``, indented, ended by a line feed."""
    told = {
        "form": FORM,
        "testers": [dict(row) for row in rows_of(testers, criteria)],
        "told_apart": [
            {"tester": one.name, "lower": near.lower, "upper": near.upper, "kept": near.kept, "swapped": near.swapped,
             "verdict": str(near.verdict)}
            for one in testers for near in one.neighbours
        ],
        "side_by_side": [_beside_row(one, part) for one in pairs for part in (one.together, *one.by_criterion)],
    }  # fmt: skip
    return json.dumps(harmless_in(told), ensure_ascii=False, indent=2) + "\n"


def _beside_row(one: SideBySide, part: Shared) -> Row:
    found, interval = part.grades, _of_alpha(part)
    return {
        "one": one.one, "other": one.other, "criterion": part.criterion, "pairs": found.pairs, "equal": found.equal,
        "within_one": found.within_one, "shift": found.shift,
        "alpha": part.alpha.alpha if part.alpha and interval else None, **_ends("alpha", interval),
    }  # fmt: skip


def _of_alpha(part: Shared) -> Interval | None:
    """Return the interval for alpha; without one alpha is not shown either."""
    return part.alpha.interval if part.alpha else None


def lines_of(
    testers: Sequence[MeasuredTester],
    pairs: Sequence[SideBySide],
    criteria: Mapping[str, Criterion],
    width: int = WIDTH,
) -> list[str]:
    """Return the testers in words and tables of at most `width` columns."""
    if not testers:
        return paragraph("No session at the bench counts yet, so no tester is measured.", width=width)
    parts = [*(_told(one, criteria, width) for one in testers), *(_beside(one, criteria, width) for one in pairs)]
    return [line for part in parts for line in (*part, "")] + paragraph(NOTE, width=width)


def _told(tester: MeasuredTester, criteria: Mapping[str, Criterion], width: int) -> list[str]:
    lines = [f"Tester {tester.name}", *paragraph(in_words(tester.together.grades), "  ", width=width)]
    for words in (*_apart(tester.neighbours), *_drift(tester), *_readings(tester, criteria)):
        lines += paragraph(words, "  ", width=width)
    rows = [
        (one.criterion, one.grades, _figure(one.grades.kappa, one.grades.kappa_interval))
        for one in tester.by_criterion
    ]
    return [*lines, *_table("kappa (95 %)", rows, criteria, width)]


def in_words(found: Agreement) -> str:
    """Return in counts how second grades agree with the first."""
    if not found.pairs:
        return "No hidden repeat of this tester's own grades yet."
    return (
        f"{found.equal} of {found.pairs} second grades equal the first ({percent(found.equal / found.pairs)}); "
        f"{found.within_one} lie within one grade."
    )


def _apart(neighbours: Sequence[Neighbours]) -> Iterator[str]:
    """Yield which whole grades are told apart, and which are not."""
    for verdict, words in (
        (ToldApart.NOT_APART, "Not told apart: {}."),
        (ToldApart.APART, "Told apart: {}."),
        (ToldApart.NOT_SETTLED, "Not settled: {}."),
    ):
        found = [_neighbours(one) for one in neighbours if one.verdict is verdict and one.kept + one.swapped]
        if found:
            yield words.format(listed(found))


def _neighbours(one: Neighbours) -> str:
    return f"{one.lower:g}s and {one.upper:g}s ({one.swapped} of {one.kept + one.swapped} swapped)"


def _drift(tester: MeasuredTester) -> Iterator[str]:
    if tester.on_sheet.size:
        size = tester.on_sheet.size
        yield f"In the course of a sheet: {_slope(tester.on_sheet, 'place')}, from {size} {plural(size, 'pair')}."
    if tester.over_sessions.size > 2:
        yield f"From session to session the control {_slope(tester.over_sessions, 'session')}."


def _slope(trend: Trend, step: str) -> str:
    told = f"{trend.slope:+.2g} grades a {step}, chance {trend.p_value:.2g}"
    return f"drifts, {told}" if trend.p_value <= LINE else f"shows no drift ({told})"


def _readings(tester: MeasuredTester, criteria: Mapping[str, Criterion]) -> Iterator[str]:
    for one in tester.by_criterion:
        read = one.readings
        if one.criterion and _is_read(one.criterion, criteria) and read and read.limit and read.pairs >= ENOUGH:
            reading = criteria[one.criterion].reading
            limit = percent(read.limit) if read.relative else f"{read.limit:.2g} {reading.unit if reading else ''}"
            yield (
                f"{_title(one.criterion, criteria)}: two readings less than {limit.strip()} apart are not told apart "
                f"({read.pairs} pairs)."
            )


def _table(
    figure: str, found: Sequence[tuple[str | None, Agreement, str]], criteria: Mapping[str, Criterion], width: int
) -> list[str]:
    """Return counts, mean shift and a figure for each criterion; on a narrow page the counts alone."""
    if not found:
        return []
    rows = [(*_HEAD, figure), *((_title(key, criteria), *_counts(grades), told) for key, grades, told in found)]
    wide = _WIDTHS if width >= NARROW + 18 else (max(width - 26, 8), *_WIDTHS[1:4])
    return columns([row[: len(wide)] for row in rows], wide)


def _counts(found: Agreement) -> tuple[str, ...]:
    shift = f"{found.shift:+.2f}" if found.pairs >= ENOUGH else ""
    return str(found.pairs), str(found.equal), str(found.within_one), shift


def _figure(value: float | None, interval: Interval | None) -> str:
    return "" if value is None or interval is None else f"{value:.2f} ({interval.low:.2f} to {interval.high:.2f})"


def _beside(one: SideBySide, criteria: Mapping[str, Criterion], width: int) -> list[str]:
    found = one.together.grades
    told = f"{one.other} graded {found.shift:+.2f} against {one.one} on average"
    shared = f"{found.pairs} grades of specimens that both have graded"
    words = f"{shared}: {found.equal} equal, {found.within_one} within one grade; {told}."
    rows = [
        (part.criterion, part.grades, _figure(part.alpha.alpha if part.alpha else None, _of_alpha(part)))
        for part in one.by_criterion
    ]
    return [
        f"{one.one} and {one.other} side by side",
        *paragraph(words, "  ", width=width),
        *_table("alpha (95 %)", rows, criteria, width),
    ]
