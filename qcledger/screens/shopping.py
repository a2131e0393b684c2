"""What to look at and what to buy next: the list that the command prints, for a sum that is typed here."""

from collections.abc import Iterable
from typing import TYPE_CHECKING, ClassVar, Final

from textual.binding import BindingType

from qcledger.screens import keys
from qcledger.screens.desk import Desk
from qcledger.screens.reading import ReadingPage
from qcledger.screens.widgets.typeline import TypeLine

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.report.kept import KeptFindings

SUM: Final = "The sum to spend, as in 60 EUR"
NOTHING: Final = "no sum yet: e types one, and what it buys stands first"


class ShoppingPage(ReadingPage):
    """What settles most for the money, by the prices on file.

    Parameters
    ----------
    desk
        Where to ask.
    kept
        The findings of the page that this one is opened from.
    comparison
        The comparison asked about, by its id; None for everything tested.
    """

    KEY = "shopping"
    TITLE = "What to buy"
    BINDINGS: ClassVar[list[BindingType]] = list(keys.bindings("shopping"))

    def __init__(self, desk: Desk, kept: "KeptFindings | None", comparison: str | None) -> None:
        super().__init__(desk)
        self._kept, self._comparison = kept, comparison
        self._sum = ""

    async def fill(self) -> None:
        """Plan what to buy, and show it."""
        width, asked, mark = self.room(), self._sum, self.desk.settings.decimal_mark

        def ask(ledger: "Ledger") -> str:
            from qcledger.bench.advice import remember
            from qcledger.report import shopping as planner
            from qcledger.report.kept import KeptFindings
            from qcledger.report.shopping_text import shopping_text, shown_errands

            found = (self._kept or KeptFindings()).findings(ledger, self._comparison).findings
            sum_ = planner.budget(asked, mark) if asked else planner.Budget(0, planner.usual_currency(ledger))
            planned = planner.shopping_plan(ledger, found, sum_)
            remember(ledger, shown_errands(planned))
            return shopping_text(planned, sum_.currency, planner.paint_names(ledger), mark, width)

        text = await self.desk.read(ask)
        self.head(f"for {asked}" if asked else "no sum typed yet")
        self.tell([*_headed(text.splitlines())], width)
        self.say("" if asked else NOTHING)

    def action_budget(self) -> None:
        """Type the sum to spend."""
        mark = self.desk.settings.decimal_mark

        async def read(text: str) -> str:
            from qcledger.report.shopping import budget

            budget(text, mark)
            return text.strip()

        def take(text: str | None) -> None:
            if text is not None:
                self._sum = text
                self.query_one("#parts").scroll_home(animate=False)
                self.work(self.fill, instead_of="fill")

        self.app.push_screen(TypeLine(SUM, read, self._sum), take)


def _headed(lines: Iterable[str]) -> list[tuple[str, list[str]]]:
    """Part a text at its blank lines; the first line of each part is its heading."""
    parts: list[list[str]] = [[]]
    for line in lines:
        if line:
            parts[-1].append(line)
        elif parts[-1]:
            parts.append([])
    return [(head, rest) for head, *rest in filter(None, parts)]
