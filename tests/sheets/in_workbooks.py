"""The workbooks in which one line, or one column, is one piece."""

from datetime import date, timedelta
from random import Random

from tests.sheets.book import Book, Page, Piece, letter, of
from tests.sheets.keepers import GRID, LIGHTS, SHELF
from tests.sheets.stock import MAKERS, Thing, bought, held, stock

FIVE = "0 best to 5 worst"


def grid() -> Book:
    """Paints across and tests down, makers merged over their paints, remarks as comments on cells."""
    rng = Random(4)
    book = Book("04-grid-paints-across.xlsx", GRID)
    page = book.page("Grid")
    page.put(1, 1, "Blues and earths, spring 2025", bold=True)
    page.leave(1, 1, "the title of the sheet")
    names = ["Maker", "Paint", "Pigment", "Form", "ml", "Batch", "Bought", "Cost £", None, "ON ARRIVAL",
             "Cracked", "Wrapper stuck", "Tube dry", None, "AT THE BENCH", "Turns to load brush", "Froth",
             "Weak", "Grain", None, "NEXT DAY", "Stain", "Evenness"]  # fmt: skip
    hints = {12: "0/1/3/5", 13: "0/1/3/5", 14: "0/1/3/5", 17: "count", 18: FIVE, 19: FIVE, 20: "0-5, no good or bad",
             23: "0-5, no good or bad", 24: "10 = best"}  # fmt: skip
    for row, name in enumerate(names, 2):
        page.put(row, 1, name, bold=True)
        if row in hints:
            page.put(row, 2, hints[row])
            page.leave(row, 2, "says how the row is marked")
        if row in (11, 16, 22):
            page.leave(row, 1, "a heading between the tests")
    column = 3
    for maker in ("Trellmere", "Quernlow", "Fennacre", "Maslenne", "Drumlaw", "Halcyre"):
        first = column
        page.put(2, first, maker, bold=True)
        for paint in rng.sample([0, 1, 2, 4, 8, 9, 10, 17], 4):
            thing = bought(rng, maker, paint, rng.choice(["tube", "half pan"]), date(2025, 3, rng.randrange(1, 28)))
            _across(rng, page, column, thing)
            column += 1
        page.span(2, first, 1, column - first)
    page.put(2, column, "mean")
    page.leave(2, column, "heads the means of the rows")
    for row in (17, 18, 19, 20, 23, 24):
        values = [page.cells[row, one].value for one in range(3, column) if (row, one) in page.cells]
        numbers = [one for one in values if isinstance(one, int | float)]
        page.put(row, column, sum(numbers) / len(numbers), formula=f"AVERAGE(C{row}:{letter(column - 1)}{row})")
        page.leave(row, column, "a mean of the row, computed by the sheet")
    page.freeze = "C4"
    return book


