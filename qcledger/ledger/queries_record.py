"""The record: every observation ever made, with what it was made on; in pages, and through filters."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import tzinfo
from enum import StrEnum
from typing import Any, cast

from sqlalchemy import ColumnElement, Connection, FromClause, RowMapping, Select, Table, and_, func, or_, select

from qcledger.ledger.codec import with_fields
from qcledger.ledger.identity import Identity, identity
from qcledger.ledger.imports import brought_with
from qcledger.ledger.own import supersedes
from qcledger.ledger.queries import is_blind, void_sessions
from qcledger.ledger.queries_stock import read_alike
from qcledger.ledger.readmodels import lookup, rows_equal
from qcledger.ledger.tables import DAYBOOK, TABLE
from qcledger.ledger.zones import Zones
from qcledger.records import Maker, Observation, Paint, Photo
from qcledger.text import same_code
from qcledger.vocab import TAKEN_BACK, Occasion


class Only(StrEnum):
    """Which observations are wanted, apart from what they are about."""

    ALL = "everything"
    STANDING = "standing"
    AMENDED = "amended"
    NOT_TESTABLE = "not testable"
    WITH_PHOTOS = "with photos"
    OLDER_NOTES = "older notes"


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """A filter: texts that must stand in a name, closed lists of criteria, and which observations.

    Parameters
    ----------
    maker, paint, lot, session, specimen
        Part of the name, in any spelling it has, of the code or the sticker, in any case; empty for all.
    criteria
        Keys of criteria; None for all.
    only
        Which of them.
    """

    maker: str = ""
    paint: str = ""
    lot: str = ""
    session: str = ""
    specimen: str = ""
    criteria: tuple[str, ...] | None = None
    only: Only = Only.ALL


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordLine:
    """One observation with names in place of ids, as things are called now.

    What would tell a blind specimen apart is empty until its session is closed; `sticker` is then its code. `zone` is
    the time zone it was written in; None where its daybook has none. `came_with` is the name of the import that
    brought it in; empty for what was made here.
    """

    observation: Observation
    occasion: Occasion
    sticker: str
    maker: str
    paint: str
    format: str | None
    lot: str
    session: str
    void: bool
    blind: bool
    superseded_by: str | None
    photos: int
    zone: tzinfo | None = None
    came_with: str = ""


def count(connection: Connection, wanted: Wanted) -> int:
    """Return how many observations a filter lets through."""
    found = select(func.count()).select_from(_source(wanted)).where(*_where(connection, wanted))
    return int(connection.execute(found).scalar_one())


def page(connection: Connection, wanted: Wanted, first: int, most: int) -> list[RecordLine]:
    """Return at most `most` observations from the one with number `first` on, the newest first."""
    observation = TABLE["observation"]
    ids = (
        select(observation.c.id)
        .select_from(_source(wanted))
        .where(*_where(connection, wanted))
        .order_by(observation.c.at.desc(), observation.c.id.desc())
        .offset(first)
        .limit(most)
    )
    return lines(connection, connection.execute(ids).scalars().all())


def number_of(connection: Connection, wanted: Wanted, id_: str) -> int | None:
    """Return the number at which `page` has an observation, or what stands at its place where a filter hides it.

    None where neither is let through.
    """
    number = _number_of(connection, wanted, id_)
    if number is None and (stands := standing_lines(connection, [id_])):
        number = _number_of(connection, wanted, stands[0].observation.id)
    return number


def _number_of(connection: Connection, wanted: Wanted, id_: str) -> int | None:
    observation = TABLE["observation"]
    source, let_through = _source(wanted), _where(connection, wanted)
    here = select(observation.c.at).select_from(source).where(*let_through, observation.c.id == id_)
    at = connection.execute(here).scalar()
    if at is None:
        return None
    newer = or_(observation.c.at > at, and_(observation.c.at == at, observation.c.id > id_))
    return int(connection.execute(select(func.count()).select_from(source).where(*let_through, newer)).scalar_one())


def lines(connection: Connection, ids: Sequence[str]) -> list[RecordLine]:
    """Return the observations with these ids, in this order."""
    void, known = void_sessions(connection), identity(connection)
    zones = Zones(connection, Observation.TABLE, ids)
    found = {row["id"]: _line(row, void, known, zones) for row in connection.execute(_details(ids)).mappings()}
    for one, came in brought_with(connection, found.keys()).items():
        found[one] = replace(found[one], came_with=came.row.name)
    return [found[each] for each in ids if each in found]


def standing_lines(connection: Connection, observations: Sequence[str]) -> list[RecordLine]:
    """Return what stands at the places of observations, by their own testers' word, in this order, each once."""
    stands = {each: each for each in observations}
    found: dict[str, RecordLine | None] = {}
    while wanted := [one for one in dict.fromkeys(stands.values()) if one not in found]:
        found.update(dict.fromkeys(wanted))
        found.update({line.observation.id: line for line in lines(connection, wanted)})
        for each, one in stands.items():
            newer = line.superseded_by if (line := found[one]) is not None else None
            if newer is not None and newer not in found:  # one that is found already closes a circle
                stands[each] = newer
    return [line for one in dict.fromkeys(stands.values()) if (line := found[one]) is not None]


