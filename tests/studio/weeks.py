"""Poured pans after weeks: what was poured for S08 lies open on a shelf, is looked at after four weeks, and later."""

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from types import MappingProxyType

from qcledger.records import Comparison, RunRow, Session, Sheet, Stage, Trial
from qcledger.vocab import Blinding, Occasion
from tests.studio import pace, scales
from tests.studio.chance import ident, stream
from tests.studio.diary import NAMES, OWNER, Page, moment
from tests.studio.grading import look, observation
from tests.studio.makers import TUBE
from tests.studio.purchases import PIECES, Piece
from tests.studio.remarks import remark
from tests.studio.sessions import DAYLIGHT, PAPER, PAPER_LOT, poured, session_id
from tests.studio.unpacking import paint_id, specimen_id

CODE, POURED_FOR = "W1", "S08"
"""The sheet, and the session whose tubes were poured that day."""
BEGUN = moment(date(2026, 9, 14), 17, 40)
FOUR_WEEKS = "after 4 weeks"
_DUE = MappingProxyType({stage.name: BEGUN + stage.after for stage in scales.of_weeks().stages if stage.after})


def shelf() -> tuple[Piece, ...]:
    """Return the tubes that were poured on the day the sheet was begun, in the order of their stickers."""
    return tuple(piece for piece in PIECES if piece.session == POURED_FOR and piece.format is TUBE)


def comparison() -> Comparison:
    """Return the comparison of what time does; older than the first pan."""
    return Comparison(
        id=ident("comparison", "weeks"),
        title="Poured pans over weeks",
        question="What becomes of a poured pan, and of a strip in the window?",
        started_on=date(2026, 4, 6),
        rubrics=(scales.of_weeks().hash,),
        paints=tuple(dict.fromkeys(paint_id(piece.colour) for piece in shelf())),
        conditions="open shelf, 45 to 55 % humidity; window to the south, lower half of each strip under foil",
    )


def _session() -> Session:
    return Session(
        id=session_id(CODE),
        code=CODE,
        comparison=comparison().id,
        tester=NAMES[OWNER],
        blinding=Blinding.OPEN,
        started_at=BEGUN,
        note="pans on the shelf above the sink",
    )


def _row(number: int, piece: Piece) -> RunRow:
    pan = poured(piece)
    assert pan is not None
    return RunRow(
        id=ident("row", CODE, number),
        session=session_id(CODE),
        sheet=ident("sheet", CODE),
        position=number,
        specimen=specimen_id(piece),
        preparation=pan.id,
    )


def _stage(name: str, started: datetime | None = None, ended: datetime | None = None) -> Stage:
    return Stage(
        id=ident("stage", CODE, name),
        session=session_id(CODE),
        name=name,
        due_at=_DUE[name],
        started_at=started,
        ended_at=ended,
        tester=NAMES[OWNER] if started else None,
        lamp=DAYLIGHT if started else None,
        temperature_c=21.5 if started else None,
        humidity_pct=49 if started else None,
    )


def pages() -> Iterator[Page]:
    """Yield the sheet, and a page for each grade after four weeks; the strips are due months later."""
    yield Page(moment(comparison().started_on, 9), OWNER, (comparison(),))
    sheet = Sheet(id=ident("sheet", CODE), session=session_id(CODE), number=1, paper=PAPER, paper_lot=PAPER_LOT)
    rows = (_row(number, piece) for number, piece in enumerate(shelf(), 1))
    yield Page(BEGUN, OWNER, (_session(), sheet, *map(_stage, _DUE), *rows))
    yield from _after_four_weeks()


def _after_four_weeks() -> Iterator[Page]:
    keys = [key for key, one in scales.of_weeks().criteria.items() if one.stage == FOUR_WEEKS]
    chance = stream("pace", CODE)
    start = at = _DUE[FOUR_WEEKS] + timedelta(minutes=25)
    yield Page(start, OWNER, (_stage(FOUR_WEEKS, start),))
    for number, piece in enumerate(shelf(), 1):
        at += pace.between_pieces(chance)
        rows: tuple[Trial, ...] = (
            Trial(
                id=ident("trial", CODE, number),
                specimen=specimen_id(piece),
                occasion=Occasion.BENCH,
                at=at,
                session=session_id(CODE),
                run_row=ident("row", CODE, number),
            ),
        )
        for key in keys:
            seen = look(piece, key, CODE)
            at += pace.look_at(key, seen, chance)
            trial = ident("trial", CODE, number)
            yield Page(at, OWNER, (*rows, observation(seen, trial, key, OWNER, at, remark(trial, key, seen))))
            rows = ()
    yield Page(at + timedelta(minutes=2), OWNER, (_stage(FOUR_WEEKS, start, at + timedelta(minutes=1)),))
