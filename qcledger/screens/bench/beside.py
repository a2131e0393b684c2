"""What lies beside a sheet at work, a key away: what is put down, what is looked at, and the map of the paper."""

from collections import defaultdict

from qcledger.bench.laying import on_cells
from qcledger.bench.runsheet import SheetSquare
from qcledger.screens.bench.planning import Planning
from qcledger.screens.bench.pulse import Pulse
from qcledger.screens.bench.putdown import PutDown
from qcledger.screens.bench.sheetmap import SheetMap
from qcledger.screens.desk import Desk


class BesideSheet(Planning):
    """A page with a sheet at work, from which what lies beside it is opened."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self._laid: defaultdict[str, set[str]] = defaultdict(set)
        """The steps that are done, by session, for as long as the program runs."""

    def action_put_down(self) -> None:
        """Show what is put on the paper, in the order of the hand."""
        self._open_steps("y")

    def action_look(self) -> None:
        """Show what is looked at, from the stage at work."""
        self._open_steps("v")

    def _open_steps(self, part: str) -> None:
        if self.atwork is not None:
            self.stay()
            sheet = self.atwork.sheet
            pulse = self.query_one(Pulse)
            self.app.push_screen(PutDown(self.desk, sheet, self._laid[sheet.session.id], pulse, part))

    def action_map(self) -> None:
        """Show which specimen lies where and what stands; a place chosen there is where the work goes on."""
        work = self.atwork
        if work is None or work.place is None:
            return
        self.stay()

        def go(place: SheetSquare) -> None:
            work.go(place)
            self.show()

        self.app.push_screen(SheetMap(self.desk, work.sheet, work.here, on_cells, go))
