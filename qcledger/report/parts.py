"""Why: everything that led to one finding, part by part, as the page Why and ``qcledger findings --why`` show it."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from qcledger.findings import Check, Claim, Finding, TestedLot
from qcledger.findings.checks import percent
from qcledger.findings.evidence import Unit
from qcledger.findings.lots import tally
from qcledger.findings.picked import picked
from qcledger.findings.pooled import Estimate
from qcledger.findings.wording import (
    further,
    heading,
    in_short,
    on_other_paper,
    over_formats,
    recurring,
    sentence,
    set_apart,
    so_far,
    subject,
)
from qcledger.findings.wording_of_checks import (
    HOW_LIKELY,
    check_words,
    checked_words,
    level_rows,
    pooled_words,
    stands_in,
)
from qcledger.findings.wording_of_checks import in_short as stress_in_short
from qcledger.findings.wording_of_settling import LOOK, picked_in, would_settle
from qcledger.findings.wording_of_sureness import how_sure
from qcledger.findings.words import how_many, listed
from qcledger.report.funnel import NOTE as FUNNEL_NOTE
from qcledger.report.funnel import funnel
from qcledger.report.layout import columns, cut, paragraph, width_of
from qcledger.report.strips import FEW, Borrowed, Curve, Ink, Pairs, axis, by_lot, curve_of, singly, strips, with_mark
from qcledger.report.timed import reading_lines
from qcledger.rubric import PeerGroup
from qcledger.rubric.ladder import WIDTH
from qcledger.thing import worded
from qcledger.vocab import GRADE_NOTE, MARKS

PRIVATE = "Until specimens bought to confirm bear it out, it is published as open."
PENDING = "The pooled model is still being worked out; until then strips are drawn from these counts alone."
SO_FAR = "For you only: the counts so far"
"""Head of what an open finding, or one to confirm, counts; in public it reads as open."""
_TERMS = "Standing: how firmly it may be said. Extent: how far it reaches, from one specimen to a {} at most makers."
_FIELD = (
    "Pooled: the makers looked at together, so that what little shows of one borrows from the others. An ordinary "
    "maker is one with no leaning of its own; shares are for everybody's mix of {many} in this format, those of a "
    "{one} over the formats."
)
"""What the pooled shares are held against, and for which pigments or whatever else makes peers."""
_PEERS = "Peers: other makers' paints of the same {}"
STRESS = "A stress check leaves one thing out, a lot, a session or a seller, and asks whether the rest still says it."
HOW_SURE = "How sure this is"
RESTS_ON = "What it rests on, and may be printed with it"
WOULD_SETTLE = "What would settle it, either way"
_PIGMENTS = 8
"""Most pigments whose rates are shown."""
_COUNTS = 6
"""Columns of faulty and tested."""
_TABLE = 66
"""Fewest columns in which the chances stand as a table."""
_LEAST = 8
"""Fewest columns in which sellers and sessions can be told."""
_BELOW = "    "
"""Stands before what is told below a line."""


@dataclass(frozen=True, slots=True)
class Part:
    """A heading and the lines below it.

    `plain` parts are words for everybody, and come first; the others are the statistics behind them.
    """

    title: str
    lines: tuple[str, ...]
    plain: bool = False


@dataclass(frozen=True, slots=True)
class _Bar:
    """One line with a strip: a name, what is known beside it, and the counts."""

    name: str
    beside: str
    faulty: int
    tested: int
    pairs: Pairs | Curve
    after: str = ""


def parts_of(finding: Finding, width: int, ink: Ink) -> list[Part]:
    """Return why: in plain words first, then the statistics.

    Parameters
    ----------
    finding
        What is asked about.
    width
        Columns of the longest line.
    ink
        What strips are drawn with.
    """
    plain: tuple[tuple[str, Iterable[str]], ...] = (
        (heading(finding), _wrapped(sentence(finding), width)),
        (HOW_SURE, _wrapped(how_sure(finding), width)),
        ("Asked, told and decided", _said(finding, width)),
        (RESTS_ON, _rests_on(finding, width)),
        (WOULD_SETTLE, _wrapped(would_settle(finding), width)),
        (SO_FAR, _so_far(finding, width)),
    )
    statistics: tuple[tuple[str, Iterable[str]], ...] = (
        ("Standing", _standing(finding, width)),
        ("As counted, and pooled with the other makers", pooled_lines(finding, width, ink)),
        ("Does it stand with one thing left out?", _stress(finding, width)),
        (
            "Lots, each by itself",
            [*_bars(_lots(finding), finding, width, ink, (worded("paint"), "lot")), *_label(width, ink)],
        ),
        ("Lots, pooled: each lot's share, allowing for what the others show", _lots_pooled(finding, width, ink)),
        ("Not looked at", _passed(finding, width)),
        (worded(peers_words(finding.criterion.peers)), _peers(finding, width, ink)),
        ("Readings, those beyond the limit as such", reading_lines(finding, width)),
        ("Parcels and sellers", _bars(_parcels(finding), finding, width, ink, ("seller", "bought"))),
        ("Funnel", _funnel(finding, width)),
        ("Checks", _checks(finding, width)),
        ("Observations", _observations(finding, width)),
        ("Set apart", _set_apart(finding, width)),
    )
    return [
        Part(title, lines, is_plain)
        for is_plain, told in ((True, plain), (False, statistics))
        for title, given in told
        if (lines := tuple(given))
    ]


def _said(finding: Finding, width: int) -> Iterator[str]:
    """Yield what was decided, asked and told about it: for its tester, whatever of it may be printed."""
    for line in finding.said.lines:
        yield from paragraph(line, rest="  ", width=width)


def _set_apart(finding: Finding, width: int) -> Iterator[str]:
    yield from _wrapped(set_apart(finding.apart, finding.missing, finding.reader_notes), width)
    yield from _wrapped(on_other_paper(finding.left_apart), width)


def _wrapped(text: str, width: int) -> list[str]:
    return paragraph(text, width=width) if text else []


def _rests_on(finding: Finding, width: int) -> Iterator[str]:
    """Yield what may be printed beneath the statement, a line each."""
    for line in further(finding):
        yield from paragraph(line, rest="  ", width=width)


def _so_far(finding: Finding, width: int) -> Iterator[str]:
    """Yield what an open finding, or one to confirm, counts; for its tester."""
    for line in so_far(finding):
        yield from _wrapped(line, width)
    if finding.unconfirmed:
        yield from _wrapped(PRIVATE, width)


def _standing(finding: Finding, width: int) -> Iterator[str]:
    stress = finding.claim.stress if finding.claim else None
    looked = stress_in_short(stress) if stress else ""
    yield from _wrapped(f"{in_short(finding)}{f'; {looked}' if looked else ''}", width)
    for claim in finding.exceptions:
        yield from _wrapped(exception(claim), width)
    if finding.counts.tested:
        yield from _wrapped(rates(finding), width)
    if finding.recurrence and finding.recurrence.looked > 1:
        yield from _wrapped(f"The fault was {recurring(finding.recurrence)}.", width)
    yield from _wrapped(over_formats(finding), width)
    yield from _wrapped(terms([finding]), width)


def terms(findings: Iterable[Finding]) -> str:
    """Return what two words of ours mean, said where they first stand."""
    return _TERMS.format(listed(list(dict.fromkeys(one.criterion.peers.one for one in findings)), "or"))


def peers_words(by: PeerGroup) -> str:
    """Return who a finding's peers are, as a heading."""
    return _PEERS.format("format" if by.part is None else f"{by.same} in the same format")


