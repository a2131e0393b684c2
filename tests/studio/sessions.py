"""Nine sessions at the bench: run sheets, stages, trials, grades, hidden repeats, and the control on every sheet."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from functools import cache
from types import MappingProxyType

import numpy as np

from qcledger.records import Comparison, Observation, Preparation, Record, RunRow, Session, Sheet, Stage, Trial
from qcledger.vocab import Blinding, Occasion, PreparationKind, Role, StageName
from tests.studio import pace, scales
from tests.studio.chance import ident, stream
from tests.studio.diary import GUEST, NAMES, OWNER, Page, moment
from tests.studio.grading import Seen, look, observation
from tests.studio.makers import TUBE
from tests.studio.purchases import CONTROL, MIDDLE, PIECES, Piece
from tests.studio.remarks import remark
from tests.studio.unpacking import all_paints, specimen_id

COMPARISON = ident("comparison", "shared colours")
PAPER, PAPER_LOT = "cotton 300 g, cold-pressed", "stock of January"
WATER, BRUSH = "deionised", "round 6, synthetic, no. 2"
DAYLIGHT, WARM = "daylight tubes, 6500 K", "desk lamp, 2700 K"
CELLS, EIGHT = 24, 8
"""Most pieces on a sheet, and how many are graded before the eyes rest."""


@dataclass(frozen=True, slots=True)
class Sitting:
    """One session: its day, when it began, who worked, and the air and light of it."""

    day: date
    hour: int
    tester: str = OWNER
    blinding: Blinding = Blinding.SHUFFLED
    humidity: float = 50
    temperature: float = 22.5
    lamp: str = DAYLIGHT
    lux: float = 1800
    note: str = ""


SITTINGS = MappingProxyType(
    {
        "S01": Sitting(date(2026, 4, 14), 9, humidity=48),
        "S02": Sitting(date(2026, 4, 28), 9, humidity=51),
        "S03": Sitting(date(2026, 5, 12), 9, humidity=49),
        "S04": Sitting(date(2026, 6, 2), 9, humidity=53, temperature=23.5),
        "S05": Sitting(date(2026, 6, 30), 11, humidity=72, temperature=24.5, note="rain all week, no drier"),
        "S06": Sitting(date(2026, 7, 21), 9, humidity=52, temperature=24),
        "S07": Sitting(
            date(2026, 8, 18), 19, GUEST, Blinding.OTHER_PERSON, 54, 24, WARM, 420, "begun late, codes laid out by OV"
        ),
        "S08": Sitting(date(2026, 9, 22), 9, humidity=50),
        "S09": Sitting(date(2026, 10, 13), 9, humidity=47, temperature=21.5),
    }
)


@dataclass(frozen=True, slots=True)
class Place:
    """One cell of a sheet."""

    piece: Piece
    role: Role
    row: RunRow
    trial: str


def session_id(code: str) -> str:
    """Return the id of a session."""
    return ident("session", code)


def comparison() -> Comparison:
    """Return the studio's one comparison."""
    return Comparison(
        id=COMPARISON,
        title="Nine makers, shared colours",
        question="Where do nine makers differ in the colours they share, pan beside tube?",
        started_on=date(2026, 4, 13),
        rubrics=tuple(one.hash for one in scales.rubrics()),
        paints=all_paints(),
        reference_paper=PAPER,
        conditions="23 +-2 C, 50 +-5 % humidity, deionised water, round 6, daylight lamp, tubes dried 7 days",
    )


_CONTROLS = (CONTROL, MIDDLE, CONTROL)
"""What the tester is held against: first and last the one, in the middle of the sheet the other."""
APART = 8
"""Places from a piece to its hidden repeat, at least."""


def _repeated(code: str) -> tuple[list[Piece], list[Piece]]:
    """Return the pieces that come back under another code: some of this sheet, the others of earlier sheets."""
    chance = stream("repeats", code)
    here = [piece for piece in PIECES if piece.session == code]
    before = [piece for piece in PIECES if piece.session and piece.session < code]
    room = min(CELLS - len(_CONTROLS) - len(here), 2)
    old = [before[i] for i in chance.choice(len(before), room - 1, replace=False)] if before else []
    new = [here[i] for i in chance.choice(len(here), room - len(old), replace=False)]
    return new, old


def poured(piece: Piece) -> Preparation | None:
    """Return how a tube came to its first sheet: poured into an empty half pan and dried for a week or more."""
    if piece.format is not TUBE:
        return None
    first = date(2026, 4, 5) if piece in _CONTROLS else SITTINGS[piece.session or ""].day - timedelta(days=8)
    return Preparation(
        id=ident("preparation", piece.number), specimen=specimen_id(piece), kind=PreparationKind.POURED, on=first
    )


