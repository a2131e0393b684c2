"""The sheets and their truths agree."""

import csv
import re
from collections import defaultdict
from datetime import date, timedelta
from hashlib import sha256
from pathlib import Path

import pytest

from tests.sheets.readers import READERS, Seen, number_of

FOLDER = Path(__file__).parent
SHEETS = sorted(
    path for path in FOLDER.iterdir() if path.name[:2].isdigit() and not path.name.endswith((".md", ".truth.csv"))
)
KINDS = {"piece", "result", "price", "label", "note", "photo", "left out"}

# Where each sheet says which piece a row is: columns, or rows where paints stand across; and its rows of headings.
WHERE = {
    "01": {"heads": [1], "piece": "A", "maker": "B", "paint": "C", "format": "D", "lot": "E", "date": "F"},
    "02": {
        "heads": [1],
        "piece": "A",
        "maker": "B",
        "paint": "C",
        "format": "E",
        "size": "F",
        "lot": "G",
        "bought": "H",
        "date": "O",
        "tester": "P",
    },
    "03": {
        "heads": [1],
        "date": "A",
        "maker": "B",
        "paint": "C",
        "format": "D",
        "size": "E",
        "lot": "F",
        "looked_at": "G",
        "tester": "I",
        "photo": "J",
    },
    "04": {"heads": [], "maker": 2, "paint": 3, "format": 5, "size": 6, "lot": 7, "bought": 8},
    "05": {"heads": [4, 5], "maker": "A", "paint": "B", "piece": "C", "format": "D", "lot": "E"},
    "06": {"heads": [1], "maker": "A", "paint": "B", "format": "C", "lot": "D", "date": "M"},
    "07": {"heads": [1], "piece": "A", "maker": "B", "paint": "C", "format": "D", "tester": "L", "date": "M"},
    "08": {"heads": [1, 2], "maker": "A", "paint": "B"},
    "09": {"heads": [1], "piece": "A", "looked_at": "B", "tester": "D", "date": "E", "photo": "F"},
    "10": {
        "heads": [3],
        "piece": "A",
        "maker": "B",
        "paint": "C",
        "format": "D",
        "lot": "E",
        "bought": "F",
        "tester": "L",
    },
    "11": {"heads": [1], "date": "A", "maker": "B", "paint": "B", "format": "B", "lot": "B"},
    "12": {
        "heads": [1],
        "bought": "A",
        "shop": "B",
        "maker": "C",
        "paint": "C",
        "format": "D",
        "lot": "H",
        "quantity": "E",
        "order": "J",
    },
}
BLOCKS = {"tube": {"size": "D", "lot": "F", "date": "G"}, "half pan": {"lot": "N", "date": "O"}}
BOUGHT = {
    "piece": "A",
    "bought": "B",
    "shop": "C",
    "maker": "D",
    "paint": "E",
    "format": "F",
    "size": "G",
    "lot": "H",
    "quantity": "I",
}
FORMATS = {
    "tube": {"tube", "Tube"},
    "half pan": {"half", "half pan", "1/2 pan", "½ pan", "hp", "1/2 godet", "½ Näpfchen", "1/2 Napf"},
    "full pan": {"full", "full pan", "pan", "whole pan", "godet", "Näpfchen"},
}
NO_LOT = {"", "none", "keine", "s/n"}
ENGLISH = "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"
MONTHS = dict(zip(ENGLISH, range(1, 13), strict=True)) | {"Mär": 3, "Mai": 5, "Okt": 10, "Dez": 12}


