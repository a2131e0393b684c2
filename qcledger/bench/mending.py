"""Putting right what is known about pieces and their parcel: each fact then and now, by whom, when, and why."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal
from functools import partial
from itertools import groupby
from typing import TYPE_CHECKING, Final, NamedTuple, TypeVar

from qcledger import figures
from qcledger.bench import unpacking
from qcledger.bench.faults import title_of
from qcledger.errors import bad
from qcledger.figures import money_text
from qcledger.records import LabelVersion, Lot, Paint, Parcel, Record, Specimen
from qcledger.settings import Settings
from qcledger.text import one_line, same_name
from qcledger.vocab import CURRENCY_DIGITS, TAKEN_BACK

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.ledger.versions import Version

R = TypeVar("R", bound=Record)

REASONS: Final[Mapping[str, str]] = {
    "t": "typed wrongly",
    "m": "misread on the specimen or the receipt",
    "w": "another specimen was meant",
    "k": "not known before",
}
"""Why facts are changed, by the key that says so; the first is the usual one."""
USUAL: Final = next(iter(REASONS.values()))
"""The reason that Enter gives."""


class Money(NamedTuple):
    """An amount in the smallest coin of a currency."""

    minor: int
    currency: str


Value = str | date | Decimal | float | bool | Money | None
"""What a fact is; None and an empty text: not known."""

_OF_PIECE: Final = {
    "format": "format",
    "price": "price_minor",
    "state": "state",
    "opened on": "opened_on",
    "ml nominal": "nominal_ml",
    "weight g": "weight_g",
    "why bought": "why",
    "source": "source",
    "pack": "pack",
    "filled": "filled",
    "bought as advised": "advised",
    "note": "note",
}
_OF_PARCEL: Final = {
    "bought on": "bought_on",
    "received on": "received_on",
    "seller": "seller",
    "currency": "currency",
    "shipping": "shipping_minor",
    "discount": "discount_minor",
    "tax included": "tax_included",
    "tax %": "tax_pct",
    "note on the parcel": "note",
}


class Differ(NamedTuple):
    """One fact, as it was then and is now."""

    fact: str
    then: Value
    now: Value


@dataclass(frozen=True, slots=True, kw_only=True)
class FactChange:
    """One time that facts of a piece were changed.

    Parameters
    ----------
    at, day
        When, and on which day of the tester's.
    by
        Letters and name of who did it.
    reason
        Why.
    differ
        The facts that became others.
    """

    at: datetime
    day: date
    by: str
    reason: str
    differ: tuple[Differ, ...]


def text_of(value: Value, mark: str = ".", day: Callable[[date], str] = date.isoformat) -> str:
    """Return a fact in words: ``5.90 EUR``; what is not known says so. `day` writes a date."""
    if value is None or value == "":
        return "not known"
    if isinstance(value, Money):
        return f"{money_text(value.minor, value.currency, mark)} {value.currency}"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, date):
        return day(value)
    return one_line(str(value)) if isinstance(value, str) else f"{value}".replace(".", mark)


def differ_text(one: Differ, mark: str = ".", day: Callable[[date], str] = date.isoformat) -> str:
    """Return a fact then and now in words: ``price: then 5.90 EUR, now 6.20 EUR``."""
    then, now = (text_of(value, mark, day) for value in (one.then, one.now))
    return f"{one.fact}: then {then}, now {now}"


# What is known, and how it became another


def facts(find: Callable[[type[Record], str], Record | None], piece: Specimen, parcel: Parcel) -> dict[str, Value]:
    """Return what is known about a piece, by fact; `find` looks up the rows it names."""

    def told(kind: type[Record], id_: str | None, name: str) -> str:
        row = find(kind, id_) if id_ is not None else None
        value = getattr(row, name, "")
        return ", ".join(value) if isinstance(value, tuple) else value

    found: dict[str, Value] = {
        "paint": told(Paint, piece.paint, "name"),
        "lot": told(Lot, piece.lot, "code"),
        "pigments on the label": told(LabelVersion, piece.label_version, "index_names"),
    }
    for row, names in ((piece, _OF_PIECE), (parcel, _OF_PARCEL)):
        for fact, name in names.items():
            value = getattr(row, name)
            if name.endswith("_minor") and value is not None:
                value = Money(value, parcel.currency)
            found[fact] = value
    return found


def differing(then: Mapping[str, Value], now: Mapping[str, Value]) -> tuple[Differ, ...]:
    """Return the facts that differ, in their order; one that is empty and one that is not known are the same."""
    return tuple(
        Differ(fact, then[fact], value) for fact, value in now.items() if (then[fact] or None) != (value or None)
    )


def changes(ledger: "Ledger", specimen: str) -> tuple[FactChange, ...]:
    """Return each time that facts of a piece, or of the parcel it was in, were changed, in order of time.

    A change of the program's own, as when a piece is used up, is one as well.
    """
    from qcledger.ledger.versions import versions

    with ledger.reading() as connection:
        pieces = versions(connection, Specimen, specimen)
        parcels = {id_: versions(connection, Parcel, id_) for id_ in {one.record.parcel for one in pieces}}
    return tuple(_changes(ledger, pieces, parcels))


def _changes(
    ledger: "Ledger", pieces: "Sequence[Version[Specimen]]", parcels: "Mapping[str, Sequence[Version[Parcel]]]"
) -> Iterator[FactChange]:
    moments: list[Version[Specimen] | Version[Parcel]] = [
        *pieces,
        *(one for some in parcels.values() for one in some),
    ]
    piece, bought = None, dict[str, Parcel]()
    before: Mapping[str, Value] | None = None
    for at, written in groupby(sorted(moments, key=lambda one: one.at), key=lambda one: one.at):  # one save, one time
        last = None
        for last in written:
            if isinstance(last.record, Specimen):
                piece = last.record
            else:
                bought[last.record.id] = last.record
        if piece is None or piece.parcel not in bought or last is None:
            continue
        now = facts(ledger.get, piece, bought[piece.parcel])
        if before is not None and (found := differing(before, now)):
            yield FactChange(at=at, day=ledger.day_of(piece, at), by=last.by, reason=last.reason, differ=found)
        before = now


# Changing


@dataclass(frozen=True, slots=True, kw_only=True)
class Mending:
    """What is to be changed.

    Parameters
    ----------
    before, after
        The rows as they stand, and as they are to stand.
    lots
        New lots and parcels that they name.
    differ
        By sticker, the facts that become others; those of the parcel once, under an empty name.
    """

    before: tuple[Record, ...]
    after: tuple[Record, ...]
    lots: tuple[Lot | Parcel, ...]
    differ: Mapping[str, tuple[Differ, ...]]

    def lines(self, mark: str = ".", day: Callable[[date], str] = date.isoformat) -> list[str]:
        """Return a line for each fact, then and now."""
        return [
            f"{sticker or 'the parcel'}, {differ_text(one, mark, day)}"
            for sticker, found in self.differ.items()
            for one in found
        ]


def weigh(
    ledger: "Ledger", before: Sequence[Record], after: Sequence[Record], lots: Sequence[Lot | Parcel] = ()
) -> Mending:
    """Return what writing pieces, and parcels, would change; nothing is written.

    Parameters
    ----------
    ledger
        Where what they name is looked up.
    before, after
        Specimens and parcels as they stand and as they are to stand, in the same order.
    lots
        New lots and parcels that `after` names.

    Raises
    ------
    BadInput
        When a piece would have been opened before it came, or would be unopened with a day of opening.
    """
    fresh = {(type(one), one.id): one for one in (*after, *lots)}

    def then(kind: type[R], id_: str) -> R | None:
        return ledger.get(kind, id_)

    def now(kind: type[R], id_: str) -> R | None:
        return fresh.get((kind, id_)) or ledger.get(kind, id_)  # type: ignore[return-value]

    differ: dict[str, tuple[Differ, ...]] = {}
    for was, is_ in zip(before, after, strict=True):
        if isinstance(is_, Parcel) and isinstance(was, Parcel):
            _check_pieces(ledger, was, is_, after)
            found = differing(_of_parcel(was), _of_parcel(is_))
            name = ""
        elif isinstance(is_, Specimen) and isinstance(was, Specimen):
            old, new = then(Parcel, was.parcel), now(Parcel, is_.parcel)
            assert old is not None
            assert new is not None
            unpacking.check_opened(was, is_, old, new)
            told = facts(then, was, old), facts(now, is_, new)
            moved = was.parcel != is_.parcel
            found = tuple(one for one in differing(*told) if moved or one.fact not in _OF_PARCEL)
            name = is_.sticker
        else:
            continue
        if found:
            differ[name] = found
    return Mending(before=tuple(before), after=tuple(after), lots=tuple(lots), differ=differ)


def _check_pieces(ledger: "Ledger", before: Parcel, after: Parcel, changed: Sequence[Record]) -> None:
    """Refuse days of a parcel by which a piece in it, that is not changed itself, was opened before it came."""
    others = {one.id for one in changed if isinstance(one, Specimen)}
    for one in ledger.rows(Specimen, parcel=after.id):
        if one.id not in others and one.opened_on is not None and not unpacking.is_out(ledger, one.id):
            unpacking.check_opened(one, one, before, after)


def _of_parcel(parcel: Parcel) -> dict[str, Value]:
    values = {fact: getattr(parcel, name) for fact, name in _OF_PARCEL.items()}
    return {
        fact: Money(value, parcel.currency) if _OF_PARCEL[fact].endswith("_minor") and value is not None else value
        for fact, value in values.items()
    }


def line_words(ledger: "Ledger", piece: Specimen, parcel: Parcel, mark: str = ".") -> str:
    """Return a piece in a line: ``OV 0147  Maker Viridian half pan, lot T8, 5.90 EUR``."""
    lot = ledger.get(Lot, piece.lot) if piece.lot else None
    price = Money(piece.price_minor, parcel.currency) if piece.price_minor is not None else None
    paid = text_of(price, mark) if price else "no price"
    return f"{piece.sticker}  {title_of(ledger, piece)}, {f'lot {lot.code}' if lot else 'no batch code'}, {paid}"


def weigh_pieces(
    ledger: "Ledger",
    pieces: Sequence[Specimen],
    given: Mapping[str, str],
    settings: Settings,
    new_id: Callable[[], str],
) -> Mending:
    """Return what some fields typed anew change of several pieces; the parameters are those of `of_pieces`."""
    after, lots = of_pieces(ledger, pieces, given, settings, new_id)
    return weigh(ledger, pieces, after, lots)


def of_pieces(
    ledger: "Ledger",
    pieces: Sequence[Specimen],
    given: Mapping[str, str],
    settings: Settings,
    new_id: Callable[[], str],
    parcel: Parcel | None = None,
) -> tuple[tuple[Specimen, ...], tuple[Lot, ...]]:
    """Return pieces with some of their fields typed anew, and the new lots that they name; nothing is written.

    Parameters
    ----------
    ledger
        Where they stand.
    pieces
        As they stand.
    given
        What was typed, by the fields of `unpacking.read_piece`; an empty text is what is not known.
    settings
        Decimal mark.
    new_id
        Makes ids of lots.
    parcel
        The parcel that they are to be in; None: each stays in its own.

    Raises
    ------
    BadInput
        With a problem for each field that cannot be read.
    """
    mark, formats = settings.decimal_mark, unpacking.formats_of(ledger)
    day = partial(figures.past_day, today=ledger.day(), order=settings.dates)
    fresh: dict[tuple[str, str, str], Lot] = {}
    found = []
    for one in pieces:
        bought = parcel or ledger.get(Parcel, one.parcel)
        assert bought is not None
        lot = ledger.get(Lot, one.lot) if one.lot else None
        values = {**unpacking.piece_values(one, lot.code if lot else None, bought.currency, mark), **given}
        piece = unpacking.read_piece(values, one.paint, bought.currency, mark, formats, day)
        own, after = unpacking.drawn(ledger, bought, piece, one.id, one, new_id)
        if own is not None and ledger.get(Lot, own.id) is None:  # several pieces of one new lot name the same one
            own = fresh.setdefault((own.paint, own.format, same_name(own.code)), own)
            after = replace(after, lot=own.id)
        found.append(after)
    return tuple(found), tuple(fresh.values())


def line_change(
    ledger: "Ledger",
    parcel: Parcel,
    piece: unpacking.Typed,
    id: str,  # noqa: A002 - the field's own name
    new_id: Callable[[], str],
) -> Mending | None:
    """Return what a line typed anew changes of a piece; None for one that does not stand, or was taken out."""
    standing = ledger.get(Specimen, id)
    if standing is None or unpacking.is_out(ledger, id):
        return None
    bought = ledger.get(Parcel, parcel.id) or parcel
    lot, after = unpacking.drawn(ledger, bought, piece, id, standing, new_id)
    return weigh(ledger, [standing], [after], [lot] if lot else [])


def parcel_with(ledger: "Ledger", parcel: Parcel, given: Mapping[str, str], settings: Settings) -> Parcel:
    """Return a parcel with some of its fields typed anew, by those of `unpacking.read_parcel`; nothing is written.

    Raises
    ------
    BadInput
        With a problem for each field that cannot be read, or for a currency in which its prices would be others.
    """
    values = {**unpacking.parcel_values(parcel, settings.decimal_mark), **given}
    after = unpacking.read_parcel(values, parcel.id, ledger.day(), settings, parcel)
    check_currency(ledger, parcel, after)
    return after


def check_currency(ledger: "Ledger", before: Parcel, after: Parcel) -> None:
    """Refuse another currency with fewer or more decimals, where a piece of the parcel has a price in the old one."""
    then, now = (CURRENCY_DIGITS.get(one.currency, 2) for one in (before, after))
    priced = [one.sticker for one in ledger.rows(Specimen, parcel=before.id) if one.price_minor is not None]
    if then != now and priced:
        allowed = f"a currency with the decimals of {before.currency}, or first no prices on {', '.join(priced[:3])}"
        raise bad("currency", after.currency, allowed)


def keep(ledger: "Ledger", mending: Mending, reason: str) -> None:
    """Write what is to be changed, as one act; raises BadInput as `check` does, or for another tester's row."""
    check(ledger, mending, reason)
    ledger.append([*mending.lots, *mending.after], reason=one_line(reason))


