"""Proposes a map for somebody else's spreadsheet: every guess is written out, to be checked and changed by hand."""

import difflib
import json
import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from pathlib import Path

from qcledger.errors import BadInput
from qcledger.exchange import cells
from qcledger.exchange.columnmap import ASK, DEFAULT_RUBRICS
from qcledger.exchange.days import ORDERS, day_told_by
from qcledger.exchange.grading import criteria
from qcledger.exchange.layout import LEAVE_OUT
from qcledger.exchange.sheetrows import NEEDED
from qcledger.exchange.spreadsheet import Cell, Spreadsheet, read
from qcledger.figures import as_number
from qcledger.rubric import Criterion
from qcledger.settings import Settings
from qcledger.text import one_line
from qcledger.vocab import Format, Source

_HEADERS: Mapping[str, tuple[str, ...]] = {
    "maker": ("maker", "brand", "manufacturer", "make", "company"),
    "paint": ("paint", "colour", "color", "name", "colour name", "color name", "paint name"),
    "number": ("number", "colour number", "color number", "article", "item", "sku"),
    "pigments": ("pigment", "pigments", "ci", "ci name", "colour index", "color index", "index name"),
    "format": ("format", "form", "type", "pan tube", "tube pan", "pan or tube", "size"),
    "lot": ("lot", "batch", "batch code", "lot number", "batch number", "lot code"),
    "sticker": ("sticker", "specimen", "sample", "label"),
    "source": ("source", "gift", "bought or gift", "origin"),
    "bought_on": ("bought", "bought on", "purchased", "purchase date", "date bought", "ordered"),
    "seller": ("seller", "shop", "store", "vendor", "bought from", "where"),
    "currency": ("currency",),
    "price": ("price", "cost", "paid", "amount"),
    "nominal_ml": ("ml", "volume", "nominal ml", "content", "contents"),
    "weight_g": ("weight", "g", "grams", "weight g", "mass"),
    "tested_on": ("tested", "tested on", "date", "test date", "date tested"),
    "tester": ("tester", "tested by", "by", "who"),
    "note": ("note", "notes", "remarks", "comment", "comments"),
    "test_note": ("test note", "test notes", "result", "results"),
}
"""What people write over a column, by the field it probably is (common practice, no source)."""

_WORDS: Mapping[str, Mapping[str, str]] = {
    "format": {
        **dict.fromkeys(("half pan", "halfpan", "half", "hp", "h", "1/2 pan", "½ pan", "1/2"), Format.HALF_PAN),
        **dict.fromkeys(("full pan", "fullpan", "full", "fp", "whole pan", "1/1"), Format.FULL_PAN),
        **dict.fromkeys(("tube", "t", "tb", "tubes"), Format.TUBE),
        **dict.fromkeys(("stick", "st", "sticks"), Format.STICK),
        **dict.fromkeys(("bottle", "b", "bottles", "jar"), Format.BOTTLE),
        **dict.fromkeys(("pencil", "pencils"), Format.PENCIL),
    },
    "source": {
        **dict.fromkeys(("retail", "bought", "shop", "no", "n"), Source.RETAIL),
        **dict.fromkeys(("gift", "free", "sent", "yes", "y", "x"), Source.GIFT),
    },
}
"""Old words and what they probably mean (common practice, no source)."""

_NUMBERED = ("no", "nr", "id", "row", "line", "num", "")
"""What people write over a column that numbers the rows."""

_ASKED = f'"{ASK}"'
_SHOWN_AS: Mapping[str, str] = {settings: map_ for map_, settings in ORDERS.items()}
_SCALES = ((1, 5), (0, 5), (1, 10), (0, 10), (0, 100))
_MOST_WORDS = 30
_ALIKE, _SHARED = 0.62, 0.8
_TELLING, _STEM = 4, 5
_EVERYDAY = {word for headers in _HEADERS.values() for header in headers for word in header.split()}
"""Words that say nothing about which criterion a column is of."""
_ENDS = re.compile(r"\b(\d{1,3})\s*(?:-|\u2013|to|\.\.)\s*(\d{1,3})\b")
_NUMBERS = re.compile(r"\d+")
_NOT_LETTERS = re.compile(r"[^a-z0-9]+")


