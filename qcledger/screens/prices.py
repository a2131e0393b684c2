"""What was paid, like beside like: of one maker or of all."""

from typing import TYPE_CHECKING, ClassVar, Final

from textual.binding import BindingType

from qcledger.screens import keys
from qcledger.screens.desk import Desk
from qcledger.screens.reading import ReadingPage

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

BY: Final = ("maker", "paint", "pigment", "seller", "country", "pack", "month")
"""What prices stand side by side by, in the order in which the key turns."""


class PricesPage(ReadingPage):
    """Prices side by side, or over purchases.

    Parameters
    ----------
    desk
        Where to ask.
    maker
        The id of the maker asked about; None for every one.
    criterion
        The key of the criterion that prices may be drawn beside; None where none was spoken of.
    """

    KEY = "price"
    TITLE = "Prices"
    BINDINGS: ClassVar[list[BindingType]] = list(keys.bindings("price"))

    def __init__(self, desk: Desk, maker: str | None = None, criterion: str | None = None) -> None:
        super().__init__(desk)
        self._criterion = criterion
        self._drawn = False
        self._asked, self._maker = maker, maker
        self._by = BY[1 if maker else 0]
        self._over_time = self._converted = False

    async def fill(self) -> None:
        """Work the prices out, and show them."""
        await (self._show_found() if self._drawn else self._show_prices())

    async def _show_found(self) -> None:
        """Draw prices beside what was found on the criterion, of every maker: one alone is beside nothing."""
        width, key, settings, into = self.room(), self._criterion, self.desk.settings, self._into

        def ask(ledger: "Ledger") -> list[str]:
            from qcledger.findings.price_beside import beside
            from qcledger.report.kept import KeptFindings
            from qcledger.report.price_plot import plot_lines
            from qcledger.report.prices import prices_of

            looked = KeptFindings().reading(ledger).found.only(criterion=key).findings
            if not looked:
                return ["Traits are no faults, and have no share to stand beside a price."]
            found = beside(prices_of(ledger, into).pieces, looked)
            return plot_lines(found, looked[0].criterion.title, settings.decimal_mark, width)

        await self.desk.settled()  # and not in the thread that saves: no save waits while findings are read
        lines = await self.desk.read(ask)
        self.head("beside what was found", *([f"in {into}"] if into else []))
        self.tell([("For you only", lines)], width)

    @property
    def _into(self) -> str | None:
        return self.desk.settings.currency if self._converted else None

    async def _show_prices(self) -> None:
        width, maker, by, trend = self.room(), self._maker, self._by, self._over_time
        mark, into = self.desk.settings.decimal_mark, self._into

        def ask(ledger: "Ledger") -> tuple[str, list[str]]:
            from qcledger.ledger.identity import who_is_who
            from qcledger.records import Maker
            from qcledger.report.prices import prices_of
            from qcledger.report.prices_text import prices_lines, trends_lines

            wanted = maker and who_is_who(ledger).one(Maker.TABLE, maker)
            found = prices_of(ledger, into).only(lambda one: wanted in (None, one.maker))
            name = found.pieces[0].piece.maker_name if maker and found.pieces else ""
            return name, trends_lines(found, mark, width) if trend else prices_lines(found, by, mark, width)

        name, lines = await self.desk.read(ask, after_saves=True)
        told = "over purchases" if trend else f"by {by}"
        self.head(told, name or "every maker", *([f"in {into}"] if into else []))
        self.tell([("What was paid", lines)], width)

    def _again(self) -> None:
        self.query_one("#parts").scroll_home(animate=False)
        self.work(self.fill, instead_of="fill")

    def action_by(self) -> None:
        """Put something else side by side."""
        self._by = BY[(BY.index(self._by) + 1) % len(BY)]
        self._over_time = self._drawn = False
        self._again()

    def action_trend(self) -> None:
        """Turn to prices over purchases, or back."""
        self._over_time, self._drawn = not self._over_time, False
        self._again()

    def action_found(self) -> None:
        """Draw prices beside what was found, or put them side by side again."""
        if self._criterion is None:
            self.say("no criterion is spoken of here; $ in Findings, on a line of one, brings it along", problem=True)
            return
        self._drawn = not self._drawn
        self._again()

    def action_into(self) -> None:
        """Convert prices into the currency of the settings, or leave each in its own."""
        self._converted = not self._converted
        self._again()

    def action_every(self) -> None:
        """Show every maker, or the one asked about."""
        self._maker = self._asked if self._maker is None else None
        self._again()
