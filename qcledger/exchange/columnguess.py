"""Guesses what each column of a table holds, from what people write over it and in it; no field goes to two."""

import difflib
import json
import re
from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

from qcledger.errors import BadInput
from qcledger.exchange.columnmap import ASK
from qcledger.exchange.columnwords import ColumnWords, column_words, plain
from qcledger.exchange.days import ORDERS, day_told_by
from qcledger.exchange.grading import criteria
from qcledger.exchange.grid import Cell, Priced
from qcledger.exchange.layout import LEAVE_OUT, Layout
from qcledger.exchange.layoutguess import bare, is_field, is_item
from qcledger.exchange.scales import stars_in
from qcledger.exchange.table import Spreadsheet
from qcledger.figures import as_number
from qcledger.rubric import Criterion
from qcledger.settings import Settings
from qcledger.text import one_line, shorten
from qcledger.vocab import Kind

SURE, LIKELY, UNSURE = "sure", "likely", "unsure"
_ASKED: Final = f'"{ASK}"'
_SHOWN_AS: Final[Mapping[str, str]] = {settings: map_ for map_, settings in ORDERS.items()}
_SCALES: Final = ((1, 5), (0, 5), (1, 10), (0, 10), (0, 100))
_MOST_WORDS: Final = 30
_EXAMPLE: Final = 30
_ALIKE, _SHARED = 0.62, 0.8
_TELLING, _STEM = 4, 5
_ENDS: Final = re.compile(r"\b(\d{1,3})\s*(?:-|\u2013|to|\.\.)\s*(\d{1,3})\b")
_SHARE: Final = re.compile(r"\d+(?:[.,]\d+)?\s*/\s*(\d+)")
_SCHOOL: Final = re.compile(r"[1-6]\s*[+-]|[1-6]\s*-\s*[1-6]")
_NUMBERS: Final = re.compile(r"\d+")
_NOT_LETTERS: Final = re.compile(r"[^a-z0-9]+")
_MOSTLY: Final = 0.8
_DAYS: Final = ("bought_on", "tested_on")
_NUMBERING: Final = frozenset({"no", "nr", "id", "row", "line", "num", ""})
_YEAR: Final = re.compile(r"(?<!\d)(20\d\d)(?!\d)")


@dataclass(slots=True)
class Guess:
    """What one column probably holds: a word, or keys with their values as YAML."""

    target: str | dict[str, str]
    remark: str = ""

    @property
    def fields(self) -> tuple[str, ...]:
        """The fields it says to be in the column."""
        if isinstance(self.target, str):
            return (self.target,)
        found = [self.target.get("field", ""), self.target.get("also", "")]
        return (*found, *re.findall(r"\w+", self.target.get("split", "")))

    @property
    def is_result(self) -> bool:
        """Whether results stand in the column."""
        return isinstance(self.target, dict) and bool({"criterion", "faults"} & set(self.target))

    def lines(self, header: str) -> Iterator[str]:
        """Yield the column's lines of the map."""
        remark = f"  # {self.remark}" if self.remark else ""
        if isinstance(self.target, str):
            yield f"  {quoted(header)}: {self.target}{remark}"
            return
        yield f"  {quoted(header)}:{remark}"
        yield from (f"    {key}: {value}" for key, value in self.target.items())


