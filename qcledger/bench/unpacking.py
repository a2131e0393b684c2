"""From the form of a parcel to records: the parcel once, then a specimen a line."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from functools import partial
from typing import TYPE_CHECKING, Final

from qcledger import figures, stickers
from qcledger.bench import typed, worked
from qcledger.bench.blind import blind_sheets
from qcledger.bench.known import as_one, standing_labels
from qcledger.errors import BadInput, Problem, bad
from qcledger.records import Decision, Import, LabelVersion, Lot, Parcel, Specimen
from qcledger.records.minted import minted
from qcledger.settings import Settings
from qcledger.text import clean, one_line, same_name
from qcledger.vocab import TAKEN_BACK, DecisionKind, Format, Source, SpecimenState, WhyBought

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

CORRECTED: Final = "corrected in the form"
"""The reason of an amendment, when only the form was filled anew."""
PUTS_BACK: Final = "e on its line in Stock asks whether it is put back"
"""Said where a piece that was taken out would have to be in stock."""
MISTAKEN: Final = "entered by mistake"
"""Why a piece was taken out by itself."""

YES_NO: Final = ("yes", "no")
"""What may stand where the form asks whether something is so."""
_CLOSED: Final = (SpecimenState.UNOPENED, SpecimenState.RESERVE)
"""States of a piece that has no day of opening."""


def read_parcel(
    values: Mapping[str, str],
    id: str,  # noqa: A002 - the field's name
    today: date,
    settings: Settings,
    standing: Parcel | None = None,
) -> Parcel:
    """Return the parcel a form describes.

    Parameters
    ----------
    values
        What was typed into ``bought_on``, ``received_on``, ``seller``, ``currency``, ``shipping`` and ``note``.
    id
        The parcel's id.
    today
        The day after which nothing was bought or received.
    settings
        Decimal mark, order of dates.
    standing
        The parcel as it stands: what no field holds, as a discount, stays.

    Raises
    ------
    BadInput
        With a problem for each field that is wrong, the field's name as the place.
    """
    form = typed.FormReader(values)
    day = partial(figures.past_day, today=today, order=settings.dates)
    code = form.must("currency", figures.currency, default=settings.currency)
    shipping = partial(figures.money, code=code, mark=settings.decimal_mark)
    fields = {
        "bought_on": form.must("bought_on", day, default=date.min),
        "received_on": form.read("received_on", day, default=None),
        "seller": form.must("seller", typed.name, default=""),
        "currency": code,
        "shipping_minor": form.read("shipping", shipping, default=None),
        "note": clean(form.text("note")),
    }
    form.done()
    parcel = Parcel(id=id, **fields) if standing is None else replace(standing, **fields)  # type: ignore[arg-type]
    if parcel.received_on is not None and parcel.received_on < parcel.bought_on:
        raise bad("received_on", str(parcel.received_on), f"the day it was bought, {parcel.bought_on}, or later")
    return parcel


def parcel_values(parcel: Parcel, mark: str, day: Callable[[date], str] = date.isoformat) -> dict[str, str]:
    """Return a parcel as it would have been typed, as `read_parcel` reads it; `day` writes a date."""
    shipping = parcel.shipping_minor
    return {
        "seller": parcel.seller,
        "bought_on": day(parcel.bought_on),
        "currency": parcel.currency,
        "shipping": "" if shipping is None else figures.money_text(shipping, parcel.currency, mark),
        "received_on": day(parcel.received_on) if parcel.received_on else "",
        "note": parcel.note,
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class Typed:
    """One line of the form, read: a specimen without its sticker, and the batch code on it."""

    paint: str
    format: str
    lot_code: str | None = None
    price_minor: int | None = None
    nominal_ml: Decimal | None = None
    weight_g: Decimal | None = None
    why: WhyBought | None = None
    """None: as planned, unless the list of what to buy named it."""
    source: Source = Source.RETAIL
    state: SpecimenState = SpecimenState.UNOPENED
    note: str = ""
    opened: tuple[date | None] | None = None
    """The day it was opened, or that there is none; without it nothing is said about that."""
    advised: bool | None = None
    """Whether it was bought on the program's advice; None: as it stands."""


