"""Guesses what each column of a table holds, from what people write over it and in it; no field goes to two."""

import difflib
import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Final

from qcledger.errors import BadInput
from qcledger.exchange.columnmap import DEFAULT_RUBRICS
from qcledger.exchange.columnwords import column_words, plain
from qcledger.exchange.days import ORDERS, day_told_by
from qcledger.exchange.grading import criteria
from qcledger.exchange.grid import Cell, Priced
from qcledger.exchange.layout import LEAVE_OUT, Layout
from qcledger.exchange.layoutguess import bare, is_field, is_item
from qcledger.exchange.markguess import (
    ASKED,
    LIKELY,
    SURE,
    UNSURE,
    Guess,
    MarkGuesser,
    distinct,
    flow,
    named_criterion,
    quoted,
    says_nothing,
)
from qcledger.exchange.table import Spreadsheet
from qcledger.exchange.wholepiece import WHOLE, piece_told_by, tells_pieces
from qcledger.settings import Settings
from qcledger.text import one_line, shorten

_SHOWN_AS: Final[Mapping[str, str]] = {settings: map_ for map_, settings in ORDERS.items()}
_EXAMPLE: Final = 30
_ALIKE, _SHARED = 0.62, 0.8
_TELLING, _STEM = 4, 5
_EVERYDAY: Final = {word for some in column_words().fields.values() for header in some for word in header.split()}
"""Words that say nothing about which criterion a column is of."""
_NUMBERS: Final = re.compile(r"\d+")
_NOT_LETTERS: Final = re.compile(r"[^a-z0-9]+")
_MOSTLY: Final = 0.8
_DAYS: Final = ("bought_on", "tested_on")
_NUMBERING: Final = frozenset({"no", "nr", "id", "row", "line", "num", ""})
_YEAR: Final = re.compile(r"(?<!\d)(20\d\d)(?!\d)")


