"""Brings in somebody else's spreadsheet through a map of its columns."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from qcledger.errors import BadInput, at, bad
from qcledger.exchange.account import Account, RowTold
from qcledger.exchange.brought import SHEET_OF, Brought
from qcledger.exchange.columnmap import ColumnMap
from qcledger.exchange.csvfile import fingerprint
from qcledger.exchange.draft import Draft
from qcledger.exchange.grading import Grader, check_map, criteria, gone
from qcledger.exchange.plan import ImportPlan
from qcledger.exchange.rowreader import Filled, RowReader
from qcledger.exchange.samesheet import WrittenStickers, look_back
from qcledger.exchange.sheetrows import NEEDED, Advises, SheetRows, as_read
from qcledger.exchange.spreadsheet import Spreadsheet, read
from qcledger.exchange.table import unread_line
from qcledger.ledger import Ledger
from qcledger.ledger.codec import ONE_LINE
from qcledger.ledger.collector import resting
from qcledger.ledger.progress import Progress, untold
from qcledger.records import Import, RubricText
from qcledger.settings import Settings

_ANOTHER_SHEET = "another sheet: --called NAME; corrected: qcledger imports NAME --take-back"
"""The way out for a sheet that is not the one whose name it bears."""


@resting()
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
    granted: list[str] | None = None,
    advised: Advises = as_read,
) -> ImportPlan:
    """Return what importing a spreadsheet through a map would add; nothing is written.

    Parameters
    ----------
    ledger
        The ledger the rows are for.
    path
        A spreadsheet.
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
        Gets what becomes of each row and cell, if it is a list; also where rows are refused.
    advised
        Marks new pieces that were bought on the program's advice.
    granted
        Gets what was taken for granted, a line each, if it is a list; also where rows are refused.

    Raises
    ------
    BadInput
        With one problem for each row that is not allowed, or with what is wrong with the file or the map.
    """
    draft, parts = Draft(ledger), list[_Part]()
    for part in column_map.parts:
        sheet = read(path, layout=part.layout)
        name = called or part.called
        if name and column_map.others and sheet.sheet:
            name += f"{SHEET_OF}{sheet.sheet}"
        parts.append(_read_part(draft, path, sheet, part, settings, beside or path.parent, name, progress, advised))
    guesses = list(_guesses(path.name, parts))
    if granted is not None:
        granted.extend(guesses)
    places = [at(part.sheet.place, row.number) for part in parts for row in part.sheet.rows]
    with _telling(told, parts, draft):
        draft.settle(places, progress, changed=_ANOTHER_SHEET)
    return _plan(draft, parts, guesses)


@dataclass(frozen=True, slots=True)
class _Part:
    """One sheet as it was read: what its rows say and became, and which of the planned rows are its own."""

    sheet: Spreadsheet
    column_map: ColumnMap
    reader: RowReader
    grader: Grader
    filled: Sequence[Filled]
    rows: SheetRows
    brought: Brought
    new: int
    guesses: Sequence[str]
    planned: range
    currency: str

    def told(self) -> Iterator[str]:
        """Yield what was taken for granted, a line each."""
        yield from self.guesses
        yield from _left_out(self.sheet, self.column_map)
        yield from self.reader.told()
        yield from self.rows.new_names.lines()
        yield from self.grader.conversions()
        if self.reader.currency_guessed:
            yield f"prices without a currency are in {self.currency}, the currency of your settings"


def _guesses(name: str, parts: Sequence[_Part]) -> Iterator[str]:
    """Yield what was taken for granted of each part, and which sheets of the file nothing is read of."""
    for part in parts:
        yield from part.told()
    read_too = {part.sheet.sheet for part in parts}
    unread = (one for one in parts[0].sheet.unread if all(one in part.sheet.unread for part in parts[1:]))
    yield from unread_line(name, (one for one in unread if one not in read_too))


def _read_part(
    draft: Draft,
    path: Path,
    sheet: Spreadsheet,
    column_map: ColumnMap,
    settings: Settings,
    beside: Path,
    named: str | None,
    progress: Progress,
    advised: Advises,
) -> _Part:
    """Plan the rows of one sheet; what is wrong with them is noted in the draft."""
    _refuse_missing(sheet, column_map)
    ledger = draft.ledger
    kept = (ledger.rubric(row.id) for row in ledger.rows(RubricText))
    known = gone(kept, column_map.rubrics) | criteria(column_map.rubrics, beside)
    check_map(column_map, known)
    mark = column_map.decimal_mark or settings.decimal_mark
    grader = Grader(known, mark)
    reader = RowReader(sheet.place, column_map, grader, mark, settings.currency)
    brought = Brought(draft, _import(ledger, path, sheet, named))
    rows = SheetRows(draft, column_map, known, brought, mark, advised)
    filled: list[Filled] = []
    for row in progress("Reading rows", sheet.rows):
        with draft.row_at(at(sheet.place, row.number)):
            filled.append(reader.read(row))
    guesses = [*sheet.guesses, *look_back(draft, brought, filled, file=sheet.name, is_named=named is not None)]
    rows.fetch(filled)
    new, written, before = 0, WrittenStickers(), draft.planned
    for said in progress("Checking rows", filled):
        with draft.row_at(said.where):
            written.check(said)
            new += rows.add(said)
    planned = range(before, draft.planned)
    guesses += _without_key(sheet, column_map, brought, new)
    return _Part(sheet, column_map, reader, grader, filled, rows, brought, new, guesses, planned, settings.currency)


def _plan(draft: Draft, parts: Sequence[_Part], guesses: Sequence[str]) -> ImportPlan:
    """Return what the parts would add together; of several each brings its own rows in, under its own name."""
    records = draft.records()
    own = draft.records_of([part.planned for part in parts]) if len(parts) > 1 else [records]
    some = [(part.brought.record, rows) for part, rows in zip(parts, own, strict=True) if rows]
    new = sum(part.new for part in parts)
    return ImportPlan(
        records,
        {},
        new,
        sum(len(part.sheet.rows) for part in parts) - new,
        tuple(guesses),
        some[0][0] if some else parts[0].brought.record,
        frozenset().union(*(part.rows.numbered for part in parts)),
        frozenset(one.id for one in draft.imports),
        sheets=tuple(some) if len(parts) > 1 else (),
    )


@contextmanager
def _telling(told: list[RowTold] | None, parts: Sequence[_Part], draft: Draft) -> Iterator[None]:
    """Tell what becomes of the rows, where somebody wants to know, once they are settled or refused."""
    refused: BadInput | None = None
    try:
        yield
    except BadInput as error:
        refused = error
    if told is not None:
        for part in parts:
            account = Account(part.sheet, part.column_map, part.rows, part.brought, draft)
            told.extend(account.told(part.filled))
    if refused is not None:
        raise refused


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


def _without_key(sheet: Spreadsheet, column_map: ColumnMap, brought: Brought, new: int) -> Iterator[str]:
    """Yield a warning where rows of a sheet that came in before may be new only because a cell of theirs is."""
    is_known = "sticker" in {field for target in column_map.columns.values() for field in target.fields}
    if brought.before and new and not (column_map.row_key or is_known):
        yield (
            f"{sheet.place} came in before without a row_key: a row with a cell or column more, or another, is new, "
            f"and so a second piece ({new} of {len(sheet.rows)} rows are new)"
        )


def _left_out(sheet: Spreadsheet, column_map: ColumnMap) -> Iterator[str]:
    for name in sheet.header:
        if name not in column_map.columns and name not in column_map.left_out:
            yield f"column {name} is not in the map and is left out"