def exception(claim: Claim) -> str:
    """Return an exception in one line: ``also /// settled: lot Q4471 of Kiln Red``."""
    counts = tally(claim.lots)
    return f"also {MARKS[claim.standing]} {claim.standing}: {subject(claim)}, {counts.faulty}/{counts.tested}"


def rates(finding: Finding) -> str:
    """Return the rate, its intervals and the counts of the peers in one sentence."""
    counts, grades = finding.counts, finding.grades
    raw = f"Share of faulty ones {percent(counts.rate or 0)}"
    wilson = f"{percent(finding.wilson.low)} to {percent(finding.wilson.high)} counting specimens (Wilson)"
    lots = f"{percent(finding.lot_aware.low)} to {percent(finding.lot_aware.high)} counting lots"
    median = f"; median fault grade {grades.median:g} ({GRADE_NOTE})" if grades else ""
    sides = "" if counts.faulty else ", both ways; the statement's limit is upward alone"
    return f"{raw}, {wilson}, {lots} (95 %{sides}); {_beside(finding)}{median}."


def _beside(finding: Finding) -> str:
    """Say what the peers showed, as counted: what belongs to a pigment or format must not look like the maker's."""
    peers = finding.peers
    if not peers.counts.tested:
        return "no peers tested"
    return f"peers {peers.counts.faulty}/{peers.counts.tested} at {how_many(peers.makers, 'other maker')}"


