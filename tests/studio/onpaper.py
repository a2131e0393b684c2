"""The sheet at work: pieces of the last session once more on another paper, openly, and graded in part.

Findings stay within the comparison's reference paper, so nothing on this sheet counts towards any of them.
"""

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from functools import cache

from qcledger.records import RunRow, Session, Sheet, Stage, Trial
from qcledger.vocab import Blinding, Occasion, Role, StageName
from tests.studio import pace, scales
from tests.studio.chance import ident, stream
from tests.studio.diary import NAMES, OWNER, Page, moment
from tests.studio.grading import look, observation
from tests.studio.purchases import CONTROL, PIECES, Piece
from tests.studio.remarks import remark
from tests.studio.sessions import BRUSH, COMPARISON, DAYLIGHT, WATER, poured, session_id
from tests.studio.unpacking import specimen_id

CODE, AGAIN = "S10", "S09"
"""The session, and the one whose pieces come back."""
PAPER, PAPER_LOT = "wood pulp 300 g, cold-pressed", "stock of November"
LINES = 12
JUDGED = 27
"""Results that stand: five lines and a half of the wet stage."""
BEGUN = moment(date(2026, 11, 24), 13)
DUE = {
    StageName.WET: None,
    StageName.DRY: BEGUN + timedelta(hours=24),
    StageName.AFTER_24H: BEGUN + timedelta(hours=27),
}


@cache
def lines() -> tuple[Piece, ...]:
    """Return the pieces in the order of the sheet: the control, then eleven of the last session."""
    pieces = [piece for piece in PIECES if piece.session == AGAIN]
    order = stream("order", CODE).permutation(len(pieces))[: LINES - 1]
    return (CONTROL, *(pieces[place] for place in order))


def _row(number: int, piece: Piece) -> RunRow:
    return RunRow(
        id=ident("row", CODE, number),
        session=session_id(CODE),
        sheet=ident("sheet", CODE),
        position=number,
        specimen=specimen_id(piece),
        preparation=pan.id if (pan := poured(piece)) else None,
        role=Role.CONTROL if piece is CONTROL else Role.SPECIMEN,
    )


def _stage(name: StageName, started: datetime | None = None) -> Stage:
    return Stage(
        id=ident("stage", CODE, name),
        session=session_id(CODE),
        name=name,
        due_at=DUE[name],
        started_at=started,
        tester=NAMES[OWNER] if started else None,
        water=WATER,
        brush=BRUSH,
        lamp=DAYLIGHT,
        temperature_c=21,
        humidity_pct=48,
    )


def _opening() -> Page:
    session = Session(
        id=session_id(CODE),
        code=CODE,
        comparison=COMPARISON,
        tester=NAMES[OWNER],
        blinding=Blinding.OPEN,
        started_at=BEGUN,
        note="what another paper changes",
    )
    sheet = Sheet(id=ident("sheet", CODE), session=session.id, number=1, paper=PAPER, paper_lot=PAPER_LOT)
    rows = (_row(number, piece) for number, piece in enumerate(lines(), 1))
    return Page(BEGUN, OWNER, (session, sheet, *map(_stage, StageName), *rows))


def places() -> list[tuple[int, Piece, str]]:
    """Return number, piece and criterion of each place of the wet stage, in the order of working."""
    keys = [key for one in scales.rubrics() for key, what in one.criteria.items() if what.stage is StageName.WET]
    return [
        (number, piece, key)
        for number, piece in enumerate(lines(), 1)
        for key in keys
        if piece.format in scales.criterion(key).formats
    ]


def _graded() -> Iterator[Page]:
    """Yield a page for each press of a digit, as the bench writes them."""
    begun: set[int] = set()
    chance, at = stream("pace", CODE), BEGUN + timedelta(minutes=11)
    for number, piece, key in places()[:JUDGED]:
        seen = look(piece, key, CODE)
        at += pace.look_at(key, seen, chance)
        if number not in begun:
            at += pace.between_pieces(chance)
        trial = Trial(
            id=ident("trial", CODE, number),
            specimen=specimen_id(piece),
            occasion=Occasion.BENCH,
            at=at,
            session=session_id(CODE),
            run_row=ident("row", CODE, number),
        )
        row = observation(seen, trial.id, key, OWNER, at, remark(trial.id, key, seen))
        first = () if number in begun else (trial,)
        started = () if begun else (_stage(StageName.WET, at),)
        begun.add(number)
        yield Page(at, OWNER, (*started, *first, row))


def pages() -> Iterator[Page]:
    """Yield everything written on the sheet so far."""
    yield _opening()
    yield from _graded()