@cache
def places(code: str) -> tuple[Place, ...]:
    """Return the cells of a session's sheet in the order of working, each with its blind code."""
    chance = stream("order", code)
    ordered = _order(code, chance)
    codes = chance.choice(range(100, 1000), len(ordered), replace=False)
    return tuple(
        _place(code, number, piece, role, int(codes[number - 1])) for number, (piece, role) in enumerate(ordered, 1)
    )


Cell = tuple[Piece, Role]


def _order(code: str, chance: np.random.Generator) -> list[Cell]:
    """Return pieces and roles: control first and last, the second one mid-sheet, repeats far after their piece."""
    new, old = _repeated(code)
    rows: list[Cell] = [(piece, Role.SPECIMEN) for piece in PIECES if piece.session == code]
    rows += [(piece, Role.REPEAT) for piece in (*new, *old)]
    while True:
        middle = [rows[i] for i in chance.permutation(len(rows))]
        half = len(middle) // 2 + int(chance.integers(-2, 3))
        first, second, last = ((piece, Role.CONTROL) for piece in _CONTROLS)
        ordered = [first, *middle[:half], second, *middle[half:], last]
        if all(_away(ordered, piece) >= APART for piece in new):
            return ordered


def _away(ordered: list[Cell], piece: Piece) -> int:
    """Return how many places after a piece of the sheet its hidden repeat stands; below 0 before it."""
    return ordered.index((piece, Role.REPEAT)) - ordered.index((piece, Role.SPECIMEN))


def _place(code: str, number: int, piece: Piece, role: Role, blind: int) -> Place:
    pan = poured(piece)
    row = RunRow(
        id=ident("row", code, number),
        session=session_id(code),
        sheet=ident("sheet", code),
        position=number,
        specimen=specimen_id(piece),
        preparation=pan.id if pan else None,
        code=str(blind),
        role=role,
    )
    return Place(piece, role, row, ident("trial", code, number))


def _opening(code: str, sitting: Sitting) -> Iterator[Page]:
    """Yield what was written before a session: tubes poured, sheet and order laid out by OV."""
    wanted = [poured(place.piece) for place in places(code) if place.role is Role.SPECIMEN]
    if code == "S01":
        wanted += [poured(CONTROL), poured(MIDDLE)]
    for day in sorted({one.on for one in wanted if one}):
        yield Page(moment(day, 17), OWNER, tuple(one for one in wanted if one and one.on == day))
    sheet = Sheet(id=ident("sheet", code), session=session_id(code), number=1, paper=PAPER, paper_lot=PAPER_LOT)
    rows = (_session(code, sitting), sheet, *(place.row for place in places(code)))
    yield Page(moment(sitting.day, sitting.hour), OWNER, rows)


def _session(code: str, sitting: Sitting) -> Session:
    return Session(
        id=session_id(code),
        code=code,
        comparison=COMPARISON,
        tester=NAMES[sitting.tester],
        blinding=sitting.blinding,
        started_at=moment(sitting.day, sitting.hour),
        note=sitting.note,
    )


_DUE = MappingProxyType({StageName.WET: 0.0, StageName.DRY: 24.0, StageName.AFTER_24H: 27.0})
"""Hours after the sheet was begun at which a stage is due."""


def _due(sitting: Sitting, stage: StageName) -> datetime:
    return moment(sitting.day, sitting.hour, 15) + timedelta(hours=_DUE[stage])


@dataclass(frozen=True, slots=True)
class Worked:
    """One stage as it was worked: when each cell was taken up, and when each result was saved."""

    started: datetime
    ended: datetime
    taken: dict[str, datetime]
    saved: dict[tuple[str, str], datetime]


@cache
def worked(code: str, stage: StageName) -> Worked:
    """Return the times of a stage: in the order of the sheet, with a rest for the eyes after every eight pieces."""
    chance = stream("pace", code, stage)
    start = at = _due(SITTINGS[code], stage) + pace.some(chance, 20, 840)
    taken, saved = {}, {}
    for place in places(code):
        at += pace.between_pieces(chance)
        if place.row.position % EIGHT == 1 and place.row.position > 1:
            at += pace.rest(chance)
        taken[place.trial] = at
        for key, seen in _of_stage(code, place, stage):
            at += pace.look_at(key, seen, chance)
            saved[place.trial, key] = at
    return Worked(start, at + pace.some(chance, 40, 300), taken, saved)


def _of_stage(code: str, place: Place, stage: StageName) -> list[tuple[str, Seen]]:
    return [
        (key, seen) for cell, key, seen in results(code) if cell is place and scales.criterion(key).stage is stage
    ]


