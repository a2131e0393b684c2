"""The view as CSV: a line a statement, label, cell, lot and price, the same names for each; no cell is a formula."""

from collections.abc import Iterator

from qcledger.public.view import PublicView
from qcledger.report.rows import Row, Value
from qcledger.report.to_csv import table_csv

NAMES = (
    "what", "edition", "on", "id", "maker", "paint", "format", "lot", "criterion", "criterion_title", "standing",
    "extent", "tested", "faulty", "low", "high", "still_allowed", "lots", "without_code", "paints", "sellers",
    "bought_first", "bought_last", "tested_first", "tested_last", "gifts", "older_notes", "reader_notes", "open",
    "statements", "seen_on", "printed", "reference", "sentence", "further",
    "judged", "asked_and_answered", "changed", "size", "sold", "tax", "currency", "minor_digits", "priced",
    "low_price_minor", "high_price_minor", "low_per_ml_minor", "high_per_ml_minor",
)  # fmt: skip
"""The columns; an empty cell means that there is none, or that it is not public."""


def scorecard_csv(view: PublicView) -> str:
    """Return the view as CSV; rates are shares from 0 to 1, days are dates."""
    return table_csv([_line(view, row) for row in _rows(view)])


def _line(view: PublicView, row: Row) -> Row:
    known: dict[str, Value] = {"edition": view.edition.words, "on": view.edition.on, **row}
    return {name: known.get(name) for name in NAMES}


def _rows(view: PublicView) -> Iterator[Row]:
    for said in view.statements:
        yield {
            "what": "statement", "id": said.id, "maker": said.maker, "criterion": said.criterion,
            "criterion_title": said.criterion_title, "standing": "settled", "extent": str(said.extent),
            "tested": said.tested, "faulty": said.faulty, "low": said.low, "high": said.high, "lots": said.lots,
            "gifts": said.gifts, "older_notes": said.older_notes, "reader_notes": said.reader_notes,
            "sentence": said.sentence, "further": " ".join(said.further),
            "judged": " | ".join(said.judged), "changed": " ".join(said.changed),
            "asked_and_answered": " ".join(part for one in said.asked for part in (one.line, one.answer) if part),
        }  # fmt: skip
    for label in view.labels:
        yield {
            "what": "label", "id": label.id, "maker": label.maker, "paint": label.paint, "format": label.format,
            "seen_on": label.seen_on, "printed": " | ".join(label.printed), "reference": " | ".join(label.reference),
        }  # fmt: skip
    for cell in view.cells:
        yield {
            "what": "cell", "maker": cell.maker, "format": cell.format, "criterion": cell.criterion,
            "criterion_title": cell.criterion_title, "standing": str(cell.standing), "tested": cell.tested,
            "faulty": cell.faulty, "still_allowed": cell.still_allowed, "lots": cell.lots,
            "without_code": cell.without_code, "paints": cell.paints, "sellers": cell.sellers,
            "bought_first": cell.bought_first, "bought_last": cell.bought_last, "tested_first": cell.tested_first,
            "tested_last": cell.tested_last, "gifts": cell.gifts, "older_notes": cell.older_notes,
            "reader_notes": cell.reader_notes, "statements": " ".join(cell.statements), "sentence": cell.sentence,
        }  # fmt: skip
    for lot in view.lots:
        yield {
            "what": "lot", "id": lot.id, "maker": lot.maker, "paint": lot.paint, "format": lot.format,
            "lot": lot.code, "tested": lot.tested, "open": lot.open, "bought_first": lot.bought_first,
            "bought_last": lot.bought_last, "statements": " ".join(one.statement for one in lot.statements),
        }  # fmt: skip
    for maker in view.makers:
        for paid in maker.prices:
            yield {
                "what": "price", "maker": maker.name, "format": paid.format, "size": paid.nominal, "sold": paid.sold,
                "tax": paid.tax, "currency": paid.currency, "minor_digits": paid.minor_digits, "priced": paid.count,
                "low_price_minor": paid.low_minor, "high_price_minor": paid.high_minor,
                "low_per_ml_minor": paid.low_per_ml_minor, "high_per_ml_minor": paid.high_per_ml_minor,
            }  # fmt: skip