def formats_of(ledger: "Ledger") -> tuple[str, ...]:
    """Return the formats a piece may have, those of the ledger's own things first: those that any rubric declares."""
    from qcledger.ledger.words import formats

    with ledger.reading() as connection:
        every = formats(connection)
    own = worked.of_ledger(ledger).formats
    return tuple(sorted(every, key=lambda one: one not in own))


def read_piece(
    values: Mapping[str, str],
    paint: str,
    currency: str,
    mark: str,
    formats: Iterable[str] = tuple(Format),
    day: Callable[[str, str], date] = figures.day,
) -> Typed:
    """Return the piece that a line describes.

    Parameters
    ----------
    values
        What was typed into ``format``, ``lot``, ``price``, ``ml``, ``weight``, ``why``, ``source``, ``state``,
        ``note``, ``advised`` and ``opened_on``; where the last is not there, the day a piece was opened stays.
    paint
        The paint's id.
    currency, mark
        The parcel's currency, the tester's decimal mark.
    formats
        Those a piece may have, as `formats_of` returns them.
    day
        Reads a day, given a text and its place.

    Raises
    ------
    BadInput
        With a problem for each field that is wrong, the field's name as the place.
    """
    form = typed.FormReader(values)
    opened = (form.read("opened_on", day, default=None),) if "opened_on" in values else None
    piece = Typed(
        opened=opened,
        paint=paint,
        format=form.must("format", partial(typed.word, words=formats), default=Format.TUBE),
        lot_code=form.read("lot", typed.name, default=None),
        price_minor=form.read("price", partial(figures.money, code=currency, mark=mark), default=None),
        nominal_ml=form.read("ml", partial(figures.amount, mark=mark), default=None),
        weight_g=form.read("weight", partial(figures.amount, mark=mark), default=None),
        why=form.read("why", partial(typed.word, words=WhyBought), default=None),
        advised=form.read("advised", _yes_or_no, default=None),
        source=form.read("source", partial(typed.word, words=Source), default=Source.RETAIL),
        state=form.read("state", partial(typed.word, words=SpecimenState), default=SpecimenState.UNOPENED),
        note=clean(form.text("note")),
    )
    form.done()
    return piece


def piece_values(
    specimen: Specimen, lot: str | None, currency: str, mark: str, day: Callable[[date], str] = date.isoformat
) -> dict[str, str]:
    """Return a specimen as it would have been typed, as `read_piece` reads it.

    `lot` is its batch code; `day` writes a date.
    """
    price = specimen.price_minor
    return {
        "format": str(specimen.format),
        "lot": lot or "",
        "price": "" if price is None else figures.money_text(price, currency, mark),
        "ml": "" if specimen.nominal_ml is None else str(specimen.nominal_ml).replace(".", mark),
        "weight": "" if specimen.weight_g is None else str(specimen.weight_g).replace(".", mark),
        "why": str(specimen.why),
        "advised": "yes" if specimen.advised else "no",
        "source": str(specimen.source),
        "state": str(specimen.state),
        "note": specimen.note,
        "opened_on": day(specimen.opened_on) if specimen.opened_on else "",
    }


def _yes_or_no(text: str, where: str) -> bool:
    return typed.word(text, where, YES_NO) == "yes"


def next_sticker(ledger: "Ledger") -> str:
    """Return the next specimen's sticker: the daybook's letters and a count that is free in the whole ledger."""
    from qcledger.ledger.queries_stock import last_count

    letters = ledger.daybook.letters
    with ledger.reading() as connection:
        return stickers.sticker(letters, last_count(connection, letters) + 1)


