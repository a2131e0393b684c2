"""From what the rows of a spreadsheet say to rows of the ledger: one row, one specimen, tested or only bought."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any, TypeVar

from qcledger.clock import noon
from qcledger.errors import bad
from qcledger.exchange.columnmap import FIELDS, ColumnMap
from qcledger.exchange.draft import Draft, id_by_name, minted, near, same_name
from qcledger.exchange.grading import Judged
from qcledger.exchange.rowreader import Filled
from qcledger.ledger import stickers
from qcledger.records import (
    LabelVersion,
    Lot,
    Maker,
    Observation,
    Paint,
    Parcel,
    Record,
    Specimen,
    Trial,
)
from qcledger.vocab import Occasion

R = TypeVar("R", bound=Record)

NEEDED = ("maker", "paint", "format", "bought_on", "seller")
"""What a specimen that the ledger does not know yet has to have, from a column or a constant."""


class SheetRows:
    """Plans the rows of a spreadsheet.

    Parameters
    ----------
    draft
        Where the planned rows are collected.
    column_map
        What the columns hold.
    known
        The criteria that results may be of.
    """

    def __init__(self, draft: Draft, column_map: ColumnMap, known: Mapping[str, Judged]) -> None:
        self._draft = draft
        self._map = column_map
        self._known = known
        self._tester = draft.daybook.tester
        self._stickers = Stickers(draft)
        self._labels: dict[str, list[LabelVersion]] = defaultdict(list)
        for label in draft.all(LabelVersion):
            self._labels[label.paint].append(label)
        self._parcels: dict[tuple[Any, ...], Parcel] = {
            (parcel.bought_on, same_name(parcel.seller), parcel.currency): parcel for parcel in draft.all(Parcel)
        }
        self._zones = (draft.ledger.zone or UTC, UTC, *draft.ledger.every_zone)
        self.guesses: list[str] = []
        self.numbered: set[str] = set()

    def fetch(self, rows: Sequence[Filled]) -> None:
        """Look up, in few steps, what earlier imports made of these rows."""
        self._draft.fetch(Trial, [minted("trial", *row.key) for row in rows])
        self._draft.fetch(
            Observation, [minted("observation", *row.key, name) for row in rows for name in row.results]
        )

    def add(self, row: Filled) -> bool:
        """Plan what a row says; returns whether any of it is new.

        Raises
        ------
        BadInput
            When the row does not fit the ledger, or lacks something.
        """
        specimen, is_new = self._specimen(row)
        return self._tests(row, specimen) | is_new if row.results else is_new

    def _specimen(self, row: Filled) -> tuple[Specimen, bool]:
        sticker = row.fields.get("sticker", "")
        found = self._draft.called(Specimen, sticker) if sticker else []
        if len(found) > 1:
            raise bad(row.at("sticker"), sticker, "a sticker that one specimen has")
        return (self._agreed(row, found[0]), False) if found else self._new_specimen(row)

    def _agreed(self, row: Filled, standing: Specimen) -> Specimen:
        """Return the specimen a sticker stands for, unless the row says something else of it."""
        self._draft.put(replace(standing, **_direct(row, Specimen)), row.where)
        paint = self._row(Paint, standing.paint)
        there = {"paint": paint.name, "maker": self._row(Maker, paint.maker).name}
        if standing.lot:
            there["lot"] = self._row(Lot, standing.lot).code
        for field, name in there.items():
            if field in row.fields and same_name(row.fields[field]) != same_name(name):
                raise bad(row.at(field), row.fields[field], f"'{name}', as specimen {standing.sticker} has")
        return standing

    def _row(self, kind: type[R], subject: str) -> R:
        row = self._draft.get(kind, subject)
        assert row is not None, "the ledger keeps what its rows refer to"
        return row

    def _new_specimen(self, row: Filled) -> tuple[Specimen, bool]:
        missing = next((field for field in NEEDED if field not in row.fields), None)
        if missing:
            raise bad(row.at(missing), "", f"a {missing} in each row, or among the constants of the map")
        paint = self._paint(row, self._maker(row))
        sticker = row.fields.get("sticker")
        subject = minted("specimen", same_name(sticker)) if sticker else minted("specimen of a row", *row.key)
        standing = self._draft.get(Specimen, subject)
        if not sticker and standing is None:
            self.numbered.add(subject)
        specimen = Specimen(
            id=subject,
            paint=paint.id,
            parcel=self._parcel(row).id,
            lot=self._lot(row, paint),
            label_version=self._label(row, paint),
            **{"sticker": standing.sticker if standing else self._stickers.next(), **_direct(row, Specimen)},
        )
        return specimen, self._draft.put(specimen, row.where)

    def _maker(self, row: Filled) -> Maker:
        name = row.fields["maker"]
        found = self._draft.called(Maker, name)
        if len(found) == 1:
            return found[0]
        if found:
            raise bad(row.at("maker"), name, f"a name that one maker has, not {len(found)}")
        if not self._map.new_makers:
            known = self._draft.names(Maker)
            names = near(name, known) or sorted(known)[:5] or ["none yet"]
            allowed = f"makers of this ledger ({', '.join(names)}), or new_makers: true in the map"
            raise bad(row.at("maker"), name, allowed)
        self._guess_new(name, near(name, self._draft.names(Maker)))
        return self._put(_by_name(Maker(id="", name=name)), row)

    def _paint(self, row: Filled, maker: Maker) -> Paint:
        name, number = row.fields["paint"], row.fields.get("number")
        found = self._draft.called(Paint, name, maker=maker.id, number=number)
        if len(found) == 1:
            return found[0]
        if found:
            raise bad(row.at("paint"), name, f"a name that one paint of {maker.name} has, or its number beside it")
        alike = near(name, self._draft.names(Paint))
        own = [other for other in alike if self._draft.called(Paint, other, maker=maker.id)]
        self._guess_new(f"{maker.name} {name}", own)
        return self._put(_by_name(Paint(id="", maker=maker.id, name=name, number=number)), row)

    def _guess_new(self, name: str, alike: Sequence[str]) -> None:
        if alike:
            self.guesses.append(f"{name} is new, and not the same as {' or '.join(alike)}")

    def _lot(self, row: Filled, paint: Paint) -> str | None:
        code, form = row.fields.get("lot"), row.fields["format"]
        if code is None:
            return None
        found = self._draft.called(Lot, code, paint=paint.id, format=form)
        if found:
            return found[0].id
        return self._put(_by_name(Lot(id="", paint=paint.id, format=form, code=code)), row).id

    def _label(self, row: Filled, paint: Paint) -> str | None:
        pigments = row.fields.get("pigments")
        if not pigments:
            return None
        found = [label for label in self._labels[paint.id] if label.index_names == pigments]
        if found:
            return found[0].id
        subject = minted("label_version", paint.id, *pigments)
        label = LabelVersion(id=subject, paint=paint.id, seen_on=row.fields["bought_on"], index_names=pigments)
        self._labels[paint.id].append(self._put(label, row))
        return label.id

    def _parcel(self, row: Filled) -> Parcel:
        day, seller, currency = (row.fields[name] for name in ("bought_on", "seller", "currency"))
        key = (day, same_name(seller), currency)
        if key not in self._parcels:
            subject = minted("parcel", day.isoformat(), same_name(seller), currency)
            new = Parcel(id=subject, bought_on=day, seller=seller, currency=currency)
            self._parcels[key] = self._put(new, row)
        return self._parcels[key]

    def _tests(self, row: Filled, specimen: Specimen) -> bool:
        """Plan a row's trial and observations; returns whether any is new."""
        if "tested_on" not in row.fields:
            allowed = "a tested_on in each row with results, or among the constants of the map"
            raise bad(row.at("tested_on"), "", allowed)
        subject = minted("trial", *row.key)
        trial = Trial(
            id=subject,
            specimen=specimen.id,
            occasion=Occasion.OLDER_NOTES,
            at=self._noon(row.fields["tested_on"], self._draft.get(Trial, subject)),
            note=row.fields.get("test_note", ""),
        )
        is_new = self._draft.put(trial, row.where)
        for criterion, result in row.results.items():
            is_new |= self._observation(row, trial, criterion, result)
        return is_new

    def _noon(self, day: date, standing: Trial | None) -> datetime:
        """Return the time of a test of which only the day is known.

        One that was brought in before keeps its time if it is noon of that day in a zone the ledger was written in,
        so that a sheet may be brought in again after a move.
        """
        if standing is not None and any(standing.at == noon(day, zone) for zone in self._zones):
            return standing.at
        return noon(day, self._zones[0])

    def _observation(self, row: Filled, trial: Trial, criterion: str, result: Mapping[str, Any]) -> bool:
        rubric = self._known[criterion].rubric
        subject = minted("observation", *row.key, criterion)
        standing = self._draft.get(Observation, subject)
        if standing is None:
            self._draft.put(self._draft.ledger.keep_rubric(rubric), row.where)
        observation = Observation(
            id=subject,
            trial=trial.id,
            criterion=criterion,
            # A row brought in before keeps the rubric it was graded with, even if that has a newer version now.
            rubric=standing.rubric if standing else rubric.hash,
            tester=row.fields.get("tester", self._tester),
            at=trial.at,
            **result,
        )
        return self._draft.put(observation, row.where)

    def _put(self, record: R, row: Filled) -> R:
        self._draft.put(record, row.where)
        return record


class Stickers:
    """Gives out the next sticker numbers: the tester's letters and a count, as in ``OV 0147``."""

    def __init__(self, draft: Draft) -> None:
        self._draft = draft
        self._last: int | None = None

    def next(self) -> str:
        """Return the sticker after the last one in use."""
        letters = self._draft.daybook.letters
        if self._last is None:
            read = filter(None, map(stickers.number, self._draft.names(Specimen)))
            self._last = max((count for begins, count in read if begins == letters.casefold()), default=0)
        self._last += 1
        return f"{letters} {self._last:0{stickers.DIGITS}}"


def _by_name(row: R) -> R:
    return replace(row, id=id_by_name(row))  # type: ignore[type-var]


def _direct(row: Filled, kind: type[Record]) -> dict[str, Any]:
    """Return the fields of a row that stand in the table itself, under the table's names."""
    return {FIELDS[name][1]: value for name, value in row.fields.items() if FIELDS[name][0] is kind}
