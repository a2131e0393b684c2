"""The columns of the frames a notebook reads, and what each means; the guide shows the same lines."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

KINDS: Final[Mapping[str, frozenset[str]]] = MappingProxyType({
    "whole": frozenset({
        "specimens", "faulty", "lots", "lots_with_fault", "parcels_without_code", "paints", "paints_with_fault",
        "shared_by_makers", "peer_makers", "peer_specimens", "peer_faulty", "all_specimens", "all_faulty",
        "fair_fields_as_strong", "fair_fields", "stress_stands", "stress_checks", "stress_too_little", "sellers",
        "parcels", "comparisons_seen", "comparisons_looked", "parcels_seen", "parcels_looked", "gifts",
        "gifts_faulty", "older_notes", "older_notes_faulty", "in_void_sessions", "on_other_paper", "reader_notes",
        "planned", "planned_faulty", "to_confirm", "to_confirm_faulty", "because_of_note", "because_of_note_faulty",
        "explains", "price_minor", "specimens_with_label", "held_against", "photos",
    }),
    "number": frozenset({
        "rate", "wilson_low", "wilson_high", "lot_aware_low", "lot_aware_high", "still_allowed", "median_grade",
        "usual_rate", "pooled_rate", "pooled_low", "pooled_high", "pooled_excess", "pooled_excess_low",
        "pooled_excess_high", "chance_of_excess", "chance_of_ten_points", "chance_of_format", "chance_of_maker",
        "chance_of_pigment", "chance_of_paint", "chance_of_lot", "exchange_p", "grade", "reading", "nominal_ml",
        "weight_g", "median", "lowest", "highest",
    }),
    "yes or no": frozenset({"mixed", "void", "on_reference", "undried", "own_trial"}),
    "day": frozenset({
        "bought_first", "bought_last", "tested_first", "tested_last", "comparisons_since", "parcels_since", "day",
        "bought_on", "received_on", "opened_on", "label_since",
    }),
    "time": frozenset({"at", "trial_at"}),
})  # fmt: skip
"""What is no text: the columns by what they hold."""
NOT_TESTABLE: Final = "not_testable"
"""A number of specimens among the findings; yes or no of an observation."""


def kind_of(name: str, columns: Mapping[str, str]) -> str:
    """Return what a column of one of the frames holds."""
    if name == NOT_TESTABLE:
        return "yes or no" if columns is OBSERVATIONS else "whole"
    return next((kind for kind, names in KINDS.items() if name in names), "text")


def in_markdown(columns: Mapping[str, str]) -> str:
    """Return the columns of a frame as the table that the guide shows."""
    lines = (f"| `{name}` | {kind_of(name, columns)} | {means} |" for name, means in columns.items())
    return "\n".join(["| column | holds | meaning |", "|---|---|---|", *lines])


FINDINGS: Final[Mapping[str, str]] = MappingProxyType({
    "criterion": "key of the criterion in its rubric",
    "criterion_title": "its title",
    "severity": "critical, major or minor; empty where the rubric gives none",
    "maker": "the maker's name now; all spellings that count as one",
    "format": "one of the formats that a rubric declares",
    "specimens": "specimens held against the fault line",
    "faulty": "those with a fault",
    "lots": "lots, a parcel without a code counting as one",
    "lots_with_fault": "those with a faulty specimen",
    "parcels_without_code": "parcels without a batch code among the lots",
    "paints": "paints",
    "paints_with_fault": "those with a faulty specimen",
    "planned": "specimens bought as planned",
    "planned_faulty": "the faulty ones of them",
    "to_confirm": "specimens bought later to confirm",
    "to_confirm_faulty": "the faulty ones of them",
    "because_of_note": "specimens bought because of a reader's note",
    "because_of_note_faulty": "the faulty ones of them",
    "rate": "faulty over specimens, 0 to 1",
    "wilson_low": "lower end of the 95 % interval that takes each specimen by itself (Wilson)",
    "wilson_high": "upper end",
    "lot_aware_low": "lower end of the 95 % interval that knows that specimens of one lot are alike",
    "lot_aware_high": "upper end",
    "still_allowed": "the rate that specimens without any fault do not rule out",
    "median_grade": "median fault grade, 0 none to 5 worst",
    "not_testable": "specimens that could not be tested",
    "not_testable_because": "why not, with numbers",
    "standing": "none_found, open, checking, to_confirm or settled",
    "extent": "how far the fault reaches: pigment (or what else makes peers), format, maker, this maker's format, "
    "paint, lot, parcel, specimen",
    "points_to": "the extent it points to while it is open",
    "subject": "the extent in words",
    "statement": "name of what is to confirm or settled: rows with the same words here are one thing to say, once",
    "explains": "faulty specimens that this explains, of `faulty`",
    "exceptions": "claims beside it, each with how firmly it is said and how many faulty specimens it explains",
    "free_of": "what most other makers show and this one does not, where that is earned; else empty",
    "shared_by_makers": "1 where pigment or format explains it: it is no maker's own",
    "peer_makers": "other makers with the same pigments, or what else makes peers, in the same format",
    "peer_specimens": "their specimens",
    "peer_faulty": "the faulty ones of them",
    "all_specimens": "specimens of every maker",
    "all_faulty": "the faulty ones of them",
    "usual_rate": "the rate that is usual for this criterion and format",
    "pooled": "yes, no, or awaited: whether the pooled model has answered",
    "pooled_rate": "its mean of the rate",
    "pooled_low": "lower end of its 95 % interval",
    "pooled_high": "upper end",
    "pooled_excess": "its mean of the rate above what is usual for pigment and format",
    "pooled_excess_low": "lower end of its 95 % interval",
    "pooled_excess_high": "upper end",
    "chance_of_excess": "probability that the rate is above the usual one",
    "chance_of_ten_points": "probability that it is more than ten points above",
    "chance_of_format": "probability that this maker's format is worse than the others'",
    "chance_of_maker": "probability that this maker is, over all formats",
    "likeliest_pigment": "the pigment, or what else makes peers, that is likeliest to explain it",
    "chance_of_pigment": "its probability",
    "likeliest_paint": "the paint likeliest to be at fault",
    "chance_of_paint": "its probability",
    "likeliest_lot": "the lot likeliest to be at fault",
    "chance_of_lot": "its probability",
    "exchange_p": "p-value of the exact test that exchanges lots over makers",
    "fair_fields_as_strong": "fair fields, drawn at chance, that looked at least as bad",
    "fair_fields": "fair fields drawn",
    "stress_stands": "checks after which the accusation stands",
    "stress_checks": "checks made",
    "stress_too_little": "checks that had too little to go on",
    "sellers": "sellers",
    "parcels": "parcels",
    "sessions": "codes of the sessions",
    "blinding": "how the sessions were blinded",
    "bought_first": "first day a specimen was bought",
    "bought_last": "last day",
    "tested_first": "first day of a test",
    "tested_last": "last day",
    "comparisons_seen": "comparisons in which the fault was seen, where it recurs over comparisons",
    "comparisons_looked": "comparisons in which it was looked for",
    "comparisons_since": "day of the first of them",
    "parcels_seen": "parcels in which it was seen, where it recurs over parcels",
    "parcels_looked": "parcels in which it was looked for",
    "parcels_since": "day of the first of them",
    "gifts": "gifts looked at; shown apart, never counted",
    "gifts_faulty": "the faulty ones of them",
    "older_notes": "older notes; shown apart, never counted",
    "older_notes_faulty": "those that tell of a fault",
    "in_void_sessions": "observations of void sessions; never counted",
    "on_other_paper": "observations on another paper than the reference paper; never counted",
    "reader_notes": "readers' notes; self-selected, never counted",
    "sentence": "the statement that may be printed at this standing",
    "further": "what may be printed beneath it",
    "would_settle": "what would settle it",
    "kept_private": "why it is kept private; empty where it is not",
    "asked_and_answered": "what its maker was asked about it and answered",
    "decided": "what else was decided about it: retests, corrections",
})  # fmt: skip

TRAITS: Final[Mapping[str, str]] = MappingProxyType({
    "criterion": "key of the criterion in its rubric",
    "criterion_title": "its title",
    "maker": "the maker's name now",
    "format": "one of the formats that a rubric declares",
    "specimens": "specimens graded",
    "median": "median grade",
    "lowest": "lowest grade",
    "highest": "highest grade",
    "choices": "words chosen, each with its number",
    "not_testable": "specimens that could not be tested",
})  # fmt: skip

LABELS: Final[Mapping[str, str]] = MappingProxyType({
    "kind": "label fact, in a row for each statement, grade and claim; a print without any has one row",
    "maker": "the maker's name now",
    "paint": "the paint's name now",
    "format": "the format it was printed on",
    "label": "id of the label as transcribed; empty where only grades are on file",
    "label_since": "day it was first seen",
    "read_on": "where it was read: the piece itself, its wrapper, a chart",
    "printed": "everything transcribed, word for word",
    "specimens_with_label": "specimens that carry it, gifts left out",
    "stickers": "their stickers",
    "held_against": "1 where our reference or the tester's grade holds something against it",
    "photos": "photos of it on file",
    "label_sentence": "what may be said of it once its maker was asked; nothing about safety",
    "kept_private": "why it is kept private; empty where it is not",
    "asked_and_answered": "what its maker was asked about it and answered",
    "decided": "what else was decided about it",
    "about": "statement, grade, claim or print: what the row is about",
    "field": "field of the label",
    "words": "what is printed there",
    "level": "of a statement: remark, differs or contradicts",
    "said": "the statement; of a grade, what the scale says of it",
    "reference": "facts of our reference it rests on",
    "reference_source": "where each was read",
    "criterion": "key of the criterion, of a grade or a claim",
    "criterion_title": "its title",
    "grade": "the tester's grade of this print",
    "ask_first": "whom to ask before anybody else hears of it",
})  # fmt: skip

OBSERVATIONS: Final[Mapping[str, str]] = MappingProxyType({
    "observation": "its id",
    "trial": "id of its trial",
    "criterion": "key of the criterion",
    "rubric": "SHA-256 of the rubric it was graded with",
    "grade": "fault grade, 0 none to 5 worst",
    "choice": "the word chosen, where the criterion offers words",
    "reading": "the measured value, in the unit of the rubric",
    "censored": "exact; above or below where the value was not reached",
    "not_testable": "true where there is no result",
    "why_not": "why there is none",
    "at": "when it was recorded, UTC",
    "trial_at": "when its trial began, UTC",
    "day": "the day of the trial where the tester was",
    "sitting": "id of its session, or of the run of work at unpacking",
    "tester": "who observed",
    "occasion": "bench, unpacking or older notes",
    "role": "specimen, control or hidden repeat",
    "mixed": "true where two paints were mixed",
    "session": "id of its session",
    "session_code": "its code",
    "blinding": "how the session was blinded",
    "void": "true where the session is void: it does not count",
    "on_reference": "true on the comparison's reference paper, or where there is none",
    "comparison": "id of the comparison",
    "specimen": "id of the specimen",
    "sticker": "its sticker",
    "format": "its format",
    "source": "retail or gift",
    "why": "why it was bought: planned, to confirm, because of a note",
    "paint": "id of the paint it counts as",
    "paint_name": "the paint's name now",
    "maker": "id of the maker it counts as",
    "maker_name": "the maker's name now",
    "pigments": "Colour Index names that its label declares, a blank between them",
    "lot": "id of the lot it counts as",
    "lot_code": "the batch code",
    "parcel": "id of its parcel",
    "bought_on": "day it was bought",
    "seller": "the seller's name now",
    "doubt": "why it cannot have been so and does not count; empty where it can",
    "undried": "true where it met dry ones on the sheet before it had dried itself",
    "own_trial": "true where the tester of the trial observed it",
    "facts": "what else its label says of what its rubric asks for, a semicolon between them",
})  # fmt: skip

SPECIMENS: Final[Mapping[str, str]] = MappingProxyType({
    "specimen": "its id, as in the observations",
    "sticker": "its sticker",
    "maker": "the maker's name now",
    "paint": "the paint's name now",
    "format": "one of the formats that a rubric declares",
    "lot": "the batch code",
    "source": "retail or gift",
    "why": "why it was bought: planned, to confirm, because of a note",
    "state": "unopened, opened, sealed reserve or used up",
    "opened_on": "day it was opened",
    "nominal_ml": "millilitres as printed",
    "weight_g": "grams as weighed, full",
    "price_minor": "price in the smallest unit of the currency: 590 is 5.90 EUR",
    "currency": "ISO 4217 code",
    "seller": "the seller's name now",
    "bought_on": "day it was bought",
    "received_on": "day it came; empty where not noted",
    "parcel": "id of its parcel",
    "note": "the tester's note",
})  # fmt: skip

KIND: Final = "finding, or label fact: what the line is about"
"""What the first column of the CSV says."""


def in_csv() -> str:
    """Return every column of `findings --as csv`, in the order they stand there; the guide shows the same lines."""
    columns = {"kind": KIND, **FINDINGS}
    further = {name: means for name, means in LABELS.items() if name not in columns}
    blocks = {
        "Columns of findings; of a fact of a label, those that it has.": columns,
        "Columns behind these, where there are facts of labels.": further,
        "Columns where there are traits alone.": TRAITS,
    }
    return "\n\n".join(f"{title}\n\n{in_markdown(some)}" for title, some in blocks.items())
