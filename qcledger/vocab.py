"""Closed lists of the trade, each in one spelling for code, files, pages and text."""

from collections.abc import Iterable, Mapping
from datetime import date
from enum import IntEnum, StrEnum
from typing import Final

EARLIEST: Final = date(1900, 1, 1)
"""The first day anything here can have happened on, typed or imported.

Nobody who keeps a ledger bought or tested before; an earlier year is a slip of the hand, as 0001 or 0206 for 2026, or
the nought of a spreadsheet, whose days count from the last day of 1899.
"""


def _in_order(words: Iterable[str], known: Iterable[str]) -> tuple[str, ...]:
    order = {str(word): place for place, word in enumerate(known)}
    return tuple(sorted({str(word) for word in words}, key=lambda word: (order.get(word, len(order)), word)))


class Format(StrEnum):
    """What the paint comes in."""

    TUBE = "tube"
    HALF_PAN = "half pan"
    FULL_PAN = "full pan"
    STICK = "stick"
    BOTTLE = "bottle"
    PENCIL = "pencil"


def formats_in_order(formats: Iterable[str]) -> tuple[str, ...]:
    """Return formats once each: those named here in their order, then a rubric's own by name."""
    return _in_order(formats, Format)


class BoughtAs(StrEnum):
    """How what comes in a format is bought: moist, to be poured and dried before it meets what is bought dry."""

    MOIST = "moist"
    DRY = "dry"


USUALLY_BOUGHT: Final[Mapping[str, BoughtAs]] = {
    Format.TUBE: BoughtAs.MOIST,
    Format.BOTTLE: BoughtAs.MOIST,
    Format.HALF_PAN: BoughtAs.DRY,
    Format.FULL_PAN: BoughtAs.DRY,
    Format.STICK: BoughtAs.DRY,
}
"""What holds of these formats where no rubric says it, as none did before rubrics could."""


class Source(StrEnum):
    """How a specimen was obtained; gifts are shown apart and never pooled."""

    RETAIL = "retail"
    GIFT = "gift"


class WhyBought(StrEnum):
    """Why a specimen was bought; confirmation counts only specimens bought to confirm."""

    PLANNED = "planned"
    TO_CONFIRM = "to confirm"
    NOTE = "because of a note"


class SpecimenState(StrEnum):
    """Where a specimen is in its life."""

    UNOPENED = "unopened"
    OPENED = "opened"
    RESERVE = "sealed reserve"
    USED_UP = "used up"


class PreparationKind(StrEnum):
    """How a specimen came to the test."""

    FRESH = "fresh"
    POURED = "poured"


class Blinding(StrEnum):
    """How far the tester was kept from knowing what was graded."""

    OTHER_PERSON = "by another person"
    SHUFFLED = "shuffled by myself"
    CODED = "coded only"
    OPEN = "open"


class StageName(StrEnum):
    """When, after laying the paint down, something is judged."""

    WET = "wet"
    DRY = "dry"
    AFTER_24H = "after 24 h"


STAGE_HOURS: Final[Mapping[str, float]] = {StageName.WET: 0.0, StageName.DRY: 4.0, StageName.AFTER_24H: 24.0}
"""How many hours after the start of a sheet each of these stages is due (dry: our proposal)."""


def stages_in_order(stages: Iterable[str]) -> tuple[str, ...]:
    """Return stages once each: those named here in their order, then a rubric's own by name."""
    return _in_order(stages, StageName)


class Role(StrEnum):
    """What a row of a run sheet is there for; repeats never count, a control by its first trial alone."""

    SPECIMEN = "specimen"
    CONTROL = "control"
    REPEAT = "hidden repeat"


class Occasion(StrEnum):
    """Where an observation was made."""

    BENCH = "bench"
    UNPACKING = "unpacking"
    OLDER_NOTES = "older notes"


class Censored(StrEnum):
    """A reading known only to lie beyond a limit: "> 60" is `ABOVE` with 60."""

    EXACT = "exact"
    ABOVE = "above"
    BELOW = "below"


class Kind(StrEnum):
    """What is recorded for a criterion."""

    GRADE = "grade"
    CHOICE = "choice"
    COUNT = "count"
    READING = "reading"


class Nature(StrEnum):
    """Whether a criterion is a fault in itself or a trait that many paints simply have."""

    FAULT = "fault"
    TRAIT = "trait"
    FAULT_OR_TRAIT = "fault or trait"


class LabelFactKind(StrEnum):
    """What a criterion states of a label; such a statement is quoted, and has no rate."""

    WORDS = "words"
    SAFETY = "safety"
    """Words about safety: maker, seller and authority are asked before anybody else hears of it."""


class SaidLevel(IntEnum):
    """How far words go; a higher one says more against a label."""

    REMARK = 1
    """Good to know; nothing is held against the label."""
    DIFFERS = 2
    """The label differs from our reference."""
    CONTRADICTS = 3
    """The label contradicts itself, or two of its facts cannot both be right."""

    def __str__(self) -> str:
        return self.name.lower()


