"""Moving a photo that was filed with something else than it shows, from where it is seen; z takes it back."""

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from qcledger import figures
from qcledger.bench import filing, mending
from qcledger.bench.filing import WHY_MOVED, Move, called, where_words
from qcledger.errors import BadInput, Problem, bad
from qcledger.records import Photo, Record
from qcledger.screens.forms.form import Back, FormLine, FormSubject, Ready, Values, open_form
from qcledger.screens.page import Page
from qcledger.text import one_line

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

NO_PHOTO: Final = "no photo to move"
_PHOTO: Final = FormLine("photo", "which photo", "its number above", needed=True)
_LINES: Final = (
    FormLine("to", "to specimen", "its sticker; on a blind sheet its code, and the session below", needed=True),
    FormLine("criterion", "criterion", "of which result; empty: the specimen itself"),
    FormLine("session", "session", "where it was judged in several, as S04"),
    FormLine("day", "day", "where it was judged on several, as 2026-03-09"),
    FormLine(
        "reason",
        "because",
        f"{', '.join(f'{key} {why}' for key, why in WHY_MOVED.items())}, or your own words",
        needed=True,
    ),
)
_FIELDS: Final = {
    "sticker": "to",
    "code": "to",
    "observation": "criterion",
    "--day": "day",
    "--session": "session",
}
"""The fields that what cannot be found stands in."""


async def move_photo(page: Page, photos: Sequence[Photo], front: int = 0) -> None:
    """Open the form that moves one of some photos; the one at `front` is proposed."""
    if not photos:
        page.say(NO_PHOTO, problem=True)
        return

    order = page.desk.settings.dates

    def ask(ledger: "Ledger") -> list[str]:
        return [f"{n}: {called(photo)}, with {where_words(ledger, photo)}" for n, photo in enumerate(photos, 1)]

    told = await page.desk.read(ask, after_saves=True)

    def read(ledger: "Ledger", values: Values) -> Ready:
        typed_reason = one_line(values["reason"])
        reason = WHY_MOVED.get(typed_reason.casefold(), typed_reason)
        wanted = _wanted(ledger, _which(photos, values.get("photo", "1")), values, order)
        filing.check_move(ledger, wanted, reason)
        return Ready(
            records=[wanted.after],
            said=f"{called(wanted.before)} moved to {wanted.now}; z takes it back",
            back=_back(wanted),
            question=f"Move {wanted.words}? The picture stays as it is.",
            reason=reason,
        )

    several = len(photos) > 1
    form = FormSubject(
        title="move a photo",
        draft=f"move photo {photos[front].id}",
        lines=((_PHOTO, *_LINES) if several else _LINES),
        read=read,
        about=told,
        values={"photo": str(front + 1), "reason": next(iter(WHY_MOVED.values()))},
        first="to",
        chapter="stock",
    )
    open_form(page, form)


def _which(photos: Sequence[Photo], text: str) -> Photo:
    photo = figures.as_numbered(text, photos)
    if photo is None:
        raise bad("photo", text, f"a number from 1 to {len(photos)}")
    return photo


def _wanted(ledger: "Ledger", photo: Photo, values: Values, order: str) -> Move:
    """Return the move that the form says, its day in a tester's order; raises BadInput with its fields."""
    try:
        on = values["day"]
        on = figures.day(on, "day", order).isoformat() if one_line(on) else ""
        specimen, observation = filing.place(ledger, values["to"], values["criterion"], values["session"], on)
    except BadInput as refused:
        raise BadInput([_in_form(one) for one in refused.problems]) from refused
    return filing.weigh_move(ledger, photo, specimen, observation)


def _in_form(problem: Problem) -> Problem:
    return replace(problem, where=_FIELDS.get(problem.where, problem.where))


def _back(wanted: Move) -> Back:
    """Return what files the photo where it was, if it still is where it was moved to."""
    name = called(wanted.before)

    def back(ledger: "Ledger", before: Sequence[Record], kept: Sequence[Record]) -> str:
        stood = mending.take_back(ledger, [wanted.before], [wanted.after])
        return f"{name} is with {wanted.then} again" if stood else f"{name} was filed anew since, and stays as it is"

    return back
