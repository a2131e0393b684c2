"""What else lies on the desk: the comparison, a rate, a reader's note, letters and answers, decisions."""

from collections.abc import Iterator
from datetime import date

from qcledger.records import Decision, ExchangeRate, MakerAnswer, ReaderNote
from qcledger.vocab import DecisionKind
from tests.studio import scales
from tests.studio.chance import ident
from tests.studio.diary import OWNER, Page, moment
from tests.studio.makers import COLOURS, TUBE
from tests.studio.purchases import LINDEVELD, PIECES
from tests.studio.sessions import comparison
from tests.studio.unpacking import RATE, SET_UP, maker_id, makers, paint_id, specimen_id


def _rate() -> ExchangeRate:
    return ExchangeRate(
        id=ident("rate", 1), on=date(2026, 6, 1), base="EUR", quote="GBP", rate=RATE, source="invented for the demo"
    )


def _note() -> ReaderNote:
    return ReaderNote(
        id=ident("note", 1),
        maker=maker_id("Quernlow"),
        told_on=date(2026, 6, 8),
        fault="parted_binder",
        paint=paint_id(COLOURS["Quernlow", "Kiln Red"]),
        format=TUBE,
        lot_code="Q4471",
        seller=LINDEVELD,
        note="Yellow liquid first, then a stiff rest that would not stir back.",
    )


def _letters() -> Iterator[MakerAnswer]:
    yield MakerAnswer(
        id=ident("answer", "Quernlow"),
        maker=maker_id("Quernlow"),
        asked_on=date(2026, 7, 6),
        asked="Three tubes of Kiln Red, lot Q4471, came out with binder and pigment apart. Is the lot known to you?",
        answered_on=date(2026, 8, 12),
        answer="lot withdrawn",
    )
    yield MakerAnswer(
        id=ident("answer", "Trellmere"),
        maker=maker_id("Trellmere"),
        asked_on=date(2026, 10, 19),
        asked="Wrapper paper stayed on 7 of 9 half pans of six lots. May we print your answer?",
        answered_on=date(2026, 11, 9),
        answer="Thank you for the photographs. We are trying another paper for the wrapper.",
    )
    yield MakerAnswer(
        id=ident("answer", "Corvannet"),
        maker=maker_id("Corvannet"),
        asked_on=date(2026, 11, 2),
        asked="Our specimens of six colours needed two or three coats to match the other makers. May we print it?",
    )


def _decisions() -> Iterator[Decision]:
    rose = next(piece for piece in PIECES if piece.colour.name == "Quay Rose")
    yield Decision(
        id=ident("decision", "rose"),
        kind=DecisionKind.RETEST,
        subject_table="specimen",
        subject=specimen_id(rose),
        by=OWNER,
        on=date(2026, 7, 2),
        reason="Soft on a day at 72 % humidity; look again at 50 % before it counts for anything.",
    )
    yield Decision(
        id=ident("decision", "viridian"),
        kind=DecisionKind.HOLD_BACK,
        subject_table="paint",
        subject=paint_id(COLOURS["Fennacre", "Viridian"]),
        by=OWNER,
        on=date(2026, 10, 20),
        reason="What the label says may be printed. What is in the tube waits for a laboratory.",
    )


def pages() -> Iterator[Page]:
    """Yield each of them on the day it was written."""
    yield Page(moment(SET_UP, 9), OWNER, (*makers(), *scales.kept_texts()))
    first = comparison()
    yield Page(moment(first.started_on, 9), OWNER, (first,))
    yield Page(moment(_rate().on, 18), OWNER, (_rate(),))
    yield Page(moment(_note().told_on, 18), OWNER, (_note(),))
    for letter in _letters():
        yield Page(moment(letter.answered_on or letter.asked_on, 18), OWNER, (letter,))
    for decision in _decisions():
        yield Page(moment(decision.on, 18, 30), OWNER, (decision,))
