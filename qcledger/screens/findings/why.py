"""Why: the sentence that may be published about one cell, and everything that led to it."""

from typing import TYPE_CHECKING, ClassVar, Final

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Horizontal, VerticalScroll
from textual.content import Content
from textual.widgets import Static

from qcledger.errors import bad
from qcledger.screens import keys
from qcledger.screens.desk import Desk
from qcledger.screens.findings.asking import CellPlace, finding_at, this_terminal
from qcledger.screens.findings.deciding import Decides
from qcledger.screens.findings.photos import open_photos
from qcledger.screens.page import OPENING
from qcledger.screens.shown import shown_lines
from qcledger.screens.widgets.lines import HeadLine, SaidLine

if TYPE_CHECKING:
    from textual.timer import Timer

    from qcledger.ledger import Ledger
    from qcledger.report.kept import KeptFindings
    from qcledger.report.parts import Part


WITHOUT_PHOTOS: Final = ("leave", "statistics", "observations", "on", "ask", "answer", "private", "retest", "note")
"""What the foot names where there are no photos to show."""
WIDE: Final = 110
"""Columns from which the statistics stand beside the plain words."""
LOOK_S: Final = 2.0
"""Seconds between looks at what is still awaited."""


class Why(Decides):
    """One finding, from its sentence down to what would settle it.

    Parameters
    ----------
    desk, kept, comparison
        Where to ask, and in which comparison.
    place
        The cell.
    """

    KEY = "why"
    TITLE = "Why"
    CSS_PATH = "findings.tcss"
    IN_TWO: ClassVar[bool] = True
    """Whether there are statistics, which stand beside the plain words where there is room."""
    BINDINGS: ClassVar[list[BindingType]] = list(keys.bindings("why"))

    def __init__(self, desk: Desk, kept: "KeptFindings | None", comparison: str | None, place: CellPlace) -> None:
        super().__init__(desk)
        self._kept, self._comparison, self._place = kept, comparison, place
        self._width = 0
        self._again: Timer | None = None
        self._counted = False
        """Whether the statistics are shown in place of the plain words."""
        self._photos = 0
        self._photos_told = ""
        self._about = ""

    @property
    def spoken_of(self) -> CellPlace | None:
        """The finding."""
        return self._place

    @property
    def asked_in(self) -> str | None:
        """Its comparison."""
        return self._comparison

    def body(self) -> ComposeResult:
        """Lay out one long text."""
        with Horizontal(id="both"):
            with VerticalScroll(id="parts"):
                yield Static("", markup=False, id="told")
            with VerticalScroll(id="statistics"):
                yield Static("", markup=False, id="counted")

    def on_mount(self) -> None:
        """Let the keys scroll."""
        self.query_one("#parts").focus()
        self._again = self.set_interval(LOOK_S, self._look_again, pause=True)

    def _look_again(self) -> None:
        """Look whether what was awaited is there."""
        if self.is_current:
            self.work(self.fill, instead_of="fill")

    @property
    def waits_for_fill(self) -> bool:
        """Whether keys wait until it was filled: findings are worked on for long, and Esc stops that."""
        return False

    async def fill(self) -> None:
        """Ask for every part and show them one below the other."""
        width, terminal, mark = self._room(), this_terminal(), self.desk.settings.decimal_mark

        def ask(ledger: "Ledger") -> "tuple[str, int, list[Part], bool]":
            from qcledger.report.kept import photos_of
            from qcledger.report.parts import parts_of
            from qcledger.report.shopping_text import with_purchase
            from qcledger.report.strips import ink_of

            finding = finding_at(self._kept, self._comparison, self._place, ledger)
            if finding is None:
                raise bad("why", self._place.criterion, "a finding that the ledger still holds")
            about = f"{finding.maker_name}, {finding.format}, {finding.criterion.title}"
            parts = with_purchase(parts_of(finding, width, ink_of(*terminal)), ledger, finding, width, mark)
            return about, len(photos_of(ledger, finding)), parts, finding.awaited

        about, photos, parts, awaited = await self.desk.read(ask)
        if self._again is not None:
            (self._again.resume if awaited else self._again.pause)()
        self._width = width
        self._about = about
        self.head(about)
        self._photos = photos
        self.foot(None if photos else [], *([] if photos else WITHOUT_PHOTOS))
        self._say_photos({0: "no photos", 1: "1 photo, p shows it"}.get(photos, f"{photos} photos, p shows them"))
        self.show_parts(parts)

    @property
    def is_wide(self) -> bool:
        """Whether there is room for the statistics beside the plain words."""
        return self.query_one(HeadLine).size.width >= WIDE

    def show_parts(self, parts: "list[Part]") -> None:
        """Show the plain words, and the statistics beside them or, one key further, in their place."""
        plain, counted = ([part for part in parts if part.plain is one] for one in (True, False))
        both = self.is_wide and bool(counted)
        shown = {"#parts": both or not self._counted or not counted, "#statistics": both or self._counted}
        for name, is_shown in shown.items():
            self.query_one(name).display = is_shown
        for name, some in (("#told", plain), ("#counted", counted)):
            self.query_one(name, Static).update(Content("\n\n").join(drawn(part) for part in some))

    def action_statistics(self) -> None:
        """Show the statistics, or the plain words again."""
        if self.is_wide:
            self.query_one("#statistics").focus()
            return
        self._counted = not self._counted
        self.work(self._turned, instead_of="fill")

    async def _turned(self) -> None:
        await self.fill()
        self.query_one("#statistics" if self._counted else "#parts").focus()

    def _say_photos(self, told: str) -> None:
        """Say how many photos there are where nothing else was said: the page looks again by itself meanwhile."""
        if self.query_one(SaidLine).said in ("", OPENING, self._photos_told):
            self.say(told)
        self._photos_told = told

    def _room(self) -> int:
        """Return the columns of a line, a scroll bar beside it."""
        whole = self.query_one(HeadLine).size.width
        return max((whole - 1) // 2 - 2 if self.is_wide and self.IN_TWO else whole - 2, 10)

    def on_resize(self) -> None:
        """Lay the text out anew for another width."""
        if self._width and self._width != self._room():
            self.work(self.fill, instead_of="fill")

    def action_turn(self, step: int) -> None:
        """Read on, or go back, by a screen."""
        plain, side = self.query_one("#parts"), self.query_one("#statistics")
        parts = side if side.display and (side.has_focus or not plain.display) else plain
        parts.scroll_relative(y=step * max(parts.size.height - 1, 1), animate=False)

    def works(self, verb: str) -> bool:
        """Whether there are photos to show."""
        return verb != "photos" or self._photos > 0

    def action_observations(self) -> None:
        """List exactly the observations that this finding counts, faulty ones first; one may be amended there."""
        from qcledger.screens.record.behind import Behind

        self.app.push_screen(Behind(self.desk, self._about, self._behind))

    def _behind(self, ledger: "Ledger") -> list[str]:
        """Return the ids of the observations behind it."""
        from qcledger.report.kept import observations_of

        finding = finding_at(self._kept, self._comparison, self._place, ledger)
        return observations_of(finding) if finding is not None else []

    def action_put_right(self) -> None:
        """Put the label of one of these paints right."""
        self.work(self._put_right, instead_of="form")

    async def _put_right(self) -> None:
        from qcledger.screens.findings.relabel import put_one_right

        def ask(ledger: "Ledger") -> list[str]:
            finding = finding_at(self._kept, self._comparison, self._place, ledger)
            return [lot.row.specimen for lot in finding.lots] if finding is not None else []

        await put_one_right(self, ask)

    def action_photos(self) -> None:
        """Show the photos behind this finding."""
        if not self._photos:
            self.say("no photos", problem=True)
            return
        self.work(self._open_photos, instead_of="photos")

    async def _open_photos(self) -> None:
        await open_photos(self, self._kept, self._comparison, self._place)


def drawn(part: "Part") -> Content:
    """Return a part; its lines are laid out already and keep their blanks."""
    return Content.assemble((part.title, "bold $ink"), "\n", shown_lines(part.lines))
