"""Hand-made tested rows: a small invented field in which one thing at a time can be made faulty."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from itertools import count

from qcledger.records import TestedRow
from qcledger.rubric import Criterion
from qcledger.vocab import (
    Blinding,
    Censored,
    Format,
    Kind,
    Nature,
    Occasion,
    Role,
    Severity,
    Source,
    StageName,
    WhyBought,
)

HALF, TUBE = Format.HALF_PAN, Format.TUBE
START = datetime(2026, 3, 2, 9, tzinfo=UTC)
SESSIONS = ("S1", "S2", "S3")
_numbers = count(1)


def criterion(
    key: str = "froth",
    *,
    nature: Nature = Nature.FAULT,
    fault_line: float | None = 3,
    severity: Severity | None = Severity.MAJOR,
    choices: Mapping[str, str] | None = None,
) -> Criterion:
    """Return a criterion graded 0 to 5."""
    return Criterion(
        key=key,
        title=key.replace("_", " ").capitalize(),
        how="Look.",
        kind=Kind.CHOICE if choices else Kind.GRADE,
        nature=nature,
        seen_at=Occasion.BENCH,
        stage=StageName.WET,
        formats=tuple(Format),
        anchors={} if choices else {float(grade): f"anchor {grade}" for grade in range(6)},
        half_steps=True,
        choices=choices or {},
        source="our proposal",
        fault_line=fault_line,
        severity=severity if fault_line is not None else None,
        fault_source="our proposal" if fault_line is not None else None,
        reading=None,
        conditions=(),
        hints=(),
        cautions=(),
    )


FROTH = criterion()


def only(*criteria: Criterion):
    """Return a look-up that knows these criteria, whatever the rubric's hash."""
    known = {one.key: one for one in criteria or (FROTH,)}
    return lambda _, key: known[key]


def row(
    *,
    maker: str = "A",
    paint: str = "Red",
    pigments: tuple[str, ...] = ("PR101",),
    format: Format = HALF,  # noqa: A002 - the field's own name
    lot: str | None = "L1",
    grade: float | None = 0,
    session: str | None = "S1",
    parcel: str = "P1",
    seller: str | None = None,
    why: WhyBought = WhyBought.PLANNED,
    **more: object,
) -> TestedRow:
    """Return one observation of a new specimen."""
    number = next(_numbers)
    at = START + timedelta(days=7 * SESSIONS.index(session) if session in SESSIONS else 0, microseconds=number)
    base = TestedRow(
        observation=f"o{number}",
        trial=f"t{number}",
        criterion="froth",
        rubric="r",
        grade=grade,
        choice=None,
        reading=None,
        censored=Censored.EXACT,
        not_testable=False,
        at=at,
        trial_at=at,
        day=at.date(),
        sitting=session or "one afternoon",
        tester="Ann",
        occasion=Occasion.BENCH if session else Occasion.UNPACKING,
        role=Role.SPECIMEN,
        mixed=False,
        session=session,
        session_code=session,
        blinding=Blinding.SHUFFLED if session else None,
        void=False,
        on_reference=True,
        comparison="c1" if session else None,
        specimen=f"s{number}",
        sticker=f"OV {number:04d}",
        format=format,
        source=Source.RETAIL,
        why=why,
        paint=f"{maker}/{paint}",
        paint_name=paint,
        maker=maker,
        maker_name=f"Maker {maker}",
        pigments=pigments,
        lot=None if lot is None else f"{maker}/{paint}/{format}/{lot}",
        lot_code=lot,
        parcel=f"{maker}/{parcel}",
        bought_on=date(2026, 2, 1),
        seller=seller or f"seller of {parcel}",
    )
    return replace(base, **more)


PIGMENTS = ("PR101", "PY42", "PB29", "PG7")


def paints(
    maker: str,
    *,
    bad: float = 0,
    formats: tuple[Format, ...] = (HALF,),
    pigments: tuple[str, ...] = PIGMENTS,
    lots: tuple[str, ...] = ("L1", "L2"),
    each: int = 1,
    **more: object,
) -> list[TestedRow]:
    """Return one maker's range: a paint for each pigment, with so many specimens of each lot.

    Each lot came in its own parcel from its own seller, and its specimens go through the sessions in turn.
    """
    return [
        row(
            maker=maker,
            paint=f"Paint {pigment}",
            pigments=(pigment,),
            format=format_,
            lot=lot,
            grade=bad,
            **({"parcel": f"P{place}", "session": SESSIONS[(place + number) % 3]} | more),
        )
        for format_ in formats
        for pigment in pigments
        for place, lot in enumerate(lots)
        for number in range(each)
    ]


def field(makers: str = "BCDEF", **more: object) -> list[TestedRow]:
    """Return the sound ranges of several makers."""
    return [one for maker in makers for one in paints(maker, **more)]


def confirming(maker: str, *, bad: float = 5, number: int = 2, **more: object) -> list[TestedRow]:
    """Return specimens of a new lot bought to confirm from another seller."""
    return [
        row(
            maker=maker,
            paint="Paint PR101",
            pigments=("PR101",),
            lot="L9",
            parcel="P9",
            session=SESSIONS[place % 3],
            grade=bad,
            why=WhyBought.TO_CONFIRM,
            **more,
        )
        for place in range(number)
    ]