def save_piece(
    ledger: "Ledger",
    parcel: Parcel,
    piece: Typed,
    id: str,  # noqa: A002 - the field's own name
    new_id: Callable[[], str],
    reason: str = "",
    *,
    again: bool = False,
) -> Specimen:
    """Write a piece with its parcel and lot, and return the specimen as it stands.

    The same `id` again amends the specimen, which keeps its sticker; with `again` one that was taken out comes back.
    A new one gets the next sticker, and another one if a second tester was given it at the same moment. `reason` is
    why one that stands is amended.

    Raises
    ------
    BadInput
        When the ledger refuses it, or it was taken out and is not meant to come back.
    NotConfirmed
        When the disk reported an error; the same call may be repeated.
    """
    standing = ledger.get(Specimen, id)
    lot, specimen = drawn(ledger, parcel, piece, id, standing, new_id)
    out = is_out(ledger, id)
    if out and not again:
        raise bad(specimen.sticker, "a specimen that was taken out", f"a specimen in stock; {PUTS_BACK}")
    back = [_decision(specimen, DecisionKind.REINSTATE, ledger, new_id)] if out else []
    bought = ledger.get(Parcel, parcel.id) or parcel  # what another window has made of it meanwhile stays
    records = [bought, *([lot] if lot else []), specimen, *back]
    ledger.append(records, reason=(one_line(reason) or CORRECTED) if standing else "", numbered={id})
    return ledger.get(Specimen, id) or specimen


def drawn(
    ledger: "Ledger",
    parcel: Parcel,
    piece: Typed,
    id: str,  # noqa: A002 - the field's own name
    standing: Specimen | None,
    new_id: Callable[[], str],
) -> tuple[Lot | None, Specimen]:
    """Return the specimen that a piece makes, and its lot, the known one or a new one; nothing is written.

    What no field of the form holds stays as it is `standing`: its sticker, the set it came in.
    """
    if standing is not None and as_one(ledger, standing.paint, piece.paint):
        piece = replace(piece, paint=standing.paint)  # what a paint counts as says nothing new about a piece of it
    lot = _lot(ledger, piece, new_id)
    keeps_label = standing is not None and standing.paint == piece.paint
    bare = standing or Specimen(
        id=id, sticker=next_sticker(ledger), paint=piece.paint, format=piece.format, parcel=parcel.id
    )
    specimen = replace(
        bare,
        paint=piece.paint,
        format=piece.format,
        parcel=parcel.id,
        lot=lot.id if lot else None,
        label_version=bare.label_version if keeps_label else _label(ledger, piece.paint),
        source=piece.source,
        why=piece.why or WhyBought.PLANNED,
        advised=bare.advised if piece.advised is None else piece.advised,
        state=piece.state,
        nominal_ml=piece.nominal_ml,
        weight_g=piece.weight_g,
        price_minor=piece.price_minor,
        note=piece.note,
        opened_on=bare.opened_on if piece.opened is None else piece.opened[0],
    )
    check_opened(bare, specimen, ledger.get(Parcel, bare.parcel) or parcel, parcel)
    return lot, specimen


def check_opened(before: Specimen, after: Specimen, then: Parcel, now: Parcel) -> None:
    """Refuse a day of opening before a piece came, or of one that is not opened; what stands so already is let be.

    Parameters
    ----------
    before, after
        The piece as it stands and as it is to stand.
    then, now
        The parcel it is in and the one it is to be in, or its parcel with other days.
    """
    on, (came_then, came) = after.opened_on, ((one.received_on or one.bought_on) for one in (then, now))
    if on is None:
        return
    typed_anew = on != before.opened_on
    if on < came and (typed_anew or came != came_then):
        if typed_anew:
            raise bad("opened_on", str(on), f"{came}, the day it came, or later")
        raise bad(
            after.sticker, f"opened on {on}", f"a parcel that came by then, not on {came}; or first another day"
        )
    if after.state in _CLOSED and (typed_anew or after.state != before.state):
        if typed_anew:
            raise bad(
                "opened_on", f"{on} of a specimen that is {after.state}", "no day, or the state opened or used up"
            )
        raise bad("state", f"{after.state}, of a specimen opened on {on}", "opened or used up, or no day of opening")


