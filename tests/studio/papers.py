"""What else lies on the desk: the comparison, a rate, a reader's note, letters and answers, decisions."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from qcledger.records import Decision, ExchangeRate, MakerAnswer, Question, ReaderNote
from qcledger.records.finding_key import FindingKey
from qcledger.vocab import AnswerKind, DecisionKind, Format
from tests.studio import scales
from tests.studio.chance import ident
from tests.studio.diary import NAMES, OWNER, Page, moment
from tests.studio.makers import COLOURS, HALF, TUBE
from tests.studio.purchases import PIECES, TESSENVAY
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
        seller=TESSENVAY,
        note="Yellow liquid first, then a stiff rest that would not stir back.",
    )


def _key(criterion: str, maker: str, form: Format) -> str:
    return FindingKey(criterion, maker_id(maker), form).text


@dataclass(frozen=True, slots=True)
class Asked:
    """A question to a maker: when, about which findings, and by when it was to be answered."""

    maker: str
    on: date
    by: date
    note: str
    about: tuple[tuple[str, Format], ...] = ()

    @property
    def id(self) -> str:
        """Return the id of the question."""
        return ident("question", self.maker)


_BATCH = Asked(
    "Quernlow",
    date(2026, 7, 6),
    date(2026, 8, 17),
    "Three tubes of Kiln Red, lot Q4471, came out with binder and pigment apart. Is the lot known to you?",
    (("parted_binder", TUBE),),
)
_WRAPPERS = Asked(
    "Trellmere",
    date(2026, 10, 19),
    date(2026, 11, 30),
    "Wrapper paper stayed on 7 of 9 half pans of six lots. May we print your answer?",
    (("wrapper_adhesion", HALF),),
)
_PALE = Asked(
    "Corvannet",
    date(2026, 10, 19),
    date(2026, 11, 16),
    "Our specimens of six colours needed two or three coats to match the other makers. May we print your answer?",
)
_SMALL_PRINT = Asked(
    "Fennacre",
    date(2026, 11, 16),
    date(2026, 12, 28),
    "Your Viridian names PG18 and, in small print, chlorinated copper phthalocyanine. Which of the two is in it?",
    (("name_mismatch", TUBE),),
)


def _questions() -> Iterator[Question]:
    for one in (_BATCH, _WRAPPERS, _PALE, _SMALL_PRINT):
        yield Question(
            id=one.id,
            maker=maker_id(one.maker),
            asked_on=one.on,
            by=NAMES[OWNER],
            answer_by=one.by,
            findings=tuple(_key(criterion, one.maker, form) for criterion, form in one.about),
            note=one.note,
        )


def _answer(
    to: Asked, kind: AnswerKind, on: date | None = None, said: str = "", lot: str | None = None
) -> MakerAnswer:
    return MakerAnswer(
        id=ident("answer", to.maker),
        maker=maker_id(to.maker),
        asked_on=to.on,
        asked=to.note,
        question=to.id,
        kind=kind,
        answered_on=on,
        answer=said,
        lot=lot,
    )


def _answers() -> Iterator[tuple[date, MakerAnswer]]:
    """Yield what came, with the day it was noted: two answers, and one day that passed without any."""
    withdrawn, thanks = date(2026, 8, 12), date(2026, 11, 9)
    yield withdrawn, _answer(_BATCH, AnswerKind.WITHDRAWN, withdrawn, "lot withdrawn", "Q4471")
    words = "Thank you for the photographs. We are trying another paper for the wrapper."
    yield thanks, _answer(_WRAPPERS, AnswerKind.OTHER, thanks, words)
    yield date(2026, 11, 17), _answer(_PALE, AnswerKind.NONE)


def _decisions() -> Iterator[Decision]:
    rose = next(piece for piece in PIECES if piece.colour.name == "Quay Rose")
    yield Decision(
        id=ident("decision", "rose"),
        kind=DecisionKind.RETEST,
        subject_table="specimen",
        subject=specimen_id(rose),
        by=NAMES[OWNER],
        on=date(2026, 7, 2),
        reason="Soft on a day at 72 % humidity; look again at 50 % before it counts for anything.",
    )
    yield Decision(
        id=ident("decision", "viridian"),
        kind=DecisionKind.HOLD_BACK,
        subject_table="paint",
        subject=paint_id(COLOURS["Fennacre", "Viridian"]),
        by=NAMES[OWNER],
        on=date(2026, 10, 20),
        reason="What the label says may be printed. What is in the tube waits for a laboratory.",
    )
    wet = FindingKey("soft_face", maker_id("Drumlaw"), HALF)
    yield Decision(
        id=ident("decision", "wet day"),
        kind=DecisionKind.HOLD_BACK,
        subject_table=wet.subject_table,
        subject=wet.maker,
        by=NAMES[OWNER],
        on=date(2026, 7, 2),
        reason="Two pans on one wet day. Nothing to tell anybody before the retest.",
    )


def pages() -> Iterator[Page]:
    """Yield each of them on the day it was written."""
    yield Page(moment(SET_UP, 9), OWNER, (*makers(), *scales.kept_texts()))
    first = comparison()
    yield Page(moment(first.started_on, 9), OWNER, (first,))
    yield Page(moment(_rate().on, 18), OWNER, (_rate(),))
    yield Page(moment(_note().told_on, 18), OWNER, (_note(),))
    for question in _questions():
        yield Page(moment(question.asked_on, 18), OWNER, (question,))
    for on, answer in _answers():
        yield Page(moment(on, 18), OWNER, (answer,))
    for decision in _decisions():
        yield Page(moment(decision.on, 18, 30), OWNER, (decision,))