class Severity(StrEnum):
    """How much a fault matters, apart from its grade."""

    CRITICAL = "critical"
    MAJOR = "major"
    MINOR = "minor"


class ProposedFrom(StrEnum):
    """What of a label's text a grade can follow from."""

    PIGMENTS = "declared pigments"
    NAME = "name against pigments"


class SoundIf(StrEnum):
    """What must have been entered of a piece before a criterion is called sound along with the rest of it."""

    BATCH_CODE = "batch code"


class Amount(StrEnum):
    """How much a pigment grains or stains, least first."""

    NONE = "none"
    SLIGHT = "slight"
    MARKED = "marked"
    STRONG = "strong"


class Cover(StrEnum):
    """How far a pigment hides what is under it, least first."""

    LIGHT = "lets light through"
    HALF = "half"
    COVERS = "covers"


class Strength(StrEnum):
    """How strongly a pigment tints, least first."""

    VERY_SLIGHT = "very slight"
    SLIGHT = "slight"
    MARKED = "marked"
    STRONG = "strong"


class Rewet(StrEnum):
    """How readily a dried pan of a pigment gives colour, easiest first."""

    EASY = "easy"
    MIDDLING = "middling"
    HARD = "hard"


class DecisionKind(StrEnum):
    """What a tester decided about a session, a finding or a specimen."""

    VOID = "void"
    REINSTATE = "reinstate"
    KEEP = "keep"
    HOLD_BACK = "hold back"
    PUBLISH = "publish"
    RETEST = "retest"
    CORRECT = "correct"


class Sameness(StrEnum):
    """What a tester decided about who two things are."""

    SAME = "same as"
    DIFFERENT = "not the same"
    CALLED = "now called"


class AnswerKind(StrEnum):
    """What a maker's answer comes to."""

    AGREES = "agrees"
    DISPUTES = "disputes"
    WITHDRAWN = "lot withdrawn"
    CHANGED = "changed from"
    OTHER = "other"
    NONE = "no answer"


class Doubt(StrEnum):
    """Why a result cannot have been so, or is one too many; it is kept and shown, and never counts."""

    ELSEWHERE = "of a criterion that is not judged there"
    EARLY = "dated before its specimen came"
    LATE = "dated after it was written down"
    USED_UP = "on a specimen that was used up by then"
    SECOND = "beside another result of the same trial"


class Extent(StrEnum):
    """How far a fault reaches, widest first."""

    PIGMENT = "pigment"
    FORMAT = "format"
    MAKER = "maker"
    MAKER_FORMAT = "this maker's format"
    PAINT = "paint"
    LOT = "lot"
    PARCEL = "parcel"
    SPECIMEN = "specimen"
    SESSION = "our own session"


class Standing(StrEnum):
    """How firmly an extent may be said; *checking* passes by itself, once the fair-field check is done.

    The words are shown; files for machines hold `name_for_files`.
    """

    NONE_FOUND = "none found"
    OPEN = "open"
    CHECKING = "checking"
    TO_CONFIRM = "to confirm"
    SETTLED = "settled"

    @property
    def name_for_files(self) -> str:
        """The stable name in CSV and JSON: ``none_found``, ``open``, ``checking``, ``to_confirm``, ``settled``."""
        return self.value.replace(" ", "_")

    @classmethod
    def _missing_(cls, value: object) -> "Standing | None":
        """Read what was kept in the words of before, or under a name for files."""
        before = {"not settled": cls.OPEN, "holds": cls.SETTLED}
        return before.get(str(value)) or next((one for one in cls if one.name_for_files == value), None)


MARKS: dict[Standing, str] = {
    Standing.NONE_FOUND: "---",
    Standing.OPEN: "-?-",
    Standing.CHECKING: "...",
    Standing.TO_CONFIRM: "//-",
    Standing.SETTLED: "///",
}
"""The mark of each standing, legible without colour."""

NOT_DRIED = "not dried"
"""How the line of a session's note begins that says what met dry ones before it had dried, and why."""
NOT_DRIED_BEFORE = "tubes not dried"
"""How such a line began in older ledgers."""

TAKEN_BACK = "taken back"
"""What an observation that stands for nothing gives as its reason for no result: the one before it was a slip."""

GRADE_NOTE = "0 none, 5 worst"
"""Printed beside every fault grade."""

CURRENCY_DIGITS: dict[str, int] = {
    "AUD": 2, "BHD": 3, "CAD": 2, "CHF": 2, "CNY": 2, "CZK": 2, "DKK": 2, "EUR": 2, "GBP": 2, "HKD": 2,
    "HUF": 2, "INR": 2, "ISK": 0, "JOD": 3, "JPY": 0, "KRW": 0, "KWD": 3, "MXN": 2, "NOK": 2, "NZD": 2,
    "PLN": 2, "RON": 2, "SEK": 2, "SGD": 2, "TND": 3, "TRY": 2, "TWD": 2, "USD": 2, "ZAR": 2,
}  # fmt: skip
"""Digits after the decimal mark of the currencies prices may be in: ISO 4217 minor units.

Each is held against another table of the standard's in `tests/published/test_minor_units.py`.
"""