def truth_of(path: Path) -> list[dict[str, str]]:
    with (FOLDER / f"{path.stem}.truth.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture(params=SHEETS, ids=lambda path: path.stem)
def sheet(request):
    """Give a sheet's number, its pages and its truth."""
    return request.param.name[:2], READERS[request.param.suffix](request.param), truth_of(request.param)


def same_day(told: str, iso: str, year: str = "") -> bool:
    """Return whether a day as people write it is this one, as exactly as it says."""
    if told in (iso, f"{iso}-01"):
        return True
    if re.fullmatch(r"4\d{4}", told):
        return (date(1899, 12, 30) + timedelta(days=int(told))).isoformat() == iso
    month = next((place for word, place in MONTHS.items() if f" {word}" in f" {told}"), 0)
    digits = re.findall(r"\d+", told)
    if month:
        exact = [digits[0]] if digits and len(digits[0]) < 3 and not told[0].isalpha() else []
        parts = [year or f"20{digits[-1][-2:]}", f"{month:02}", *(f"{int(one):02}" for one in exact)]
    else:
        ends = f"20{digits[2][-2:]}" if len(digits) == 3 else year
        parts = [ends, f"{int(digits[1]):02}", f"{int(digits[0]):02}"]
    return "-".join(parts) == iso


def test_there_are_twelve_of_them():
    """Twelve sheets, each with its truth and its keeper's words, and none of them heavy."""
    assert [path.name[:2] for path in SHEETS] == sorted(WHERE)
    assert all((FOLDER / f"{path.stem}{end}").exists() for path in SHEETS for end in (".md", ".truth.csv"))
    assert sum(path.stat().st_size for path in FOLDER.iterdir() if path.is_file()) < 2_000_000


def test_nobody_has_edited_them():
    """Sheets and truths are the bytes that were committed first."""
    listed = dict(reversed(line.split("  ")) for line in (FOLDER / "SHA256SUMS").read_text().splitlines())
    assert {name: sha256((FOLDER / name).read_bytes()).hexdigest() for name in listed} == listed
    assert set(listed) == {path.name for path in SHEETS} | {f"{path.stem}.truth.csv" for path in SHEETS}


def test_every_value_stands_in_its_cell(sheet):
    """What the truth says is written in a cell is written there: as text, as a fill, as a comment, or as nothing."""
    number, pages, truth = sheet
    for line in truth:
        page, place = pages[line["sheet"]], (int(line["row"]), number_of(line["column"]))
        value, kind = line["value"], line["kind"]
        if found := re.fullmatch(r"\[fill ([^\]]+)\] ?(.*)", value):
            assert (page.fills[place], page.get(place, "")) == found.groups(), line
        elif value.startswith("[comment] "):
            assert page.comments[place] == value.removeprefix("[comment] "), line
        elif (line["looked_at"] == "Faults" and kind == "result") or (number == "11" and place[1] == 3):
            assert value, line
            assert value in page[place], line
        else:
            assert page.get(place, "") == value, line


def test_nothing_is_left_unsaid(sheet):
    """Each cell, fill or comment that says something is a fact, is left out with a reason, or names a piece."""
    number, pages, truth = sheet
    told, comments = defaultdict(str), set()
    for line in truth:
        place = line["sheet"], int(line["row"]), number_of(line["column"])
        told[place] += " " + line["value"]
        if line["value"].startswith("[comment] "):
            comments.add(place)
    names, heads = names_of(number), WHERE[number]["heads"]
    for title, page in pages.items():
        for row, column in {*page, *page.fills}:
            known = (
                row in heads
                or column in names["columns"]
                or row in names["rows"]
                or column in names["left"].get(title, ())
            )
            assert known or (title, row, column) in told, (title, row, column, page.get((row, column)))
        assert {(title, *place) for place in page.comments} <= comments
    if number == "11":
        notes = {row: cell for (row, column), cell in pages[""].items() if column == 3 and row > 1}
        assert {row: told["", row, 3].split() for row in notes} == {row: cell.split() for row, cell in notes.items()}


def names_of(number: str) -> dict:
    """Return which columns and rows say of what piece a line is, and by page those that do so there."""
    where = {name: place for name, place in WHERE[number].items() if name != "heads"}
    columns = {number_of(place) for place in where.values() if isinstance(place, str)}
    left: dict[str, set[int]] = {}
    if number == "04":
        left = {"Grid": {1}}
    if number == "08":
        left = {"Colours": {number_of(place) for block in BLOCKS.values() for place in block.values()}}
    if number == "09":
        columns, left = set(), {"Bought": {number_of(one) for one in BOUGHT.values()}, "Tests": {1, 2, 4, 5, 6}}
    return {"columns": columns, "rows": {place for place in where.values() if isinstance(place, int)}, "left": left}


def said_of(number: str, pages: dict[str, Seen], line: dict[str, str]) -> dict[str, str]:
    """Return what the sheet itself says of the piece that a line of the truth is about."""
    page, row, column = pages[line["sheet"]], int(line["row"]), number_of(line["column"])
    where = dict(WHERE[number])
    where.pop("heads")
    if number == "04":
        across = {name: page.get((place, column), "") for name, place in where.items()}
        while not page.get((2, column)):
            column -= 1
        return across | {"maker": page[2, column]}
    if number == "08":
        where |= BLOCKS.get(line["format"], {})
    said = {}
    if number == "09" and line["sheet"] == "Tests":
        said = {name: page.get((row, number_of(place)), "") for name, place in where.items()}
        page, row, where = pages["Bought"], 1 + int(said["piece"]), BOUGHT
        said["piece"] = said["piece"].lstrip("0")
    elif number == "09":
        where = BOUGHT
    for name, place in where.items():
        filled = name in ("date", "bought", "maker", "shop") and number in ("01", "03", "05", "10", "12")
        said.setdefault(name, (page.above if filled else lambda *at: page.get(at, ""))(row, number_of(place)))
    return said


def test_the_piece_is_the_one_the_sheet_names(sheet):
    """Maker, paint, lot, format, number and tester are those that row, heading, block or joined sheet names."""
    number, pages, truth = sheet
    about = [line for line in truth if line["maker"]]
    assert len(about) > 0.6 * len(truth)
    for line in about:
        said = said_of(number, pages, line)
        assert line["maker"] in said["maker"] or said["maker"].rstrip(".") in line["maker"], line
        assert line["paint"] in said["paint"], line
        if line["kind"] == "piece":
            assert line["paint"] in line["value"], line
        if line["piece"]:
            assert line["piece"] in (said["piece"], f"{line['sheet']}/{said['piece']}"), line
        if number == "11":
            assert line["lot"] == (re.findall(r"\((?:lot|batch) (.*)\)$", said["lot"]) or [""])[0], line
        elif line["lot"]:
            assert line["lot"] == said["lot"], line
        elif line["kind"] == "piece":
            assert said.get("lot", "") in NO_LOT, line
        if line["format"] in FORMATS and number != "08":
            assert format_of(said["format"]) == line["format"], line
        if line["tester"]:
            assert line["tester"] == who_looked(number, pages, line, said), line


def who_looked(number: str, pages: dict[str, Seen], line: dict[str, str], said: dict[str, str]) -> str:
    """Return who looked: whom the row names, or a word on the cell, or else the keeper."""
    page, place = pages[line["sheet"]], (int(line["row"]), number_of(line["column"]))
    words = page.comments.get(place, "") + (page.get((place[0], 3), "") if number == "11" else "")
    return "TL" if re.search(r"TL (did|looked)", words) else said.get("tester") or "OV"


def test_what_was_looked_at_stands_at_its_place(sheet):
    """Each line bears the sheet's own words: the heading above its cell, or the name in its row."""
    number, pages, truth = sheet
    bare = {"piece", "note", "photo", "left out"} if number != "11" else KINDS
    assert all(line["looked_at"] for line in truth if line["kind"] not in bare)
    for line in (line for line in truth if line["looked_at"] and number != "11"):
        page, row, column = pages[line["sheet"]], int(line["row"]), number_of(line["column"])
        beside = {"03": 7, "04": 1, "09Tests": 2}
        across = beside.get(number, beside.get(number + line["sheet"]))
        heading = page[row, across] if across else page[WHERE[number]["heads"][-1], column]
        assert line["looked_at"] == heading, line


def test_photos_are_those_of_the_sheet(sheet):
    """Each photo's name stands in the row of its line."""
    _, pages, truth = sheet
    for line in (line for line in truth if line["photo"]):
        assert line["photo"] in {cell for (row, _), cell in pages[line["sheet"]].items() if row == int(line["row"])}


def format_of(told: str) -> str:
    """Return the format that words such as "tube 14" or "Trellmere Viridian, half pan (lot 24-51)" name."""
    words = re.sub(r"\(.*\)", "", told.rpartition(",")[2] if told.endswith((")", "pan", "tube")) else told)
    words = re.sub(r"\b(?!1/2)(c\. )?[\d.]+ ?ml\b\.?", "", words).strip()
    exact = [name for name, known in FORMATS.items() if words in known]
    return exact[0] if exact else "tube"


def test_days_and_sizes_are_those_of_the_sheet(sheet):
    """Each ISO date is the day, month or year that the sheet says, and each size stands in it."""
    number, pages, truth = sheet
    counted = 0
    for line in (line for line in truth if line["maker"]):
        said = said_of(number, pages, line)
        if number == "11" and line["date"]:
            month = next(
                pages[""][row, 1]
                for row in range(int(line["row"]), 1, -1)
                if re.search(r"20\d\d", pages[""].get((row, 1), ""))
            )
            said["date"] = f"{said['date'].split()[1]} {month}"
            assert f"{date.fromisoformat(line['date']):%a}" == pages[""][int(line["row"]), 1][:3]
        day = said.get("bought") if line["kind"] in ("piece", "price") else said.get("date", said.get("bought"))
        if line["date"]:
            counted += 1
            year = line["sheet"] if number == "10" else ""
            assert same_day(day or said["date"], line["date"], year), (line, said)
        if line["size"] and "size" in said:
            assert said["size"].replace(",", ".").removesuffix(" ml") == line["size"].removesuffix(" ml"), (
                line,
                said,
            )
        elif line["size"]:
            assert line["size"].removesuffix(" ml") in re.findall(r"[\d.]*\d", said["format"]), (line, said)
    assert counted > 20 or number == "05"


MONEY = {"£": "GBP", "€": "EUR", "SFr": "CHF", "Fr": "CHF", "p": "GBP"}
BY_KEEPER = {"02": "EUR", "04": "GBP", "05": "EUR", "07": "GBP", "08": "GBP", "102024": "GBP", "102025": "EUR"}
PRICES = {"02": "I", "05": "F", "07": "E", "08tube": "E", "08half pan": "M", "09": "K", "10": "G", "12": "F"}


def test_prices_are_those_of_the_sheet(sheet):
    """Each price is the number in its cell, in the money that its sign, its shop or its keeper says."""
    number, pages, truth = sheet
    for line in (line for line in truth if line["price"] or line["currency"] or line["kind"] == "price"):
        letters = PRICES.get(number, PRICES.get(number + line["format"]))
        place = (int(line["row"]), number_of(letters)) if letters else (9, number_of(line["column"]))
        value = pages[line["sheet"]][place]
        assert value == line["value"] or line["kind"] == "piece", line
        value = value.replace(",", ".").replace(".-", ".00")
        amount = float(re.search(r"\d+(\.\d+)?", value)[0]) / (100 if value.endswith("p") else 1)
        assert amount == pytest.approx(float(line["price"])), line
        signs = [money for sign, money in MONEY.items() if sign in value]
        if number in ("09", "12"):
            shop = said_of(number, pages, line)["shop"]
            money = {
                "Brindlemoor": "GBP",
                "Velleroy": "EUR",
                "Karsholt": "CHF",
                "Tannisbeck": "CAD",
                "Orquine": "USD",
            }[shop]
            assert line["currency"] == money, line
        elif signs:
            assert line["currency"] == signs[0], line
        else:
            assert line["currency"] == BY_KEEPER.get(number, BY_KEEPER.get(number + line["sheet"])), line


def test_one_mark_means_one_thing(sheet):
    """Wherever the same mark stands for the same test it means the same, and numbers mean themselves."""
    number, _, truth = sheet
    means, worse = defaultdict(set), defaultdict(set)
    for line in (line for line in truth if line["kind"] == "result"):
        test = line["sheet"], line["looked_at"].lower(), line["scale"]
        means[*test, line["value"].strip().lower()].add(line["means"])
        worse[test].add(line["worse"])
        assert line["means"], line
        assert line["worse"], line
        if re.fullmatch(r"\d+([.,]\d+)?", line["value"]) and number != "02":
            assert float(re.match(r"[\d.]+", line["means"])[0]) == float(line["value"].replace(",", ".")), line
        if number == "11" and line["means"].isdigit():
            assert line["means"] in re.findall(r"\d+", line["value"]), line
    for line in (line for line in truth if line["kind"] == "label"):
        assert line["means"].partition(",")[0] == re.sub(r"[ -]", "", line["value"]), line
    assert {mark: told for mark, told in means.items() if len(told) > 1} == {}
    assert {test: told for test, told in worse.items() if len(told) > 1} == {}


def test_lines_are_of_a_known_kind(sheet):
    """What is left out says why, nothing else does, and what hides is left out."""
    _, pages, truth = sheet
    for line in truth:
        assert line["kind"] in KINDS
        assert bool(line["left_out"]) == (line["kind"] == "left out"), line
        assert line["worse"] if line["kind"] == "result" else line["kind"] == "left out" or not line["worse"], line
        page = pages[line["sheet"]]
        if int(line["row"]) in page.hidden_rows or number_of(line["column"]) in page.hidden_columns:
            assert "hidden" in line["left_out"], line
    assert sum(line["kind"] == "piece" for line in truth) >= 20
    assert sum(line["kind"] == "result" for line in truth) >= 40
