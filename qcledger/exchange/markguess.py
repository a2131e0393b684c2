"""Guesses what the marks in a column of results mean: numbers, words of a scale, ticks, colours, stars, sentences."""

import json
import re
from collections.abc import Collection, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

from qcledger.exchange.columnmap import ASK
from qcledger.exchange.columnwords import column_words, plain
from qcledger.exchange.grid import Cell
from qcledger.exchange.layout import LEAVE_OUT
from qcledger.exchange.layoutguess import bare
from qcledger.exchange.scales import stars_in
from qcledger.exchange.table import Spreadsheet
from qcledger.figures import as_number
from qcledger.rubric import Criterion
from qcledger.settings import Settings
from qcledger.text import one_line

SURE, LIKELY, UNSURE = "sure", "likely", "unsure"
ASKED: Final = f'"{ASK}"'
_SCALES: Final = ((1, 5), (0, 5), (1, 10), (0, 10), (0, 100))
_MOST_WORDS: Final = 30
_ENDS: Final = re.compile(r"\b(\d{1,3})\s*(?:-|\u2013|to|\.\.)\s*(\d{1,3})\b")
_SHARE: Final = re.compile(r"\d+(?:[.,]\d+)?\s*/\s*(\d+)")
_SCHOOL: Final = re.compile(r"[1-6]\s*[+-]|[1-6]\s*-\s*[1-6]")
_COUNTED: Final = frozenset({"laydown_count", "tinting_ratio"})
"""Criteria whose readings are small numbers, too."""
_COUNTING: Final = ("turns", "tours", "count", "umdrehungen", "vueltas", "giri")
"""Words over a column of counts."""
_SENTENCE, _FEW_MARKS = 4, 2
"""Words from which on a cell says more than a mark, and other marks that must stand beside such cells."""


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


class MarkGuesser:
    """Guesses what marks mean.

    Parameters
    ----------
    sheet
        The table they stand in.
    settings
        The mark before decimals.
    """

    def __init__(self, sheet: Spreadsheet, settings: Settings) -> None:
        self._sheet = sheet
        self._settings = settings

    def guess(self, criterion: Criterion, header: str, found: Sequence[Cell], sureness: str) -> Guess:
        """Return what a column of a criterion's results holds, and how sure it is that it is of that criterion."""
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
        told = any(word in plain(header) for word in _COUNTING)
        beyond = max(numbers, default=0) > max((last for _, last in _SCALES[:-1]), default=0)
        counted = criterion.key in _COUNTED or told or beyond
        if criterion.reading is not None and counted and not _ENDS.search(header) and named_criterion(header):
            return Guess(target | {"reading": "true"}, f"{LIKELY}: measured in {criterion.reading.unit}")
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
        fault, little = self.fault(criterion), "1" if 1 in criterion.grades else "0"
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

    @staticmethod
    def fault(criterion: Criterion) -> str:
        """Return the mildest grade that is a fault; what a bare "yes" is worth."""
        line = criterion.fault_line if criterion.fault_line is not None else 3
        return f"{min(grade for grade in criterion.grades if grade >= line):g}"


def _tick(word: str) -> str:
    if word.casefold() == "(x)":
        return "little"
    return "no" if plain(word) in column_words().answers["no"] else "yes"


def _has_ticks(sheet: Spreadsheet) -> bool:
    return any(str(cell).strip().casefold() in ("x", "(x)") for row in sheet.rows for cell in row.cells.values())


def says_nothing(word: str, among: Sequence[str]) -> bool:
    """Say whether a mark among others is one that people write where they looked at nothing."""
    silent = {"?", "-", "n/a"} | column_words().answers["nothing"]
    in_signs = word == "-" and "--" in among
    return (word.casefold() in silent or plain(word) in silent - {""}) and not in_signs


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


def distinct(found: Sequence[Cell]) -> list[str]:
    """Return the different cells, in the spelling each has first; case does not count in a map."""
    first: dict[str, str] = {}
    for text in (one_line(str(cell)) for cell in found):
        first.setdefault(text.casefold(), text)
    return list(first.values())[:_MOST_WORDS]


def _offered(criterion: Criterion) -> str:
    return ", ".join([f"{grade:g}" for grade in criterion.grades] or criterion.choices)


def quoted(text: str) -> str:
    """Return a text in double quotes, as JSON and YAML both read it."""
    return json.dumps(text, ensure_ascii=False)


def flow(words: Mapping[str, Any]) -> str:
    """Return a mapping in braces, its keys in quotes."""
    return "{" + ", ".join(f"{quoted(old)}: {new}" for old, new in words.items()) + "}"


def named_criterion(header: str) -> str | None:
    """Return the criterion that a heading is a word for, or None."""
    known = column_words().criteria
    return next((key for key, words in known.items() if plain(header) in words or bare(header) in words), None)