def _label(width: int, ink: Ink) -> list[str]:
    return _wrapped(f"{ink.label}; within a lot each specimen counts.", width)


def pooled_lines(finding: Finding, width: int, ink: Ink) -> list[str]:
    """Return the rate as counted above the pooled one, so that shrinking is seen, and the probabilities in words."""
    if finding.pending:
        return _wrapped(PENDING, width)
    reach = finding.reach
    if finding.pooled is None or reach is None:
        return []
    counts, chance = finding.counts, finding.claim.chance if finding.claim else None
    field = finding.pooled.formats.get((str(finding.format),))
    bars = [
        _Bar("as counted", percent(counts.rate or 0), counts.faulty, counts.tested, finding.lot_counts),
        _own_pooled(reach.rate, Curve(reach.curve), counts.tested),
        *([_pooled_bar("ordinary maker", field.rate, curve_of(field.rate))] if field else []),
        *_pigment_bars(finding),
    ]
    by = finding.criterion.peers
    field_words = _FIELD.format(one=by.one, many=by.many)
    words = [*pooled_words(reach), field_words, *(checked_words(chance) if chance else ()), *finding.pooled.warnings]
    words += finding.pooled.remarks
    return [
        *_bars(bars, finding, width, ink, ("", "share")),
        *_wrapped(" ".join(words), width),
        *_likely(finding, width),
    ]


def _likely(finding: Finding, width: int) -> list[str]:
    """Return the chance of each explanation as a small table, a line each where there is room for no table."""
    rows = level_rows(finding)
    if not rows:
        return []
    wide = width >= _TABLE
    lines = (
        columns(rows, (width - 56, 41, -10), "  ")
        if wide
        else [
            line
            for name, above, chance in rows
            for line in paragraph(f"{name} {above}: {chance}", "  ", "    ", width)
        ]
    )
    return [*_wrapped(HOW_LIKELY, width), *lines]


def _own_pooled(rate: Estimate, curve: Curve, tested: int) -> _Bar:
    """Return the bar of a pooled share, drawn and named as borrowed where there is little of one's own."""
    if tested >= FEW:
        return _pooled_bar("pooled", rate, curve)
    return _pooled_bar("pooled, borrowed", rate, Borrowed(curve))


def _pooled_bar(name: str, rate: Estimate, curve: Curve) -> _Bar:
    return _Bar(name, percent(rate.mean), 0, 0, curve, f"{percent(rate.low)} to {percent(rate.high)}")