def _lot(ledger: "Ledger", piece: Typed, new_id: Callable[[], str]) -> Lot | None:
    """Return the lot with a piece's batch code, the known one or a new one; None without a code."""
    if piece.lot_code is None:
        return None
    of_paint = ledger.rows(Lot, paint=piece.paint, format=piece.format)
    known = [lot for lot in of_paint if same_name(lot.code) == same_name(piece.lot_code)]
    return known[0] if known else Lot(id=new_id(), paint=piece.paint, format=piece.format, code=piece.lot_code)


def _label(ledger: "Ledger", paint: str) -> str | None:
    labels = standing_labels(ledger, ledger.rows(LabelVersion, paint=paint))
    return labels[-1].id if labels else None


def is_out(ledger: "Ledger", specimen: str) -> bool:
    """Say whether a specimen was taken out of the stock because it was entered by mistake."""
    from qcledger.ledger.queries import void_rows

    with ledger.reading() as connection:
        return specimen in void_rows(connection, Specimen.TABLE)


def taken_out(ledger: "Ledger", specimen: str) -> tuple[date, str] | None:
    """Return the day on which a specimen was taken out, and why; None for one that is in stock."""
    from qcledger.ledger.decided import decisions

    if not is_out(ledger, specimen):
        return None
    with ledger.reading() as connection:
        last = decisions(connection, Specimen.TABLE, subject=specimen, kinds=[DecisionKind.VOID])[-1]
    return last.on, MISTAKEN if last.reason == TAKEN_BACK else last.reason


def out_words(ledger: "Ledger", specimen: str) -> str:
    """Return that a specimen was taken out, when and why; empty for one that is in stock."""
    out, one = taken_out(ledger, specimen), ledger.get(Specimen, specimen)
    return f"{one.sticker} was taken out on {out[0]}: {out[1]}" if out and one is not None else ""


def check_in_stock(ledger: "Ledger", specimen: Specimen) -> None:
    """Refuse a piece that was taken out, saying when and why."""
    if out := taken_out(ledger, specimen.id):
        # Whole, where `bad` would cut it: the reason stands at its end.
        raise BadInput(
            Problem(specimen.sticker, f"'taken out on {out[0]}: {out[1]}'", f"a specimen in stock; {PUTS_BACK}")
        )


def stays_back(ledger: "Ledger", specimen: str) -> str:
    """Return in words which results of a specimen are taken back, and stay so when it is put back; empty for none."""
    from qcledger.ledger.queries_stock import seen_on

    with ledger.reading() as connection:
        seen = [one for one in seen_on(connection, specimen) if not one.superseded and not one.blind]
    count = sum(one.observation.not_testable == TAKEN_BACK for one in seen)
    stay = "1 result of it stays" if count == 1 else f"{count} results of it stay"
    return f"{stay} taken back" if count else ""


def out_again(ledger: "Ledger", before: Specimen, after: Specimen, new_id: Callable[[], str]) -> str:
    """Take a piece out again that was put back, its row as it was `before`, and say so.

    It stays, and that is said, where it was changed or used since it stood as `after`, or where the import that it
    went out with counts again.
    """
    if ledger.get(Specimen, after.id) != after or is_out(ledger, after.id):
        return f"{after.sticker} was changed since, and stays as it is"
    counts, why = _went_out(ledger, after.id)
    if counts:
        return f"{after.sticker} stays in stock: its import {counts} counts again"
    if used := _used(ledger, after):
        return f"{after.sticker} stays in stock: {used[0]}"
    void = replace(_decision(before, DecisionKind.VOID, ledger, new_id), reason=why)
    ledger.append([before, void], reason=TAKEN_BACK)
    return f"{after.sticker} is taken out again, as before"


