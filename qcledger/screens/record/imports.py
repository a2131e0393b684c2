"""What was brought in: every import of the ledger, the newest first; Enter opens one."""

import asyncio
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar, Final

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType

from qcledger.bench import imported
from qcledger.errors import bad
from qcledger.screens import keys
from qcledger.screens.desk import Desk
from qcledger.screens.page import Page
from qcledger.screens.record import words
from qcledger.screens.record.oneimport import OneImport
from qcledger.screens.widgets.rows import Column, Row, Rows
from qcledger.screens.widgets.typeline import TypeLine
from qcledger.screens.widgets.wrapped import Wrapped

if TYPE_CHECKING:
    from qcledger.bench.imported import Imported
    from qcledger.ledger import Ledger

COLUMNS: Final = (
    Column("sheet", 12, grows=True),
    Column("brought in", 16, need=1),
    Column("rows", 6, right=True, need=4),
    Column("daybook of", 12, grows=True, need=3),
    Column("stands", 12, grows=True, need=2),
)
NONE: Final = "Nothing was brought in yet; n shows what a spreadsheet of yours would bring in, row by row."
SHEET: Final = "The spreadsheet (.csv, .tsv, .xlsx, .ods, .xls)"
MAPS: Final = (".yaml", ".yml")
MAP: Final = "The map of its columns; where there is none yet, one is proposed"


class Imports(Page):
    """Every import, whoever made it, and which of them are one sheet.

    Parameters
    ----------
    desk
        Where to ask.
    observation
        The id of an observation: the import that it came with is marked first.
    """

    KEY = "imports"
    TELLS_MARKED = True
    TITLE = "Imports"
    CSS_PATH = "record.tcss"
    BINDINGS: ClassVar[list[BindingType]] = list(keys.bindings("imports"))

    def __init__(self, desk: Desk, observation: str | None = None) -> None:
        super().__init__(desk)
        self._observation = observation
        self._lines: list[Imported] = []
        self._twice: dict[str, str] = {}

    def body(self) -> ComposeResult:
        """Lay out what came in twice, the list, and the marked import in words."""
        yield Wrapped(3, id="twice")
        yield Rows(COLUMNS, self._load)
        yield Wrapped(5, id="whole")

    def on_mount(self) -> None:
        """Begin in the list."""
        self.query_one(Rows).focus()

    async def fill(self) -> None:
        """Ask what was brought in; the mark stays on the same import."""
        observation, self._observation = self._observation, None
        rows = self.query_one(Rows)
        stood = rows.row.id if rows.row is not None else None

        def ask(ledger: "Ledger") -> "tuple[list[Imported], dict[str, str], str | None]":
            marked = imported.brought_with(ledger, observation) if observation is not None else stood
            return imported.listed(ledger, everyone=True), imported.told_twice(ledger), marked

        found, self._twice, marked = await self.desk.read(ask, after_saves=True)
        self._lines = found[::-1]
        self.head(f"{len(found)} import" + "s" * (len(found) != 1))
        self.query_one("#twice", Wrapped).show(next(iter(self._twice.values()), ""))
        place = next((n for n, one in enumerate(self._lines) if one.row.id == marked), 0)
        rows.show(len(self._lines), marked=place)
        if not self._lines:
            self.query_one("#whole", Wrapped).show(NONE)

    async def _load(self, first: int, most: int) -> Sequence[Row]:
        settings = self.desk.settings
        return [
            words.import_row(one, settings, one.row.id in self._twice) for one in self._lines[first : first + most]
        ]

    @on(Rows.Marked)
    def _marked(self, message: Rows.Marked) -> None:
        """Tell the marked import in words."""
        message.stop()
        id_ = message.row.id if message.row is not None else None
        one = next((one for one in self._lines if one.row.id == id_), None)
        if one is not None:
            self.query_one("#whole", Wrapped).show(words.import_words(one, self.desk.settings))

    @on(Rows.Picked)
    def _picked(self, message: Rows.Picked) -> None:
        message.stop()
        self.app.push_screen(OneImport(self.desk, message.row.id))

    def action_bring_in(self) -> None:
        """Ask for a spreadsheet, then for its map, and show what it would bring in."""

        async def read(text: str) -> Path:
            path = Path(text.strip()).expanduser()
            await asyncio.to_thread(_refuse_no_sheet, path)
            return path

        def take(path: Path | None) -> None:
            if path is not None:
                self._ask_for_map(path)

        self.app.push_screen(TypeLine(SHEET, read), take)

    def _ask_for_map(self, path: Path) -> None:
        from qcledger.screens.record.before import BeforeImport

        async def read(text: str) -> Path:
            map_file = Path(text.strip()).expanduser()
            if map_file.suffix not in MAPS:
                raise bad("map", text, "a file that ends in .yaml")
            return map_file

        def take(map_file: Path | None) -> None:
            if map_file is not None:
                self.app.push_screen(BeforeImport(self.desk, path, map_file))

        self.app.push_screen(TypeLine(MAP, read, str(path.with_suffix(".map.yaml"))), take)

    def action_open(self) -> None:
        """Open the marked import."""
        self.query_one(Rows).action_pick()


def _refuse_no_sheet(path: Path) -> None:
    """Refuse what is no spreadsheet; a folder of tables comes in by the command."""
    if path.is_dir():
        raise bad("spreadsheet", str(path), "a file; a folder of tables comes in with qcledger import FOLDER")
    if not path.is_file():
        raise bad("spreadsheet", str(path), "a file that is there")