class ColumnGuesser:
    """Guesses what each column of a spreadsheet holds."""

    def __init__(self, sheet: Spreadsheet, layout: Layout, settings: Settings) -> None:
        self._sheet = sheet
        self._layout = layout
        self._settings = settings
        self._marks = MarkGuesser(sheet, settings)
        self._criteria = {key: judged.criterion for key, judged in criteria(DEFAULT_RUBRICS, Path()).items()}
        self._taken: set[str] = set(next((block for block in layout.blocks.values() if block), {}))
        self._claimed = {key for header in sheet.header if (key := named_criterion(header))}
        each = [header for header in sheet.header if bare(header) == "each"]
        self._price = each[0] if each else None

    def columns(self) -> dict[str, Guess]:
        """Return the guess for each column, in the order of the header."""
        found = {header: self._cells(header) for header in self._sheet.header}
        named = {header: self._named(header, found[header]) for header in self._sheet.header}
        guesses = {header: guess or self._judged(header, found[header]) for header, guess in named.items()}
        self._days(guesses)
        self._notes(guesses)
        for header, guess in guesses.items():
            example = next((one_line(str(cell)) for cell in found[header]), "")
            if example and guess.target != LEAVE_OUT:
                guess.remark += f"; such as {shorten(example, _EXAMPLE)!r}" if guess.remark else ""
        return guesses

    def makers(self) -> str:
        """Return which makers the column of makers, or of maker and paint, names."""
        header = next((one for one in self._sheet.header if is_field(one, "maker") or is_item(one)), None)
        names = [one_line(str(cell)) for cell in self._cells(header)] if header else self._first_words()
        shown = dict.fromkeys(name.split()[0] if is_item(header or "") and name else name for name in names)
        return f"here are {len(shown)}: {shorten(', '.join(shown), 100)}" if shown else "no column names any"

    def _first_words(self) -> list[str]:
        """Return the makers named in cells that tell a whole piece."""
        cells = next((found for one in self._sheet.header if tells_pieces(found := self._cells(one))), [])
        return [piece.maker for cell in cells if (piece := piece_told_by(cell)) is not None]

    def year(self) -> Iterator[str]:
        """Yield the line for the year of days without one, told by the sheet's name or above its table."""
        told = [self._sheet.sheet or "", *(cell.value for cell in self._sheet.left), self._sheet.name]
        years = [found[1] for text in told if (found := _YEAR.search(text))]
        days = [
            cell for header in self._sheet.header if is_field(header, "tested_on") for cell in self._cells(header)
        ]
        if years and any(not _is_day(cell, "day month year") for cell in days):
            yield f"year: {years[0]}  # of days that are written without one"

    @staticmethod
    def _notes(guesses: Mapping[str, Guess]) -> None:
        """Let notes beside which nothing is graded keep the day on which they were written."""
        fields = {field for guess in guesses.values() for field in guess.fields}
        if "tested_on" in fields and not any(guess.is_result for guess in guesses.values()):
            for guess in guesses.values():
                if guess.target == "note":
                    guess.target = "test_note"

    def _cells(self, header: str) -> list[Cell]:
        return [row.cells[header] for row in self._sheet.rows if header in row.cells]

    def _named(self, header: str, found: Sequence[Cell]) -> Guess | None:
        """Return what a column holds where its heading says it, else None."""
        words = column_words()
        if header in self._sheet.hidden:
            return Guess(LEAVE_OUT, "the column is hidden")
        if bare(header) in words.opinions or plain(header) in words.opinions:
            return Guess(LEAVE_OUT, "nothing that was seen on the paint")
        if header in self._sheet.formulas and header != self._price:
            return Guess(LEAVE_OUT, "calculated by the sheet")
        if is_item(header):
            self._taken |= {"maker", "paint"}
            return Guess({"split": "[maker, paint]"}, f"{LIKELY}: the first word is the maker")
        if not self._taken & set(WHOLE) and tells_pieces(found):
            self._taken |= set(WHOLE)
            forms = [piece.form for cell in found if (piece := piece_told_by(cell)) is not None]
            worded = self._field("format", header, forms).target
            split = {"split": f"[{', '.join(WHOLE)}]"}
            if isinstance(worded, dict):
                split["words"] = worded["words"]
            return Guess(split, f"{LIKELY}: a whole piece in each cell, its maker first")
        if named_criterion(header):
            return None
        bought = "bought_on" not in self._taken and bare(header) == "date" and self._has_other_day(header)
        for field in ["bought_on"] if bought else words.fields:
            free = field not in self._taken or field in ("note", "test_note")
            if (
                (bought or is_field(header, field))
                and free
                and not (field == "price" and self._price not in (None, header))
            ):
                self._taken.add(field)
                return self._field(field, header, found)
        return None

    def _has_other_day(self, header: str) -> bool:
        others = [one for one in self._sheet.header if one != header]
        named = [one for one in others if is_field(one, "tested_on")]
        return bool(named) and not any(is_field(one, "bought_on") for one in others)

    def _judged(self, header: str, found: Sequence[Cell]) -> Guess:
        """Return what a column holds whose heading names no field."""
        sureness, key = SURE, named_criterion(header)
        if key is None or key in self._taken:
            sureness, key = UNSURE, self._alike(_NOT_LETTERS.sub(" ", _NUMBERS.sub(" ", header.casefold())).strip())
        is_own = key is not None and (sureness == SURE or key not in self._claimed)
        if key is not None and is_own and key not in self._taken:
            self._taken.add(key)
            return self._marks.guess(self._criteria[key], header, found, sureness)
        faults = self._faults(found)
        if faults:
            return faults
        if plain(header) in _NUMBERING or not found or any(is_field(header, one) for one in column_words().fields):
            return Guess(LEAVE_OUT)
        if self._layout == Layout() and key is None and not self._taken & {"maker", "paint"}:
            return Guess(LEAVE_OUT, "not known; test_note keeps it in words")
        return Guess("test_note", f"{UNSURE}: not known, kept in words")

    def _alike(self, name: str) -> str | None:
        """Return the criterion whose key or title looks most like a header, or None."""
        scores = {
            key: max(_likeness(name, key.replace("_", " ")), _likeness(name, _letters(criterion.title)))
            for key, criterion in self._criteria.items()
        }
        best = max(scores, key=lambda key: scores[key])
        return best if scores[best] >= _ALIKE else None

    def _field(self, field: str, header: str, found: Sequence[Cell]) -> Guess:
        words = column_words()
        if field in ("format", "source"):
            meanings = words.formats if field == "format" else words.sources
            told = {word: meanings.get(plain(word)) for word in distinct(found) if not _has_size(word, meanings)}
            if not told:
                return Guess(field, SURE)
            shown = {word: meaning or ASKED for word, meaning in told.items() if meaning != word or len(told) < 3}
            sureness = SURE if all(told.values()) else UNSURE
            return Guess(
                {"field": field, "words": flow({**dict.fromkeys(told, ""), **shown, **_own(told)})}, sureness
            )
        if field in _DAYS:
            return self._day(field, found)
        if field == "price":
            return self._money(header, found)
        if field == "maker":
            short = _cut_short(found)
            return Guess({"field": field, "words": flow(short)}, LIKELY) if short else Guess(field, SURE)
        silent = {word: LEAVE_OUT for word in distinct(found) if plain(word) in words.answers["unprinted"]}
        silent |= {word: LEAVE_OUT for word in distinct(found) if says_nothing(word, ())}
        if silent and field in ("lot", "nominal_ml", "weight_g", "number"):
            return Guess({"field": field, "words": flow(silent)}, LIKELY)
        return Guess(field, SURE)

    def _day(self, field: str, found: Sequence[Cell]) -> Guess:
        """Return the order in which most days can be read; the one of the settings where several are as good."""
        own = _SHOWN_AS[self._settings.dates]
        written = any(isinstance(cell, str) and cell[:1].isdigit() and not cell[:4].isdigit() for cell in found)
        fitting = {order: sum(_is_day(cell, order) for cell in found) for order in ORDERS}
        if written:  # nobody writes the year first, and with two digits
            fitting["year month day"] = 0
        order = max(ORDERS, key=lambda order: (fitting[order], order == own))
        as_good = [other for other in ORDERS if other != order and fitting[other] == fitting[order]]
        remark = f"{UNSURE}: it may as well be {as_good[0]}" if as_good and written else SURE
        return Guess({"field": field, "dates": order}, remark)

    def _days(self, guesses: Mapping[str, Guess]) -> None:
        """Let the only column of days say both when a piece was bought and when it was looked at."""
        days = [guess for guess in guesses.values() if set(_DAYS) & set(guess.fields)]
        looked = any(guess.is_result or {"note", "test_note"} & set(guess.fields) for guess in guesses.values())
        if len(days) == 1 and isinstance(days[0].target, dict) and looked:
            own = days[0].target["field"]
            if own == "bought_on" and not self._is_plain_list(guesses):
                days[0].target |= {"also": "tested_on"}
            elif own == "tested_on":
                days[0].target |= {"field": "bought_on", "also": "tested_on"}
            else:
                return
            days[0].remark += "; no other day is written, so this one is taken for both"

    def _is_plain_list(self, guesses: Mapping[str, Guess]) -> bool:
        return self._layout == Layout() and any(guess.target == "seller" for guess in guesses.values())

    def _money(self, header: str, found: Sequence[Cell]) -> Guess:
        shown = {cell.currency for cell in found if isinstance(cell, Priced)}
        signs = {sign for sign in ("£", "€") if sign in header}
        if any(str(cell).strip()[-1:] == "p" for cell in found):
            signs.add("£")
        if any(re.match(r"\s*\$|.*\$\s*$", str(cell)) for cell in found):
            return Guess({"field": "price", "currency": self._dollars(header)}, f"{UNSURE}: whose dollars?")
        codes = shown | {"GBP" if sign == "£" else "EUR" for sign in signs}
        if len(codes) == 1:
            return Guess({"field": "price", "currency": codes.pop()}, f"{SURE}: as the sheet shows it")
        return Guess({"field": "price", "currency": self._settings.currency}, "the currency of prices without one")

    def _dollars(self, header: str) -> str:
        seller = next((one for one in self._sheet.header if is_field(one, "seller")), None)
        rows = [row for row in self._sheet.rows if "$" in str(row.cells.get(header, ""))]
        shops = dict.fromkeys(one_line(str(row.cells[seller])) for row in rows if seller and seller in row.cells)
        return flow(dict.fromkeys(shops, ASKED)) if shops else ASKED

    def _faults(self, found: Sequence[Cell]) -> Guess | None:
        """Return the guess for a column in which faults are named, or None."""
        known = column_words().faults
        parts = Counter(part for cell in found for part in re.split(r"\s*[,;+&]\s*", one_line(str(cell)).casefold()))
        named = {part: known[plain(part)] for part in parts if plain(part) in known}
        if sum(parts[part] for part in named) < _MOSTLY * sum(parts.values()) or len(named) < 2:
            return None
        free = {key for key in named.values() if key != "none" and key not in self._taken}
        self._taken |= free
        grades = {part: self._grade_of(key) if key in free else "0" for part, key in named.items()}
        silent = {part: LEAVE_OUT for part in parts if part not in named}
        return Guess({"faults": flow({**grades, **silent})}, LIKELY)

    def _grade_of(self, key: str) -> str:
        return f"{{{key}: {self._marks.fault(self._criteria[key])}}}"


