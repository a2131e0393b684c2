"""What is in stock: the shelf of specimens, what was bought last, and everything about one specimen."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any, cast

from sqlalchemy import Connection, FromClause, RowMapping, Select, and_, func, or_, select

from qcledger import stickers
from qcledger.clock import day_of
from qcledger.ledger.codec import with_fields
from qcledger.ledger.identity import Identity, identity
from qcledger.ledger.own import supersedes
from qcledger.ledger.queries import void_rows
from qcledger.ledger.readmodels import IN_ORDER, lookup
from qcledger.ledger.tables import DAYBOOK, ENTRY, TABLE
from qcledger.ledger.zones import Zones
from qcledger.records import Maker, Observation, Paint, Photo, Specimen, Trial
from qcledger.text import same_code
from qcledger.vocab import Blinding, Occasion, SpecimenState

LONGEST_COUNT = 10
"""Digits from which on a text is no count of a sticker."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shelved:
    """One specimen as a list shows it; names in place of ids, as things are called now."""

    id: str
    sticker: str
    maker: str
    paint: str
    format: str
    lot: str | None
    state: SpecimenState
    price_minor: int | None
    currency: str
    seller: str
    bought_on: date
    taken_out: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Bought:
    """One paint, and how a piece of it was last bought in one format; no format when none was.

    `also` are other spellings of its maker and itself.
    """

    paint: str
    maker: str
    name: str
    number: str | None
    format: str | None
    price_minor: int | None
    nominal_ml: Decimal | None
    currency: str | None
    seller: str | None
    also: tuple[str, ...] = ()


def shelf(connection: Connection, words: Iterable[str], parcel: str | None, first: int, most: int) -> list[Shelved]:
    """Return some of the specimens, those bought last first.

    Parameters
    ----------
    connection
        A reading one.
    words
        Each must stand in sticker, maker, paint, format, lot, state or seller, in any spelling of theirs; none: every
        specimen.
    parcel
        Only this parcel's.
    first, most
        Which of them: at most `most`, from the one with this number on.
    """
    known = identity(connection)
    wanted = _shelf(words, parcel, known).order_by(
        TABLE["parcel"].c.bought_on.desc(), TABLE["specimen"].c.sticker.desc()
    )
    out = void_rows(connection, Specimen.TABLE)
    rows = connection.execute(wanted.offset(first).limit(most)).mappings()
    return [_shelved(row, known, taken_out=row["id"] in out) for row in rows]


def _shelved(row: RowMapping, known: Identity, *, taken_out: bool) -> Shelved:
    values = dict(row)
    values["maker"] = known.name(Maker.TABLE, values.pop("maker_id"), row["maker"])
    values["paint"] = known.name(Paint.TABLE, values.pop("paint_id"), row["paint"])
    return Shelved(**{**values, "seller": known.seller(row["seller"])}, taken_out=taken_out)


def shelf_count(connection: Connection, words: Iterable[str], parcel: str | None) -> int:
    """Return how many specimens `shelf` would give."""
    wanted = _shelf(words, parcel, identity(connection))
    return int(connection.execute(select(func.count()).select_from(wanted.subquery())).scalar_one())


def _joined() -> FromClause:
    specimen, paint, maker = TABLE["specimen"], TABLE["paint"], TABLE["maker"]
    parcel, lot = TABLE["parcel"], TABLE["lot"]
    return (
        specimen.join(paint, paint.c.id == specimen.c.paint)
        .join(maker, maker.c.id == paint.c.maker)
        .join(parcel, parcel.c.id == specimen.c.parcel)
        .outerjoin(lot, lot.c.id == specimen.c.lot)
    )


