"""Brings in somebody else's spreadsheet through a map of its columns."""

from collections.abc import Iterator
from pathlib import Path

from qcledger.errors import at, bad
from qcledger.exchange.account import RowTold, account
from qcledger.exchange.brought import Brought
from qcledger.exchange.columnmap import ColumnMap
from qcledger.exchange.csvfile import fingerprint
from qcledger.exchange.draft import Draft
from qcledger.exchange.grading import Grader, check_map, criteria, gone
from qcledger.exchange.plan import ImportPlan
from qcledger.exchange.rowreader import Filled, RowReader
from qcledger.exchange.samesheet import SHEET_OF, WrittenStickers, look_back
from qcledger.exchange.sheetrows import NEEDED, Advises, SheetRows, as_read
from qcledger.exchange.spreadsheet import Spreadsheet, read
from qcledger.ledger import Ledger
from qcledger.ledger.codec import ONE_LINE
from qcledger.ledger.progress import Progress, untold
from qcledger.records import Import, RubricText
from qcledger.settings import Settings

_ANOTHER_SHEET = "another sheet: --called NAME; corrected: qcledger imports NAME --take-back"
"""The way out for a sheet that is not the one whose name it bears."""


def plan_mapped(
    ledger: Ledger,
    path: Path,
    column_map: ColumnMap,
    *,
    settings: Settings,
    beside: Path | None = None,
    called: str | None = None,
    progress: Progress = untold,
    told: list[RowTold] | None = None,
    advised: Advises = as_read,
) -> ImportPlan:
    """Return what importing a spreadsheet through a map would add; nothing is written.

    Parameters
    ----------
    ledger
        The ledger the rows are for.
    path
        A CSV or XLSX file.
    column_map
        What its columns hold.
    settings
        The mark before decimals, and the currency of prices that name none.
    beside
        The folder that rubric files named in the map start from; that of `path` if None.
    called
        What the tester calls the sheet; what the map says, or the file's name, if None.
    progress
        Told which row is at work.
    told
        Gets what becomes of each row and cell, if it is a list.
    advised
        Marks new pieces that were bought on the program's advice.

    Raises
    ------
    BadInput
        With one problem for each row that is not allowed, or with what is wrong with the file or the map.
    """
    sheet = read(path, layout=column_map.layout)
    _refuse_missing(sheet, column_map)
    kept = (ledger.rubric(row.id) for row in ledger.rows(RubricText))
    known = gone(kept, column_map.rubrics) | criteria(column_map.rubrics, beside or path.parent)
    check_map(column_map, known)
    mark = column_map.decimal_mark or settings.decimal_mark
    grader = Grader(known, mark)
    reader = RowReader(sheet.place, column_map, grader, mark, settings.currency)
    draft, named = Draft(ledger), called or column_map.called
    brought = Brought(draft, _import(ledger, path, sheet, named))
    rows = SheetRows(draft, column_map, known, brought, mark, advised)
    filled: list[Filled] = []
    for row in progress("Reading rows", sheet.rows):
        with draft.row_at(at(sheet.place, row.number)):
            filled.append(reader.read(row))
    guesses = [*sheet.guesses, *look_back(draft, brought, filled, file=sheet.name, is_named=named is not None)]
    rows.fetch(filled)
    new, written = 0, WrittenStickers()
    for said in progress("Checking rows", filled):
        with draft.row_at(said.where):
            written.check(said)
            new += rows.add(said)
    draft.settle((at(sheet.place, row.number) for row in sheet.rows), progress, changed=_ANOTHER_SHEET)
    if told is not None:
        told.extend(account(sheet, column_map, filled, rows, brought))
    guesses += [*_left_out(sheet, column_map), *reader.told(), *rows.new_names.lines(), *grader.conversions()]
    if reader.currency_guessed:
        guesses.append(f"prices without a currency are in {settings.currency}, the currency of your settings")
    return ImportPlan(
        draft.records(),
        {},
        new,
        len(sheet.rows) - new,
        tuple(guesses),
        brought.record,
        frozenset(rows.numbered),
        frozenset(one.id for one in draft.imports),
    )


def _import(ledger: Ledger, path: Path, sheet: Spreadsheet, called: str | None) -> Import:
    """Return the record of bringing in a sheet, under what it is called or the name of its file."""
    name = called or sheet.name + (f"{SHEET_OF}{sheet.sheet}" if sheet.sheet else "")
    return Import(id=ledger.new_id(), name=name[:ONE_LINE], sha256=fingerprint(path), rows=len(sheet.rows))


def _refuse_missing(sheet: Spreadsheet, column_map: ColumnMap) -> None:
    """Refuse a file without the columns the map names, and a map without the columns a new specimen needs."""
    wanted = list(dict.fromkeys([*column_map.columns, *column_map.row_key, *sorted(column_map.left_out)]))
    absent = [name for name in wanted if name not in sheet.header]
    if absent:
        raise bad(f"{sheet.place}, header", f"no column {absent[0]}", "the columns of the map: " + ", ".join(wanted))
    mapped = {field for target in column_map.columns.values() for field in target.fields} | set(column_map.constants)
    blocks = [set(fixed) for fixed in column_map.layout.blocks.values() if fixed is not None]
    mapped |= set.intersection(*blocks) if blocks else set()
    lacking = [field for field in NEEDED if field not in mapped]
    if lacking and "sticker" not in mapped:
        raise bad(column_map.name, f"no {lacking[0]}", f"a column or constant for each of {', '.join(NEEDED)}")


def _left_out(sheet: Spreadsheet, column_map: ColumnMap) -> Iterator[str]:
    for name in sheet.header:
        if name not in column_map.columns and name not in column_map.left_out:
            yield f"column {name} is not in the map and is left out"
