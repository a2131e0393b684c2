"""From what the rows of a spreadsheet say to rows of the ledger: one row, one specimen, tested or only bought."""

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from functools import cache
from typing import Any, TypeVar

from qcledger import stickers
from qcledger.clock import noon
from qcledger.errors import BadInput, bad
from qcledger.exchange.alike import NewNames
from qcledger.exchange.brought import Brought, Name
from qcledger.exchange.columnmap import FIELDS, ColumnMap
from qcledger.exchange.draft import Draft
from qcledger.exchange.found import id_by_name
from qcledger.exchange.grading import Judged
from qcledger.exchange.place import ChangedRow, RowPlace, price_text
from qcledger.exchange.rowreader import Filled
from qcledger.exchange.samesheet import piece_name, trial_name
from qcledger.ledger.codec import CALLED
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
from qcledger.text import near, same_name
from qcledger.vocab import Occasion

R = TypeVar("R", bound=Record)

NEEDED = ("maker", "paint", "format", "bought_on", "seller")
"""What a specimen that the ledger does not know yet has to have, from a column or a constant."""


_PATHS: Mapping[str, tuple[tuple[type[Record], str], ...]] = {
    "maker": ((Paint, "paint"), (Maker, "maker")),
    "paint": ((Paint, "paint"),),
    "number": ((Paint, "paint"),),
    "lot": ((Lot, "lot"),),
    "pigments": ((LabelVersion, "label_version"),),
    "bought_on": ((Parcel, "parcel"),),
    "seller": ((Parcel, "parcel"),),
    "currency": ((Parcel, "parcel"),),
}
"""By way of which rows a specimen has what a row says of it in other tables."""


@dataclass(frozen=True, slots=True)
class Became:
    """What a row became: a specimen, and whether anything of it is new."""

    specimen: str
    is_new: bool


Advises = Callable[[Specimen, Parcel, str | None], Specimen]
"""Returns a new piece with its parcel and batch code as it is to be written."""


def as_read(specimen: Specimen, parcel: Parcel, code: str | None) -> Specimen:
    """Return a new piece as its row says it."""
    return specimen


