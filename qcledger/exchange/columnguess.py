"""Guesses what each column of a table holds, from what people write over it and in it; no field goes to two."""

import difflib
import re
from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence, Set
from decimal import Decimal
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

from qcledger.exchange.columnwords import ColumnWords, column_words, plain
from qcledger.exchange.fieldguess import (
    ASKED,
    DAYS,
    LIKELY,
    SURE,
    UNSURE,
    FieldGuesser,
    Guess,
    distinct,
    flow,
    is_day,
    quoted,
    says_nothing,
)
from qcledger.exchange.grading import criteria
from qcledger.exchange.grid import Cell
from qcledger.exchange.layout import LEAVE_OUT, Layout
from qcledger.exchange.layoutguess import bare, is_field, is_item
from qcledger.exchange.scales import stars_in
from qcledger.exchange.table import Spreadsheet
from qcledger.exchange.wholepiece import WHOLE, piece_told_by, tells_pieces
from qcledger.figures import as_number
from qcledger.rubric import Criterion
from qcledger.settings import Settings
from qcledger.text import one_line, shorten
from qcledger.vocab import Kind

_SCALES: Final = ((1, 5), (0, 5), (1, 10), (0, 10), (0, 100))
_EXAMPLE: Final = 30
_ALIKE, _SHARED = 0.62, 0.8
_TELLING, _STEM = 4, 5
_ENDS: Final = re.compile(r"\b(\d{1,3})\s*(?:-|\u2013|to|\.\.)\s*(\d{1,3})\b")
_SHARE: Final = re.compile(r"\d+(?:[.,]\d+)?\s*/\s*(\d+)")
_SCHOOL: Final = re.compile(r"[1-6]\s*[+-]|[1-6]\s*-\s*[1-6]")
_NUMBERS: Final = re.compile(r"\d+")
_NOT_LETTERS: Final = re.compile(r"[^a-z0-9]+")
_MOSTLY: Final = 0.8
_SENTENCE, _FEW_MARKS = 4, 2
"""Words from which on a cell says more than a mark, and other marks that must stand beside such cells."""
_NUMBERING: Final = frozenset({"no", "nr", "id", "row", "line", "num", ""})
_YEAR: Final = re.compile(r"(?<!\d)(20\d\d)(?!\d)")