def check(ledger: "Ledger", mending: Mending, reason: str) -> None:
    """Refuse what cannot be kept.

    Raises
    ------
    BadInput
        When nothing becomes another, no reason is given, or a row was changed meanwhile.
    """
    if not mending.differ:
        raise bad("change", "what stands already", "a fact that is to be another")
    if not one_line(reason):
        raise bad("reason", reason, "why it is changed")
    for row in mending.before:
        if ledger.get(type(row), row.id) != row:
            name = row.sticker if isinstance(row, Specimen) else "the parcel"
            raise bad(name, "changed meanwhile", "a look at what stands now, then the same again")


def take_back(ledger: "Ledger", before: Sequence[Record], after: Sequence[Record]) -> bool:
    """Write rows as they were, if all still stand as they were written; say whether they did."""
    stands = all(ledger.get(type(row), row.id) == row for row in after)
    if stands:
        ledger.append(list(before), reason=TAKEN_BACK)
    return stands


def alike(ledger: "Ledger", specimen: Specimen) -> list[Specimen]:
    """Return a piece and every other of its paint and format in its parcel that was not taken out, by sticker."""
    found = ledger.rows(Specimen, parcel=specimen.parcel, paint=specimen.paint, format=specimen.format)
    own = ledger.own(Specimen)
    standing = [one for one in found if one.id in own and not unpacking.is_out(ledger, one.id)]
    return sorted(standing, key=lambda one: one.sticker)


def of_parcel(ledger: "Ledger", parcel: str) -> list[Specimen]:
    """Return one's own pieces of a parcel that were not taken out, by sticker."""
    own = ledger.own(Specimen)
    found = [one for one in ledger.rows(Specimen, parcel=parcel) if one.id in own]
    return sorted((one for one in found if not unpacking.is_out(ledger, one.id)), key=lambda one: one.sticker)