@dataclass(slots=True)
class _Guess:
    """What one column probably holds: a word, or keys with their values as YAML."""

    target: str | dict[str, str]
    remark: str = ""

    def lines(self, header: str) -> Iterator[str]:
        """Yield the column's lines of the map."""
        remark = f"  # {self.remark}" if self.remark else ""
        if isinstance(self.target, str):
            yield f"  {_quoted(header)}: {self.target}{remark}"
            return
        yield f"  {_quoted(header)}:{remark}"
        yield from (f"    {key}: {value}" for key, value in self.target.items())


def propose(path: Path, settings: Settings) -> str:
    """Return a map for a spreadsheet as YAML text, with a ``?`` wherever only its owner can decide.

    Parameters
    ----------
    path
        A CSV or XLSX file.
    settings
        The mark before decimals, how days are shown, and the tester's currency.

    Raises
    ------
    BadInput
        When the file cannot be read.
    """
    sheet = read(path)
    mark, marks = _decimal_mark(sheet, settings.decimal_mark)
    guesses = _Guesser(sheet, replace(settings, decimal_mark=mark)).columns()
    head = [
        f"# What the columns of {one_line(sheet.name)} hold.",
        f"# Each line is a guess: check it, and put your decision where a {ASK} stands.",
        *(f"# {one_line(guess)}" for guess in sheet.guesses),
        *marks,
        "new_makers: false  # true adds makers that the ledger does not know",
        *(f"row_key: [{_quoted(key)}]" for key in _row_keys(sheet)),
    ]
    columns = [line for header, guess in guesses.items() for line in guess.lines(header)]
    return "\n".join([*head, *_constants(list(guesses.values())), "columns:", *columns, ""])


def _decimal_mark(sheet: Spreadsheet, own: str) -> tuple[str, list[str]]:
    """Return the mark before decimals that a spreadsheet shows, and the lines of the map that say so."""
    seen: dict[str, str] = {}
    for row in sheet.rows:
        for name, cell in row.cells.items():
            mark = cells.mark_in(cell)
            if mark:
                seen.setdefault(mark, f"{one_line(str(cell))} in line {row.number}, {one_line(name)}")
    if len(seen) > 1:
        return own, [f"# Two marks stand before decimals: {' and '.join(seen.values())}.", f"decimal_mark: {_ASKED}"]
    mark, example = next(iter(seen.items()), (own, ""))
    if mark == own:
        return own, []
    return mark, [f"decimal_mark: {_quoted(mark)}  # as in {example}; your settings say {_quoted(own)}"]


def _constants(guesses: Sequence[_Guess]) -> list[str]:
    """Return the lines for what each row needs and no column holds."""
    results = any("criterion" in guess.target for guess in guesses if isinstance(guess.target, dict))
    needed = [*NEEDED, "tested_on"] if results else NEEDED
    missing = [name for name in needed if name not in map(_what, guesses)]
    lines = (f"  {name}: not noted" if name == "seller" else f"  {name}: {_ASKED}" for name in missing)
    return ["constants:", *lines] if missing else []


def _what(guess: _Guess) -> str:
    return guess.target if isinstance(guess.target, str) else guess.target.get("field", "")