def _stage(code: str, sitting: Sitting, name: StageName) -> Stage:
    done = worked(code, name)
    return Stage(
        id=ident("stage", code, name),
        session=session_id(code),
        name=name,
        due_at=_due(sitting, name),
        started_at=done.started,
        ended_at=done.ended,
        tester=NAMES[sitting.tester],
        water=WATER,
        brush=BRUSH,
        lamp=sitting.lamp,
        lux=sitting.lux,
        temperature_c=sitting.temperature,
        humidity_pct=sitting.humidity,
    )


@cache
def results(code: str) -> tuple[tuple[Place, str, Seen], ...]:
    """Return what was seen in a session: cell, criterion and result, in the order of cells and stages."""
    found = []
    for place in places(code):
        for keys in scales.bench_criteria(code, place.piece.format).values():
            found += [(place, key, _result(code, place, key)) for key in keys]
        judged = _against_label(code, place.piece)
        if judged is not None:
            found.append((place, "declared_behaviour", judged))
    return tuple(found)


def _result(code: str, place: Place, key: str) -> Seen:
    if place.role is Role.REPEAT and place.piece.session and key in _keys_of(place.piece.session):
        return look(place.piece, key, code, first=place.piece.session)
    if key == "opacity" and place.row.position == 1 + SITTINGS[code].day.day % 20 and place.role is Role.SPECIMEN:
        return Seen(None, not_testable="black line smudged")
    return look(place.piece, key, code, turn=_turn(code, place))


def _turn(code: str, place: Place) -> int:
    """Return how often a control stood on the sheet before; 0 for every other piece."""
    before = (one for one in places(code) if one.row.position < place.row.position)
    return sum(one.piece is place.piece for one in before) if place.role is Role.CONTROL else 0


def _keys_of(code: str) -> tuple[str, ...]:
    return (*scales.ON_EVERY_SHEET, *scales.ON_SOME_SHEETS[code])


_JUDGED = MappingProxyType({"PG18": ("S01", "S03", "S06", "S08"), "PR101": ("S03", "S08")})
_PEERLESS = Seen(None, not_testable="no peer baseline in this format")


def _against_label(code: str, piece: Piece) -> Seen | None:
    """Return whether a tube behaves as it declares; on a sheet of half pans there are no peers to hold it against."""
    if piece.format is not TUBE or code not in _JUDGED.get(piece.colour.pigment, ()):
        return None
    return look(piece, "declared_behaviour", code) if code in {"S03", "S08"} else _PEERLESS


def _bench(code: str, sitting: Sitting) -> Iterator[Page]:
    """Yield a page for each press of a digit, as the bench writes them, and each stage at its end."""
    for stage in _DUE:
        done = worked(code, stage)
        for place in places(code):
            trial = (_trial(code, place, done.taken[place.trial]),) if stage is StageName.WET else ()
            for key, seen in _of_stage(code, place, stage):
                at = done.saved[place.trial, key]
                note = remark(place.trial, key, seen)
                row = observation(seen, place.trial, key, sitting.tester, at, note)
                yield Page(at, sitting.tester, (*trial, row))
                trial = ()
        yield Page(done.ended, sitting.tester, (_stage(code, sitting, stage),))


def _trial(code: str, place: Place, at: datetime) -> Trial:
    return Trial(
        id=place.trial,
        specimen=specimen_id(place.piece),
        occasion=Occasion.BENCH,
        at=at,
        session=session_id(code),
        run_row=place.row.id,
    )


def _slips(pages: list[Page], code: str) -> Iterator[Page]:
    """Yield the pages with one slip of the key in a session, put right a little later with a reason."""
    may = [page for page in pages if _may_slip(page.records[-1])]
    chance = stream("slip", code)
    chosen = may[int(chance.integers(len(may)))]
    right = chosen.records[-1]
    assert isinstance(right, Observation)
    wrong = replace(right, id=ident("slip", code), grade=5.0)
    seen_at = right.at + pace.some(chance, 1.2, 4)
    again = replace(right, supersedes=wrong.id, reason="pressed the wrong key", at=seen_at)
    for page in pages:
        if page is not chosen:
            yield page
        else:
            yield replace(page, records=(*page.records[:-1], wrong))
            yield Page(seen_at, page.by, (again,))


def _may_slip(row: Record) -> bool:
    return isinstance(row, Observation) and row.criterion == "granulation" and row.grade is not None and row.grade < 4


def pages() -> Iterator[Page]:
    """Yield everything written for the nine sessions."""
    for code, sitting in SITTINGS.items():
        yield from _opening(code, sitting)
        bench = list(_bench(code, sitting))
        yield from _slips(bench, code)
        end = max(page.at for page in bench) + pace.some(stream("closing", code), 90, 600)
        yield Page(end, OWNER, (replace(_session(code, sitting), closed_at=end),), "every stage done")
