"""How well a tester repeats, as text, CSV and JSON: one row builder, and the same numbers in words."""

import json
from collections.abc import Iterator, Mapping, Sequence

from qcledger.findings.checks import percent
from qcledger.findings.tester import Measured, MeasuredTester, SideBySide
from qcledger.findings.words import listed, plural
from qcledger.report.layout import columns, paragraph
from qcledger.report.rows import Row
from qcledger.report.to_csv import table_csv
from qcledger.rubric import Criterion
from qcledger.rubric.ladder import WIDTH
from qcledger.stats.agreement import ENOUGH, Agreement
from qcledger.stats.apart import Neighbours, Told
from qcledger.stats.trend import Trend
from qcledger.vocab import Kind

FORM = 1
"""Raised when a name of the JSON changes or goes; new names may come without it."""

EVERY = "all criteria together"
LINE = 0.05
"""Chance below which a drift of the scale is said to be one."""

_HEAD = ("criterion", "pairs", "equal", "within 1", "shift", "kappa (95 %)")
_WIDTHS = (24, -5, -6, -8, -6, 24)
NARROW = 60
"""Columns below which only counts are shown."""

NOTE = (
    f"Counts only under {ENOUGH} pairs. Shift: second grade less first, in grades. Kappa: quadratic weights, "
    "1 perfect, 0 what chance gives; it is low where a criterion hardly varies."
)


def rows_of(testers: Sequence[MeasuredTester], criteria: Mapping[str, Criterion]) -> list[Row]:
    """Return one row a tester and criterion, the criteria together first."""
    return [_row(tester, one, criteria) for tester in testers for one in (tester.together, *tester.by_criterion)]


def _row(tester: MeasuredTester, one: Measured, criteria: Mapping[str, Criterion]) -> Row:
    found, read = one.grades, one.readings if one.criterion and _is_read(one.criterion, criteria) else None
    return {
        "tester": tester.name,
        "criterion": one.criterion,
        "criterion_title": _title(one.criterion, criteria),
        "pairs": found.pairs,
        "equal": found.equal,
        "within_one": found.within_one,
        "shift": found.shift,
        **_ends("equal", found.equal_interval),
        **_ends("within_one", found.within_one_interval),
        "kappa": _kappa(one),
        **_ends("kappa", found.kappa_interval if one.criterion else None),
        "reading_pairs": read.pairs if read else None,
        "reading_deviation": read.deviation if read else None,
        "reading_limit": read.limit if read else None,
        "reading_relative": int(read.relative) if read else None,
    }


def _ends(name: str, interval: object) -> Row:
    low, high = getattr(interval, "low", None), getattr(interval, "high", None)
    return {f"{name}_low": None if low is None else float(low), f"{name}_high": None if high is None else float(high)}


def _kappa(one: Measured) -> float | None:
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
    """Return ``{"form": 1, "testers": [...], "side_by_side": [...]}``, indented, ended by a line feed."""
    told = {
        "form": FORM,
        "testers": [dict(row) for row in rows_of(testers, criteria)],
        "told_apart": [
            {"tester": one.name, "lower": near.lower, "upper": near.upper, "kept": near.kept, "swapped": near.swapped,
             "verdict": str(near.verdict)}
            for one in testers for near in one.neighbours
        ],
        "side_by_side": [_beside_row(one) for one in pairs],
    }  # fmt: skip
    return json.dumps(told, ensure_ascii=False, indent=2) + "\n"


def _beside_row(one: SideBySide) -> dict[str, object]:
    found = one.grades
    return {
        "one": one.one, "other": one.other, "pairs": found.pairs, "equal": found.equal,
        "within_one": found.within_one, "shift": found.shift, "alpha": one.alpha.alpha,
    }  # fmt: skip


def lines_of(
    testers: Sequence[MeasuredTester],
    pairs: Sequence[SideBySide],
    criteria: Mapping[str, Criterion],
    width: int = WIDTH,
) -> list[str]:
    """Return the testers in words and tables of at most `width` columns."""
    if not testers:
        return paragraph("No session at the bench counts yet, so no tester is measured.", width=width)
    parts = [*(_told(one, criteria, width) for one in testers), *(_beside(one, width) for one in pairs)]
    return [line for part in parts for line in (*part, "")] + paragraph(NOTE, width=width)


def _told(tester: MeasuredTester, criteria: Mapping[str, Criterion], width: int) -> list[str]:
    lines = [f"Tester {tester.name}", *paragraph(in_words(tester.together.grades), "  ", width=width)]
    for words in (*_apart(tester.neighbours), *_drift(tester), *_readings(tester, criteria)):
        lines += paragraph(words, "  ", width=width)
    return [*lines, *_table(tester, criteria, width)]


def in_words(found: Agreement) -> str:
    """Return how second grades agree with the first: counts, and from enough pairs on shares with intervals."""
    if not found.pairs:
        return "No hidden repeat of this tester's own grades yet."
    if found.equal_interval is None or found.within_one_interval is None:
        return (
            f"{found.equal} of {found.pairs} second grades equal the first, {found.within_one} lie within one grade; "
            f"under {ENOUGH} pairs these are counts and no more."
        )
    equal, near = found.equal_interval, found.within_one_interval
    return (
        f"{found.equal} of {found.pairs} second grades equal the first ({percent(found.equal / found.pairs)}, 95 %: "
        f"{percent(equal.low)} to {percent(equal.high)}); {found.within_one} lie within one grade "
        f"({percent(near.low)} to {percent(near.high)})."
    )


def _apart(neighbours: Sequence[Neighbours]) -> Iterator[str]:
    """Yield which whole grades are told apart, and which are not."""
    for verdict, words in (
        (Told.NOT_APART, "Not told apart: {}."),
        (Told.APART, "Told apart: {}."),
        (Told.NOT_SETTLED, "Not settled: {}."),
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


def _table(tester: MeasuredTester, criteria: Mapping[str, Criterion], width: int) -> list[str]:
    if not tester.by_criterion:
        return []
    rows = [_HEAD, *(_cells(one, criteria) for one in tester.by_criterion)]
    wide = _WIDTHS if width >= NARROW + 18 else (max(width - 26, 8), *_WIDTHS[1:4])
    return columns([row[: len(wide)] for row in rows], wide)


def _cells(one: Measured, criteria: Mapping[str, Criterion]) -> tuple[str, ...]:
    found = one.grades
    interval = found.kappa_interval
    kappa = "" if found.kappa is None else f"{found.kappa:.2f}"
    spread = f" ({interval.low:.2f} to {interval.high:.2f})" if kappa and interval else ""
    shift = f"{found.shift:+.2f}" if found.pairs >= ENOUGH else ""
    counts = (str(found.pairs), str(found.equal), str(found.within_one))
    return (_title(one.criterion, criteria), *counts, shift, f"{kappa}{spread}")


def _beside(one: SideBySide, width: int) -> list[str]:
    found, alpha = one.grades, one.alpha.alpha
    told = f"{one.other} graded {found.shift:+.2f} against {one.one} on average"
    of_chance = "" if alpha is None or found.pairs < ENOUGH else f"; Krippendorff's alpha {alpha:.2f} (ordinal)"
    shared = f"{found.pairs} grades of specimens that both have graded"
    counts = f"{found.equal} equal, {found.within_one} within one grade"
    words = f"{shared}: {counts}; {told}{of_chance}."
    return [f"{one.one} and {one.other} side by side", *paragraph(words, "  ", width=width)]
