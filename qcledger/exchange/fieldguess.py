"""Guesses how a column of a field is read: what words mean, how days are written, which money prices are in."""

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from qcledger.errors import BadInput
from qcledger.exchange.cells import format_and_volume
from qcledger.exchange.columnmap import ASK
from qcledger.exchange.columnwords import column_words, plain
from qcledger.exchange.days import ORDERS, day_told_by
from qcledger.exchange.grid import Cell, Priced
from qcledger.exchange.layout import LEAVE_OUT
from qcledger.exchange.layoutguess import is_field
from qcledger.exchange.table import Spreadsheet
from qcledger.settings import Settings
from qcledger.text import one_line

SURE, LIKELY, UNSURE = "sure", "likely", "unsure"
ASKED: Final = f'"{ASK}"'
_SHOWN_AS: Final[Mapping[str, str]] = {settings: map_ for map_, settings in ORDERS.items()}
_MOST_WORDS: Final = 30
DAYS: Final = ("bought_on", "tested_on")


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


class FieldGuesser:
    """Guesses how columns of fields are read.

    Parameters
    ----------
    sheet
        The table they stand in.
    settings
        How days are shown, and the tester's currency.
    """

    def __init__(self, sheet: Spreadsheet, settings: Settings) -> None:
        self._sheet = sheet
        self._settings = settings

    def guess(self, field: str, header: str, found: Sequence[Cell]) -> Guess:
        """Return how a column is read that holds a field."""
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
        if field in DAYS:
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
        fitting = {order: sum(is_day(cell, order) for cell in found) for order in ORDERS}
        if written:  # nobody writes the year first, and with two digits
            fitting["year month day"] = 0
        order = max(ORDERS, key=lambda order: (fitting[order], order == own))
        as_good = [other for other in ORDERS if other != order and fitting[other] == fitting[order]]
        remark = f"{UNSURE}: it may as well be {as_good[0]}" if as_good and written else SURE
        return Guess({"field": field, "dates": order}, remark)

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


def is_day(cell: Cell, order: str) -> bool:
    """Say whether a cell can be read as a day whose figures stand in this order."""
    try:
        day_told_by(cell, order, "")
    except BadInput:
        return False
    return True


def _has_size(word: str, meanings: Mapping[str, str]) -> bool:
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


def says_nothing(word: str, among: Sequence[str]) -> bool:
    """Say whether a mark among others is one that people write where they looked at nothing."""
    silent = {"?", "-", "n/a"} | column_words().answers["nothing"]
    in_signs = word == "-" and "--" in among
    return (word.casefold() in silent or plain(word) in silent - {""}) and not in_signs


def distinct(found: Sequence[Cell]) -> list[str]:
    """Return the different cells, in the spelling each has first; case does not count in a map."""
    first: dict[str, str] = {}
    for text in (one_line(str(cell)) for cell in found):
        first.setdefault(text.casefold(), text)
    return list(first.values())[:_MOST_WORDS]


def quoted(text: str) -> str:
    """Return a text in double quotes, as JSON and YAML both read it."""
    return json.dumps(text, ensure_ascii=False)


def flow(words: Mapping[str, Any]) -> str:
    """Return a mapping in braces, its keys in quotes."""
    return "{" + ", ".join(f"{quoted(old)}: {new}" for old, new in words.items()) + "}"