def _shelf(words: Iterable[str], parcel: str | None, known: Identity) -> Select[Any]:
    specimen, paint, maker = TABLE["specimen"], TABLE["paint"], TABLE["maker"]
    bought, lot = TABLE["parcel"], TABLE["lot"]
    wanted: Select[Any] = select(
        *specimen.c["id", "sticker"],
        maker.c.id.label("maker_id"),
        maker.c.name.label("maker"),
        paint.c.id.label("paint_id"),
        paint.c.name.label("paint"),
        specimen.c.format,
        lot.c.code.label("lot"),
        *specimen.c["state", "price_minor"],
        *bought.c["currency", "seller", "bought_on"],
    ).select_from(_joined())
    texts = (specimen.c.sticker, maker.c.name, paint.c.name, specimen.c.format, lot.c.code, bought.c.seller)
    for word in words:
        like = [text.icontains(word, autoescape=True) for text in texts]
        hits: list[tuple[Any, list[Any]]] = [(specimen.c.state, [one for one in SpecimenState if word in one])]
        hits += [(table.c.id, known.found_by(table.name, word)) for table in (maker, paint)]
        hits += [(bought.c.seller, known.sellers_found_by(word))]
        like += [column.in_(found) for column, found in hits if found]
        wanted = wanted.where(or_(*like))
    return wanted if parcel is None else wanted.where(specimen.c.parcel == parcel)


def bought_before(connection: Connection) -> list[Bought]:
    """Return each paint once for each format it was bought in, those never bought once, the latest last.

    Paints that count as one are one here, whatever each is called.
    """
    specimen, paint, maker, parcel = TABLE["specimen"], TABLE["paint"], TABLE["maker"], TABLE["parcel"]
    joined = (
        paint.join(maker, maker.c.id == paint.c.maker)
        .outerjoin(specimen, specimen.c.paint == paint.c.id)
        .outerjoin(parcel, parcel.c.id == specimen.c.parcel)
    )
    wanted: Select[Any] = select(
        paint.c.id.label("paint"),
        maker.c.id.label("maker_id"),
        maker.c.name.label("maker"),
        *paint.c["name", "number"],
        *specimen.c["format", "price_minor", "nominal_ml"],
        *parcel.c["currency", "seller"],
    ).select_from(joined)
    in_time = wanted.order_by(parcel.c.bought_on.nulls_first(), specimen.c.id)
    rows, known = list(connection.execute(in_time).mappings()), identity(connection)
    numbers = {row["paint"]: row["number"] for row in rows}
    last: dict[tuple[str, str | None], Bought] = {}
    for row in rows:
        one = _bought(row, known, numbers)
        last.pop((one.paint, one.format), None)
        last[one.paint, one.format] = one
    sold = {paint for paint, format_ in last if format_ is not None}
    return [one for one in last.values() if one.format is not None or one.paint not in sold]


def _bought(row: RowMapping, known: Identity, numbers: Mapping[str, str | None]) -> Bought:
    values = dict(row)
    maker, members = values.pop("maker_id"), known.members(Paint.TABLE, row["paint"])
    makers, names = known.names(Maker.TABLE, maker, row["maker"]), known.names(Paint.TABLE, row["paint"], row["name"])
    named = {"paint": members[0], "maker": makers[0], "name": names[0], "also": (*makers[1:], *names[1:])}
    number = next((found for one in members if (found := numbers.get(one)) is not None), None)
    seller = row["seller"] and known.seller(row["seller"])
    return Bought(**{**values, **named, "number": number, "seller": seller})


def last_count(connection: Connection, letters: str) -> int:
    """Return the highest count on a sticker with these letters; 0 when there is none."""
    sticker = TABLE["specimen"].c.sticker
    found = connection.execute(select(sticker).where(sticker.startswith(f"{letters} ", autoescape=True))).scalars()
    return stickers.highest(found, letters)


def with_sticker(connection: Connection, sticker: str) -> list[str]:
    """Return the ids of the specimens that have a sticker, letter case aside."""
    table = TABLE["specimen"]
    wanted = select(table.c.id).where(func.lower(table.c.sticker) == sticker.lower()).order_by(table.c.id)
    return list(connection.execute(wanted).scalars())


def ending_with(connection: Connection, count: int) -> list[tuple[str, str]]:
    """Return (id, sticker) of the specimens whose sticker ends with a count, whatever its letters and zeros."""
    table = TABLE["specimen"]
    found = connection.execute(select(table.c.id, table.c.sticker).where(table.c.sticker.endswith(str(count))))
    return [(row.id, row.sticker) for row in found if row.sticker.rpartition(" ")[2].lstrip("0") == str(count)]


