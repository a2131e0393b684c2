"""The sheets that are handed on by a spreadsheet as delimited text."""

from datetime import date, timedelta
from random import Random

from tests.sheets.book import Book, Page, Piece, of
from tests.sheets.keepers import ARRIVALS, ESSAIS, WERKSTATT
from tests.sheets.stock import Thing, stock

NOT_OPENED = "the parcel is not opened yet: an empty cell is no answer in this row"


def _slashed(day) -> str:
    return f"{day.day}/{day.month}/{day:%y}"


def arrivals() -> Book:
    """Ticks made at the kitchen table as parcels are opened; an empty cell means looked at and fine."""
    rng = Random(1)
    book = Book("01-arrivals-ticks.csv", ARRIVALS)
    page = book.page()
    page.head(
        1, "No", "Maker", "Colour", "Type", "Batch", "Arrived", "Cracked?", "Wrapper stuck", "Loose", "Dried up",
        "Leaking", "Mould", "Batch no. present", "Comment",
    )  # fmt: skip
    things = stock(rng, 58, date(2025, 1, 9), 260)
    counts = dict.fromkeys(range(7, 13), 0)
    for row, thing in enumerate(things, 2):
        _arrived(rng, page, row, thing, things[row - 3].day if row > 2 else None, counts)
    end = len(things) + 2
    page.put(end, 1, "x's")
    for column, count in counts.items():
        page.put(end, column, count)
    page.leave_row(end, "a count of the marks above, not a piece")
    return book


def _arrived(rng: Random, page: Page, row: int, thing: Thing, before, counts: dict[int, int]) -> None:
    number = row - 1
    form = {"half pan": "half", "full pan": "full"}.get(thing.format, f"tube {thing.ml:g}")
    piece = Piece(
        thing.maker, thing.paint, thing.format, f"{thing.ml:g} ml" if thing.tube else "", thing.lot, str(number),
        thing.day.isoformat(), tester="OV", tested=thing.day.isoformat(),
    )  # fmt: skip
    page.put(row, 1, number)
    page.put(row, 2, thing.maker if number != 17 else f"{thing.maker} ")
    page.put(row, 3, thing.paint)
    page.put(row, 4, form)
    page.put(row, 5, thing.lot or None)
    page.put(row, 6, '"' if before == thing.day and row % 3 else _slashed(thing.day))
    page.say(row, 3, "piece", piece)
    if number in (41, 42, 55):
        page.put(row, 14, "still sealed, not opened yet")
        for column in range(7, 13):
            page.leave(row, column, NOT_OPENED, piece, looked_at=page.cells[1, column].value)
        page.leave(row, 14, NOT_OPENED, piece)
        return
    loose, mould = not thing.tube and rng.random() < 0.1, rng.random() < 0.02 or number == 33
    pans, tubes = not thing.tube, thing.tube
    looked = ((7, thing.cracked, pans), (8, thing.wrapper, pans), (9, loose, pans), (10, thing.dried, tubes),
              (11, thing.leak, tubes), (12, mould, True))  # fmt: skip
    for column, found, applies in looked:
        mark, means = _tick(rng, number, column, found, applies)
        page.put(row, column, mark)
        if not applies:
            page.leave(row, column, "does not apply to this format", piece, looked_at=page.cells[1, column].value)
            continue
        counts[column] += found and mark not in ("?", "(x)")
        page.say(
            row,
            column,
            "result",
            piece,
            looked_at=page.cells[1, column].value,
            means=means,
            worse="the mark says",
            scale="empty or no = not found; (x) = a little; x or yes = found; ? = not sure",
        )
    page.put(row, 13, "yes" if thing.lot else "no")
    page.say(row, 13, "result", piece, looked_at="Batch no. present", worse="the mark says",
             means="found: good" if thing.lot else "not found: a fault", scale="yes = good; no = fault")  # fmt: skip
    if note := {
        4: "box dented, not the maker's doing",
        12: "IMG_0412.jpg",
        29: "returned 2/6",
        33: "in a bag, don't sniff!",
    }.get(number):
        page.put(row, 14, note)
        page.say(row, 14, "note", piece, means=note, photo=note if note.startswith("IMG") else "")


