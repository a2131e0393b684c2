"""Pieces moved to another parcel: which pieces, to which parcel, and why; what becomes another is shown before."""

from collections.abc import Sequence
from functools import partial
from typing import TYPE_CHECKING, Final

from qcledger.bench import mending, reparcel
from qcledger.bench.mending import REASONS, USUAL
from qcledger.errors import BadInput, bad
from qcledger.records import Parcel, Specimen
from qcledger.screens.forms.form import FormLine, FormSubject, Ready, Values, open_form
from qcledger.screens.shown import shown_date
from qcledger.screens.stock.pieces import Pieces
from qcledger.screens.stock.several import back_of, pieces_of
from qcledger.text import one_line, same_name

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

_LINES: Final = (
    FormLine("pieces", "specimens", "all, or stickers parted by commas", needed=True),
    FormLine(
        "parcel", "to parcel", f"its number above, a sticker of one of its specimens, or {reparcel.NEW}", needed=True
    ),
    FormLine("seller", "seller", f"of a {reparcel.NEW} one"),
    FormLine("bought_on", "bought on", f"of a {reparcel.NEW} one"),
    FormLine("currency", "currency", f"of a {reparcel.NEW} one"),
    FormLine("reason", "because", f"{', '.join(REASONS)}, or your own words", needed=True),
)


async def to_parcel(page: Pieces, specimen: str) -> None:
    """Open the form that moves a piece, and others of its parcel with it."""
    desk, settings = page.desk, page.desk.settings
    day = partial(shown_date, settings=settings)

    def ask(ledger: "Ledger") -> tuple[Specimen, Parcel, list[Parcel], list[str]]:
        one = ledger.get(Specimen, specimen)
        parcel = ledger.get(Parcel, one.parcel) if one else None
        if one is None or parcel is None:
            raise bad("specimen", specimen, "a specimen of this ledger")
        found = reparcel.others(ledger, parcel.id)
        return one, parcel, found, reparcel.words(ledger, found, day)

    one, parcel, parcels, told = await desk.read(ask, after_saves=True)
    new = desk.new_id()

    def read(ledger: "Ledger", values: Values) -> Ready:
        typed_reason = one_line(values["reason"])
        reason = REASONS.get(typed_reason.casefold(), typed_reason)
        pieces = pieces_of(ledger, parcel.id, values["pieces"])
        wanted = reparcel.weigh_parcel(ledger, pieces, _target(ledger, values, parcels, page, new))
        mending.check(ledger, wanted, reason)
        lines = "\n".join(wanted.lines(settings.decimal_mark, day))
        stickers = ", ".join(wanted.differ)
        return Ready(
            records=[*wanted.lots, *wanted.after],
            said=f"{stickers} moved to another parcel; z takes it back",
            back=back_of(wanted),
            question=f"Move {stickers} to another parcel?\n\n{lines}",
            reason=reason,
        )

    form = FormSubject(
        title="to another parcel",
        draft=f"parcel of {specimen}",
        lines=_LINES,
        read=read,
        about=[f"Now in the parcel from {parcel.seller}, {day(parcel.bought_on)}. Other parcels:", *told],
        values={"pieces": one.sticker, "reason": USUAL},
        first="parcel",
        chapter="stock",
    )
    open_form(page, form)


def _target(ledger: "Ledger", values: Values, parcels: Sequence[Parcel], page: Pieces, new: str) -> Parcel:
    """Return the parcel that the form names; raises BadInput with its fields."""
    if same_name(values["parcel"]) == reparcel.NEW:
        return reparcel.read_new(ledger, values, page.desk.settings, new)
    try:
        return reparcel.find(ledger, values["parcel"], parcels)
    except BadInput as refused:
        raise bad("parcel", values["parcel"], refused.problems[0].allowed) from refused