def _went_out(ledger: "Ledger", specimen: str) -> tuple[str, str]:
    """Return the name of the import that a specimen went out with last, where that counts again, and why it went."""
    from qcledger.ledger.decided import decisions
    from qcledger.ledger.imports import taken_back

    with ledger.reading() as connection:
        last = decisions(connection, Specimen.TABLE, subject=specimen, kinds=[DecisionKind.VOID])[-1]
        acts = decisions(connection, Import.TABLE, kinds=[DecisionKind.VOID])
        out = taken_back(connection)
    went = [act.subject for act in acts if minted(Decision.TABLE, act.id, specimen) == last.id]
    row = ledger.get(Import, went[0]) if went and went[0] not in out else None
    return row.name if row is not None else "", last.reason


def take_out(ledger: "Ledger", specimen: Specimen, new_id: Callable[[], str]) -> None:
    """Take back the entry of a specimen: a decision says so, nothing is deleted and its sticker is not used again.

    Raises
    ------
    BadInput
        When something was observed on it, or it is on the sheet of a session that is still blind.
    """
    _check_unused(ledger, specimen)
    ledger.append([_decision(specimen, DecisionKind.VOID, ledger, new_id)])


def _check_unused(ledger: "Ledger", specimen: Specimen) -> None:
    """Refuse to take out what something was observed on, or what is on a blind sheet."""
    if used := _used(ledger, specimen):
        raise bad(specimen.sticker, *used)


def _used(ledger: "Ledger", specimen: Specimen) -> tuple[str, str] | None:
    """Return what hinders that a specimen is taken out, and what would not; None for nothing."""
    from qcledger.ledger.queries_stock import seen_on

    if hidden := blind_sheets(ledger, specimen.id):
        return f"on the sheet of blind session {hidden[0]}", "a specimen on no blind sheet"
    with ledger.reading() as connection:
        stands = [seen for seen in seen_on(connection, specimen.id) if not seen.superseded]
    if any(seen.observation.not_testable != TAKEN_BACK for seen in stands):
        return "observations of it", "a specimen on which nothing was observed yet"
    return None


def _decision(specimen: Specimen, kind: DecisionKind, ledger: "Ledger", new_id: Callable[[], str]) -> Decision:
    return Decision(
        id=new_id(),
        kind=kind,
        subject_table=Specimen.TABLE,
        subject=specimen.id,
        by=ledger.daybook.tester,
        on=ledger.day(),
        reason=TAKEN_BACK if kind is DecisionKind.VOID else CORRECTED,
    )


def set_state(
    ledger: "Ledger", specimen: str, state: SpecimenState, on: date, reason: str
) -> tuple[Specimen, Specimen]:
    """Write a specimen's new state, and return it as it was and as it is now.

    The first opening keeps its day; what is not opened after all has none.
    """
    before = ledger.get(Specimen, specimen)
    if before is None:
        raise bad("specimen", specimen, "a specimen of this ledger")
    opened = on if state is SpecimenState.OPENED and before.opened_on is None else before.opened_on
    opened = None if state in _CLOSED else opened
    after = replace(before, state=state, opened_on=opened)
    ledger.append([after], reason=reason)
    return before, after


def find_sticker(ledger: "Ledger", text: str) -> str:
    """Return the id of the specimen with a sticker, typed or scanned: ``OV 0147``, ``ov147``, or ``147`` alone.

    A count alone means one's own letters, unless only other letters have it.

    Raises
    ------
    BadInput
        When no specimen has it, or several have.
    """
    from qcledger.ledger.queries_stock import ending_with, with_sticker

    wanted = one_line(text)
    count = stickers.count_at_end(wanted)
    with ledger.reading() as connection:
        found = with_sticker(connection, wanted)
        near = [] if found or count is None else ending_with(connection, count)
    meant = stickers.meant(wanted, [one for _, one in near], ledger.daybook.letters)
    found = found or [id_ for id_, one in near if one in meant]
    if len(found) != 1:
        known = ", ".join(one for _, one in near[:4])
        raise bad("sticker", wanted, f"one of {known}" if known else "the sticker of a specimen in this ledger")
    return found[0]
