"""The sheets that are typed up from paper: a notebook and receipts."""

from datetime import date
from random import Random

from tests.sheets.book import Book, Page, Piece
from tests.sheets.keepers import NOTEBOOK, RECEIPTS
from tests.sheets.stock import Thing, stock


def notebook() -> Book:
    """Type up a notebook: what was looked at stands in the middle of sentences, several facts to a cell."""
    rng = Random(11)
    book = Book("11-notebook.csv", NOTEBOOK)
    page = book.page()
    page.head(1, "date", "what", "notes", "pics")
    row, month = 2, ""
    for number, thing in enumerate(stock(rng, 40, date(2025, 3, 1), 200), 1):
        if (now := f"{thing.day:%B %Y}") != month:
            month = now
            page.put(row, 1, month)
            page.leave(row, 1, "a heading: says month and year of the lines below it")
            row += 1
        _noted(rng, page, row, number, thing)
        row += 1
    return book


def _noted(rng: Random, page: Page, row: int, number: int, thing: Thing) -> None:
    size = f"{thing.ml:g} ml" if thing.tube else ""
    lot = f" ({rng.choice(['lot', 'batch'])} {thing.lot})" if thing.lot else ""
    tester = "TL" if number % 7 == 0 else "OV"
    photo = f"P25{thing.day:%m%d}_{number:03}.jpg" if number % 3 == 0 else ""
    piece = Piece(
        thing.maker, thing.paint, thing.format, size, thing.lot, "", tester=tester, tested=thing.day.isoformat()
    )
    page.put(row, 1, f"{thing.day:%a} {thing.day.day}")
    page.put(row, 2, f"{thing.maker} {thing.paint}, {size + ' ' if size else ''}{thing.format}{lot}")
    page.say(row, 2, "piece", piece)
    parts = _sentences(rng, thing, number)
    if tester == "TL":
        parts.append(("left out", "TL looked, I wrote.", "", "", "", "says who looked; it is the tester of this row"))
    page.put(row, 3, ("\n" if number % 5 == 0 else " ").join(part[1] for part in parts))
    for kind, text, looked, means, worse, why in parts:
        page.say(row, 3, kind, piece, value=text, looked_at=looked, means=means, worse=worse, left_out=why, photo="")
    if photo:
        page.put(row, 4, photo)
        page.say(row, 4, "photo", piece, photo=photo)


def _sentences(rng: Random, thing: Thing, number: int) -> list[tuple[str, str, str, str, str, str]]:
    froth = ("No froth.", "A bit of froth, gone in 10 s.", "Froth ring, a minute.", "Froths badly, half the pan.")
    turns = f"Brush loaded after {thing.turns} turns."
    parts = [("result", turns, "turns until the brush is loaded", str(thing.turns), "higher", "")]
    level = min(3, round(thing.froth / 1.4))
    said = ("none", "a little, gone in 10 s", "a ring that stays a minute", "over half of the pan")
    parts.append(("result", froth[level], "froth", said[level], "more froth", ""))
    if thing.cracked:
        parts.insert(
            0,
            (
                "result",
                "Cracked right through but all in one place.",
                "cracked",
                "cracked through, stays in",
                "said",
                "",
            ),
        )
    if thing.wrapper:
        parts.insert(
            0,
            (
                "result",
                "Wrapper stuck, bits of paper on the face.",
                "wrapper stuck",
                "paper stays on the face",
                "said",
                "",
            ),
        )
    if thing.dried:
        parts.insert(0, ("result", "Tube rock hard, had to cut it.", "dried tube", "must be cut open", "said", ""))
    if thing.leak:
        parts.insert(0, ("result", "Leaked at the crimp, bag all sticky.", "leak", "wet outside", "said", ""))
    if thing.grain >= 3:
        parts.append(
            ("result", f"Grain about {thing.grain:g} of 5,", "grain", f"{thing.grain:g} of 5", "neither: a trait", "")
        )
        parts.append(("note", "lovely in the hollows.", "", "lovely in the hollows", "", ""))
    if number % 6 == 0:
        parts.append(
            (
                "left out",
                "Must ring the shop about the missing sponge.",
                "",
                "",
                "",
                "an errand, says nothing of the paint",
            )
        )
    if number % 8 == 3:
        parts.append(
            ("note", "Wet day, 71 % humidity.", "", "humidity 71 %: a condition of the tests of this row", "", "")
        )
    if rng.random() < 0.15:
        parts.append(
            (
                "left out",
                "Maybe weaker than the last one? look again.",
                "",
                "",
                "",
                "a question to oneself, not a result",
            )
        )
    return parts