class ColumnGuesser:
    """Guesses what each column of a spreadsheet holds."""

    def __init__(self, sheet: Spreadsheet, layout: Layout, settings: Settings, rubrics: Sequence[str]) -> None:
        self._sheet = sheet
        self._layout = layout
        self._settings = settings
        self._fields = FieldGuesser(sheet, settings)
        self._criteria = {key: judged.criterion for key, judged in criteria(rubrics, Path()).items()}
        self._taken: set[str] = set(next((block for block in layout.blocks.values() if block), {}))
        self._claimed = {key for header in sheet.header if (key := self._key(header))}
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
        if years and any(not is_day(cell, "day month year") for cell in days):
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
            worded = self._fields.guess("format", header, forms).target
            split = {"split": f"[{', '.join(WHOLE)}]"}
            if isinstance(worded, dict):
                split["words"] = worded["words"]
            return Guess(split, f"{LIKELY}: a whole piece in each cell, its maker first")
        if self._key(header):
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
                return self._fields.guess(field, header, found)
        return None

    def _has_other_day(self, header: str) -> bool:
        others = [one for one in self._sheet.header if one != header]
        named = [one for one in others if is_field(one, "tested_on")]
        return bool(named) and not any(is_field(one, "bought_on") for one in others)

    def _key(self, header: str) -> str | None:
        """Return the criterion that a heading is a word for, or None."""
        told = {plain(header), bare(header)}
        own = (key for key, one in self._criteria.items() if not told.isdisjoint(map(plain, one.column_words)))
        known = (key for key, words in column_words().criteria.items() if not told.isdisjoint(words))
        return next((key for some in (own, known) for key in some if key in self._criteria), None)

    def _judged(self, header: str, found: Sequence[Cell]) -> Guess:
        """Return what a column holds whose heading names no field."""
        sureness, key = SURE, self._key(header)
        if key is None or key in self._taken:
            sureness, key = UNSURE, self._alike(_NOT_LETTERS.sub(" ", _NUMBERS.sub(" ", header.casefold())).strip())
        is_own = key is not None and (sureness == SURE or key not in self._claimed)
        if key is not None and is_own and key not in self._taken:
            self._taken.add(key)
            return self._criterion(self._criteria[key], header, found, sureness)
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

    def _days(self, guesses: Mapping[str, Guess]) -> None:
        """Let the only column of days say both when a piece was bought and when it was looked at."""
        days = [guess for guess in guesses.values() if set(DAYS) & set(guess.fields)]
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
        return f"{{{key}: {self._fault(self._criteria[key])}}}"

    def _fault(self, criterion: Criterion) -> str:
        """Return the mildest grade that is a fault; what a bare "yes" is worth."""
        line = criterion.fault_line if criterion.fault_line is not None else 3
        return f"{min(grade for grade in criterion.grades if grade >= line):g}"

    def _criterion(self, criterion: Criterion, header: str, found: Sequence[Cell], sureness: str) -> Guess:
        marks = distinct(found)
        silent = {word: LEAVE_OUT for word in marks if says_nothing(word, marks)}
        words = [word for word in marks if self._number(word) is None and word not in silent]
        sentences = [word for word in words if len(word.split()) >= _SENTENCE]
        if not sentences or len(marks) - len(silent) - len(sentences) < _FEW_MARKS:
            return self._of_marks(criterion, header, found, sureness, words, silent)
        marked = [word for word in words if word not in sentences]
        cells = [cell for cell in found if one_line(str(cell)) not in sentences]
        guess = self._of_marks(criterion, header, cells, sureness, marked, silent)
        assert isinstance(guess.target, dict)  # it names a criterion
        return Guess(guess.target | {"others": "note"}, f"{guess.remark}; sentences are kept in words")

    def _of_marks(
        self, criterion: Criterion, header: str, found: Sequence[Cell], sureness: str,
        words: Sequence[str], silent: Mapping[str, str],
    ) -> Guess:  # fmt: skip
        """Return what a column holds: `words` are marks that are no numbers, `silent` those that say nothing."""
        target = {"criterion": criterion.key}
        for read in (self._colours, self._listed, self._ticked, self._worded_numbers):
            told = read(criterion, header, words, found)
            if told is not None:
                more, remark = told
                both = more.pop("words", {})
                shown = {"words": flow({**both, **silent})} if both or silent else {}
                return Guess(target | more | shown, f"{LIKELY}: {remark}")
        kept = {"words": flow(silent)} if silent and not words else {}
        if any(word.startswith((">", "<")) for word in words):
            return Guess(target | {"reading": "true"} | kept, sureness)
        if words:
            asked = flow(dict.fromkeys([*words, *silent], ASKED))
            return Guess(target | {"words": asked}, f"{UNSURE}; offered: {_offered(criterion)}")
        numbers = {float(number) for cell in found if (number := self._number(cell)) is not None}
        return self._numbers(criterion, header, numbers, target | kept)

    def _numbers(self, criterion: Criterion, header: str, numbers: Set[float], target: dict[str, str]) -> Guess:
        reading, is_one = criterion.reading, self._key(header) is not None and not _ENDS.search(header)
        if reading is not None and is_one and _is_counted(criterion, header, numbers):
            return Guess(target | {"reading": "true"}, f"{LIKELY}: measured in {reading.unit}")
        if numbers <= set(criterion.grades) and (not _ENDS.search(header) or "0-5" in header):
            return Guess(target, f"{LIKELY}: taken as our grades, 0 none to 5 worst")
        scale = f"{{from: {_scale(header, numbers)}, reversed: false}}"
        return Guess(target | {"scale": scale}, f"{LIKELY}: reversed: true if the low end is the worst")

    def _colours(
        self, criterion: Criterion, header: str, words: Sequence[str], found: Sequence[Cell]
    ) -> tuple[dict[str, Any], str] | None:
        """Return the scale of a column whose marks are the colours of a traffic light."""
        named = {"green", "yellow", "red"}
        if not words or not set(words) <= {*named, "grey", "white"} or not set(words) & named:
            return None
        silent = {word: LEAVE_OUT for word in words if word not in named}
        return {"scale": "[green, yellow, red]", "words": silent}, "green is best, grey says nothing"

    def _listed(
        self, criterion: Criterion, header: str, words: Sequence[str], found: Sequence[Cell]
    ) -> tuple[dict[str, Any], str] | None:
        """Return a known row of words that holds all that stand here."""
        for scale in column_words().scales:
            known = {word.casefold() for word in scale}
            if words and all(_in_scale(word.casefold(), known) for word in words) and len(set(words)) > 1:
                shown = "[" + ", ".join(quoted(word) for word in scale) + "]"
                return {"scale": shown}, f"{scale[0]} is best or least"
        return None

    def _ticked(
        self, criterion: Criterion, header: str, words: Sequence[str], found: Sequence[Cell]
    ) -> tuple[dict[str, Any], str] | None:
        """Return what ticks, yes and no mean; where most cells are empty an empty one is a no."""
        answers, bare_words = column_words().answers, {word: _tick(word) for word in words}
        if not all(plain(word) in answers["yes"] | answers["no"] or word.casefold() == "(x)" for word in words):
            return None
        present = "present" in plain(header)
        empty = len(self._sheet.rows) - len(found)
        if not criterion.grades or not (words or (empty and _has_ticks(self._sheet))):
            return None
        fault, little = self._fault(criterion), "1" if 1 in criterion.grades else "0"
        meaning = {"yes": "0" if present else fault, "no": fault if present else "0", "little": little}
        told: dict[str, str] = {word: meaning[bare_words[word]] for word in words}
        ticks = any(word.strip("() ").casefold() == "x" for word in words)
        said = sum(not says_nothing(one_line(str(cell)), ()) for cell in found)
        blank = {"blank": "0"} if (ticks or _has_ticks(self._sheet)) and empty > said and not present else {}
        remark = f"yes is taken as grade {meaning['yes']}" + (", an empty cell as no" if blank else "")
        return {"words": told, **blank}, remark

    def _worded_numbers(
        self, criterion: Criterion, header: str, words: Sequence[str], found: Sequence[Cell]
    ) -> tuple[dict[str, Any], str] | None:
        """Return the scale of stars, shares such as 7/10, or school marks."""
        if not words:
            return None
        stars = [counted[1] for word in words if (counted := stars_in(word)) is not None]
        shares = [int(share[1]) for word in words if (share := _SHARE.fullmatch(word))]
        school = [word for word in words if _SCHOOL.fullmatch(word)]
        if len(stars) + len(shares) == len(words):
            most = max(stars or shares)
            return {"scale": f"{{from: [0, {most}], reversed: true}}"}, f"{most} is best"
        if len(school) == len(words):
            return {"scale": "{from: [1, 6], reversed: false}"}, "school marks, 1 is best"
        return None

    def _number(self, cell: Cell) -> Decimal | None:
        mark = self._settings.decimal_mark
        return cell if isinstance(cell, Decimal) else as_number(str(cell), mark if mark in ".," else None)