def _across(rng: Random, page: Page, column: int, thing: Thing) -> None:
    size = f"{thing.ml:g} ml" if thing.tube else ""
    piece = Piece(thing.maker, thing.paint, thing.format, size, thing.lot, "", thing.day.isoformat(),
                  f"{thing.cost:.2f}", "GBP")  # fmt: skip
    form, ml = ("tube", thing.ml) if thing.tube else (rng.choice(["1/2 pan", "half pan", "hp"]), None)
    lot = thing.lot if rng.random() < 0.9 else thing.lot.lower()
    piece = of(piece, lot=lot)
    for row, value in enumerate((thing.paint, thing.pigment, form, ml, lot or "none"), 3):
        page.put(row, column, value)
    page.put(8, column, thing.day, shown="d mmm yy")
    page.put(9, column, round(thing.cost, 2), shown="0.00")
    page.say(3, column, "piece", piece)
    page.say(4, column, "label", piece, looked_at="Pigment", means=thing.pigment)
    page.say(9, column, "price", piece, looked_at="Cost £")
    bad = rng.choice([3, 3, 5])
    other = "not looked at: a tube" if thing.tube else "not looked at: a pan"
    looked = {
        12: (bad if thing.cracked else rng.choice([0, 0, 1]), FIVE, "higher", thing.tube),
        13: (bad if thing.wrapper else rng.choice([0, 0, 1]), FIVE, "higher", thing.tube),
        14: (bad if thing.dried else 0, FIVE, "higher", not thing.tube),
        17: (thing.turns, "turns", "higher", False),
        18: (thing.froth, FIVE, "higher", False),
        19: (thing.weak, FIVE, "higher", False),
        20: (thing.grain, "0 to 5", "neither: a trait", False),
        23: (thing.stain, "0 to 5", "neither: a trait", False),
        24: (10 - thing.weak - held(rng.gauss(0.5, 0.5)), "0 worst to 10 best", "lower", False),
    }
    for row, (value, scale, worse, skipped) in looked.items():
        test = page.cells[row, 1].value
        if skipped:
            page.put(row, column, "n/a")
            page.leave(row, column, other, piece, looked_at=test)
            continue
        comment = ""
        if row in (17, 18) and rng.random() < 0.15:
            comment = "TL did this one" if row == 17 else "hard water that day, do again"
        page.put(row, column, value, comment=comment)
        who = "TL" if comment.startswith("TL") else "OV"
        told = of(piece, tested="", tester=who)
        means = f"{value:g}"
        page.say(row, column, "result", told, looked_at=test, means=means, scale=scale, worse=worse)
        if comment:
            page.say(row, column, "note", told, looked_at=test, value=f"[comment] {comment}", means=comment)


def shelf() -> Book:
    """Lay a list out for printing: titles, merged makers, headings again on each printed page, means and sums."""
    rng = Random(5)
    book = Book("05-shelf-printed.xlsx", SHELF)
    page = book.page("Shelf")
    page.put(1, 1, "WHAT IS ON THE SHELF AND HOW IT DID", bold=True)
    page.put(2, 1, "as of 30 September 2025 / OV")
    page.span(1, 1, 1, 11)
    page.leave(1, 1, "the title of the sheet")
    page.leave(2, 1, "says how old the list is and who keeps it")
    things = sorted(
        stock(rng, 54, date(2025, 1, 10), 220, MAKERS[:7]), key=lambda one: (MAKERS.index(one.maker), one.day)
    )
    row, on_page, sheet = 4, 0, 1
    row = _shelf_heads(page, row, first=True)
    starts: list[int] = []
    for place, thing in enumerate(things):
        if on_page >= 20:
            page.put(row, 10, f"page {sheet} of 3")
            page.leave_row(row, "the foot of a printed page")
            row, on_page, sheet = _shelf_heads(page, row + 1, first=False), 0, sheet + 1
        new = place == 0 or things[place - 1].maker != thing.maker
        if new:
            starts.append(row)
        _shelved(rng, page, row, thing, new)
        row, on_page = row + 1, on_page + 1
        if place + 1 == len(things) or things[place + 1].maker != thing.maker:
            _subtotal(page, row, starts[-1], thing.maker)
            row += 2
    page.put(row, 2, "GRAND TOTAL")
    total = sum(
        one.value
        for (_, column), one in page.cells.items()
        if column == 6 and isinstance(one.value, float) and not one.formula
    )
    page.put(row, 6, total, formula="SUMPRODUCT(1*ISNUMBER(C6:C99),F6:F99)", shown="#,##0.00 [$€-1]")
    page.leave_row(row, "the sum of the list")
    return book


