"""Why facts of a piece or its parcel are changed: one key, and what was and will be in front of it."""

from collections.abc import Mapping, Sequence
from datetime import date
from functools import partial
from typing import TYPE_CHECKING, Final

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Static

from qcledger.bench import known, mending, unpacking
from qcledger.bench.known import Known
from qcledger.bench.mending import REASONS, USUAL, Mending
from qcledger.errors import bad
from qcledger.records import Lot, Parcel, Specimen
from qcledger.screens.page import Page
from qcledger.screens.shown import shown, shown_date, shown_line
from qcledger.screens.stock.pieces import back_to
from qcledger.screens.styles import StyledOnce
from qcledger.settings import Settings
from qcledger.thing import worded

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

OWN: Final = ""
"""Given back where the reason is to be typed."""
KEPT_OPEN: Final = "nothing was saved; what is typed stands"


class Because(StyledOnce, ModalScreen[str | None]):
    """What is to become another, then and now, and why: a key gives the reason, Enter the usual one, Esc none.

    Parameters
    ----------
    title
        What is changed.
    lines
        Each fact then and now.
    """

    BINDINGS = [  # noqa: RUF012
        Binding("enter", "because", "usual", show=False),
        *(Binding(key, f"because('{key}')", why, show=False) for key, why in REASONS.items()),
        Binding("o", "dismiss('')", "own words", show=False),
        Binding("escape", "dismiss(None)", "back", show=False),
    ]

    def __init__(self, title: str, lines: Sequence[str]) -> None:
        super().__init__()
        self._heading = title
        self._lines = lines

    def compose(self) -> ComposeResult:
        """Show what is changed, then the keys."""
        with VerticalScroll(classes="dialog"):
            yield Static(shown_line(self._heading, "bold"), markup=False)
            for line in self._lines:
                yield Static(shown(f"- {line}"), markup=False)
            yield Static(shown(f"Why? Enter {USUAL}"), markup=False)
            keys = ", ".join(f"{key} {why}" for key, why in REASONS.items())
            yield Static(shown(f"{keys}, o in your own words; Esc changes nothing"), markup=False, classes="faint")

    def action_because(self, key: str = "") -> None:
        """Give a reason."""
        self.dismiss(REASONS[key] if key else USUAL)


async def ask_why(page: Page, title: str, wanted: Mending, draft: str) -> str:
    """Show what is to be changed and return why; empty where nothing is to be changed after all.

    `draft` is the name under which a reason in one's own words is kept; who asked drops it once that is saved.
    """
    from qcledger.screens.keptline import KeptLine

    settings, drafts = page.desk.settings, page.desk.drafts
    lines = wanted.lines(settings.decimal_mark, partial(shown_date, settings=settings))
    lines += await page.desk.read(lambda ledger: _counts(ledger, wanted), after_saves=True)
    reason = await page.app.push_screen_wait(Because(title, lines))
    if reason == OWN:
        line = KeptLine("Why it is changed", drafts.get(draft), partial(drafts.keep, draft))
        reason = await page.app.push_screen_wait(line)
    if reason is None:
        page.say(KEPT_OPEN)
    return reason or ""


def _counts(ledger: "Ledger", wanted: Mending) -> list[str]:
    from qcledger.report.recounted import of_pieces

    return of_pieces(ledger, wanted.after)


def line_of(
    ledger: "Ledger", specimen: str, settings: Settings
) -> tuple[Specimen, Parcel, dict[str, str], Known, bool]:
    """Return a specimen with its parcel, what stands in its form, its paint, and whether it is taken out."""
    one = ledger.get(Specimen, specimen)
    assert one is not None
    parcel = ledger.get(Parcel, one.parcel)
    lot = ledger.get(Lot, one.lot) if one.lot else None
    found = known.of_paint(ledger, one.paint)
    same = [paint for paint in found if paint.bought.format == one.format]
    assert parcel is not None
    code, day = lot.code if lot else None, partial(shown_date, settings=settings)
    values = unpacking.piece_values(one, code, parcel.currency, settings.decimal_mark, day)
    return one, parcel, values, (same or found)[0], unpacking.is_out(ledger, specimen)


def draft_of(row: str) -> str:
    """Return the name of the draft of a reason in one's own words, by the row that is changed."""
    return f"why {row}"


async def why_line(page: Page, parcel: Parcel, piece: unpacking.Typed, specimen: str) -> str | None:
    """Return why a line that was typed anew is saved; None where it is not to be.

    Empty for a piece that was taken out: entering it again changes nothing that stands.

    Raises
    ------
    BadInput
        When it says what stands already.
    """
    new_id = page.desk.new_id
    wanted = await page.desk.read(
        lambda ledger: mending.line_change(ledger, parcel, piece, specimen, new_id), after_saves=True
    )
    if wanted is None:
        return ""
    if not wanted.differ:
        raise bad("line", "what stands already", "a change; Esc leaves what stands")
    return await ask_why(page, f"Change {', '.join(wanted.differ)}", wanted, draft_of(specimen)) or None


async def _out_again(page: Page, *, before: Specimen, after: Specimen) -> str:
    return await page.desk.save(lambda ledger: unpacking.out_again(ledger, before, after, page.desk.new_id))


def tell_changed(page: Page, before: Specimen, after: Specimen, *, returned: bool, stays: str = "") -> None:
    """Say that a line was changed, or its piece put back, and let that be taken back.

    `stays` says which results of a piece that was put back stay taken back.
    """
    name = before.sticker
    if returned:
        page.did(partial(_out_again, before=before, after=after))
        beside = f", {stays}" if stays else ""
        page.say(f"{name} is back in stock{beside}; z takes it out again")
    else:
        page.did(partial(back_to, before=[before], after=[after], name=name, said=f"{name} stands as before"))
        page.say(f"{name} changed; z takes it back; a new line begins with its {worded('paint')}")


def read_common(
    ledger: "Ledger", *, values: Mapping[str, str], id_: str, today: date, settings: Settings
) -> tuple[Parcel, Mending | None]:
    """Return the parcel that the common fields say, and what that changes of one that stands; None for no change.

    Without an id it is a new one.
    """
    stands = ledger.get(Parcel, id_) if id_ else None
    row = unpacking.read_parcel(values, id_ or ledger.new_id(), today, settings, stands)
    if stands is None:
        return row, None
    mending.check_currency(ledger, stands, row)
    wanted = mending.weigh(ledger, [stands], [row])
    return row, wanted if wanted.differ else None


async def mend_parcel(page: Page, wanted: Mending) -> bool:
    """Ask why what is common to a parcel is changed and keep that; say whether it was kept."""
    draft = draft_of(wanted.before[0].id)
    reason = await ask_why(page, "Change what is common to the parcel", wanted, draft)
    if reason:
        await page.desk.save(lambda ledger: mending.keep(ledger, wanted, reason))
        page.desk.drafts.drop(draft)
        page.saved()
        said = "what is common to the parcel stands as before"
        page.did(partial(back_to, before=wanted.before, after=wanted.after, name="the parcel", said=said))
    return bool(reason)