def _has_size(word: str, meanings: Mapping[str, str]) -> bool:
    from qcledger.exchange.cells import format_and_volume

    words, volume = format_and_volume(word)
    return plain(word) not in meanings and volume is not None and (not words or plain(words) in ("tube",))


def _own(told: Mapping[str, str | None]) -> dict[str, str]:
    return {word: meaning or ASKED for word, meaning in told.items()}


def _cut_short(found: Sequence[Cell]) -> dict[str, str]:
    """Return names that are cut short with a point, and the one name here that each begins."""
    names = sorted(set(distinct(found)))
    whole = [name for name in names if not name.endswith(".")]
    told = {name: [one for one in whole if one.startswith(name[:-1])] for name in names if name.endswith(".")}
    return {name: quoted(ones[0]) for name, ones in told.items() if len(ones) == 1}


def _letters(text: str) -> str:
    return _NOT_LETTERS.sub(" ", text.casefold()).strip()


def _likeness(name: str, other: str) -> float:
    """Return how alike two texts are, from 0 to 1; a word in both, or begun in the same way, counts as much."""
    telling = [word for word in name.split() if len(word) >= _TELLING and word not in _EVERYDAY]
    pairs = ((mine, theirs) for mine in telling for theirs in other.split())
    shared = any(mine == theirs or (len(mine) >= _STEM and theirs.startswith(mine[:_STEM])) for mine, theirs in pairs)
    return max(_SHARED * shared, difflib.SequenceMatcher(None, name, other).ratio())


def _is_day(cell: Cell, order: str) -> bool:
    try:
        day_told_by(cell, order, "")
    except BadInput:
        return False
    return True