def _shelf_heads(page: Page, row: int, first: bool) -> int:
    above = {1: "", 2: "Paint", 7: "Out of the wrapper", 9: "On paper"}
    below = ("Maker", "Name", "No.", "Form", "Batch", "Price", "Cracks", "Stuck", "Rewets", "Grain", "Remarks")
    for column, name in above.items():
        if name:
            page.put(row, column, name, bold=True)
    page.span(row, 2, 1, 5)
    page.span(row, 7, 1, 2)
    page.span(row, 9, 1, 2)
    page.head(row + 1, *below)
    if not first:
        for one in (row, row + 1):
            page.leave_row(one, "the headings again, at the top of a printed page")
    return row + 2


def _shelved(rng: Random, page: Page, row: int, thing: Thing, new: bool) -> None:
    if new:
        page.put(row, 1, thing.maker, bold=True)
    number = 300 + row
    form = {"half pan": "half pan", "full pan": "pan"}.get(thing.format, f"tube {thing.ml:g} ml")
    piece = Piece(
        thing.maker,
        thing.paint,
        thing.format,
        f"{thing.ml:g} ml" if thing.tube else "",
        thing.lot,
        str(number),
        "",
        f"{thing.cost:.2f}",
        "EUR",
        "OV",
    )
    page.put(row, 2, thing.paint)
    page.put(row, 3, number)
    page.put(row, 4, form)
    page.put(row, 5, thing.lot or None)
    page.put(row, 6, round(thing.cost, 2), shown="#,##0.00 [$€-1]")
    page.say(row, 2, "piece", piece)
    page.say(row, 6, "price", piece, looked_at="Price")
    word = {True: "no", False: "yes"}
    easy = "easy" if thing.turns < 9 else "ok" if thing.turns < 18 else "hard"
    looked = (
        (
            7,
            word[not thing.cracked],
            "cracks: a fault" if thing.cracked else "no cracks",
            "yes",
            "yes or no",
            not thing.tube,
        ),
        (
            8,
            word[not thing.wrapper],
            "stuck: a fault" if thing.wrapper else "not stuck",
            "yes",
            "yes or no",
            not thing.tube,
        ),
        (
            9,
            easy,
            {"easy": "easily", "ok": "middling", "hard": "hard to rewet"}[easy],
            "towards hard",
            "easy, ok, hard",
            True,
        ),
        (10, thing.grain, f"{thing.grain:g}", "neither: a trait", "0 to 5", True),
    )
    for column, value, means, worse, scale, applies in looked:
        if not applies:
            continue
        page.put(row, column, value, shown="0.0" if column == 10 else "")
        test = ("Cracks", "Stuck", "Rewets", "Grain")[column - 7]
        page.say(row, column, "result", piece, looked_at=test, means=means, worse=worse, scale=scale)
    if rng.random() < 0.12:
        page.put(row, 11, "last one, shop closes" if thing.tube else "rim chipped")
        page.say(row, 11, "note", piece, means=page.cells[row, 11].value)


def _subtotal(page: Page, row: int, first: int, maker: str) -> None:
    lines = [
        one for one in range(first, row) if isinstance(page.cells.get((one, 3)) and page.cells[one, 3].value, int)
    ]
    page.put(row, 2, f"{maker}: {len(lines)} paints")
    page.put(
        row,
        6,
        sum(page.cells[one, 6].value for one in lines),
        formula=f"SUM(F{first}:F{row - 1})",
        shown="#,##0.00 [$€-1]",
    )
    page.put(
        row, 10, sum(page.cells[one, 10].value for one in lines) / len(lines), formula=f"AVERAGE(J{first}:J{row - 1})"
    )
    page.leave_row(row, "a sum over one maker, not a piece")
    if row - first == len(lines) and len(lines) > 1:
        page.span(first, 1, len(lines), 1)


GREEN, YELLOW, RED, DARK, GREY = "92D050", "FFC000", "FF0000", "C00000", "theme 0 -0.25"
MEANS = {GREEN: "fine", YELLOW: "so-so", RED: "bad", DARK: "bad", GREY: "cannot be looked at in this format"}