_BESIDE: Mapping[type[Record], Sequence[tuple[str, str]]] = {
    Trial: [("specimen", "sticker")],
    Specimen: [("label_version", "pigments"), ("parcel", "bought_on")],
}
"""Fields of a row that columns for other rows tell, and those columns."""


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
    brought
        Gives the ids of what the rows bring in.
    mark
        What stands before the decimals of numbers, in messages.
    advised
        Marks new pieces that were bought on the program's advice.
    """

    def __init__(
        self,
        draft: Draft,
        column_map: ColumnMap,
        known: Mapping[str, Judged],
        brought: Brought,
        mark: str,
        advised: Advises,
    ) -> None:
        self._mark = mark
        self._advised = advised
        self._draft = draft
        self._map = column_map
        self._known = known
        self._brought = brought
        self._criterion_columns = {
            key: column for column, target in column_map.columns.items() for key in target.criteria
        }
        self._columns: dict[tuple[type[Record], str], Mapping[str, str]] = {}
        self._tester = draft.daybook.tester
        self._stickers = NextSticker(draft)
        self._labels: dict[str, list[LabelVersion]] = defaultdict(list)
        for label in draft.standing(LabelVersion):
            self._labels[label.paint].append(label)
        self._parcels: dict[tuple[Any, ...], Parcel] = {
            (parcel.bought_on, self._seller(parcel.seller), parcel.currency): parcel for parcel in draft.own(Parcel)
        }
        self._zones = (draft.ledger.zone or UTC, UTC, *draft.ledger.every_zone)
        self.new_names = NewNames()
        self._made: dict[Name, Specimen] = {}
        self.became: dict[tuple[str, ...], Became] = {}
        self.numbered: set[str] = set()

    def fetch(self, rows: Sequence[Filled]) -> None:
        """Look up, in few steps, what earlier imports made of these rows."""
        self._brought.fetch(Trial, [trial_name(row) for row in rows])
        self._brought.fetch(Observation, [observation_name(row, name) for row in rows for name in row.results])

    def add(self, row: Filled) -> bool:
        """Plan what a row says; returns whether any of it is new.

        Raises
        ------
        BadInput
            When the row does not fit the ledger, or lacks something.
        """
        specimen, is_new = self._specimen(row)
        if row.results or row.fields.get("test_note"):
            is_new |= self._tests(row, specimen)
        self.became[row.key] = Became(specimen.id, is_new)
        return is_new

    def _specimen(self, row: Filled) -> tuple[Specimen, bool]:
        made = self._made.get(row.piece) if row.piece else None
        if made is not None:
            _refuse_other(row, made)
            return made, False
        specimen, is_new = self._of_row(row)
        if row.piece:
            self._made[row.piece] = specimen
        return specimen, is_new

    def _of_row(self, row: Filled) -> tuple[Specimen, bool]:
        sticker = row.fields.get("sticker", "")
        found = self._draft.called(Specimen, sticker) if sticker else []
        if len(found) > 1:
            raise bad(row.at("sticker"), sticker, "a sticker that one specimen has")
        standing = found[0] if found else self._brought.standing(Specimen, piece_name(row))
        if standing is not None and standing.id in self._draft.pieces_out:
            return self._new_specimen(row, standing)
        if found:
            return self._of_sticker(row, found[0]), False
        return (self._agreed(row, standing), False) if standing else self._new_specimen(row)

    def _of_sticker(self, row: Filled, standing: Specimen) -> Specimen:
        """Return the specimen a sticker stands for, unless the row says something else of it."""
        for name in ("paint", "maker", "lot"):
            if name in row.fields and (name != "lot" or standing.lot):
                there = list(self._there(standing, name))
                if not any(_same(row.fields[name], one) for one in there):
                    allowed = f"'{there[0]}', as specimen {standing.sticker} has"
                    raise bad(row.at(name), row.fields[name], allowed)
        try:
            self._draft.put(replace(standing, **_direct(row, Specimen)), self._place(row, Specimen))
        except ChangedRow as error:  # the sticker says which piece it is, whatever the sheet is called
            raise BadInput(error.problems) from None
        return standing

    def _agreed(self, row: Filled, standing: Specimen) -> Specimen:
        """Return the specimen a row was brought in as before, unless it says something else now."""
        place = self._place(row, Specimen)
        for name in _PATHS:
            said = row.fields.get(name)
            if not said or (name == "currency" and "price" not in row.fields):
                continue
            there = self._there(standing, name)
            stands = next(there)
            if _same(said, stands) or (name == "number" and stands is None):
                continue
            if not any(_same(said, one) for one in there):
                raise self._draft.changed(place, name, row.cell(name), _text(stands), standing)
        if "price" in row.fields and standing.price_minor is not None:
            self._check_price(row, standing, place)
        self._draft.put(replace(standing, **_direct(row, Specimen)), place)
        return standing

    def _check_price(self, row: Filled, standing: Specimen, place: RowPlace) -> None:
        """Refuse another price in the words of the sheet, where 9.80 is not 980 of the smallest coin."""
        prices = [one.price_minor for one in self._draft.versions(standing)]
        if row.fields["price"] not in prices:
            currency = next(self._there(standing, "currency"))
            there = price_text(standing.price_minor, currency, self._mark)
            raise self._draft.changed(place, "price", row.cell("price"), there, standing)

    def _there(self, standing: Specimen, name: str) -> Iterator[Any]:
        """Yield what a specimen has in another table, as it stands first, then as it was before it was amended.

        Of what has a name these are all its spellings, what it is called now first.
        """
        rows: Iterator[Record] = self._draft.versions(standing)
        for kind, link in _PATHS[name]:
            rows = self._linked(rows, kind, link)
        found = False
        for one in rows:
            found = True
            yield from self._said(one, FIELDS[name][1])
        if not found:
            yield None

    def _said(self, one: Record, field: str) -> Iterator[Any]:
        own = getattr(one, field)
        if isinstance(one, Parcel) and field == "seller":
            yield from self._draft.sellers(own)
        elif CALLED.get(type(one)) == field:
            yield from self._draft.spellings(one)
        yield own

    def _linked(self, rows: Iterator[Record], kind: type[Record], link: str) -> Iterator[Record]:
        for row in rows:
            subject = getattr(row, link)
            other = self._draft.get(kind, subject) if subject else None
            if other is not None:
                yield from self._draft.versions(other)

    def _place(self, row: Filled, kind: type[Record], criterion: str = "") -> RowPlace:
        """Return where the fields of a row's record of one table stand, by the names they have in the sheet."""
        key = (kind, criterion)
        if key not in self._columns:
            self._columns[key] = self._columns_of(row.headers, kind, criterion)
        return RowPlace(row.where, self._columns[key], row.cells, _days(row.fields.get("tested_on")))

    def _columns_of(self, headers: Mapping[str, str], kind: type[Record], criterion: str) -> Mapping[str, str]:
        own = {field: headers.get(name, name) for name, (table, field) in FIELDS.items() if table is kind}
        if criterion:
            own |= dict.fromkeys(("grade", "choice", "reading", "criterion"), self._criterion_columns[criterion])
            own |= {"at": headers.get("tested_on", "tested_on")}
        own |= {field: headers[name] for field, name in _BESIDE.get(kind, ()) if name in headers}
        return {**headers, **own}

    def _new_specimen(self, row: Filled, out: Specimen | None = None) -> tuple[Specimen, bool]:
        """Plan a specimen; one that is `out`, with an import that was taken back, comes back as the row says now."""
        missing = next((field for field in NEEDED if field not in row.fields), None)
        if missing:
            raise bad(row.at(missing), "", f"a {missing} in each row, or among the constants of the map")
        paint = self._paint(row, self._maker(row))
        subject = out.id if out else self._brought.subject(Specimen, piece_name(row))
        if "sticker" not in row.fields and out is None:
            self.numbered.add(subject)
        specimen = Specimen(
            id=subject,
            paint=paint.id,
            parcel=self._parcel(row).id,
            lot=self._lot(row, paint),
            label_version=self._label(row, paint),
            **{"sticker": out.sticker if out else "", **_direct(row, Specimen)},
        )
        if out:
            return specimen, self._back(row, specimen)
        specimen = self._advised(specimen, self._parcel(row), row.fields.get("lot"))
        if not specimen.sticker:
            specimen = replace(specimen, sticker=self._stickers.next())
        return specimen, self._draft.put(specimen, self._place(row, Specimen))

    def _back(self, row: Filled, specimen: Specimen) -> bool:
        """Plan that a specimen is there again."""
        decision = self._brought.back(specimen)
        self._draft.put(decision, self._place(row, Specimen))
        return self._draft.again(specimen, self._place(row, Specimen))

    def _maker(self, row: Filled) -> Maker:
        name = row.fields["maker"]
        found = self._draft.one_of(self._draft.called(Maker, name))
        if found:
            return found
        if not self._map.new_makers:
            known = self._draft.names(Maker)
            names = near(name, known) or sorted(known)[:5] or ["none yet"]
            allowed = f"makers of this ledger ({', '.join(names)}), or new_makers: true in the map"
            raise bad(row.at("maker"), name, allowed)
        self.new_names.note("maker", name, self._draft.near(Maker, name), "")
        return self._put(_by_name(Maker(id="", name=name)), row)

    def _paint(self, row: Filled, maker: Maker) -> Paint:
        name, number = row.fields["paint"], row.fields.get("number")
        found = self._draft.called(Paint, name, maker=maker.id, number=number)
        one = self._draft.one_of(found)
        if one:
            return one
        if found:
            raise bad(row.at("paint"), name, f"a name that one paint of {maker.name} has, or its number beside it")
        alike = self._draft.near(Paint, name)
        own = [other for other in alike if self._draft.called(Paint, other, maker=maker.id)]
        self.new_names.note("paint", name, own, f"{maker.name} ")
        return self._put(_by_name(Paint(id="", maker=maker.id, name=name, number=number)), row)

    def _lot(self, row: Filled, paint: Paint) -> str | None:
        code, form = row.fields.get("lot"), row.fields["format"]
        if code is None:
            return None
        found = self._draft.called(Lot, code, paint=paint.id, format=form)
        own = [lot.id for lot in found if lot.paint == paint.id]
        if own:
            return min(own)
        return self._put(_by_name(Lot(id="", paint=paint.id, format=form, code=code)), row).id

    def _label(self, row: Filled, paint: Paint) -> str | None:
        pigments = row.fields.get("pigments")
        if not pigments:
            return None
        found = [label for label in self._labels[paint.id] if label.index_names == pigments]
        if found:
            return found[0].id
        subject = self._brought.subject(LabelVersion, ("label_version", paint.id, *pigments))
        label = LabelVersion(id=subject, paint=paint.id, seen_on=row.fields["bought_on"], index_names=pigments)
        self._labels[paint.id].append(self._put(label, row))
        return label.id

    def _parcel(self, row: Filled) -> Parcel:
        day, seller, currency = (row.fields[name] for name in ("bought_on", "seller", "currency"))
        key = (day, self._seller(seller), currency)
        if key not in self._parcels:
            subject = self._brought.subject(Parcel, ("parcel", day.isoformat(), same_name(seller), currency))
            new = Parcel(id=subject, bought_on=day, seller=seller, currency=currency)
            self._parcels[key] = self._put(new, row)
        return self._parcels[key]

    def _seller(self, name: str) -> str:
        """Return the form in which the names of a seller are equal, all its spellings among them."""
        return same_name(self._draft.sellers(name)[0])

    def _tests(self, row: Filled, specimen: Specimen) -> bool:
        """Plan a row's trial and observations; returns whether any is new."""
        if "tested_on" not in row.fields:
            allowed = "a tested_on in each row with results, or among the constants of the map"
            raise bad(row.at("tested_on"), "", allowed)
        trial = Trial(
            id=self._brought.subject(Trial, trial_name(row)),
            specimen=specimen.id,
            occasion=Occasion.OLDER_NOTES,
            at=self._noon(row, self._brought.standing(Trial, trial_name(row))),
            note=row.fields.get("test_note", ""),
        )
        is_new = self._draft.put(trial, self._place(row, Trial))
        for criterion, result in row.results.items():
            is_new |= self._observation(row, trial, criterion, result)
        return is_new

    def _noon(self, row: Filled, standing: Trial | Observation | None) -> datetime:
        """Return the time of a test, or of what was seen in it, of which only the day is known.

        One that was brought in before keeps its time if it is noon of that day in a zone the ledger was written in,
        so that a sheet may be brought in again after a move.
        """
        day: date = row.fields["tested_on"]
        if standing is not None and any(standing.at == noon(day, zone) for zone in self._zones):
            return standing.at
        return noon(day, self._zones[0])

    def _observation(self, row: Filled, trial: Trial, criterion: str, result: Mapping[str, Any]) -> bool:
        rubric = self._known[criterion].rubric
        name, place = observation_name(row, criterion), self._place(row, Observation, criterion)
        standing = self._brought.standing(Observation, name)
        if standing is None:
            self._draft.put(self._draft.ledger.keep_rubric(rubric), place)
        observation = Observation(
            id=self._brought.subject(Observation, name),
            trial=trial.id,
            criterion=criterion,
            # A row brought in before keeps the rubric it was graded with, even if that has a newer version now.
            rubric=standing.rubric if standing else rubric.hash,
            at=self._noon(row, standing),
            **{"tester": row.fields.get("tester", self._tester), **result},
        )
        return self._draft.put(observation, place)

    def _put(self, record: R, row: Filled) -> R:
        self._draft.put(record, self._place(row, type(record)))
        return record