def _pigment_bars(finding: Finding) -> list[_Bar]:
    """Return the rate of each of its pigments at an ordinary maker, where there are few enough to show."""
    names = sorted({name for lot in finding.lots for name in lot.group})
    known = finding.pooled.pigments if finding.pooled else {}
    found = [(name, known[(name,)].rate) for name in names if (name,) in known]
    bars = [_pooled_bar(name, rate, curve_of(rate)) for name, rate in found]
    return bars if len(bars) <= _PIGMENTS else []


def _lots_pooled(finding: Finding, width: int, ink: Ink) -> list[str]:
    known = finding.pooled.lots if finding.pooled else {}
    bars = []
    for lot in sorted(finding.lots, key=lambda lot: -lot.faulty):
        level = known.get(tuple(map(str, lot.key)))
        if level is not None:
            rate = level.rate
            told = f"{percent(rate.mean)}, {percent(rate.low)} to {percent(rate.high)}"
            curve, beside = curve_of(rate), lot.row.lot_code or "no code"
            if lot.tested < FEW:
                told, curve = f"{told}, borrowed", Borrowed(curve)
            bars.append(_Bar(lot.row.paint_name, beside, lot.faulty, lot.tested, curve, told))
    return _bars(bars, finding, width, ink, (worded("paint"), "lot"))


def _stress(finding: Finding, width: int) -> Iterator[str]:
    for claim in (finding.claim, *finding.exceptions):
        if claim and claim.stress:
            before = f"{subject(claim)}: " if finding.exceptions else ""
            yield from _wrapped(f"{before}{stands_in(claim.stress)}", width)
    if finding.claim and finding.claim.stress:
        yield from _wrapped(STRESS, width)


def _passed(finding: Finding, width: int) -> Iterator[str]:
    """Yield the parcels that were looked at in part, and how that is settled."""
    parcels = picked(finding)
    for one in parcels:
        yield from paragraph(picked_in(finding, one), rest="    ", width=width)
    yield from _wrapped(LOOK if parcels else "", width)


def _lots(finding: Finding) -> list[_Bar]:
    return [_lot(lot) for lot in sorted(finding.lots, key=lambda lot: -lot.faulty)]


def _lot(lot: TestedLot) -> _Bar:
    rows = [unit.row for unit in lot.units]
    sellers = ", ".join(sorted({row.seller for row in rows}))
    sessions = ", ".join(sorted({row.session_code or "unpacking" for row in rows}))
    code = lot.row.lot_code or "no code"
    return _Bar(
        lot.row.paint_name, code, lot.faulty, lot.tested, singly(lot.faulty, lot.tested), f"{sellers}; {sessions}"
    )


def _peers(finding: Finding, width: int, ink: Ink) -> list[str]:
    by_maker: dict[str, list[TestedLot]] = {}
    peers = finding.field.peers(finding.lots)
    for lot in sorted(peers, key=lambda lot: (lot.row.maker_name.casefold(), lot.row.maker)):
        by_maker.setdefault(lot.row.maker, []).append(lot)
    found = []
    for lots in by_maker.values():
        counts = tally(lots)
        found.append(_Bar(lots[0].row.maker_name, str(len(lots)), counts.faulty, counts.tested, by_lot(lots)))
    return _bars(found, finding, width, ink, ("maker", "lots")) or ["We tested no other maker's."]


def _parcels(finding: Finding) -> list[_Bar]:
    def parcel(unit: Unit) -> tuple[str, ...]:
        return (unit.row.bought_on.isoformat(), unit.row.seller, unit.row.parcel)

    units = sorted((unit for lot in finding.lots for unit in lot.units), key=parcel)
    return [_parcel(list(group)) for _, group in groupby(units, key=parcel)]


def _parcel(units: Sequence[Unit]) -> _Bar:
    lots: dict[str, list[Unit]] = {}
    for unit in units:
        lots.setdefault(unit.row.lot or unit.row.paint, []).append(unit)
    pairs = [(sum(bool(unit.faulty) for unit in own), len(own)) for own in lots.values()]
    row, faulty = units[0].row, sum(some for some, _ in pairs)
    why = ", ".join(sorted({str(unit.row.why) for unit in units}))
    return _Bar(row.seller, row.bought_on.isoformat(), faulty, len(units), pairs, why)


