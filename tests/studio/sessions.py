"""Nine sessions at the bench: run sheets, stages, trials, grades, hidden repeats, and the control on every sheet."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from functools import cache
from types import MappingProxyType

from qcledger.records import Comparison, Observation, Preparation, Record, RunRow, Session, Sheet, Stage, Trial
from qcledger.vocab import Blinding, Occasion, PreparationKind, Role, StageName
from tests.studio import scales
from tests.studio.chance import ident, stream
from tests.studio.diary import GUEST, OWNER, Page, moment
from tests.studio.grading import Seen, look, observation
from tests.studio.makers import TUBE
from tests.studio.purchases import CONTROL, PIECES, Piece
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


def _repeated(code: str) -> list[Piece]:
    """Return the pieces that come back under another code: one of this sheet, the others of earlier sheets."""
    chance = stream("repeats", code)
    here = [piece for piece in PIECES if piece.session == code]
    before = [piece for piece in PIECES if piece.session and piece.session < code]
    room = min(CELLS - 1 - len(here), 3 if code == "S07" else 2)
    old = [before[i] for i in chance.choice(len(before), room - 1, replace=False)] if before else []
    new = [here[i] for i in chance.choice(len(here), room - len(old), replace=False)]
    return [*new, *old]


def poured(piece: Piece) -> Preparation | None:
    """Return how a tube came to its first sheet: poured into an empty half pan and dried for a week or more."""
    if piece.format is not TUBE:
        return None
    first = date(2026, 4, 5) if piece is CONTROL else SITTINGS[piece.session or ""].day - timedelta(days=8)
    return Preparation(
        id=ident("preparation", piece.number), specimen=specimen_id(piece), kind=PreparationKind.POURED, on=first
    )


@cache
def places(code: str) -> tuple[Place, ...]:
    """Return the cells of a session's sheet in the order of working, each with its blind code."""
    chance = stream("order", code)
    rows = [(piece, Role.SPECIMEN) for piece in PIECES if piece.session == code]
    rows += [(CONTROL, Role.CONTROL), *((piece, Role.REPEAT) for piece in _repeated(code))]
    codes = chance.choice(range(100, 1000), len(rows), replace=False)
    ordered = [rows[i] for i in chance.permutation(len(rows))]
    return tuple(
        _place(code, number, piece, role, int(codes[number - 1])) for number, (piece, role) in enumerate(ordered, 1)
    )


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
        wanted.append(poured(CONTROL))
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
        tester=sitting.tester,
        blinding=sitting.blinding,
        started_at=moment(sitting.day, sitting.hour),
        note=sitting.note,
    )


_STEPS = MappingProxyType({StageName.WET: 330, StageName.DRY: 170, StageName.AFTER_24H: 100})
"""Seconds a piece takes in each stage."""


def _starts(sitting: Sitting) -> dict[StageName, datetime]:
    wet = moment(sitting.day, sitting.hour, 10)
    return {
        StageName.WET: wet,
        StageName.DRY: wet + timedelta(hours=24, minutes=10),
        StageName.AFTER_24H: wet + timedelta(hours=27),
    }


def _when(start: datetime, stage: StageName, position: int) -> datetime:
    """Return when a piece's turn comes: in order, with five minutes' rest for the eyes after every eight."""
    return start + timedelta(seconds=_STEPS[stage] * (position - 1) + 300 * ((position - 1) // EIGHT))


def _stage(code: str, sitting: Sitting, name: StageName, start: datetime, count: int) -> Stage:
    return Stage(
        id=ident("stage", code, name),
        session=session_id(code),
        name=name,
        due_at=start,
        started_at=start,
        ended_at=_when(start, name, count + 1),
        tester=sitting.tester,
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
    return look(place.piece, key, code)


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
    """Yield the trials and grades of a session, a page for each eight pieces in each stage, and the conditions."""
    cells = places(code)
    for stage, start in _starts(sitting).items():
        for first in range(0, len(cells), EIGHT):
            rows: list[Trial | Observation] = []
            for place in cells[first : first + EIGHT]:
                at = _when(start, stage, place.row.position)
                if stage is StageName.WET:
                    rows.append(_trial(code, place, at))
                rows += _written(code, sitting.tester, stage, place, at)
            yield Page(rows[-1].at, sitting.tester, tuple(rows))
        whole = _stage(code, sitting, stage, start, len(cells))
        assert whole.ended_at is not None
        yield Page(whole.ended_at, sitting.tester, (whole,))


def _trial(code: str, place: Place, at: datetime) -> Trial:
    return Trial(
        id=place.trial,
        specimen=specimen_id(place.piece),
        occasion=Occasion.BENCH,
        at=at,
        session=session_id(code),
        run_row=place.row.id,
    )


def _written(code: str, tester: str, stage: StageName, place: Place, at: datetime) -> Iterator[Observation]:
    mine = [
        (key, seen) for cell, key, seen in results(code) if cell is place and scales.criterion(key).stage is stage
    ]
    for turn, (key, seen) in enumerate(mine, 1):
        yield observation(seen, place.trial, key, tester, at + timedelta(seconds=25 * turn))


def _slips(pages: list[Page], code: str) -> Iterator[Page]:
    """Yield the pages with one slip of the key in a session, put right a little later with a reason."""
    may = [(number, row) for number, page in enumerate(pages) for row in page.records if _may_slip(row)]
    chosen, right = may[int(stream("slip", code).integers(len(may)))]
    assert isinstance(right, Observation)
    wrong = replace(right, id=ident("slip", code), grade=5.0)
    again = replace(right, supersedes=wrong.id, reason="pressed the wrong key", at=right.at + timedelta(seconds=9))
    for number, page in enumerate(pages):
        rows = [row if row is not right else wrong for row in page.records]
        yield page if number != chosen else replace(page, records=(*rows, again))


def _may_slip(row: Record) -> bool:
    return isinstance(row, Observation) and row.criterion == "granulation" and row.grade is not None and row.grade < 4


def pages() -> Iterator[Page]:
    """Yield everything written for the nine sessions."""
    for code, sitting in SITTINGS.items():
        yield from _opening(code, sitting)
        bench = list(_bench(code, sitting))
        yield from _slips(bench, code)
        end = max(page.at for page in bench) + timedelta(minutes=5)
        yield Page(end, OWNER, (replace(_session(code, sitting), closed_at=end),), "every stage done")