class NextSticker:
    """Gives out the next sticker numbers: the tester's letters and a count, as in ``OV 0147``."""

    def __init__(self, draft: Draft) -> None:
        self._draft = draft
        self._last: int | None = None

    def next(self) -> str:
        """Return the sticker after the last one in use."""
        letters = self._draft.daybook.letters
        if self._last is None:
            self._last = stickers.highest(self._draft.names(Specimen), letters)
        self._last += 1
        return stickers.sticker(letters, self._last)


@cache
def _days(tested_on: date | None) -> Mapping[str, str]:
    """Return the day of a test by the field that is made of it: one for all the thousands of rows of a day."""
    return {} if tested_on is None else {"at": tested_on.isoformat()}


def _refuse_other(row: Filled, made: Specimen) -> None:
    """Refuse a row about a piece that an earlier row of the sheet has said something else of."""
    for name, (kind, field) in FIELDS.items():
        if kind is Specimen and name in row.fields and row.fields[name] != getattr(made, field):
            allowed = f"'{_text(getattr(made, field))}', as an earlier row about this piece has it"
            raise bad(row.at(name), row.cell(name), allowed)


def _by_name(row: R) -> R:
    return replace(row, id=id_by_name(row))  # type: ignore[type-var]


def _direct(row: Filled, kind: type[Record]) -> dict[str, Any]:
    """Return the fields of a row that stand in the table itself, under the table's names."""
    return {FIELDS[name][1]: value for name, value in row.fields.items() if FIELDS[name][0] is kind}


def observation_name(row: Filled, criterion: str) -> tuple[str, ...]:
    """Return what the id of a row's observation is made from."""
    return ("observation", *row.key, criterion)


def _same(said: Any, there: Any) -> bool:
    both_text = isinstance(said, str) and isinstance(there, str)
    return same_name(said) == same_name(there) if both_text else bool(said == there)


def _text(value: Any) -> str:
    return ", ".join(value) if isinstance(value, tuple) else "" if value is None else str(value)
