"""The workbooks in which one line is not one piece: blocks for each format, and sheets joined by a number."""

from datetime import date, timedelta
from random import Random

from tests.sheets.book import Book, Page, Piece, of
from tests.sheets.in_workbooks import FIVE
from tests.sheets.keepers import JOINED, TWO_FORMATS
from tests.sheets.stock import MAKERS, PAINTS, Thing, bought, held, stock

BLOCKS = {
    "Tube": (4, ("ml", "Price", "Batch", "Opened", "Dry?", "Leaks?", "Rewet 0-5", "Froth 0-5")),
    "Half pan": (13, ("Price", "Batch", "Opened", "Cracked 0-5", "Wrapper 0-5", "Rewet 0-5", "Froth 0-5")),
    "Dot card": (20, ("Rewet 0-5",)),
}


def two_formats() -> Book:
    """One line a colour, and the same headings again for the tube, the half pan and the dot card."""
    rng = Random(8)
    book = Book("08-tube-and-pan.xlsx", TWO_FORMATS)
    page = book.page("Colours")
    page.head(2, "Maker", "Colour", "Pigment")
    for name, (first, heads) in BLOCKS.items():
        page.put(1, first, name, bold=True)
        if len(heads) > 1:
            page.span(1, first, 1, len(heads) + (name == "Tube"))
        for column, head in enumerate(heads, first):
            page.put(2, column, head, bold=True)
    page.put(2, 12, "per ml", bold=True)
    row = 3
    for maker in MAKERS[:8]:
        for paint in sorted(rng.sample(range(len(PAINTS)), 4)):
            page.put(row, 1, maker)
            page.put(row, 2, PAINTS[paint][0])
            page.put(row, 3, PAINTS[paint][3])
            _blocks(rng, page, row, (maker, paint))
            row += 1
    page.freeze = "D3"
    return book


def _blocks(rng: Random, page: Page, row: int, told: tuple[str, int]) -> None:
    maker, paint = told
    day = date(2025, 4, 1) + timedelta(days=rng.randrange(150))
    thing, pan = bought(rng, maker, paint, "tube", day), bought(rng, maker, paint, "half pan", day)
    has = rng.choice([(1, 1, 1), (1, 1, 0), (1, 0, 0), (0, 1, 0), (0, 1, 1), (1, 1, 0)])
    opened = day + timedelta(days=2)
    if has[0]:
        piece = _piece(thing, opened, f"{thing.ml:g} ml")
        page.put(row, 4, thing.ml)
        page.put(row, 5, round(thing.cost, 2), shown="[$£-809]0.00")
        page.put(row, 12, round(thing.cost, 2) / thing.ml, formula=f"E{row}/D{row}", shown="0.000")
        page.say(row, 2, "piece", piece)
        page.leave(row, 12, "price over volume, computed by the sheet", piece, looked_at="per ml")
        stiff = 5 if thing.dried else held(thing.turns / 7)
        _block(page, row, 6, piece, [("Dry?", "y" if thing.dried else "n"), ("Leaks?", "y" if thing.leak else "n"),
                                     ("Rewet 0-5", stiff), ("Froth 0-5", thing.froth)], opened)  # fmt: skip
    if has[1]:
        piece = _piece(pan, opened, "")
        page.put(row, 13, round(pan.cost, 2), shown="[$£-809]0.00")
        page.say(row, 2, "piece", piece)
        marks = [("Cracked 0-5", 3 if pan.cracked else 0), ("Wrapper 0-5", 3 if pan.wrapper else 0),
                 ("Rewet 0-5", held(pan.turns / 6)), ("Froth 0-5", pan.froth)]  # fmt: skip
        _block(page, row, 14, piece, marks, opened)
    if has[2]:
        page.put(row, 20, held(thing.turns / 8))
        page.leave(row, 20, "a dot card is a sample: not comparable with what is sold",
                   of(_piece(thing, opened, ""), format="dot card", lot=""), looked_at="Rewet 0-5")  # fmt: skip
    first = next(one for one, there in ((thing, has[0]), (pan, has[1])) if there)
    page.say(row, 3, "label", of(_piece(first, opened, ""), format="", lot=""), looked_at="Pigment",
             means=f"{page.cells[row, 3].value}, for every format of the row")  # fmt: skip


def _piece(thing: Thing, opened: date, size: str) -> Piece:
    return Piece(
        thing.maker,
        thing.paint,
        thing.format,
        size,
        thing.lot,
        "",
        opened.isoformat(),
        f"{thing.cost:.2f}",
        "GBP",
        "OV",
        opened.isoformat(),
    )


def _block(page: Page, row: int, first: int, piece: Piece, marks: list[tuple[str, object]], opened: date) -> None:
    """Write the batch, the day and the marks of one format."""
    page.say(row, first - 1, "price", of(piece, bought=""), looked_at="Price")
    page.put(row, first, piece.lot or None)
    page.put(row, first + 1, opened, shown="dd/mm/yy")
    for column, (test, mark) in enumerate(marks, first + 2):
        page.put(row, column, mark)
        words = isinstance(mark, str)
        means = ("found: a fault" if mark == "y" else "not found") if words else f"{mark:g}"
        page.say(row, column, "result", piece, looked_at=test, means=means, worse="y" if words else "higher",
                 scale="y or n" if words else FIVE)  # fmt: skip


