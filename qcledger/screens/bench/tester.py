"""How good the tester is: hidden repeats, drift, the control over the sessions, and which sessions to check."""

from typing import TYPE_CHECKING, ClassVar

from textual.binding import BindingType

from qcledger.bench.named import session_of
from qcledger.screens import keys
from qcledger.screens.bench.closing import Closing, ink_here
from qcledger.screens.desk import Desk
from qcledger.screens.reading import ReadingPage, Told
from qcledger.screens.widgets.typeline import TypeLine

if TYPE_CHECKING:
    from qcledger.ledger import Ledger


class Measured(ReadingPage):
    """The tester measured, in words or as charts of the control."""

    KEY = "tester"
    TITLE = "Tester"
    BINDINGS: ClassVar[list[BindingType]] = list(keys.bindings("tester"))

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self._drawn = False

    async def fill(self) -> None:
        """Measure, and show it."""
        width, drawn = self.room(), self._drawn
        ask = _charts if drawn else _words
        told = await self.desk.read(lambda ledger: ask(ledger, width), after_saves=True)
        self.head("the control over the sessions" if drawn else "repeats, drift, sessions")
        self.tell(told, width)

    def action_charts(self) -> None:
        """Turn from words to charts, or back."""
        self._drawn = not self._drawn
        self.query_one("#parts").scroll_home(animate=False)
        self.work(self.fill, instead_of="fill")

    def action_check(self) -> None:
        """Ask for a session's code and open its checks."""

        async def read(code: str) -> str:
            return (await self.desk.read(lambda ledger: session_of(ledger, code), after_saves=True)).id

        def take(session: str | None) -> None:
            if session is not None:
                self.app.push_screen(Closing(self.desk, session))

        self.app.push_screen(TypeLine("Code of the session", read), take)


def _words(ledger: "Ledger", width: int) -> Told:
    from qcledger.findings.tester import measure, side_by_side
    from qcledger.report.closing import criteria_of, summary
    from qcledger.report.tester import lines_of

    rows, criteria = ledger.tested_rows(), criteria_of(ledger)
    titles = {key: one.title for key, one in criteria.items()}
    sessions = summary(rows, titles, width) or ["no session yet"]
    return [("Sessions", sessions), ("Repeats", lines_of(measure(rows), side_by_side(rows), criteria, width))]


def _charts(ledger: "Ledger", width: int) -> Told:
    from qcledger.findings.control import history
    from qcledger.findings.repeats import scatter_of
    from qcledger.report import chart
    from qcledger.report.closing import criteria_of
    from qcledger.report.layout import paragraph

    rows, ink = ledger.tested_rows(), ink_here()
    series = chart.series_of(history(rows), criteria_of(ledger), scatter_of(rows))
    drawn = chart.charts(series, width, ink) or paragraph("No control stood on three sheets yet.", width=width)
    return [("What is drawn", paragraph(chart.label(ink), width=width)), ("Control", drawn)]