def _tick(rng: Random, number: int, column: int, found: bool, applies: bool) -> tuple[str | None, str]:
    """Return the mark for a check, in yes and no in the first weeks and in crosses afterwards."""
    if not applies:
        return "-", ""
    if number in (38, 50) and column == 12:
        return "?", "not sure"
    if number <= 7:
        return ("yes", "found: a fault") if found else ("no", "not found: good")
    if not found:
        return None, "not found: good"
    mark = rng.choice(["x", "(x)", "X", "(x)", "x "])
    return mark, "found a little: a small fault" if mark == "(x)" else "found: a fault"


FROTH = {0: ("kein", "no froth"), 1: ("wenig", "little froth"), 2: ("mäßig", "moderate froth"),
         3: ("mäßig", "moderate froth"), 4: ("stark", "strong froth"), 5: ("stark", "strong froth")}  # fmt: skip
GRAIN = ("nein", "no grain"), ("leicht", "slight grain"), ("ja", "grain"), ("stark", "strong grain")
COVER = {"PY35": "deckend", "PR101": "deckend", "PBk9": "deckend", "PY43": "halbdeckend", "PB35": "halbdeckend",
         "PR254": "halbdeckend", "PBr7": "halbdeckend", "PG23": "halbdeckend"}  # fmt: skip
COVERS = {"deckend": "opaque", "halbdeckend": "half opaque", "lasierend": "transparent"}


def werkstatt() -> Book:
    """School marks from a German workshop, where 1 is best: semicolons, cp1252, decimal commas."""
    rng = Random(2)
    book = Book("02-werkstatt-noten.csv", WERKSTATT)
    page = book.page()
    page.head(
        1,
        "Nr.",
        "Hersteller",
        "Farbton",
        "Pigment",
        "Gebinde",
        "Inhalt",
        "Charge",
        "gekauft am",
        "Preis",
        "Anlösen (Note)",
        "Schaum",
        "Deckkraft",
        "Körnung",
        "Ergiebigkeit (Note)",
        "geprüft am",
        "Prüfer",
        "Bemerkung",
    )
    for row, thing in enumerate(stock(rng, 44, date(2024, 11, 5), 300), 2):
        _geprueft(rng, page, row, thing)
    return book