SHOPS = {
    "Brindlemoor": ("England", "GBP"),
    "Velleroy": ("Eurozone", "EUR"),
    "Karsholt": ("Switzerland", "CHF"),
    "Tannisbeck": ("Canada", "CAD"),
}
MARKS = {
    "rewet": ("turns, counted", "higher"),
    "bubbles": ("counted after 10 s", "higher"),
    "strength": ("share of the others' strength", "lower"),
    "wrapper": ("0, 1, 3 or 5; 5 worst", "higher"),
    "granulation": ("0 to 5", "neither: a trait"),
}


def joined() -> Book:
    """Join what was bought, what was seen and where the shops are: three sheets, by a number and a name."""
    rng = Random(9)
    book = Book("09-three-sheets.xlsx", JOINED)
    page = book.page("Bought")
    page.head(1, "No", "Date", "Shop", "Maker", "Colour", "Form", "Size", "Batch", "Qty", "Paid", "Each")
    pieces: dict[int, tuple[Thing, Piece]] = {}
    for row, thing in enumerate(stock(rng, 40, date(2025, 1, 15), 230), 2):
        pieces[row - 1] = thing, _bought(rng, page, row, thing)
    page.put(42, 9, 40)
    page.put(42, 10, sum(page.cells[row, 10].value for row in range(2, 42)), formula="SUM(J2:J41)", shown="0.00")
    page.leave_row(42, "a sum over several kinds of money, means nothing")
    tests = book.page("Tests")
    tests.head(1, "No.", "Test", "Result", "By", "On", "Photo")
    row = 2
    for number, (thing, piece) in pieces.items():
        for test in rng.sample(list(MARKS), 3):
            if test != "wrapper" or not thing.tube:
                _test(rng, tests, row, (number, thing, piece, test))
                row += 1
    for number in (57, 58):
        for column, one in enumerate((f"{number:03}", "rewet", 9, "OV"), 1):
            tests.put(row, column, one)
        tests.leave_row(row, f"no line of Bought has the number {number}")
        row += 1
    shops = book.page("Shops")
    shops.head(1, "Shop", "Country", "Money")
    for row, (shop, (country, money)) in enumerate(SHOPS.items(), 2):
        shops.head(row, shop, country, money)
        shops.leave_row(row, "says in which money this shop's prices are")
    scratch = book.page("scratch")
    for row, text in enumerate(("ask Velleroy about batch codes", "> order more cold-pressed", "3 x 1.10 ?"), 2):
        scratch.put(row, 2, text)
        scratch.leave(row, 2, "scribbling: nothing that belongs to a piece")
    return book


def _bought(rng: Random, page: Page, row: int, thing: Thing) -> Piece:
    shop = list(SHOPS)[thing.day.toordinal() % 4]
    quantity = 3 if row % 9 == 0 else 1
    each = 1.1 if row == 9 else round(thing.cost, 2)
    form = {"half pan": "1/2 pan", "full pan": "full pan"}.get(thing.format, "tube")
    piece = Piece(
        thing.maker,
        thing.paint,
        thing.format,
        f"{thing.ml:g} ml",
        thing.lot,
        str(row - 1),
        thing.day.isoformat(),
        f"{each:.2f}",
        SHOPS[shop][1],
    )
    for column, value in enumerate((row - 1, thing.day, shop, thing.maker, thing.paint, form, f"{thing.ml:g} ml",
                                    thing.lot or None, quantity), 1):  # fmt: skip
        page.put(row, column, value, shown="dd/mm/yyyy" if column == 2 else "")
    paid = round(each * quantity, 2)
    page.put(row, 10, paid, shown="0.00")
    page.put(row, 11, paid / quantity, formula=f"J{row}/I{row}", shown="0.00")
    page.say(row, 5, "piece", piece, means=f"one of {quantity} alike was tested" if quantity > 1 else "")
    page.leave(row, 10, "what was paid for all of Qty; the price of one is in Each", piece, looked_at="Paid")
    page.say(row, 11, "price", piece, looked_at="Each", means="for one piece")
    return piece


def _test(rng: Random, page: Page, row: int, told: tuple[int, Thing, Piece, str]) -> None:
    number, thing, piece, test = told
    on, who = thing.day + timedelta(days=rng.randrange(4, 20)), "TL" if number % 6 == 0 else "OV"
    result = {
        "rewet": ">60" if thing.turns > 27 else thing.turns,
        "bubbles": max(0, round(rng.gauss(2 + thing.froth, 2))),
        "strength": round(1.1 - thing.weak * 0.13, 2),
        "wrapper": 3 if thing.wrapper else rng.choice([0, 0, 1]),
        "granulation": thing.grain,
    }[test]
    photo = f"s{number:03}_{test}.jpg" if row % 10 == 0 else ""
    said = rng.choice([test, test, test.capitalize()])
    for column, value in enumerate((f"{number:03}", said, result, who, on), 1):
        page.put(row, column, value, shown="dd/mm/yyyy" if column == 5 else "")
    if photo:
        page.put(row, 6, photo)
    scale, worse = MARKS[test]
    page.say(row, 3, "result", of(piece, tester=who, tested=on.isoformat()), looked_at=said, scale=scale, worse=worse,
             means="more than 60" if result == ">60" else f"{result:g}", photo=photo)  # fmt: skip


def write() -> list[Book]:
    """Write the two."""
    books = [two_formats(), joined()]
    for book in books:
        book.write_xlsx()
    return books
