"""Price and lot of several pieces of a parcel mended at once: a form, and what becomes another shown before."""

from collections.abc import Sequence
from functools import partial
from typing import TYPE_CHECKING, Final

from qcledger.bench import mending, typed
from qcledger.bench.mending import REASONS, USUAL, Mending
from qcledger.bench.unpacking import find_sticker
from qcledger.errors import BadInput, bad
from qcledger.records import Parcel, Record, Specimen
from qcledger.screens.forms.form import Back, FormLine, FormPage, FormSubject, Ready, Values
from qcledger.screens.shown import shown_date
from qcledger.screens.stock.pieces import Pieces
from qcledger.text import one_line
from qcledger.thing import worded

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

NONE: Final = "-"
"""Typed for a lot or a price that is not known."""
ALL: Final = "all"
_LEAVE: Final = "empty: as each stands; - none"
_LINES: Final = (
    FormLine("pieces", "specimens", "all, or stickers parted by commas", needed=True),
    FormLine("price", "price", _LEAVE),
    FormLine("lot", "lot", _LEAVE),
    FormLine("reason", "because", f"{', '.join(REASONS)}, or your own words", needed=True),
)


async def mend_several(page: Pieces, specimen: str) -> None:
    """Open the form for the pieces of a parcel that are like one of them; any other of the parcel may be added."""
    desk, settings = page.desk, page.desk.settings

    def ask(ledger: "Ledger") -> tuple[Parcel, list[str], list[str]]:
        one = ledger.get(Specimen, specimen)
        parcel = ledger.get(Parcel, one.parcel) if one else None
        if one is None or parcel is None:
            raise bad("specimen", specimen, "a specimen of this ledger")
        pieces = mending.of_parcel(ledger, parcel.id)
        told = [mending.line_words(ledger, piece, parcel, settings.decimal_mark) for piece in pieces]
        return parcel, told, [piece.sticker for piece in mending.alike(ledger, one)]

    parcel, told, like = await desk.read(ask, after_saves=True)

    def read(ledger: "Ledger", values: Values) -> Ready:
        from qcledger.report.recounted import of_pieces

        wanted = _wanted(ledger, parcel.id, values, page)
        typed_reason = one_line(values["reason"])
        reason = REASONS.get(typed_reason.casefold(), typed_reason)
        mending.check(ledger, wanted, reason)
        told = wanted.lines(settings.decimal_mark, partial(shown_date, settings=settings))
        lines = "\n".join([*told, "", *of_pieces(ledger, wanted.after)])
        count = f"{len(wanted.differ)} specimen{'' if len(wanted.differ) == 1 else 's'}"
        return Ready(
            records=[*wanted.lots, *wanted.after],
            said=f"{count} changed; z takes it back",
            back=back_of(wanted),
            question=f"Change {count}?\n\n{lines}",
            reason=reason,
        )

    def kept(said: str) -> None:
        async def fill() -> None:
            await page.fill()
            page.saved()
            page.say(said)

        page.call_after_refresh(page.work, fill, instead_of="fill")

    form = FormSubject(
        title="price and lot",
        draft=f"mend {parcel.id}",
        lines=_LINES,
        read=read,
        about=[
            f"Parcel from {parcel.seller}, {shown_date(parcel.bought_on, settings)}:",
            *told,
            worded("Specimens: those of the marked one's paint and format stand there;")
            + f" {ALL} is every specimen of the parcel.",
        ],
        values={"pieces": ", ".join(like), "reason": USUAL},
    )
    page.app.push_screen(FormPage(desk, form, kept))


def back_of(wanted: Mending) -> Back:
    """Return what writes the pieces back as they were, if they still are as they were made."""
    stickers = ", ".join(wanted.differ)

    def back(ledger: "Ledger", before: Sequence[Record], kept: Sequence[Record]) -> str:
        stood = mending.take_back(ledger, wanted.before, wanted.after)
        return f"{stickers} as before" if stood else f"{stickers} was changed since, and stays as it is"

    return back


def _wanted(ledger: "Ledger", parcel: str, values: Values, page: Pieces) -> Mending:
    """Return what the form is to change; raises BadInput with its fields."""
    pieces = pieces_of(ledger, parcel, values["pieces"])
    given = {name: text for name in ("price", "lot") if (text := values[name].strip())}
    if not given:
        raise bad("price", "no price and no lot", "one of them, to be put right")
    given = {name: "" if text == NONE else text for name, text in given.items()}
    return mending.weigh_pieces(ledger, pieces, given, page.desk.settings, page.desk.new_id)


def pieces_of(ledger: "Ledger", parcel: str, text: str) -> Sequence[Specimen]:
    """Return the pieces of a parcel that a text names; raises BadInput with the field ``pieces``."""
    known = {one.id: one for one in mending.of_parcel(ledger, parcel)}
    if one_line(text).casefold() == ALL:
        return list(known.values())
    found = dict.fromkeys(_id(ledger, one) for one in typed.parts(text))
    stickers = ", ".join(one.sticker for one in known.values())
    wrong = [_sticker(ledger, one) for one in found if one not in known]
    if wrong or not found:
        raise bad("pieces", (wrong or [text])[0], f"all, or some of {stickers}")
    return [known[one] for one in found]


def _id(ledger: "Ledger", text: str) -> str:
    try:
        return find_sticker(ledger, text)
    except BadInput as refused:
        raise bad("pieces", text, refused.problems[0].allowed) from refused


def _sticker(ledger: "Ledger", specimen: str) -> str:
    one = ledger.get(Specimen, specimen)
    return one.sticker if one else specimen
