"""What a rubric is: criteria with anchored grades, readings with limits, and fault lines."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import timedelta
from math import inf, isfinite, nextafter

from qcledger.errors import BadInput, bad
from qcledger.rubric.working import AskedCondition, Pouring
from qcledger.thing import Thing
from qcledger.vocab import (
    STAGE_HOURS,
    USUALLY_BOUGHT,
    BoughtAs,
    Censored,
    Kind,
    LabelFactKind,
    Nature,
    Occasion,
    ProposedFrom,
    Severity,
    SoundIf,
)

SOURCE_TAGS = (
    "standard seen in abstract",
    "standard from memory",
    "seen in a public page",
    "from memory",
    "our proposal",
    "common practice, no source",
)
"""How well a scale, fault line or hint is founded; after the tag a colon and a detail may follow."""
LETTERS = "abcdeghijklmopqstuvwxy"
"""Letters that criteria at unpacking may have; f, n, r and z do something else wherever something is graded."""
PUBLISHED_TAGS = ("standard seen in abstract", "seen in a public page")
"""Tags of what somebody else can look up, once title or address follow."""


def is_published(source: str) -> bool:
    """Say whether a source is a published one that is named: a tag of `PUBLISHED_TAGS` with a detail behind it."""
    tag, _, named = source.partition(": ")
    return tag in PUBLISHED_TAGS and bool(named)


@dataclass(frozen=True, slots=True)
class Remark:
    """A hint or caution with the tag of its source."""

    text: str
    source: str

    def __str__(self) -> str:
        """Return the remark with its source in brackets."""
        return f"{self.text} [{self.source}]"


@dataclass(frozen=True, slots=True)
class Reading:
    """A measured value behind a grade.

    Parameters
    ----------
    unit
        What is counted or measured, such as ``turns`` or ``mm``.
    limits
        Where each offered grade but the last ends, in `unit`; empty if the reading alone fixes no grade.
    rising
        Whether more is worse: a grade holds up to its limit (``up_to``), else from its limit on (``at_least``).
    stop_at
        Where the test stops: what lies beyond is recorded as above this value. None: no stop.
    """

    unit: str
    limits: tuple[float, ...] = ()
    rising: bool = True
    stop_at: float | None = None

    def place(self, value: float) -> int:
        """Return the place of `value` among the offered grades, from 0."""
        if self.rising:
            return sum(value > limit for limit in self.limits)
        return sum(value < limit for limit in self.limits)

    def span(self, value: float, censored: Censored) -> tuple[int, int]:
        """Return the first and last place a reading may have; beyond a limit means strictly beyond."""
        if censored is Censored.EXACT:
            return (self.place(value),) * 2
        if censored is Censored.ABOVE:
            nearest, farthest = nextafter(value, inf), inf
        else:
            nearest, farthest = nextafter(value, -inf), -inf
        first, last = sorted((self.place(nearest), self.place(farthest)))
        return first, last


@dataclass(frozen=True, slots=True)
class ClaimedGrades:
    """Words by which a label claims how a paint behaves, and the lowest and highest grade that is as they say."""

    words: tuple[str, ...]
    lowest: float
    highest: float

    def says(self, grade: float) -> bool:
        """Say whether a grade is as the words say."""
        return self.lowest <= grade <= self.highest


@dataclass(frozen=True, slots=True)
class PeerGroup:
    """What makes things of two makers comparable, beside their format.

    Parameters
    ----------
    part
        Key of the part of a label that says it; None where the format alone makes peers.
    one, many
        What it is called, for one and for several: *hardness*, *hardnesses*.
    silent
        Whether things whose labels do not say it are peers of each other, by their format alone; else of nobody.
    """

    part: str | None
    one: str
    many: str
    silent: bool = True

    @property
    def same(self) -> str:
        """What peers have the same of, as a sentence says it: ``pigments``, ``hardness``."""
        return self.many if self.part == PIGMENTS.part else self.one

    def named(self, names: Sequence[str]) -> str:
        """Return what some things of one group have in common: ``hardness HB``; pigments by their names alone."""
        told = " with ".join(names)
        return told if self.part == PIGMENTS.part else f"{self.one} {told}"


PIGMENTS = PeerGroup("index_names", "pigment", "pigments", silent=False)
"""Where a file says nothing, by declared Colour Index names: whose label names none is nobody's peer."""
BY_FORMAT = PeerGroup(None, "format", "paints")
"""The format alone makes peers; what is asked of several groups is asked of several paints."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Criterion:
    """One thing judged.

    Parameters
    ----------
    key, title, how
        Short name for code and files, name for people, the whole of how to test: what is put down, then what is
        looked at.
    kind, nature
        What is recorded; whether it is a fault in itself, a trait, or either.
    seen_at, stage
        Where it is judged, and when after laying down the paint (None at unpacking).
    formats
        The formats it can be judged on.
    anchors
        Offered whole grade to the sentence that fixes it; empty for a choice.
    on_the_piece
        Whether it is tested on the piece as it is bought, which cannot be blind; None where the rubric does not say.
    label_fact
        What its grade states of a label: a fact that is quoted, with no rate; None where pieces are judged.
    names_in_view
        Whether it can be judged only by who knows what each specimen is, and so on no coded sheet.
    put_down
        What is put on the paper at the first stage of a sheet, in the order of the hand; empty where nothing is.
    look
        What is done and looked at when its stage comes; empty in a file that tells only `how`.
    minutes
        Hands-on minutes a specimen takes, over all stages; None where the rubric does not say.
    tools
        What it takes beside paint, paper and water.
    terms
        The words of its text that the file defines, with what each means.
    excuses
        Reasons for which a specimen may have no result, ready to be chosen.
    continues
        Key of an older criterion whose observations count together with this one's, where both mean the same by a
        fault (`continued.follows`); None: none.
    shares_cause
        What causes it, in a word that criteria with the same cause share; empty where it shares it with none.
    label_claims
        Words of labels that claim something of it.
    proposed_from
        From what of a label's text its grade can be proposed; None where from nothing.
    letter
        One of `LETTERS`, its key at unpacking in every format; empty where the file fixes none.
    sound
        What stands for it on a sound piece: a choice or an excuse; None for grade 0, or where nothing does.
    sound_if
        What must have been entered of a piece before it is sound on this; None where nothing must.
    unopened
        Whether it can be judged at unpacking while the piece stays closed.
    peers
        What makes what is graded by it comparable over makers.
    column_words
        What people write over a column of it in their lists, beside what the file of such words knows.
    bought
        How formats of its file are bought, of those that say so.
    half_steps
        Whether grades half-way between the anchors may be given.
    choices
        Word to the sentence that fixes it; empty unless `kind` is choice.
    source
        Tag of the anchors' source.
    fault_line, severity, fault_source
        Grade from which it is a fault, how much that matters, and the tag of its source; None for a trait.
    reading
        The measured value behind the grade, if there is one.
    conditions
        What the result depends on.
    hints, cautions
        Remarks for the tester, each with its source.
    shares_cause
        What causes it, in a word that criteria with the same cause share; empty where it shares it with none.
    """

    key: str
    title: str
    how: str
    kind: Kind
    nature: Nature
    seen_at: Occasion
    stage: str | None
    formats: tuple[str, ...]
    anchors: Mapping[float, str]
    half_steps: bool
    choices: Mapping[str, str]
    source: str
    fault_line: float | None
    severity: Severity | None
    fault_source: str | None
    reading: Reading | None
    conditions: tuple[str, ...]
    hints: tuple[Remark, ...]
    cautions: tuple[Remark, ...]
    on_the_piece: bool | None = None
    label_fact: LabelFactKind | None = None
    names_in_view: bool = False
    put_down: tuple[str, ...] = ()
    look: str = ""
    minutes: float | None = None
    tools: tuple[str, ...] = ()
    terms: Mapping[str, str] = field(default_factory=dict)
    excuses: tuple[str, ...] = ()
    continues: str | None = None
    shares_cause: str = ""
    label_claims: tuple[ClaimedGrades, ...] = ()
    proposed_from: ProposedFrom | None = None
    letter: str = ""
    sound: str | None = None
    sound_if: SoundIf | None = None
    unopened: bool = False
    peers: PeerGroup = PIGMENTS
    column_words: tuple[str, ...] = ()
    bought: Mapping[str, BoughtAs] = field(default_factory=dict)

    @property
    def judges_dry(self) -> bool:
        """Whether it can be judged on something that is bought dry."""
        return any(self.bought.get(one, USUALLY_BOUGHT.get(one)) is BoughtAs.DRY for one in self.formats)

    @property
    def grades(self) -> tuple[float, ...]:
        """Every grade that may be given, rising."""
        whole = tuple(self.anchors)
        if not self.half_steps:
            return whole
        return tuple(step / 2 for step in range(int(whole[0] * 2), int(whole[-1] * 2) + 1))

    @property
    def by_comparison(self) -> bool:
        """Whether its grades depend on the other makers beside it, and it is a fault in itself, not a trait.

        Then a grade under the worst one is a reason to look further, not a statement about the paint.
        """
        beside = any("number of other makers" in condition for condition in self.conditions)
        return beside and self.nature is Nature.FAULT

    def is_fault(self, grade: float) -> bool:
        """Say whether `grade` is at or past the fault line; never for a trait."""
        return self.fault_line is not None and grade >= self.fault_line

    def propose(self, reading: float, censored: Censored = Censored.EXACT) -> float | None:
        """Return the grade that follows from a reading, or None where it leaves more than one open."""
        if self.reading is None or not self.reading.limits:
            return None
        low, high = self.reading.span(reading, censored)
        return tuple(self.anchors)[low] if low == high else None

    def check(
        self,
        grade: float | None = None,
        choice: str | None = None,
        reading: float | None = None,
        censored: Censored = Censored.EXACT,
        not_testable: str | None = None,
        where: str = "",
    ) -> None:
        """Refuse a result that this criterion does not offer.

        Raises
        ------
        BadInput
            At `where` (the criterion's title if empty), with what was found and what is allowed.
        """
        place = where or self.title
        if not_testable is not None:
            self._check_alone(place, grade, choice, reading)
            return
        if grade is not None and grade not in self.grades:
            raise bad(place, f"grade {grade:g}", self._offer(_listed(self.grades), "no grade, but a choice"))
        if choice is not None and choice not in self.choices:
            raise bad(place, f"choice {choice}", self._offer(", ".join(self.choices), "no choice, but a grade"))
        self._check_reading(place, reading, censored)
        self._check_enough(place, grade, choice, reading)

    def _offer(self, offered: str, none: str) -> str:
        return f"{offered} for {self.title}" if offered else none

    def _check_alone(self, place: str, *results: object) -> None:
        given = [result for result in results if result is not None]
        if given:
            raise bad(place, f"{given[0]} and not testable", "either a result or why it could not be tested")

    def _check_reading(self, place: str, reading: float | None, censored: Censored) -> None:
        if reading is None:
            if censored is not Censored.EXACT:
                raise bad(place, f"{censored} without a reading", "a reading with it")
            return
        if self.reading is None:
            raise bad(place, f"reading {reading:g}", f"no reading for {self.title}")
        if not isfinite(reading) or reading < 0:
            raise self._bad_reading(place, reading, "from 0 up")
        if self.kind is Kind.COUNT and reading != int(reading):
            raise self._bad_reading(place, reading, "whole numbers")
        stop = self.reading.stop_at
        if stop is not None and reading > stop:
            raise self._bad_reading(place, reading, f"up to {stop:g}, or above {stop:g} where the test stopped")

    def _bad_reading(self, place: str, reading: float, allowed: str) -> BadInput:
        unit = self.reading.unit if self.reading else ""
        return bad(place, f"reading {reading:g} {unit}", f"{allowed} for {self.title}")

    def _check_enough(self, place: str, grade: float | None, choice: str | None, reading: float | None) -> None:
        """Refuse a result from which no grade or choice can ever follow."""
        if grade is None and choice is None and (reading is None or not (self.reading and self.reading.limits)):
            found = "no result" if reading is None else f"reading {reading:g} without a grade"
            wanted = "a choice" if self.choices else "a grade"
            raise bad(place, found, f"{wanted}, or why it could not be tested")


@dataclass(frozen=True, slots=True)
class RubricStage:
    """A stage of a sheet; `hours` after the sheet began it is due, from 0 up, None where the file does not say."""

    name: str
    hours: float | None = None

    @property
    def after(self) -> timedelta | None:
        """How long after the sheet began it is due."""
        return None if self.hours is None else timedelta(hours=self.hours)


@dataclass(frozen=True, slots=True)
class LabelPart:
    """Something a label may say: a short name for code and files, a name for people, and what to type, in words."""

    key: str
    title: str
    words: str = ""


USUAL_STAGES = tuple(RubricStage(name, hours) for name, hours in STAGE_HOURS.items())
"""The stages of a file that lists none."""

USUAL_LABEL = (
    LabelPart("index_names", "index names", "as printed, parted by commas: PG18, PW6"),
    LabelPart("constitution_numbers", "numbers", "77289, 77891"),
    LabelPart("chemical_names", "chemistry", "as printed, parted by commas"),
    LabelPart("cas_numbers", "CAS", "1308-38-9"),
    LabelPart("claims", "claims", "as printed: single pigment, lightfast I"),
    LabelPart("warnings", "warnings", "hazard words and pictograms, as printed"),
)
"""What a label carries where a file does not say; each has a field of its own in the record of a label."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rubric:
    """A scale file; its version is the SHA-256 (hex) of its text, in `hash`.

    `formats` are those it applies to, `stages` those a sheet goes through, in their order, `label` what a label of
    such things carries, `terms` the words it defines once for all its criteria, each with what it means; `peers` is
    what makes its things comparable over makers. `tested` is what its things are called, `conditions` what is asked
    at each stage, `preparation` how things are made ready; each of these three is None where the file does not say.
    `bought` is how the formats are bought of which it says so.
    """

    key: str
    title: str
    about: str
    formats: tuple[str, ...]
    cautions: tuple[Remark, ...]
    criteria: Mapping[str, Criterion]
    text: str
    hash: str
    stages: tuple[RubricStage, ...] = USUAL_STAGES
    label: tuple[LabelPart, ...] = USUAL_LABEL
    terms: Mapping[str, str] = field(default_factory=dict)
    peers: PeerGroup = PIGMENTS
    tested: Thing | None = None
    conditions: tuple[AskedCondition, ...] | None = None
    preparation: Pouring | None = None
    bought: Mapping[str, BoughtAs] = field(default_factory=dict)

    @property
    def stage_names(self) -> tuple[str, ...]:
        """The names of its stages, in their order."""
        return tuple(stage.name for stage in self.stages)

    def sharing(self, key: str) -> tuple[str, ...]:
        """Return the keys of the other criteria that share the cause of one, in the order of the file."""
        cause = self.criteria[key].shares_cause
        return tuple(
            other for other, one in self.criteria.items() if cause and one.shares_cause == cause and other != key
        )


def _listed(grades: Sequence[float]) -> str:
    """Return grades as a text: 0, 1, 3, 5."""
    return ", ".join(f"{grade:g}" for grade in grades)
