"""What each column of an exchange folder means, for whoever has nothing but the folder."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from qcledger.records import TABLES, Entry

ENTRIES: Final = "entries"
"""The table of entries, beside those of `records.TABLES`."""

EVERYWHERE: Final[Mapping[str, str]] = MappingProxyType({
    "id": "key of the row",
    "name": "its name as it was typed",
    "note": "what the tester wrote",
    "reason": "why",
    "by": "who did it",
    "on": "the day",
    "at": "when",
    "format": "one of the formats that a rubric declares",
})  # fmt: skip
"""Columns that mean the same in every table that `MEANS` says nothing else of."""

MEANS: Final[Mapping[str, Mapping[str, str]]] = MappingProxyType({
    "daybook": {"letters": "begin the stickers of its tester", "tester": "the tester's name"},
    "zone": {"name": "IANA name of the zone"},
    "import": {"name": "what the sheet or folder is called", "sha256": "of its bytes", "rows": "how many it had"},
    "range": {"maker": "whose line it is"},
    "paint": {
        "maker": "whose paint it is", "number": "its number at the maker", "range": "the line it belongs to",
        "price_group": "what the trade calls its series",
    },
    "seller": {"name": "as in `seller` of parcel.csv", "country": "ISO 3166-1 code"},
    "same_as": {
        "kind": "says that `subject` and `other` are one, are not, or that `subject` is called `name` now",
        "subject_table": "table of both", "subject": "id of a row", "other": "id of the other row",
        "name": "what it is called now", "undone": "yes: it decides nothing any more",
    },
    "label_version": {
        "paint": "whose label it is", "seen_on": "from this day on", "index_names": "Colour Index names as printed",
        "constitution_numbers": "Colour Index constitution numbers", "chemical_names": "as printed",
        "cas_numbers": "as printed", "claims": "what it promises", "warnings": "hazard words as printed",
        "printed": "everything else, word for word", "format": "what it was printed on; empty: on each",
        "source": "where it was read", "facts": "what else a rubric asks for, `what: as printed`",
    },
    "lot": {"paint": "of which paint", "code": "batch code as printed"},
    "parcel": {
        "bought_on": "day of the order", "seller": "the seller's name", "currency": "ISO 4217 code",
        "received_on": "day it came; empty where not noted", "shipping_minor": "postage in smallest coins",
        "tax_included": "whether the prices hold tax", "discount_minor": "discount in smallest coins",
        "tax_pct": "tax, percent",
    },
    "specimen": {
        "sticker": "letters and a count on the piece itself", "paint": "what is in it", "parcel": "how it came",
        "lot": "its batch; empty where none is printed",
        "label_version": "its label; empty: the latest of its paint that was not taken back",
        "source": "bought or given; gifts count nowhere", "why": "why it was bought", "state": "what became of it",
        "opened_on": "day it was opened", "nominal_ml": "millilitres as printed", "weight_g": "grams, weighed full",
        "price_minor": "price in smallest coins of the parcel's currency", "pack": "the set it was sold in",
        "filled": "date of filling as printed", "advised": "whether this program advised the purchase",
    },
    "preparation": {"specimen": "of which piece", "kind": "how it came to the test"},
    "rubric_text": {"id": "SHA-256 of the text", "key": "name of the scale file", "text": "the file itself, YAML"},
    "comparison": {
        "title": "its title", "question": "what it asks", "started_on": "first day", "rubrics": "ids of rubric_text",
        "paints": "ids of paint", "reference_paper": "the paper that counts; empty: each", "closed_on": "last day",
        "conditions": "what is held fixed",
    },
    "session": {
        "code": "as S03", "comparison": "what it belongs to", "tester": "who worked", "blinding": "how",
        "started_at": "when it began", "closed_at": "when codes were opened; empty while it is at work",
        "criteria": "keys of what is judged; empty: everything", "seed": "rebuilds the order",
        "plan": "what the order was asked to do",
    },
    "stage": {
        "session": "of which session", "name": "as after 24 h", "due_at": "when it is due", "started_at": "when",
        "ended_at": "when done", "tester": "who worked", "water": "which", "brush": "which", "lamp": "which",
        "lux": "light on the sheet, lux", "temperature_c": "degrees Celsius",
        "humidity_pct": "relative humidity, percent",
    },
    "condition": {"stage": "of which stage", "name": "what was noted", "value": "its value", "by": "who noted it"},
    "sheet": {"session": "of which session", "number": "from 1", "paper": "which", "paper_lot": "its batch"},
    "run_row": {
        "session": "of which session", "sheet": "on which sheet", "position": "place on it, from 1",
        "specimen": "what is tested there", "preparation": "how it was prepared", "code": "the blind code",
        "role": "what it is tested for",
    },
    "trial": {
        "specimen": "what was tested", "occasion": "where", "at": "when it began", "session": "empty at unpacking",
        "mixed_with": "the other piece of a mix", "run_row": "its place on the run sheet",
    },
    "observation": {
        "trial": "of which trial", "criterion": "key in the rubric", "rubric": "the scale it was graded with",
        "tester": "who saw it", "grade": "fault grade, 0 none to 5 worst", "choice": "the word chosen",
        "reading": "measured value, in the unit the rubric names",
        "censored": "above, below: the value lies beyond the reading", "not_testable": "why there is no result",
        "severity": "how bad it is, where the tester says so", "stage": "when it was judged",
        "supersedes": "the observation it stands in place of", "reason": "why it supersedes that",
    },
    "photo": {
        "sha256": "of its bytes; photos/SHA256.KIND is the file", "kind": "ending of the file", "width": "pixels",
        "height": "pixels", "taken_at": "by the camera's clock", "specimen": "what it shows",
        "observation": "what it shows", "label_version": "the label it shows", "file_name": "as it was filed",
        "caption": "what it shows, in words",
    },
    "decision": {
        "kind": "what was decided", "subject_table": "about a row of this table", "subject": "its id",
        "how": "what a retest is to do",
    },
    "reader_note": {
        "maker": "of whose paint", "told_on": "day it was told", "fault": "key of a criterion", "paint": "which",
        "lot_code": "batch code as told", "seller": "where it was bought",
    },
    "question": {
        "maker": "who was asked", "asked_on": "day of the letter", "by": "who asked", "answer_by": "last day",
        "findings": "keys of the findings", "sentences": "what was asked, word for word",
    },
    "maker_answer": {
        "maker": "who answered", "asked_on": "day of the question", "asked": "what was asked",
        "answered_on": "day it came; empty: none came", "answer": "what may be printed, uncut",
        "question": "the question", "kind": "what it comes to", "private": "what stays with the tester",
        "lot": "batch from which on something changed", "changed_on": "day from which on it changed",
    },
    "publication": {
        "number": "of the edition, from 1", "title": "its title", "by": "who signs it", "address": "where it is",
        "disclosed": "what it says of its maker", "closing": "each daybook's closing hash", "sha256": "of the page",
    },
    "statement": {
        "publication": "in which edition", "finding": "key of the finding", "standing": "how firmly it was said",
        "extent": "how far it reaches", "sentence": "the words", "maker": "about whom", "change": "since then",
    },
    "card": {
        "code": "number of the card", "planned_on": "day", "made_on": "day", "specimens": "ids, in their order",
    },
    "exchange_rate": {
        "base": "ISO 4217 code", "quote": "ISO 4217 code", "rate": "one unit of `base` bought so many of `quote`",
        "source": "who says so",
    },
    "redaction": {"entry": "hash of the entry it emptied", "photo": "SHA-256 of the photo it took out"},
    ENTRIES: {
        "daybook": "whose entry it is", "seq": "its number in the daybook, from 1", "prev": "hash of the one before",
        "kind": "table of the row it writes", "subject": "id of that row", "at": "when it was written",
        "salt": "hashed with the body", "body": "the whole row, and why it was written, as JSON",
        "body_hash": "SHA-256 of salt and body", "hash": "SHA-256 of the rest of the line",
        "replaces": "hashes of the entries it stands in place of",
    },
})  # fmt: skip
"""What a column means, by table."""

ROWS: Final[Mapping[str, type]] = MappingProxyType({**TABLES, ENTRIES: Entry})
"""Every table of a folder with the class of its rows."""


def meaning(table: str, column: str) -> str:
    """Return what a column of a table means; raises KeyError where nobody has said so."""
    return MEANS.get(table, {}).get(column) or EVERYWHERE[column]