def read_alike(connection: Connection, text: str) -> list[str]:
    """Return the ids of the specimens whose sticker reads like a text with letters: ``ov1`` as OV 0001."""
    form = same_code(text)
    count = form[len(form.rstrip("0123456789")) :]
    near = ending_with(connection, int(count)) if count not in ("", form) and len(count) < LONGEST_COUNT else []
    return [id_ for id_, sticker in near if same_code(sticker) == form]


@dataclass(frozen=True, slots=True)
class Seen:
    """One observation of a specimen with its trial, the code of its session, and whether it still counts.

    `blind` says that its session is still open and hides which specimen it is about; `day` is that of the observation
    where its tester was, `tested_on` that of the look itself: what is put right later was seen when it was tested.
    """

    observation: Observation
    trial: Trial
    session: str | None
    superseded: bool
    void: bool
    blind: bool
    day: date
    tested_on: date


def seen_on(connection: Connection, specimen: str) -> list[Seen]:
    """Return every observation of a specimen, alone or in a mix, superseded ones too, the oldest first."""
    observation, trial, session = TABLE["observation"], TABLE["trial"], TABLE["session"]
    newer = observation.alias("newer")
    joined = (
        observation.join(trial, trial.c.id == observation.c.trial)
        .outerjoin(newer, supersedes(newer, observation))
        .outerjoin(session, session.c.id == trial.c.session)
    )
    wanted = (
        select(
            observation,
            session.c.code.label("session_code"),
            session.c.blinding.label("session_blinding"),
            session.c.closed_at.label("session_closed_at"),
            newer.c.id.label("newer_id"),
        )
        .select_from(joined)
        .where(or_(trial.c.specimen == specimen, trial.c.mixed_with == specimen))
        .order_by(observation.c.at, observation.c.id)
    )
    rows = list(connection.execute(wanted).mappings())
    trials = cast("dict[str, Trial]", lookup(connection, Trial.TABLE, {row["trial"] for row in rows}))
    void = void_rows(connection, "session")
    zones = Zones(connection, Observation.TABLE, [row["id"] for row in rows])
    return [_seen(row, trials[row["trial"]], void, zones) for row in rows]


def _seen(row: RowMapping, trial: Trial, void: frozenset[str], zones: Zones) -> Seen:
    seen = with_fields(Observation, row)
    blind = row["session_blinding"] not in (None, Blinding.OPEN) and row["session_closed_at"] is None
    zone = zones.of(row[DAYBOOK], seen.id, trial.occasion)
    days = day_of(seen.at, zone), day_of(trial.at if seen.supersedes else seen.at, zone)
    return Seen(seen, trial, row["session_code"], row["newer_id"] is not None, trial.session in void, blind, *days)


def unpacked(connection: Connection, specimen: str) -> tuple[str | None, list[Observation]]:
    """Return the id of a specimen's trial at unpacking, None before there is one, and what stands there."""
    trial, observation = TABLE["trial"], TABLE["observation"]
    newer = observation.alias("newer")
    of_it = and_(trial.c.specimen == specimen, trial.c.occasion == Occasion.UNPACKING)
    found = connection.execute(select(trial.c.id).where(of_it).order_by(trial.c.at, trial.c.id).limit(1)).scalar()
    joined = observation.join(trial, trial.c.id == observation.c.trial).outerjoin(
        newer, supersedes(newer, observation)
    )
    stands = select(observation).select_from(joined).where(of_it, newer.c.id.is_(None)).order_by(observation.c.id)
    return found, [with_fields(Observation, row) for row in connection.execute(stands).mappings()]


def pictures_of(connection: Connection, specimen: str) -> list[Photo]:
    """Return the photos of a specimen and of what was observed on it, in the order they were filed."""
    photo, observation, trial = TABLE["photo"], TABLE["observation"], TABLE["trial"]
    seen = select(observation.c.id).join(trial, trial.c.id == observation.c.trial).where(trial.c.specimen == specimen)
    wanted = (
        select(photo)
        .outerjoin(ENTRY, and_(ENTRY.c.kind == "photo", ENTRY.c.subject == photo.c.id))
        .where(or_(photo.c.specimen == specimen, photo.c.observation.in_(seen)))
        .order_by(*IN_ORDER)
    )
    found = {row["id"]: with_fields(Photo, row) for row in connection.execute(wanted).mappings()}
    return list(found.values())