def lights() -> Book:
    """Colours as the only marks, a key on a sheet of its own, hidden columns and hidden rows."""
    rng = Random(6)
    book = Book("06-traffic-lights.xlsx", LIGHTS)
    page = book.page("Paints")
    page.head(
        1,
        "Maker",
        "Paint",
        "Form",
        "Batch",
        "Old score",
        "Cracked",
        "Wrapper",
        "Dried up",
        "Rewetting",
        "Froth",
        "Strength",
        "Paid",
        "Seen",
        "Remark",
    )
    for row, thing in enumerate(stock(rng, 42, date(2025, 2, 1), 200), 2):
        _lit(rng, page, row, thing)
    page.hidden_columns = {5, 12}
    page.hidden_rows = {15, 29}
    key = book.page("Key")
    for row, (fill, word) in enumerate(
        (
            (GREEN, "fine"),
            (YELLOW, "so-so, would still use it"),
            (RED, "bad"),
            (GREY, "cannot be looked at (tube / pan)"),
        ),
        2,
    ):
        key.put(row, 1, fill=fill)
        key.put(row, 2, word)
        key.leave_row(row, "says what a colour means")
    key.put(1, 1, "colours")
    key.put(6, 2, "white = not looked at yet")
    key.leave(1, 1, "the title of the key")
    key.leave(6, 2, "says what an empty white cell means")
    return book


def _lit(rng: Random, page: Page, row: int, thing: Thing) -> None:
    seen = thing.day + timedelta(days=3)
    piece = Piece(thing.maker, thing.paint, thing.format, "", thing.lot, tester="OV", tested=seen.isoformat())
    for column, value in enumerate(
        (thing.maker, thing.paint, thing.format, thing.lot or None, rng.randrange(3, 10)), 1
    ):
        page.put(row, column, value)
    page.put(row, 12, round(thing.cost, 2))
    page.put(row, 13, seen, shown="dd/mm/yyyy")
    if row in (15, 29):
        page.put(row, 14, "sent back unopened")
        for column in range(6, 12):
            page.put(row, column, fill=YELLOW)
        page.leave_row(row, "the row is hidden: sent back unopened", piece)
        return
    page.say(row, 2, "piece", piece)
    page.leave(row, 5, "the column is hidden: a score of an older way of marking", piece, looked_at="Old score")
    page.leave(row, 12, "the column is hidden: private", piece, looked_at="Paid")
    level = {
        6: 4 * thing.cracked,
        7: 4 * thing.wrapper,
        8: 4 * thing.dried,
        9: thing.turns / 6,
        10: thing.froth,
        11: thing.weak,
    }
    for column, height in level.items():
        test = page.cells[1, column].value
        if (column in (6, 7) and thing.tube) or (column == 8 and not thing.tube):
            page.put(row, column, fill=GREY)
            page.leave(row, column, "grey: cannot be looked at in this format", piece, looked_at=test)
            continue
        if rng.random() < 0.05:
            page.leave(row, column, "white: not looked at yet", piece, looked_at=test)
            continue
        fill = GREEN if height < 1.6 else YELLOW if height < 2.9 else rng.choice([RED, RED, DARK])
        text = "!!" if fill == DARK and rng.random() < 0.5 else None
        page.put(row, column, text, fill=fill)
        page.say(
            row,
            column,
            "result",
            piece,
            looked_at=test,
            means=MEANS[fill],
            worse="towards red",
            scale="green fine, yellow so-so, red bad",
            value=f"[fill {fill}]{' ' + text if text else ''}",
        )
    if row % 8 == 0:
        page.put(row, 14, "looked at by lamp", comment="the bulb was the yellow one")
        page.say(row, 14, "note", piece, means="looked at by lamp")
        page.say(
            row, 14, "note", piece, value="[comment] the bulb was the yellow one", means="the bulb was the yellow one"
        )


def write() -> list[Book]:
    """Write the three."""
    books = [grid(), shelf(), lights()]
    for book in books:
        book.write_xlsx()
    return books