class ColumnGuesser:
    """Guesses what each column of a spreadsheet holds."""

    def __init__(self, sheet: Spreadsheet, layout: Layout, settings: Settings, rubrics: Sequence[str]) -> None:
        self._sheet = sheet
        self._layout = layout
        self._settings = settings
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
        for header, guess in guesses.items():
            example = next((one_line(str(cell)) for cell in found[header]), "")
            if example and guess.target != LEAVE_OUT:
                guess.remark += f"; such as {shorten(example, _EXAMPLE)!r}" if guess.remark else ""
        return guesses

    def makers(self) -> str:
        """Return which makers the column of makers, or of maker and paint, names."""
        header = next((one for one in self._sheet.header if is_field(one, "maker") or is_item(one)), None)
        names = [one_line(str(cell)) for cell in self._cells(header)] if header else []
        shown = dict.fromkeys(name.split()[0] if is_item(header or "") and name else name for name in names)
        return f"here are {len(shown)}: {shorten(', '.join(shown), 100)}" if shown else "no column names any"

    def year(self) -> Iterator[str]:
        """Yield the line for the year of days without one, told by the sheet's name or above its table."""
        told = [self._sheet.sheet or "", *(cell.value for cell in self._sheet.left), self._sheet.name]
        years = [found[1] for text in told if (found := _YEAR.search(text))]
        days = [
            cell for header in self._sheet.header if is_field(header, "tested_on") for cell in self._cells(header)
        ]
        if years and any(not _is_day(cell, "day month year") for cell in days):
            yield f"year: {years[0]}  # of days that are written without one"

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
                return self._field(field, header, found)
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

    def _field(self, field: str, header: str, found: Sequence[Cell]) -> Guess:
        words = column_words()
        if field in ("format", "source"):
            meanings = words.formats if field == "format" else words.sources
            told = {word: meanings.get(plain(word)) for word in _distinct(found) if not _has_size(word, meanings)}
            if not told:
                return Guess(field, SURE)
            shown = {word: meaning or _ASKED for word, meaning in told.items() if meaning != word or len(told) < 3}
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
        silent = {word: LEAVE_OUT for word in _distinct(found) if plain(word) in words.answers["unprinted"]}
        silent |= {word: LEAVE_OUT for word in _distinct(found) if _says_nothing(word, ())}
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
        if len(days) == 1 and isinstance(days[0].target, dict) and any(guess.is_result for guess in guesses.values()):
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
        return flow(dict.fromkeys(shops, _ASKED)) if shops else _ASKED

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
        target = {"criterion": criterion.key}
        marks = _distinct(found)
        silent = {word: LEAVE_OUT for word in marks if _says_nothing(word, marks)}
        words = [word for word in marks if self._number(word) is None and word not in silent]
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
            asked = flow(dict.fromkeys([*words, *silent], _ASKED))
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
        said = sum(not _says_nothing(one_line(str(cell)), ()) for cell in found)
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


def _says_nothing(word: str, among: Sequence[str]) -> bool:
    silent = {"?", "-", "n/a"} | column_words().answers["nothing"]
    in_signs = word == "-" and "--" in among
    return (word.casefold() in silent or plain(word) in silent - {""}) and not in_signs


def _in_scale(word: str, known: Collection[str]) -> bool:
    if word in known or (word[-1:] in "+-" and word[:-1] in known and len(word) > 1):
        return True
    parts = word.split("/")
    return len(parts) == 2 and all(part.strip() in known for part in parts)


def _has_size(word: str, meanings: Mapping[str, str]) -> bool:
    from qcledger.exchange.cells import format_and_volume

    words, volume = format_and_volume(word)
    return (
        plain(word) not in meanings
        and volume is not None
        and (not words or plain(words) == column_words().size_alone)
    )


def _own(told: Mapping[str, str | None]) -> dict[str, str]:
    return {word: meaning or _ASKED for word, meaning in told.items()}


def _cut_short(found: Sequence[Cell]) -> dict[str, str]:
    """Return names that are cut short with a point, and the one name here that each begins."""
    names = sorted(set(_distinct(found)))
    whole = [name for name in names if not name.endswith(".")]
    told = {name: [one for one in whole if one.startswith(name[:-1])] for name in names if name.endswith(".")}
    return {name: quoted(ones[0]) for name, ones in told.items() if len(ones) == 1}


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


def quoted(text: str) -> str:
    """Return a text in double quotes, as JSON and YAML both read it."""
    return json.dumps(text, ensure_ascii=False)


def flow(words: Mapping[str, Any]) -> str:
    """Return a mapping in braces, its keys in quotes."""
    return "{" + ", ".join(f"{quoted(old)}: {new}" for old, new in words.items()) + "}"