def chain(connection: Connection, observation: str) -> list[Observation]:
    """Return everything recorded at the place of an observation: the first, then each that superseded another.

    Each stands there once, also where observations of a ledger of before supersede one another in a circle.
    """
    here = cast("Observation | None", lookup(connection, Observation.TABLE, [observation]).get(observation))
    if here is None:
        return []
    of_place = rows_equal(connection, Observation, {"trial": here.trial, "criterion": here.criterion})
    by_older = {each.supersedes: each for each in of_place if each.supersedes}
    by_id = {each.id: each for each in of_place}
    first, seen = here, {here.id}
    while first.supersedes in by_id and first.supersedes not in seen:
        first = by_id[first.supersedes]
        seen.add(first.id)
    found = {first.id: first}
    while (newer := by_older.get(next(reversed(found)))) is not None and newer.id not in found:
        found[newer.id] = newer
    return list(found.values())


def photos_of(connection: Connection, observation: str) -> list[Photo]:
    """Return the photos of an observation and of what it supersedes, then those of its specimen alone.

    While its session is blind there are only the first: a photo of the pack tells what the code stands for.
    """
    older = [each.id for each in chain(connection, observation)]
    photo, trial, seen = TABLE["photo"], TABLE["trial"], TABLE["observation"]
    of_these = photo.c.observation.in_(older)
    specimens = (
        select(trial.c.specimen)
        .join(seen, seen.c.trial == trial.c.id)
        .where(seen.c.id == observation, ~is_blind(trial.c.session))
    )
    of_specimen = and_(photo.c.observation.is_(None), photo.c.specimen.in_(specimens))
    found = select(photo).where(or_(of_these, of_specimen)).order_by(photo.c.observation.is_(None), photo.c.id)
    return [with_fields(Photo, row) for row in connection.execute(found).mappings()]


def _blind() -> ColumnElement[bool]:
    """Say which trials belong to a session that is still blind."""
    return is_blind(TABLE["trial"].c.session)


def _source(wanted: Wanted) -> FromClause:
    """Return what has to be joined for a filter; nothing but the observations for none."""
    observation, trial = TABLE["observation"], TABLE["trial"]
    by_trial = bool(_of_specimens(wanted) or wanted.session or wanted.only is Only.OLDER_NOTES)
    return observation.join(trial, trial.c.id == observation.c.trial) if by_trial else observation


def _where(connection: Connection, wanted: Wanted) -> list[ColumnElement[bool]]:
    observation = TABLE["observation"]
    found = _of_trials(connection, wanted) + _which(wanted.only)
    return found if wanted.criteria is None else [*found, observation.c.criterion.in_(wanted.criteria)]


def _of_trials(connection: Connection, wanted: Wanted) -> list[ColumnElement[bool]]:
    """Return the conditions on the trial; a filter by name finds nothing of a session that is still blind."""
    trial, session = TABLE["trial"], TABLE["session"]
    found: list[ColumnElement[bool]] = []
    if _of_specimens(wanted):
        found += [trial.c.specimen.in_(_specimens(connection, wanted)), ~_blind()]
    if wanted.session:
        codes = connection.execute(select(session.c.code).distinct()).scalars()
        meant = [code for code in codes if _names_session(wanted.session, code)]
        found.append(trial.c.session.in_(select(session.c.id).where(session.c.code.in_(meant))))
    if wanted.only is Only.OLDER_NOTES:
        found.append(trial.c.occasion == Occasion.OLDER_NOTES)
    return found


def _names_session(text: str, code: str) -> bool:
    """Say whether a filter means a session: by a part of its code, or by the whole without its zeros."""
    return text.casefold() in code.casefold() or same_code(text) == same_code(code)


def _of_specimens(wanted: Wanted) -> dict[Table, dict[str, str]]:
    """Return, by table, the columns a filter looks into and the texts that must stand there."""
    asked = {
        TABLE["maker"]: {"name": wanted.maker},
        TABLE["paint"]: {"name": wanted.paint},
        TABLE["lot"]: {"code": wanted.lot},
        TABLE["specimen"]: {"sticker": wanted.specimen},
    }
    return {table: texts for table, texts in asked.items() if any(texts.values())}


