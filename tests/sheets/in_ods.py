"""The sheets that are kept as ODS."""

from datetime import date, timedelta
from random import Random

from tests.sheets.book import Book, Page, Piece
from tests.sheets.keepers import STARS, TWO_YEARS
from tests.sheets.stock import MAKERS, Thing, stock

STAR, EMPTY, HALF = "\u2605", "\u2606", "½"
SMOOTH = (("++", "very smooth"), ("+", "smooth"), ("o", "middling"), ("-", "rough"), ("--", "very rough"))


def stars() -> Book:
    """Stars, marks out of ten, letters and plus signs beside each other, and whether to buy again."""
    rng = Random(7)
    book = Book("07-stars.ods", STARS)
    page = book.page("Marks")
    page.head(
        1,
        "No",
        "Maker",
        "Colour",
        "Form",
        "Price",
        "Rewets",
        "Flow",
        "Strength",
        "Smooth",
        "Value",
        "Buy again?",
        "Who",
        "When",
    )
    for row, thing in enumerate(stock(rng, 46, date(2025, 1, 20), 240), 2):
        _starred(rng, page, row, thing)
    return book


def _starred(rng: Random, page: Page, row: int, thing: Thing) -> None:
    number, when = row - 1, thing.day + timedelta(days=rng.randrange(2, 12))
    who = "OV" if number % 4 else "OV+TL"
    form = {"half pan": "1/2 pan", "full pan": "pan"}.get(thing.format, f"tube {thing.ml:g}ml")
    piece = Piece(
        thing.maker,
        thing.paint,
        thing.format,
        f"{thing.ml:g} ml" if thing.tube else "",
        "",
        str(number),
        "",
        f"{thing.cost:.2f}",
        "GBP",
        who,
        when.isoformat(),
    )
    for column, value in (
        (1, number),
        (2, thing.maker if number % 9 != 5 else thing.maker[:6] + "."),
        (3, thing.paint),
        (4, form),
        (12, who),
    ):
        page.put(row, column, value)
    cost = f"{round(thing.cost * 100)}p" if thing.cost < 4 else f"£{thing.cost:.2f}"
    page.put(row, 5, cost)
    page.put(row, 13, when, shown=f"{when:%d %b %y}")
    page.say(row, 3, "piece", piece)
    page.say(row, 5, "price", piece, looked_at="Price")
    ease = max(0.5, 5 - thing.turns / 7)
    looked = {
        6: _stars(ease) if number < 21 else _tenths(ease),
        7: _out_of_ten(rng, 10 - thing.froth * 2),
        8: _letter(thing.weak),
        9: (*SMOOTH[min(4, round(thing.froth))], "++ best to -- worst"),
    }
    for column, (value, means, scale) in looked.items():
        test = page.cells[1, column].value
        if rng.random() < 0.04:
            page.put(row, column, "?")
            page.leave(row, column, "no mark given", piece, looked_at=test)
            continue
        page.put(
            row, column, value, comment="second try, first brush was soapy" if number == 13 and column == 7 else ""
        )
        page.say(
            row,
            column,
            "result",
            piece,
            looked_at=test,
            means=means,
            scale=scale,
            worse="towards E" if column == 8 else "towards --" if column == 9 else "lower",
        )
        if page.cells[row, column].comment:
            words = page.cells[row, column].comment
            page.say(row, column, "note", piece, looked_at=test, value=f"[comment] {words}", means=words)
    page.put(row, 10, rng.choice(["good", "fair", "poor"]))
    page.leave(row, 10, "an opinion on the price, nothing seen on the paint", piece, looked_at="Value")
    again = (
        "yes"
        if thing.froth + thing.weak < 2.5
        else "no"
        if thing.froth + thing.weak > 4
        else rng.choice(["maybe", "yes", "no?"])
    )
    page.put(row, 11, again)
    page.leave(row, 11, "what the keeper would buy, not what was seen", piece, looked_at="Buy again?")


def _stars(ease: float) -> tuple[str, str, str]:
    whole, half = int(ease), ease % 1 >= 0.5
    text = STAR * whole + (HALF if half else "")
    return text + EMPTY * (5 - whole - half), f"{whole + half / 2:g} of 5 stars", "5 stars best, half stars"


def _tenths(ease: float) -> tuple[str, str, str]:
    mark = round(ease * 2)
    return f"{mark}/10", f"{mark} of 10", "10 best"


def _out_of_ten(rng: Random, value: float) -> tuple[object, str, str]:
    mark = max(0, min(10, round(value * 2) / 2))
    text = rng.choice([f"{mark:g}/10", f"{mark:g}/10", mark, f"{mark:g} / 10"])
    return text, f"{mark:g} of 10", "10 best"


def _letter(weak: float) -> tuple[str, str, str]:
    letters = ("A", "A", "B+", "B", "B/C", "C", "C", "D", "D", "E", "E")
    text = letters[round(weak * 2)]
    means = {"B+": "B plus, between A and B", "B/C": "between B and C"}.get(text, text)
    return text, means, "A best to E worst"