def _geprueft(rng: Random, page: Page, row: int, thing: Thing) -> None:
    form = {"half pan": rng.choice(["½ Näpfchen", "1/2 Napf", "½ Näpfchen"]), "full pan": "Näpfchen"}.get(
        thing.format, "Tube"
    )
    size = f"{thing.ml:g}".replace(".", ",") + " ml" if thing.tube else "-"
    francs = row % 11 == 0
    price = f"{thing.cost:.2f}"
    shown = "SFr. " + price if francs else price.replace(".", ",") + (" €" if row % 4 else "")
    day, tested = thing.day, thing.day + timedelta(days=rng.randrange(4, 30))
    vague = row == 23
    bought = f"{day:%Y-%m}" if vague else day.isoformat()
    piece = Piece(
        thing.maker,
        thing.names[1],
        thing.format,
        size.replace(",", ".") if thing.tube else "",
        thing.lot,
        str(row - 1),
        bought,
        price,
        "CHF" if francs else "EUR",
        rng.choice(["OV", "OV", "HB"]),
        tested.isoformat(),
    )
    for column, value in enumerate(
        (row - 1, thing.maker, thing.names[1], _pigment(rng, thing.pigment), form, size, thing.lot or "keine",
         f"{MONTHS_DE[day.month - 1]} {day:%y}" if vague else f"{day:%d.%m.%y}", shown), 1):  # fmt: skip
        page.put(row, column, value)
    page.say(row, 3, "piece", piece)
    page.say(row, 4, "label", piece, looked_at="Pigment", means=thing.pigment)
    page.say(row, 9, "price", piece, looked_at="Preis")
    if row in (19, 31):
        page.put(row, 17, "noch nicht geprüft")
        page.say(row, 17, "note", of(piece, tested="", tester=""), means="not tested yet")
        return
    mark = rng.choice(["n.g.", "n. g."]) if row % 13 == 0 else None
    note, means = _note(thing.turns)
    level = min(3, round(thing.grain / 1.6))
    cover = COVER.get(thing.pigment, "lasierend")
    strength, strong = _note(4 + thing.weak * 8)
    school = "school mark: 1 best to 6 worst, + a third better, - a third worse, 2-3 halfway"
    for column, value, told, scale, worse in (
        (10, mark or note, means, school, "higher"),
        (
            11,
            FROTH[round(thing.froth)][0],
            FROTH[round(thing.froth)][1],
            "kein, wenig, mäßig, stark",
            "towards stark",
        ),
        (12, cover, COVERS[cover], "lasierend, halbdeckend, deckend", "neither: a trait"),
        (13, GRAIN[level][0], GRAIN[level][1], "nein, leicht, ja, stark", "neither: a trait"),
        (14, strength, strong, school, "higher"),
    ):
        page.put(row, column, value)
        looked = page.cells[1, column].value
        if column == 10 and mark:
            page.leave(row, column, "nicht geprüft: not tested", piece, looked_at=looked)
        else:
            page.say(row, column, "result", piece, looked_at=looked, means=told, scale=scale, worse=worse)
    page.put(row, 15, f"{tested.day}.{tested.month}.{tested:%y}")
    page.put(row, 16, piece.tester)
    if row % 9 == 0:
        page.put(
            row, 17, "Tube verklebt; Deckel unter heißem Wasser" if thing.tube else "Rand gewölbt, „Honig“ am Papier"
        )
        page.say(
            row,
            17,
            "note",
            piece,
            means="cap stuck; came off under hot water" if thing.tube else "domed rim, syrup on the wrapper",
        )


MONTHS_DE = "Jan", "Feb", "März", "April", "Mai", "Juni", "Juli", "Aug", "Sept", "Okt", "Nov", "Dez"


def _pigment(rng: Random, name: str) -> str:
    letters = name.rstrip("0123456789:")
    digits = name[len(letters) :]
    return rng.choice([name, name, f"{letters} {digits}", f"{letters}-{digits}"])


def _note(turns: float) -> tuple[str, str]:
    """Return a school mark for so many turns, and what it says as a number."""
    marks = (
        ("1", "1"),
        ("1-", "1.3"),
        ("2+", "1.7"),
        ("2", "2"),
        ("2-3", "2.5"),
        ("3", "3"),
        ("3-", "3.3"),
        ("4", "4"),
        ("4-", "4.3"),
        ("5", "5"),
    )
    return marks[min(9, int(max(0.0, turns - 3) / 3))]


WORDS_FR = (
    ("nulle", "none"),
    ("faible", "weak"),
    ("moyenne", "medium"),
    ("forte", "strong"),
    ("très forte", "very strong"),
)
TESTS_FR = {
    "Remouillage (tours)": ("turns of the brush until it is charged", "higher"),
    "Mousse": ("nulle, faible, moyenne, forte, très forte", "towards très forte"),
    "Granulation": ("0 flat to 5 beads", "neither: a trait"),
    "Pouvoir colorant": ("share of the strength of the others of this colour", "lower"),
    "Bulles": ("bubbles counted after 10 s", "higher"),
}