def _bars(bars: Sequence[_Bar], finding: Finding, width: int, ink: Ink, head: tuple[str, str]) -> list[str]:
    """Return lines with strips, between their heads and the scale; what has no room behind one stands below it."""
    if not bars:
        return []
    room = _Room.of(width)
    rate = finding.all_makers.rate
    drawn = [with_mark(strip, rate, ink) for strip in strips([bar.pairs for bar in bars], room.strip, ink)]
    lines = [room.line(head[0], head[1], " " * room.strip, "faulty")]
    for bar, strip in zip(bars, drawn, strict=True):
        counts = f"{bar.faulty}/{bar.tested}" if bar.tested else ""
        fits = width_of(bar.after) <= room.after
        lines.append(room.line(bar.name, bar.beside, strip, counts, bar.after if fits else ""))
        lines += [] if fits else paragraph(bar.after, _BELOW, width=width)
    return [*lines, room.line("", "", axis(room.strip, rate, ink), "")]


@dataclass(frozen=True, slots=True)
class _Room:
    """Columns for a name, what stands beside it, a strip and the rest; what has no room gets none."""

    name: int
    beside: int
    strip: int
    after: int

    @classmethod
    def of(cls, width: int) -> "_Room":
        name, beside, strip = max(width - 19, 5), 0, 10 if width >= 30 else 0
        if width >= 44:
            name, beside, strip = (16, 10, 21) if width >= 60 else (12, 8, width - 29)
        after = width - name - beside - strip - _COUNTS - 4
        return cls(name, beside, strip, after if after >= _LEAST else 0)

    def line(self, name: str, beside: str, strip: str, counts: str, after: str = "") -> str:
        """Return one line; the strip is taken as it is, with its blanks."""
        before = [cut(text, room) for text, room in ((name, self.name), (beside, self.beside)) if room]
        parts = [*before, *([strip] if strip else []), f"{counts:>{_COUNTS}}", cut(after, self.after)]
        return " ".join(parts).rstrip()


def _funnel(finding: Finding, width: int) -> Iterator[str]:
    if drawn := funnel(finding, min(width, WIDTH)):
        yield from drawn
        yield from _wrapped(FUNNEL_NOTE, width)


def _checks(finding: Finding, width: int) -> Iterator[str]:
    for check in finding.checks:
        yield from paragraph(_check(check, finding.criterion.peers), rest="    ", width=width)


def _check(check: Check, by: PeerGroup) -> str:
    told = "met" if check.met else "lacking"
    return f"{told}: {check_words(check.name, by)}, {check.found} (needed {worded(check.needed)})"


def _observations(finding: Finding, width: int) -> list[str]:
    units = sorted((unit for lot in finding.lots for unit in lot.units), key=lambda unit: -(unit.grade or 0))
    rows = [("sticker", "grade", "", worded("paint"), "lot", "session", "tested"), *map(_observation, units)]
    wide = [9, -5, 6, 18, 10, 10, 10] if width >= 60 else [9, -5, 6] if width >= 22 else [9, -5]
    lines = columns([row[: len(wide)] for row in rows], wide, indent="")
    wet = listed(finding.trail.undried)
    told = f"Tested beside dry ones without drying first: {wet}." if wet else ""
    return [*_wrapped(f"Fault grade: {GRADE_NOTE}. {told}".rstrip(), width), *lines]


def _observation(unit: Unit) -> tuple[str, ...]:
    row = unit.row
    grade = "" if unit.grade is None else f"{unit.grade:g}"
    return (
        row.sticker, grade, "faulty" if unit.faulty else "", row.paint_name, row.lot_code or "no code",
        row.session_code or "unpacking", row.day.isoformat(),
    )  # fmt: skip