def two_years() -> Book:
    """One sheet a year, each numbered from 1, the scale turned round at New Year, days and sizes as they came."""
    rng = Random(10)
    book = Book("10-two-years.ods", TWO_YEARS)
    for year, count in ((2024, 34), (2025, 40)):
        page = book.page(str(year))
        page.put(1, 1, f"Bought and tried in {year}", bold=True)
        page.leave(1, 1, "the title of the sheet")
        heads = ["No", "Maker", "Paint", "What", "Batch", "When", "Cost", "Rewet", "Faults", "my cat."]
        page.head(3, *heads, *(["Grain", "Who"] if year == 2025 else []))
        page.hidden_columns = {10}
        things = sorted(
            stock(rng, count, date(year, 1, 10), 300, MAKERS[2:]), key=lambda one: (MAKERS.index(one.maker), one.day)
        )
        first = 4
        for row, thing in enumerate(things, 4):
            new = row == 4 or things[row - 5].maker != thing.maker
            if new and year == 2024 and row - first > 1:
                page.span(first, 2, row - first, 1)
            first = row if new else first
            _tried(rng, page, row, (thing, year, new))
    return book


def _tried(rng: Random, page: Page, row: int, told: tuple[Thing, int, bool]) -> None:
    thing, year, new = told
    number = row - 3
    ml = f"{thing.ml:g}"
    sizes = {
        "tube": [f"{ml}ml", f"{ml} ml tube", f"tube, {ml} ml.", f"c. {ml} ml tube"],
        "half pan": ["1/2 pan", "half", "½ pan"],
        "full pan": ["pan", "full pan", "whole pan"],
    }
    value, shown, iso = _when(rng, thing.day)
    piece = Piece(
        thing.maker,
        thing.paint,
        thing.format,
        f"{ml} ml" if thing.tube else "",
        thing.lot,
        f"{year}/{number}",
        iso,
        f"{thing.cost:.2f}",
        "EUR" if year == 2025 else "GBP",
        "TL" if row % 6 == 0 and year == 2025 else "OV",
        iso,
    )
    what = rng.choice(sizes[thing.format])
    for column, one in (
        (1, number),
        (2, thing.maker if new else None),
        (3, thing.paint),
        (4, what),
        (5, thing.lot or None),
    ):
        page.put(row, column, one)
    page.put(row, 6, value, shown=shown)
    page.put(row, 7, round(thing.cost, 2), shown=f"{'€' if year == 2025 else '£'}{thing.cost:.2f}")
    page.say(row, 3, "piece", piece)
    page.say(row, 7, "price", piece, looked_at="Cost")
    ease = min(10, max(1, round(10 - thing.turns / 3.2))) if year == 2024 else min(5.0, round(thing.turns / 3) / 2)
    page.put(row, 8, ease)
    page.say(
        row,
        8,
        "result",
        piece,
        looked_at="Rewet",
        means=f"{ease:g}",
        worse="lower" if year == 2024 else "higher",
        scale="1 to 10, 10 best" if year == 2024 else "0 to 5, 5 worst, half steps",
    )
    _faults(rng, page, row, thing, piece)
    page.put(row, 10, rng.choice("abc"))
    page.leave(row, 10, "the column is hidden: where the keeper's own shelf has it", piece, looked_at="my cat.")
    if year == 2025:
        page.put(row, 11, thing.grain, shown=f"{thing.grain:g}".replace(".5", "½").replace("0½", "½"))
        page.put(row, 12, piece.tester)
        page.say(
            row,
            11,
            "result",
            piece,
            looked_at="Grain",
            means=f"{thing.grain:g}",
            scale="0 to 5, half steps",
            worse="neither: a trait",
        )


def _faults(rng: Random, page: Page, row: int, thing: Thing, piece: Piece) -> None:
    found = [(word, f"{means}: a fault") for there, word, means in (
        (thing.cracked, "cracked", "cracked"), (thing.wrapper, "paper stuck", "wrapper stuck to the paint"),
        (thing.dried, "dry as a bone", "dried tube"), (thing.leak, "leaky", "leaking tube")) if there]  # fmt: skip
    if row == 20:
        page.put(row, 9, "-")
        page.leave(row, 9, "not looked at", piece, looked_at="Faults")
        return
    page.put(row, 9, rng.choice([", ", " + ", " and "]).join(word for word, _ in found) or "none")
    for word, means in found or [("none", "looked at, no fault found")]:
        page.say(row, 9, "result", piece, looked_at="Faults", value=word, means=means, worse="the word says")


def _when(rng: Random, day: date) -> tuple[object, str, str]:
    """Return a day as it was put down: stored, shown, and as precisely as it can be read."""
    month = f"{day:%Y-%m}"
    return rng.choice([
        (day, f"{day:%d/%m/%y}", day.isoformat()),
        (day, f"{day:%d/%m/%y}", day.isoformat()),
        (f"{day:%b %Y}", "", month),
        (f"{day.day} {day:%B}", "", day.isoformat()),
        (day.year, "", str(day.year)),
        (day.replace(day=1), f"{day:%b %y}", month),
        ((day - date(1899, 12, 30)).days, "", day.isoformat()),
        (f"early {day:%B}" if day.day < 11 else f"mid {day:%B}" if day.day < 21 else f"late {day:%B}", "", month),
        (f"{day.day}.{day.month}.", "", day.isoformat()),
    ])  # fmt: skip


def write() -> list[Book]:
    """Write the two."""
    books = [stars(), two_years()]
    for book in books:
        book.write_ods()
    return books
