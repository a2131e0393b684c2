"""Proposes a map for somebody else's spreadsheet: every guess is written out, to be checked and changed by hand."""

import json
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from qcledger.errors import bad
from qcledger.exchange import cells
from qcledger.exchange.columnguess import ColumnGuesser
from qcledger.exchange.columnmap import ASK, DEFAULT_RUBRICS
from qcledger.exchange.columnwords import plain
from qcledger.exchange.fieldguess import Guess
from qcledger.exchange.layout import PLAIN, Layout
from qcledger.exchange.layoutguess import GuessedLayout, guess_layout, lines
from qcledger.exchange.mapparts import SHEETS
from qcledger.exchange.sheetrows import NEEDED
from qcledger.exchange.table import Spreadsheet, unread_line
from qcledger.exchange.whichrubric import rubrics_for
from qcledger.ledger.told import told
from qcledger.settings import Settings
from qcledger.text import one_line

NEW_MAKERS = "true"
_NUMBERED = ("no", "nr", "id", "row", "line", "num", "")
"""What people write over a column that numbers the rows."""

_ASKED = f'"{ASK}"'


def propose(path: Path, settings: Settings, start: Layout = PLAIN) -> str:
    """Return a map for a spreadsheet as YAML text, with a ``?`` wherever only its owner can decide.

    Parameters
    ----------
    path
        A text, XLSX or ODS file.
    settings
        The mark before decimals, how days are shown, and the tester's currency.
    start
        How the table lies in its file, as far as its owner has said it already.

    Raises
    ------
    BadInput
        When the file cannot be read.
    """
    guessed = guess_layout(path, start)
    head = [
        f"# What the columns of {one_line(path.name)} hold.",
        f"# Each line is a guess: check it, and put your decision where a {ASK} stands.",
        "# Behind each column: how sure the guess is, and a cell of it.",
    ]
    if guessed.alike and start.sheet is None and guessed.sheet.sheet is not None:
        each = {
            name: guess_layout(path, replace(start, sheet=name)) for name in (guessed.sheet.sheet, *guessed.alike)
        }
        return "\n".join([*head, *_several({name: _body(one, settings, each) for name, one in each.items()}), ""])
    also = [
        f"# sheet {name} is laid out as this one; without a sheet's name both get one map" for name in guessed.alike
    ]
    return "\n".join([*head, *also, *_body(guessed, settings), ""])


def _several(bodies: Mapping[str, Sequence[str]]) -> Iterator[str]:
    """Yield the lines of one map for several sheets: the same for all where it is, else a part for each."""
    plainly = [[line for line in body if not line.startswith(("sheet:", "#"))] for body in bodies.values()]
    if all(body == plainly[0] for body in plainly):
        yield f"{SHEETS}: [{', '.join(map(_quoted, bodies))}]  # laid out alike"
        yield from plainly[0]
        return
    yield f"{SHEETS}:"
    for name, body in bodies.items():
        yield f"  {_quoted(name)}:"
        yield from (f"    {line}" for line in body if not line.startswith("sheet:"))


def _body(guessed: GuessedLayout, settings: Settings, together: Collection[str] = ()) -> list[str]:
    """Return the lines of the map of one sheet, of those that are read `together`."""
    unread = [name for name in guessed.sheet.unread if name not in together]
    layout, sheet = guessed.layout, guessed.sheet
    mark, marks = _decimal_mark(sheet, settings.decimal_mark)
    rubrics = rubrics_for(sheet.header)
    guesser = ColumnGuesser(sheet, layout, replace(settings, decimal_mark=mark), rubrics)
    guesses = guesser.columns()
    makers = guesser.makers()
    head = [
        *(f"# {one_line(guess)}" for guess in (*sheet.guesses, *guessed.remarks, *unread_line(sheet.name, unread))),
        *lines(layout),
        *guesser.year(),
        *marks,
        *_rubrics(rubrics),
        f"new_makers: {NEW_MAKERS}  # adds makers that the ledger does not know; {makers}",
        *(f"row_key: [{_quoted(key)}]" for key in _row_keys(sheet, layout)),
    ]
    columns = [line for header, guess in guesses.items() for line in guess.lines(header)]
    return [*head, *_constants(list(guesses.values()), layout), "columns:", *columns]


def write_proposed(path: Path, settings: Settings, place: Path) -> None:
    """Write the map that `propose` proposes for a spreadsheet to a file; never over one that stands.

    Raises
    ------
    BadInput
        When the spreadsheet cannot be read, or something stands at `place`.
    LedgerUnavailable
        When the disk takes no file there.
    """
    text = propose(path, settings)
    if place.exists():
        raise bad(place.name, "a file", "a name that is free: nothing is written over")
    with told(place.name), place.open("x", encoding="utf-8") as stream:
        stream.write(text)


def _rubrics(chosen: tuple[str, ...]) -> list[str]:
    """Return the line of the map that names other rubrics than a map without one means."""
    told = f"rubrics: [{', '.join(chosen)}]  # whose tests most headings name"
    return [] if chosen == DEFAULT_RUBRICS else [told]


def _decimal_mark(sheet: Spreadsheet, own: str) -> tuple[str, list[str]]:
    """Return the mark before decimals that a spreadsheet shows, and the lines of the map that say so."""
    seen: dict[str, str] = {}
    for row in sheet.rows:
        for name, cell in row.cells.items():
            mark = cells.mark_in(cell)
            if mark:
                seen.setdefault(mark, f"{one_line(str(cell))} in line {row.number}, {one_line(name)}")
    if len(seen) > 1 and all(_is_price(example) for example in seen.values()):
        return cells.EITHER, [f"decimal_mark: {cells.EITHER}  # both, as in {' and '.join(seen.values())}"]
    if len(seen) > 1:
        return own, [f"# Two marks stand before decimals: {' and '.join(seen.values())}.", f"decimal_mark: {_ASKED}"]
    mark, example = next(iter(seen.items()), (own, ""))
    if mark == own:
        return own, []
    return mark, [f"decimal_mark: {_quoted(mark)}  # as in {example}; your settings say {_quoted(own)}"]


def _is_price(example: str) -> bool:
    """Say whether an example of a mark shows a sign of money, beside which two decimals are coins."""
    return not example.partition(" in line ")[0].strip()[:1].isdigit() or "€" in example


def _constants(guesses: Sequence[Guess], layout: Layout) -> list[str]:
    """Return the lines for what each row needs and no column holds."""
    fields = {field for guess in guesses for field in guess.fields}
    fields |= {field for block in layout.blocks.values() if block for field in block}
    needed = [*NEEDED, "tested_on"] if any(guess.is_result for guess in guesses) else NEEDED
    missing = [name for name in needed if name not in fields]
    asked = (f"  {name}: not noted" if name == "seller" else f"  {name}: {_ASKED}" for name in missing)
    return ["constants:", *asked] if missing else []


def _row_keys(sheet: Spreadsheet, layout: Layout) -> Iterator[str]:
    """Yield the first column that numbers the rows, if there is one."""
    for header in sheet.header:
        found = [row.cells.get(header) for row in sheet.rows]
        apart = {(one, row.part) for one, row in zip(found, sheet.rows, strict=True)}
        if plain(header) in _NUMBERED and None not in found and (len(apart) == len(found) or layout.join):
            yield header
            return


def _quoted(text: str) -> str:
    """Return a text in double quotes, as JSON and YAML both read it."""
    return json.dumps(text, ensure_ascii=False)
