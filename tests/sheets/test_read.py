"""Every cell of twelve spreadsheets that testers keep becomes what a person reads in it, or is told as left out."""

from collections import Counter
from pathlib import Path

import pytest

from qcledger.exchange import carry_out, plan_mapped, propose
from qcledger.exchange.columnmap import parse
from qcledger.exchange.grading import criteria
from qcledger.exchange.layout import Layout
from qcledger.ledger import Ledger
from qcledger.records import LabelVersion, Lot, Maker, Observation, Paint, Parcel, Specimen, Trial
from qcledger.settings import Settings
from tests.sheets.readers import number_of
from tests.sheets.truth import FAULT, LITTLE, NOT_SURE, facts, first_number, is_reading, share

FOLDER = Path(__file__).parent
CRITERIA = {key: one.criterion for key, one in criteria(("watercolour", "packaging", "label"), FOLDER).items()}
MOST_EDITS = 3

EDITS = {
    "01": [],
    "02": [],
    "03": [],
    "04": [
        ("new_makers:", 'testers: {"TL did this one": TL}\nnew_makers:'),
        ("    scale: {from: [1, 10], reversed: false}", "    scale: {from: [0, 10], reversed: true}"),
    ],
    "05": [('  bought_on: "?"', "  bought_on: 2025-09-30"), ('  tested_on: "?"', "  tested_on: 2025-09-30")],
    "06": [],
    "07": [],
    "08": [],
    "09": [],
    "10": [("    scale: {from: [1, 10], reversed: false}", "    scale: {from: [1, 10], reversed: true}")],
    "11": [],
    "12": [('"Orquine": "?"', '"Orquine": USD'), ('"Tannisbeck": "?"', '"Tannisbeck": CAD')],
}
"""What a keeper changes in the proposed map: old text and new; one edit sets, adds or removes one key's value."""


SHEETS = {"10": ["2024", "2025"]}
"""Sheets of a file that have a map each."""


def path_of(number: str) -> Path:
    """Return a sheet's file."""
    return next(path for path in FOLDER.glob(f"{number}-*") if path.suffix in (".csv", ".xlsx", ".ods")
                and ".truth" not in path.name)  # fmt: skip


def edited(text: str, edits) -> str:
    """Return a proposed map as its keeper changes it."""
    for old, new in edits:
        assert text.count(old) <= 1, old
        text = text.replace(old, new)
    return text