SHOPS = {
    "Brindlemoor": ("£{}", "GBP"),
    "Velleroy": ("{} €", "EUR"),
    "Orquine": ("${}", "USD"),
    "Tannisbeck": ("${}", "CAD"),
    "Karsholt": ("Fr. {}", "CHF"),
}
ARRIVED = (
    ("ok", "nothing wrong"),
    ("cracked", "cracked: a fault"),
    ("dried out", "dried out: a fault"),
    ("leaked", "leaked: a fault"),
)


def receipts() -> Book:
    """Receipts typed in one below the other, each with postage, rebate and its sum; five kinds of money."""
    rng = Random(12)
    book = Book("12-receipts.csv", RECEIPTS)
    page = book.page()
    page.head(1, "Date", "Shop", "Item", "Size", "Qty", "Price", "Line total", "Batch", "Arrived how?", "Order no.")
    things, row, number, order = stock(rng, 60, date(2025, 1, 6), 270), 2, 4, 0
    while things:
        number, order = number + rng.randrange(1, 9), order + 1
        count = rng.randrange(3, 7)
        row = _receipt(rng, page, row, (number, tuple(SHOPS)[order * 2 % 5], things[:count]))
        things = things[count:]
    page.put(row, 3, "prices incl. VAT where there is any")
    page.leave_row(row, "a remark at the foot, not a piece")
    return book


def _receipt(rng: Random, page: Page, row: int, told: tuple[int, str, list[Thing]]) -> int:
    number, shop, things = told
    sign, money = SHOPS[shop]
    day, total = things[0].day, 0.0

    def shown(amount: float) -> str:
        text = f"{amount:.2f}"
        return sign.format(
            text.replace(".", ",") if money == "EUR" else text.replace(".00", ".-") if money == "CHF" else text
        )

    for place, thing in enumerate(things):
        quantity = 2 if rng.random() < 0.15 else 1
        forms = {"tube": f"{thing.ml:g}ml tube", "half pan": "1/2 pan", "full pan": "pan"}
        seen = ARRIVED[1 if thing.cracked else 2 if thing.dried else 3 if thing.leak else 0]
        piece = Piece(thing.maker, thing.paint, thing.format, f"{thing.ml:g} ml" if thing.tube else "", thing.lot, "",
                      day.isoformat(), f"{thing.cost:.2f}", money, "OV")  # fmt: skip
        line = (
            f"{day:%d/%m/%Y}" if place == 0 else None,
            shop if place == 0 else None,
            f"{thing.maker} {thing.paint}",
            forms[thing.format],
            quantity,
            shown(thing.cost),
            shown(thing.cost * quantity),
            thing.lot or "none",
            seen[0] if place or number % 2 else seen[0].upper(),
            f"A-{number:04}" if place == 0 else None,
        )
        for column, one in enumerate(line, 1):
            page.put(row, column, one)
        page.say(row, 3, "piece", piece, means=f"{quantity} pieces alike" if quantity > 1 else "")
        page.say(
            row, 6, "price", piece, looked_at="Price", means=f"for one piece of {quantity}" if quantity > 1 else ""
        )
        page.leave(row, 7, "price times quantity, said already", piece)
        page.say(row, 9, "result", piece, looked_at="Arrived how?", means=seen[1], worse="the word says")
        total += thing.cost * quantity
        row += 1
    if number % 3 == 0:
        page.put(row, 3, "rebate")
        page.put(row, 7, "-10 %")
        page.leave_row(row, "a rebate on the whole receipt: no price above it says it")
        total, row = total * 0.9, row + 1
    page.put(row, 3, "postage")
    page.put(row, 7, shown(4.5))
    page.leave_row(row, "postage, not a piece")
    page.put(row + 1, 3, f"TOTAL A-{number:04}")
    page.put(row + 1, 7, shown(total + 4.5))
    page.leave_row(row + 1, "the sum of a receipt, not a piece")
    return row + 2


def write() -> list[Book]:
    """Write the two."""
    books = [notebook(), receipts()]
    books[0].write_text("utf-8", ",", end="\n")
    books[1].write_text("utf-8-sig", ";", before="sep=;\r\n")
    return books