class _Guesser:
    """Guesses what each column of a spreadsheet holds; nothing is given to two columns."""

    def __init__(self, sheet: Spreadsheet, settings: Settings) -> None:
        self._sheet = sheet
        self._settings = settings
        self._criteria = {key: judged.criterion for key, judged in criteria(DEFAULT_RUBRICS, Path()).items()}
        self._taken: set[str] = set()

    def columns(self) -> dict[str, _Guess]:
        """Return the guess for each column, in the order of the header."""
        return {header: self._column(header, self._cells(header)) for header in self._sheet.header}

    def _cells(self, header: str) -> list[Cell]:
        return [row.cells[header] for row in self._sheet.rows if header in row.cells]

    def _column(self, header: str, found: Sequence[Cell]) -> _Guess:
        name = _letters(header)
        for known, headers in _HEADERS.items():
            if name in headers and known not in self._taken:
                self._taken.add(known)
                return self._field(known, found)
        key = self._alike(_NUMBERS.sub(" ", name))
        if key is None or key in self._taken:
            return _Guess(LEAVE_OUT)
        self._taken.add(key)
        return self._criterion(self._criteria[key], header, found)

    def _alike(self, name: str) -> str | None:
        """Return the criterion whose key or title looks most like a header, or None."""
        scores = {
            key: max(_likeness(name, key.replace("_", " ")), _likeness(name, _letters(criterion.title)))
            for key, criterion in self._criteria.items()
        }
        best = max(scores, key=lambda key: scores[key])
        return best if scores[best] >= _ALIKE else None

    def _field(self, known: str, found: Sequence[Cell]) -> _Guess:
        if known in _WORDS:
            words = {word: _WORDS[known].get(word.casefold(), _ASKED) for word in _distinct(found)}
            return _Guess({"field": known, "words": _flow(words)}) if words else _Guess(known)
        if known in ("bought_on", "tested_on"):
            return _Guess({"field": known, "dates": self._order(found)})
        if known == "price":
            return _Guess({"field": known, "currency": self._settings.currency}, "the currency of prices without one")
        return _Guess(known)

    def _order(self, found: Sequence[Cell]) -> str:
        """Return the order in which most days can be read; the one of the settings where several are as good."""
        own = _SHOWN_AS[self._settings.dates]
        return max(ORDERS, key=lambda order: (sum(_is_day(cell, order) for cell in found), order == own))

    def _criterion(self, criterion: Criterion, header: str, found: Sequence[Cell]) -> _Guess:
        target = {"criterion": criterion.key}
        words = [word for word in _distinct(found) if self._number(word) is None]
        if any(word.startswith((">", "<")) for word in words):
            return _Guess(target | {"reading": "true"})
        if words:
            asked = _flow(dict.fromkeys(words, _ASKED))
            return _Guess(target | {"words": asked}, f"offered: {_offered(criterion)}")
        numbers = {float(number) for cell in found if (number := self._number(cell)) is not None}
        if numbers <= set(criterion.grades) and not _ENDS.search(header):
            return _Guess(target, "taken as our grades, 0 none to 5 worst")
        scale = f"{{from: {_scale(header, numbers)}, reversed: false}}"
        return _Guess(target | {"scale": scale}, "reversed: true if the low end is the worst")

    def _number(self, cell: Cell) -> Decimal | None:
        return cell if isinstance(cell, Decimal) else as_number(str(cell), self._settings.decimal_mark)


def _scale(header: str, numbers: Collection[float]) -> str:
    """Return the scale in the header, the narrowest usual one that holds all numbers, or the one they span."""
    low, high = min(numbers, default=0), max(numbers, default=0)
    told = _ENDS.search(header)
    scales = [(int(told[1]), int(told[2])), *_SCALES] if told else _SCALES
    fitting = ((first, last) for first, last in scales if first <= low and high <= last and first < last)
    first, last = next(fitting, (min(low, 0), max(high, 1)))
    return f"[{first:g}, {last:g}]"


def _row_keys(sheet: Spreadsheet) -> Iterator[str]:
    """Yield the first column that numbers the rows, if there is one."""
    for header in sheet.header:
        found = [row.cells.get(header) for row in sheet.rows]
        if _letters(header) in _NUMBERED and None not in found and len(set(found)) == len(found):
            yield header
            return


def _letters(text: str) -> str:
    return _NOT_LETTERS.sub(" ", text.casefold()).strip()


def _likeness(name: str, other: str) -> float:
    """Return how alike two texts are, from 0 to 1; a word in both, or begun in the same way, counts as much."""
    telling = [word for word in name.split() if len(word) >= _TELLING and word not in _EVERYDAY]
    pairs = ((mine, theirs) for mine in telling for theirs in other.split())
    shared = any(mine == theirs or (len(mine) >= _STEM and theirs.startswith(mine[:_STEM])) for mine, theirs in pairs)
    return max(_SHARED * shared, difflib.SequenceMatcher(None, name, other).ratio())


def _distinct(found: Sequence[Cell]) -> list[str]:
    """Return the different cells, in the spelling each has first; case does not count in a map."""
    first: dict[str, str] = {}
    for text in (one_line(str(cell)) for cell in found):
        first.setdefault(text.casefold(), text)
    return list(first.values())[:_MOST_WORDS]


def _is_day(cell: Cell, order: str) -> bool:
    try:
        day_told_by(cell, order, "")
    except BadInput:
        return False
    return True


def _offered(criterion: Criterion) -> str:
    return ", ".join([f"{grade:g}" for grade in criterion.grades] or criterion.choices)


def _quoted(text: str) -> str:
    """Return a text in double quotes, as JSON and YAML both read it."""
    return json.dumps(text, ensure_ascii=False)


def _flow(words: Mapping[str, str]) -> str:
    return "{" + ", ".join(f"{_quoted(old)}: {new}" for old, new in words.items()) + "}"