class Read:
    """One sheet as it came in, cell by cell."""

    def __init__(self, number: str, folder: Path) -> None:
        path = path_of(number)
        self.told, self.guesses = [], []
        with Ledger.create(folder / "mine.sqlite", letters="OV", tester="OV") as ledger:
            for sheet in SHEETS.get(number, [None]):
                text = edited(propose(path, Settings(), Layout(sheet=sheet)), EDITS[number])
                plan = plan_mapped(ledger, path, parse(text, "map.yaml"), settings=Settings(), told=self.told)
                self.guesses += plan.guesses
                carry_out(ledger, plan)
            kinds = (LabelVersion, Lot, Maker, Observation, Paint, Parcel, Specimen, Trial)
            self.rows = {kind: {row.id: row for row in ledger.rows(kind)} for kind in kinds}
            self.days = {row.id: ledger.day_of(row, row.at) for row in self.rows[Trial].values()}
        self.cells = {}
        for row in self.told:
            for cell in row.cells:
                self.cells.setdefault(cell.place, []).append(cell)

    def place(self, fact):
        """Return where a line of the truth stands, as the reader tells it."""
        by_place = (fact["sheet"], int(fact["row"]), number_of(fact["column"]))
        return by_place if by_place in self.cells else ("", *by_place[1:])

    def wrong(self, fact) -> str:
        """Return what is wrong with what became of a line of the truth, or nothing; ``words`` is kept in words."""
        told = self.cells.get(self.place(fact), [])
        return getattr(self, "_" + fact["kind"].replace(" ", "_"))(fact, told)

    def _specimen(self, fact, told):
        found = [self.rows[Specimen][cell.subject] for cell in told if cell.subject in self.rows[Specimen]]
        return next((one for one in found if str(one.format) == fact["format"]), found[0] if found else None)

    def _piece(self, fact, told) -> str:
        one = self._specimen(fact, told)
        if one is None:
            return "no specimen"
        paint = self.rows[Paint][one.paint]
        found = {"maker": self.rows[Maker][paint.maker].name, "paint": paint.name, "format": str(one.format)}
        found["lot"] = self.rows[Lot][one.lot].code if one.lot else ""
        wanted = {name: fact[name].strip() for name in found}
        if fact["size"]:
            found["size"], wanted["size"] = f"{float(one.nominal_ml or 0):g}", fact["size"].split()[0]
        if len(fact["date"]) == 10:
            found["date"], wanted["date"] = self.rows[Parcel][one.parcel].bought_on.isoformat(), fact["date"]
        return str({name: (found[name], wanted[name]) for name in found if found[name] != wanted[name]} or "")

    def _price(self, fact, told) -> str:
        one = self._specimen(fact, told)
        if one is None:
            return "no specimen"
        found = one.price_minor, self.rows[Parcel][one.parcel].currency
        wanted = round(float(fact["price"]) * 100), fact["currency"]
        return "" if found == wanted else f"{found} for {wanted}"

    def _label(self, fact, told) -> str:
        one = self._specimen(fact, told)
        label = self.rows[LabelVersion].get(one.label_version) if one else None
        found = "".join(label.index_names).replace(" ", "").replace("-", "") if label else ""
        wanted = fact["means"].split(",")[0].replace(" ", "").replace("-", "")
        return "" if found == wanted else f"{found} for {wanted}"

    def _words(self, told) -> str:
        """Return all notes of what a cell went to."""
        trials = [self.rows[Trial].get(cell.subject) for cell in told]
        pieces = [self.rows[Specimen].get(cell.subject) for cell in told]
        return " ".join(one.note for one in (*trials, *pieces) if one is not None)

    def _kept(self, fact, told) -> bool:
        text = " ".join(fact["value"].removeprefix("[comment] ").split())
        return bool(text) and text in self._words(told)

    def _result(self, fact, told) -> str:
        found = [self.rows[Observation][cell.subject] for cell in told if cell.subject in self.rows[Observation]]
        if fact["left_out"]:
            return "" if not found and all(cell.why for cell in told) else "kept"
        if not found:
            if is_a_mark(fact) and not is_reading(fact) and share(fact) == NOT_SURE:
                return "" if told and all(cell.why for cell in told) else "not told"
            return "words" if self._kept(fact, told) else "no result"
        wrong = [problem for one in found if (problem := self._misread(fact, one))]
        if share_of(fact) == FAULT and any(not _is_fault(one) for one in found):
            wrong = [] if any(_is_fault(one) for one in found) else wrong
        return "; ".join(wrong)

    def _misread(self, fact, one) -> str:
        if fact["tester"] and one.tester != fact["tester"]:
            return f"tester {one.tester}"
        if len(fact["date"]) == 10 and self.days[one.trial].isoformat() != fact["date"]:
            return f"day {self.days[one.trial]}"
        if is_reading(fact):
            return "" if one.reading == first_number(fact["means"]) else f"reading {one.reading}"
        wanted, criterion = share(fact), CRITERIA[one.criterion]
        if wanted in (FAULT, LITTLE):
            fine = _is_fault(one) if wanted == FAULT else one.grade > 0 and not _is_fault(one)
            return "" if fine else f"grade {one.grade}"
        exact = round(5 * wanted, 6)
        grade = min(criterion.grades, key=lambda offered: (abs(offered - exact), offered))
        return "" if one.grade == grade else f"grade {one.grade} for {grade}"

    def _note(self, fact, told) -> str:
        return "" if self._kept(fact, told) else f"lost: {self._words(told)}"

    _photo = _note

    def _left_out(self, fact, told) -> str:
        if any(cell.subject in self.rows[Observation] for cell in told):
            return "taken for a result"
        if not fact["value"]:
            return ""
        about = [line for line in self.guesses if fact["sheet"] and f"sheet {fact['sheet']} is read beside" in line]
        about += [line for line in self.guesses if "not read: " in line and fact["sheet"] and fact["sheet"] in line]
        return "" if about or any(cell.why for cell in told) else "words" if self._kept(fact, told) else "not told"


def is_a_mark(fact) -> bool:
    """Say whether a result is a mark of a scale or a verdict, and not words of a sentence."""
    return bool(fact["scale"]) or fact["worse"] not in ("higher", "more froth", "neither: a trait")


def share_of(fact):
    """Return the share or verdict of a result that is no reading."""
    return "" if is_reading(fact) else share(fact)


def _is_fault(one) -> bool:
    line = CRITERIA[one.criterion].fault_line
    return one.grade is not None and one.grade >= (3 if line is None else line)


def read_all(number: str, folder: Path) -> tuple[Counter, list]:
    """Return how many cells of a sheet are right, kept in words and wrong, and the wrong ones."""
    read = Read(number, folder)
    counts, wrong = Counter(), []
    for fact in facts(number):
        problem = read.wrong(fact)
        counts["words" if problem == "words" else "wrong" if problem else "right"] += 1
        if problem not in ("", "words"):
            wrong.append((fact["row"], fact["column"], fact["kind"], fact["looked_at"], fact["value"], problem))
    return counts, wrong


IN_WORDS = {"01": 3, "02": 42, "03": 0, "07": 46, "11": 120}
"""How many facts are kept in words: no criterion of ours is about them, or, in 11, they stand in sentences."""


@pytest.mark.parametrize("number", EDITS)
def test_every_cell_becomes_what_a_person_reads(tmp_path, number):
    """After at most three edits of the proposed map no cell is lost or misread, and what is left out is told."""
    assert len(EDITS[number]) <= MOST_EDITS
    counts, wrong = read_all(number, tmp_path)
    assert not wrong, (counts, wrong[:5])
    assert counts["words"] <= IN_WORDS.get(number, 0)


def test_each_edit_is_one_line_of_the_proposed_map():
    """An edit sets one key: its line is in the proposed map, and nothing else changes."""
    for number, edits in EDITS.items():
        proposed = [propose(path_of(number), Settings(), Layout(sheet=sheet)) for sheet in SHEETS.get(number, [None])]
        for old, _ in edits:
            assert sum(text.count(old) for text in proposed) == 1, (number, old)