def _specimens(connection: Connection, wanted: Wanted) -> Select[Any]:
    known = identity(connection)
    specimen, paint, maker, lot = TABLE["specimen"], TABLE["paint"], TABLE["maker"], TABLE["lot"]
    joined = (
        specimen.join(paint, paint.c.id == specimen.c.paint)
        .join(maker, maker.c.id == paint.c.maker)
        .outerjoin(lot, lot.c.id == specimen.c.lot)
    )
    read = {TABLE["specimen"]: read_alike(connection, wanted.specimen)}
    named = [
        or_(
            table.c[column].icontains(text, autoescape=True),
            table.c.id.in_([*_spelled(table, text, known), *read.get(table, ())]),
        )
        for table, texts in _of_specimens(wanted).items()
        for column, text in texts.items()
    ]
    return select(specimen.c.id).select_from(joined).where(*named)


def _spelled(table: Table, text: str, known: Identity) -> list[str]:
    """Return the ids of the makers or paints that have a text in another spelling of their name."""
    return known.found_by(table.name, text) if text and table.name in (Maker.TABLE, Paint.TABLE) else []


def _which(only: Only) -> list[ColumnElement[bool]]:
    observation, photo = TABLE["observation"], TABLE["photo"]
    newer = observation.alias("later")
    superseded = select(newer.c.id).where(supersedes(newer, observation)).exists()
    tests: dict[Only, list[ColumnElement[bool]]] = {
        Only.STANDING: [~superseded, func.coalesce(observation.c.not_testable, "") != TAKEN_BACK],
        Only.AMENDED: [or_(superseded, observation.c.supersedes.is_not(None))],
        Only.NOT_TESTABLE: [observation.c.not_testable.is_not(None), observation.c.not_testable != TAKEN_BACK],
        Only.WITH_PHOTOS: [select(photo.c.id).where(photo.c.observation == observation.c.id).exists()],
    }
    return tests.get(only, [])


def _details(ids: Collection[str]) -> Select[Any]:
    observation, trial, specimen = TABLE["observation"], TABLE["trial"], TABLE["specimen"]
    paint, maker, lot = TABLE["paint"], TABLE["maker"], TABLE["lot"]
    session, run_row, photo = TABLE["session"], TABLE["run_row"], TABLE["photo"]
    newer = observation.alias("later")
    joined = (
        observation.join(trial, trial.c.id == observation.c.trial)
        .join(specimen, specimen.c.id == trial.c.specimen)
        .join(paint, paint.c.id == specimen.c.paint)
        .join(maker, maker.c.id == paint.c.maker)
        .outerjoin(lot, lot.c.id == specimen.c.lot)
        .outerjoin(session, session.c.id == trial.c.session)
        .outerjoin(run_row, run_row.c.id == trial.c.run_row)
        .outerjoin(newer, supersedes(newer, observation))
    )
    photos = select(func.count()).where(photo.c.observation == observation.c.id).scalar_subquery()
    return (
        select(
            observation,
            trial.c["occasion"].label("on_occasion"),
            specimen.c["sticker"],
            specimen.c.format,
            maker.c.id.label("maker_id"),
            maker.c.name.label("maker_name"),
            paint.c.id.label("paint_id"),
            paint.c.name.label("paint_name"),
            lot.c.code.label("lot_code"),
            session.c.id.label("session_id"),
            session.c.code.label("session_code"),
            run_row.c.code.label("blind_code"),
            _blind().label("is_blind"),
            newer.c.id.label("newer_id"),
            photos.label("photo_count"),
        )
        .select_from(joined)
        .where(observation.c.id.in_(ids))
    )


def _line(row: RowMapping, void: frozenset[str], known: Identity, zones: Zones) -> RecordLine:
    blind = bool(row["is_blind"])
    return RecordLine(
        observation=with_fields(Observation, row),
        occasion=row["on_occasion"],
        sticker=(row["blind_code"] or "") if blind else row["sticker"],
        maker="" if blind else known.name(Maker.TABLE, row["maker_id"], row["maker_name"]),
        paint="" if blind else known.name(Paint.TABLE, row["paint_id"], row["paint_name"]),
        format=None if blind else row["format"],
        lot="" if blind else row["lot_code"] or "",
        session=row["session_code"] or "",
        void=row["session_id"] in void,
        blind=blind,
        superseded_by=row["newer_id"],
        photos=row["photo_count"],
        zone=zones.of(row[DAYBOOK], row["id"], row["on_occasion"]),
    )
