"""How what is in stock is said: money, results, then and now."""

from collections.abc import Callable, Sequence
from datetime import date
from functools import partial
from typing import TYPE_CHECKING, Final

from qcledger.bench.history import AMENDED, STANDS
from qcledger.bench.mending import differ_text, text_of
from qcledger.bench.result import Result
from qcledger.figures import money_text
from qcledger.screens.shown import shown_date, shown_number
from qcledger.screens.widgets.rows import Column, Row
from qcledger.settings import Settings
from qcledger.vocab import GRADE_NOTE, TAKEN_BACK, Censored

if TYPE_CHECKING:
    from qcledger.bench.history import Event, MovedPhoto, SpecimenHistory
    from qcledger.bench.mending import Differ, FactChange
    from qcledger.ledger.queries_stock import Shelved
    from qcledger.records import Specimen

CHANGE: Final = "change "
"""Begins the key of a row that is no observation but a change of facts."""
MOVED: Final = "moved "
"""Begins the key of a row that is a photo which was moved from here."""
FACT: Final = "facts"
"""Where a change of facts stands in a list of observations."""
SHELF = (
    Column("sticker", 8),
    Column("paint", 18, grows=True),
    Column("format", 9, need=1),
    Column("lot", 10, need=2),
    Column("price", 10, need=4, right=True),
    Column("state", 14, need=3),
    Column("bought", 10, need=5),
)
THEN_NOW = (
    Column("criterion", 18, grows=True),
    Column("then", 14, need=1),
    Column("on", 10, need=3),
    Column("now", 14, need=2),
    Column("on", 10, need=4),
)
EVENTS = (
    Column("on", 10),
    Column("where", 11, need=4),
    Column("criterion", 18, grows=True, need=1),
    Column("result", 16, need=2),
    Column("now", 10, need=3),
    Column("because", 24, need=5),
)


def shelf_row(one: "Shelved", settings: Settings) -> Row:
    """Return a specimen as a row; one that was taken out is faint and says so."""
    cells = (
        one.sticker,
        (one.maker, one.paint),
        str(one.format),
        one.lot or "no code",
        price(one.price_minor, one.currency, settings),
        "taken out" if one.taken_out else str(one.state),
        shown_date(one.bought_on, settings),
    )
    return Row(one.id, cells, faint=one.taken_out or one.state == "used up")


def price(minor: int | None, currency: str, settings: Settings) -> str:
    """Return a price with its currency; nothing when it is not known."""
    return "" if minor is None else f"{money_text(minor, currency, settings.decimal_mark)} {currency}"


def result_text(result: Result, settings: Settings) -> str:
    """Return a result in words: grade, choice, reading with its sign, or why there is none."""
    if result.not_testable == TAKEN_BACK:
        return TAKEN_BACK
    if result.not_testable:
        return f"not testable: {result.not_testable}"
    sign = {Censored.EXACT: "", Censored.ABOVE: "> ", Censored.BELOW: "< "}[result.censored]
    parts = (
        f"grade {shown_number(result.grade, settings)}" if result.grade is not None else "",
        result.choice or "",
        f"({sign}{shown_number(result.reading, settings)})" if result.reading is not None else "",
    )
    return " ".join(part for part in parts if part)


def event_row(event: "Event", settings: Settings) -> Row:
    """Return one observation as a row; what no longer counts is faint."""
    seen = event.observation
    cells = (
        shown_date(event.day, settings),
        event.occasion,
        event.title,
        result_text(event.result, settings) + (" fault" if event.is_fault else ""),
        event.standing,
        seen.reason or seen.note,
    )
    return Row(seen.id, cells, faint=not event.counts)


def change_row(number: int, change: "FactChange", one: "Differ", settings: Settings, *, stands: bool) -> Row:
    """Return one fact that was changed as a row among observations; its key is the number of the change."""
    then, now = (text_of(value, settings.decimal_mark, _day(settings)) for value in (one.then, one.now))
    beside = f"{change.by}: {change.reason}" if change.reason else change.by
    word = STANDS if stands else AMENDED
    cells = (shown_date(change.day, settings), FACT, one.fact, f"{now}, was {then}", word, beside)
    return Row(f"{CHANGE}{number}", cells, faint=not stands)


def _day(settings: Settings) -> Callable[[date], str]:
    return partial(shown_date, settings=settings)


def change_words(change: "FactChange", settings: Settings) -> list[str]:
    """Return a change in full: each fact then and now, the day, who, and why."""
    day = _day(settings)
    told = [differ_text(one, settings.decimal_mark, day) for one in change.differ]
    return [*told, f"{day(change.day)}, {change.by}, because: {change.reason or 'no reason was given'}"]