def essais() -> Book:
    """One line a test from a French studio, as a spreadsheet's Unicode text: UTF-16 and tabs."""
    rng = Random(3)
    book = Book("03-essais-longs.csv", ESSAIS)
    page = book.page()
    page.head(
        1,
        "Date",
        "Fabricant",
        "Couleur",
        "Présentation",
        "Contenance",
        "Lot",
        "Essai",
        "Résultat",
        "Par",
        "Photo",
        "Remarque",
    )
    things, row, shot = stock(rng, 22, date(2025, 2, 3), 120), 2, 310
    for number, thing in enumerate(things, 1):
        day = thing.day + timedelta(days=6)
        tests = rng.sample(list(TESTS_FR), 5 if number % 4 else 3)
        for place, test in enumerate([*tests, "Remouillage (tours)"] if number in (5, 14) else tests):
            again = place == len(tests)
            shot += 1
            _essai(
                rng, page, row, thing, test, (day + timedelta(days=2 * again), place > 0 and not again, shot, again)
            )
            row += 1
    return book


def _essai(rng: Random, page: Page, row: int, thing: Thing, test: str, told: tuple) -> None:
    day, follows, shot, again = told
    forms = {"tube": "tube", "half pan": "1/2 godet", "full pan": "godet"}
    value, means = _mesure(rng, thing, test)
    size = f"{thing.ml:g}".replace(".", ",") + " ml"
    tester = "TL" if shot % 5 == 0 else "OV"
    photo = f"DSC0{shot}.JPG" if shot % 6 == 0 else ""
    piece = Piece(
        thing.maker,
        thing.names[2],
        thing.format,
        f"{thing.ml:g} ml",
        thing.lot,
        "",
        tester=tester,
        tested=day.isoformat(),
    )
    line = (f"{day:%d/%m/%Y}" if not follows else "id.", "id." if follows else thing.maker, thing.names[2],
            forms[thing.format], size, thing.lot or "s/n", test, value, tester, photo, "")  # fmt: skip
    for column, one in enumerate(line, 1):
        page.put(row, column, one or None)
    if not follows and not again:
        page.say(row, 3, "piece", piece)
    scale, worse = TESTS_FR[test]
    if value == "n.e.":
        page.leave(row, 8, "non essayé: not tested", piece, looked_at=test)
    else:
        page.say(row, 8, "result", piece, looked_at=test, means=means, scale=scale, worse=worse, photo=photo)
    if again:
        page.put(row, 11, "refait, pinceau savonneux la 1re fois : la 1re ligne ne compte pas")
        page.say(
            row,
            11,
            "note",
            piece,
            means="done again, soap in the brush the first time: the first line does not count",
        )
        first = next(one for one in page.book.truth if one["kind"] == "result" and one["looked_at"] == test
                     and (one["maker"], one["paint"], one["lot"], one["format"]) ==
                     (thing.maker, thing.names[2], thing.lot, thing.format))  # fmt: skip
        first |= {"kind": "left out", "left_out": f"done again in row {row}, which says that this one does not count"}


def _mesure(rng: Random, thing: Thing, test: str) -> tuple[str, str]:
    if test == "Remouillage (tours)":
        return ("> 60", "more than 60 turns") if thing.turns > 26 else (str(thing.turns), str(thing.turns))
    if test == "Mousse":
        return WORDS_FR[min(4, round(thing.froth))]
    if test == "Granulation":
        return f"{thing.grain:g}".replace(".", ","), f"{thing.grain:g}"
    if test == "Bulles":
        count = max(0, round(rng.gauss(2 + thing.froth, 2)))
        return ("n.e.", "") if count > 5 else (str(count), str(count))
    ratio = f"{1.1 - thing.weak * 0.13:.2f}"
    return ratio.replace(".", ","), ratio


def write() -> list[Book]:
    """Write the three."""
    books = [arrivals(), werkstatt(), essais()]
    books[0].write_text("utf-8-sig", ",")
    books[1].write_text("cp1252", ";")
    books[2].write_text("utf-16-le", "\t", before="\ufeff")
    return books