def _tick(word: str) -> str:
    if word.casefold() == "(x)":
        return "little"
    return "no" if plain(word) in column_words().answers["no"] else "yes"


def _has_ticks(sheet: Spreadsheet) -> bool:
    return any(str(cell).strip().casefold() in ("x", "(x)") for row in sheet.rows for cell in row.cells.values())


def _in_scale(word: str, known: Collection[str]) -> bool:
    if word in known or (word[-1:] in "+-" and word[:-1] in known and len(word) > 1):
        return True
    parts = word.split("/")
    return len(parts) == 2 and all(part.strip() in known for part in parts)


def _scale(header: str, numbers: Collection[float]) -> str:
    """Return the scale in the header, the narrowest usual one that holds all numbers, or the one they span."""
    low, high = min(numbers, default=0), max(numbers, default=0)
    told = _ENDS.search(header)
    scales = [(int(told[1]), int(told[2])), *_SCALES] if told else _SCALES
    fitting = ((first, last) for first, last in scales if first <= low and high <= last and first < last)
    first, last = next(fitting, (min(low, 0), max(high, 1)))
    return f"[{first:g}, {last:g}]"


def _letters(text: str) -> str:
    return _NOT_LETTERS.sub(" ", text.casefold()).strip()


def _is_counted(criterion: Criterion, header: str, numbers: Set[float]) -> bool:
    """Say whether numbers are readings and no grades: by the heading, by their size, or as small ones of a count."""
    told = any(word in plain(header) for word in column_words().counting)
    beyond = max(numbers, default=0) > max((last for _, last in _SCALES[:-1]), default=0)
    small = criterion.reading is not None and 0 < max(criterion.reading.limits, default=0) <= 1
    return told or beyond or small or criterion.kind is Kind.COUNT


@lru_cache(maxsize=4)
def _everyday(words: ColumnWords) -> frozenset[str]:
    """Return the words that say nothing about which criterion a column is of."""
    return frozenset(word for some in words.fields.values() for header in some for word in header.split())


def _likeness(name: str, other: str) -> float:
    """Return how alike two texts are, from 0 to 1; a word in both, or begun in the same way, counts as much."""
    everyday = _everyday(column_words())
    telling = [word for word in name.split() if len(word) >= _TELLING and word not in everyday]
    pairs = ((mine, theirs) for mine in telling for theirs in other.split())
    shared = any(mine == theirs or (len(mine) >= _STEM and theirs.startswith(mine[:_STEM])) for mine, theirs in pairs)
    return max(_SHARED * shared, difflib.SequenceMatcher(None, name, other).ratio())


def _offered(criterion: Criterion) -> str:
    return ", ".join([f"{grade:g}" for grade in criterion.grades] or criterion.choices)