def facts_then_now(history: "SpecimenHistory", settings: Settings) -> list[Row]:
    """Return a row for each fact that was changed: what was first entered, and what stands."""
    rows, day = [], _day(settings)
    for fact in dict.fromkeys(one.fact for change in history.changes for one in change.differ):
        of_fact = [
            (n, change, one) for n, change in enumerate(history.changes) for one in change.differ if one.fact == fact
        ]
        first, (number, last, now) = of_fact[0][2], of_fact[-1]
        if first.then == now.now:  # taken back
            continue
        said = [text_of(value, settings.decimal_mark, day) for value in (first.then, now.now)]
        rows.append(Row(f"{CHANGE}{number}", (fact, said[0], "", said[1], day(last.day))))
    return rows


def every_row(history: "SpecimenHistory", settings: Settings) -> list[Row]:
    """Return every observation and every fact that was changed, the latest first."""
    timed = [(event.observation.at, event_row(event, settings)) for event in history.events]
    last = {one.fact: n for n, change in enumerate(history.changes) for one in change.differ}
    timed += [
        (change.at, change_row(n, change, one, settings, stands=last[one.fact] == n))
        for n, change in enumerate(history.changes)
        for one in change.differ
    ]
    timed += [(one.at, _moved_row(n, one, settings)) for n, one in enumerate(history.moved)]
    return [row for _, row in sorted(timed, key=lambda one: one[0])][::-1]


def _moved_row(number: int, one: "MovedPhoto", settings: Settings) -> Row:
    """Return a photo that was moved as a row among observations."""
    cells = (shown_date(one.day, settings), "photo", one.name, f"moved to {one.to}", f"{one.by}: {one.reason}")
    return Row(f"{MOVED}{number}", cells, faint=True)


def moved_then_now(history: "SpecimenHistory", settings: Settings) -> list[Row]:
    """Return a row for each photo that was moved from here: where it is now."""
    return [
        Row(
            f"{MOVED}{n}",
            (f"photo {one.name}", "here", "", f"moved to {one.to}", shown_date(one.day, settings)),
            faint=True,
        )
        for n, one in enumerate(history.moved)
    ]


def moved_words(one: "MovedPhoto", settings: Settings) -> list[str]:
    """Return in full where a photo is that was moved from here, and who moved it when and why."""
    day = shown_date(one.day, settings)
    return [f"{one.name} moved to {one.to}", f"{day}, {one.by}, because: {one.reason or 'no reason was given'}"]


def then_now_rows(history: "SpecimenHistory", settings: Settings) -> list[Row]:
    """Return a row a criterion: the first result that counts and the latest; nothing in "now" without a second."""
    rows = []
    for pair in history.then_and_now:
        on = [shown_date(one.tested_on, settings) for one in (pair.then, pair.now)]
        said = [result_text(one.result, settings) for one in (pair.then, pair.now)]
        only = pair.then is pair.now
        cells = (pair.title, said[0], on[0], "" if only else said[1], "" if only else on[1])
        rows.append(Row(pair.now.observation.id, cells))
    return rows


def why_words(one: "Specimen") -> str:
    """Return why a piece was bought: ``to confirm, as advised``."""
    return f"{one.why}{', as advised' if one.advised else ''}"


def saved_words(one: "Specimen") -> str:
    """Return what is said of a new piece: what it lacks, and why it was bought where the list of what to buy says."""
    without = ", without a price" if one.price_minor is None else ""
    advised = f", {why_words(one)}" if one.advised else ""
    return f"{one.sticker} saved{without}{advised}: put this sticker on the specimen"


def facts(history: "SpecimenHistory", settings: Settings) -> str:
    """Return what is known about a specimen in one paragraph."""
    one, parcel = history.specimen, history.parcel
    bought = f"bought {shown_date(parcel.bought_on, settings)} from {parcel.seller}" if parcel else ""
    paid = price(one.price_minor, parcel.currency, settings) if parcel else ""
    label = history.label
    amounts: Sequence[tuple[object, str]] = ((one.nominal_ml, "ml nominal"), (one.weight_g, "g as weighed"))
    measured = [f"{value} {unit}".replace(".", settings.decimal_mark) for value, unit in amounts if value is not None]
    opened = f" {shown_date(one.opened_on, settings)}" if one.opened_on else ""
    parts = (
        f"a specimen of {history.made_by}" if history.made_by else "",
        f"lot {history.lot.code}" if history.lot else "no batch code",
        ", ".join(part for part in (bought, paid) if part),
        f"taken out: {history.taken_out}" if history.taken_out else f"{one.state}{opened}",
        f"{one.source}, {why_words(one)}",
        *measured,
        f"label: {', '.join(label.index_names or label.facts) or 'no index names'}"
        if label
        else "no label transcribed",
        *(f"{row.kind} {shown_date(row.on, settings)}" for row in history.preparations),
        f"hidden until it is closed: what blind session {' and '.join(history.hidden)} shows"
        if history.hidden
        else "",
        f"fault grades: {GRADE_NOTE}",
        one.note,
    )
    return "; ".join(part for part in parts if part)
