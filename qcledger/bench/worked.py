"""How the things of a ledger are worked with, as its rubrics say: their name, the conditions asked, how made ready.

A rubric that says nothing of them, as those kept before there were such words, says what the file of the same name
says that is at hand; without one, what the rubric says that is set.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Final

from qcledger import thing
from qcledger.errors import BadInput, bad
from qcledger.records import Comparison, RubricText, Session, Stage
from qcledger.settings import Settings, load_settings, rubric_files
from qcledger.text import one_line
from qcledger.thing import Thing

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.rubric import Declared, LabelPart, Rubric
    from qcledger.rubric.working import AskedCondition, Pouring

Conditions = Mapping[str, str]
"""What is asked at each stage: the field of the stage's record to what people call it."""

UNASKED: Final[Conditions] = {
    "water": "liquid",
    "brush": "tool",
    "lamp": "lamp",
    "temperature_c": "temperature",
    "humidity_pct": "humidity",
}
"""What a condition is called that stands in a record and is asked by no rubric of its comparison."""


@dataclass(frozen=True, slots=True)
class Worked:
    """How things are worked with.

    Parameters
    ----------
    thing
        What they are called.
    conditions
        What is asked at each stage.
    pouring
        How what is bought moist is made ready to meet what is bought dry; None where nothing is.
    formats, label
        What such things come in; what their labels carry.
    rubrics
        The names of the rubrics that say so.
    """

    thing: Thing
    conditions: "tuple[AskedCondition, ...]"
    pouring: "Pouring | None"
    formats: frozenset[str]
    label: "tuple[LabelPart, ...]"
    rubrics: frozenset[str]

    @property
    def names_pigments(self) -> bool:
        """Whether labels of such things carry Colour Index names."""
        return any(part.key == "index_names" for part in self.label)

    @property
    def titles(self) -> Conditions:
        """The conditions by field."""
        return {one.field: one.title for one in self.conditions}

    def field_of(self, name: str, where: str) -> str:
        """Return the field of a condition by what it is called.

        Raises
        ------
        BadInput
            At `where`, when none is called so.
        """
        wanted = one_line(name).casefold()
        found = next((one.field for one in self.conditions if wanted in (one.title.casefold(), one.key)), None)
        if found is None:
            raise bad(where, name, ", ".join(one.title for one in self.conditions))
        return found


def worked(said: "Iterable[Declared | Rubric]") -> Worked:
    """Return how things are worked with under these rubrics together; who asks a condition first names it."""
    told = [one for one in map(_filled, said) if one.tested or one.conditions or one.preparation]
    return _together(told) if told else as_set()


def _together(told: "Sequence[Declared | Rubric]") -> Worked:
    from qcledger.rubric.model import USUAL_LABEL
    from qcledger.rubric.working import USUAL

    things = {one.tested for one in told if one.tested is not None}
    asked = [one.conditions for one in told if one.conditions is not None]
    fields: dict[str, AskedCondition] = {}
    for one in (one for conditions in asked for one in conditions):
        fields.setdefault(one.key, one)
    return Worked(
        thing=things.pop() if len(things) == 1 else thing.UNLIKE if things else thing.PAINT,
        conditions=tuple(fields.values()) if asked else USUAL,
        pouring=next((one.preparation for one in told if one.preparation is not None), None),
        formats=frozenset(name for one in told for name in one.formats),
        label=tuple(dict.fromkeys(part for one in told for part in one.label)) or USUAL_LABEL,
        rubrics=frozenset(one.key for one in told),
    )


def _filled(said: "Declared | Rubric") -> "Declared | Rubric":
    """Return a rubric that says nothing of the work as the file of its name at hand says it."""
    told = said.tested or said.conditions or said.preparation
    if told or (file := at_hand().get(said.key)) is None:
        return said
    return replace(said, tested=file.tested, conditions=file.conditions, preparation=file.preparation)


def at_hand() -> "dict[str, Declared]":
    """Return what each rubric file at hand declares, by its name; one that cannot be read is left out."""
    found = {}
    for name, path in rubric_files().items():
        try:
            state = path.stat()
            found[name] = _of_file(str(path), state.st_mtime_ns, state.st_size)
        except (OSError, BadInput):
            continue
    return found


@lru_cache(maxsize=64)
def _of_file(path: str, _changed: int, _size: int) -> "Declared":
    from pathlib import Path

    from qcledger.rubric.build import read_text

    return _of_text(read_text(Path(path)))


@lru_cache(maxsize=256)
def _of_text(text: str) -> "Declared":
    from qcledger.rubric import declared

    return declared(text, "rubric")


def of_comparison(ledger: "Ledger", comparison: Comparison | None) -> Worked:
    """Return how the things of a comparison are worked with; without one, of the rubric that is set."""
    kept = ledger.by_id(RubricText, comparison.rubrics) if comparison else {}
    return worked(_declared(kept[one].text for one in comparison.rubrics if one in kept)) if comparison else as_set()


def of_session(ledger: "Ledger", session: Session) -> Worked:
    """Return how the things of a session are worked with."""
    return of_comparison(ledger, ledger.get(Comparison, session.comparison))


def of_keys(keys: Sequence[str]) -> Worked:
    """Return how things are worked with under the files of these names; those not at hand are left out."""
    files = at_hand()
    return worked(files[key] for key in keys if key in files)


def as_set() -> Worked:
    """Return how things are worked with under the rubric that is set for a ledger without a comparison."""
    files = at_hand()
    try:
        name = load_settings().rubric
    except BadInput:  # whoever needs the settings says what is wrong with them
        name = Settings().rubric
    return _together([files[name]] if name in files else [])


def _declared(texts: Iterable[str]) -> "Iterator[Declared]":
    for text in texts:
        try:
            yield _of_text(text)
        except BadInput:  # of a later version; what it grades is told where it is read
            continue


def of_ledger(ledger: "Ledger") -> Worked:
    """Return how the things of all comparisons of a ledger are worked with; without any, as the set rubric says."""
    every = ledger.rows(Comparison)
    if not every:
        return as_set()
    kept = ledger.by_id(RubricText, {one for row in every for one in row.rubrics})
    return worked(_declared(row.text for row in kept.values()))


def speak_of(ledger: "Ledger") -> None:
    """Let every text say what the things of a ledger are called."""
    thing.speak(of_ledger(ledger).thing)


def titles(work: Worked, stages: Iterable[Stage]) -> Conditions:
    """Return what is asked at each stage by field, and behind it what is noted there all the same."""
    noted = {field for row in stages for field in UNASKED if getattr(row, field) is not None}
    return {**work.titles, **{field: name for field, name in UNASKED.items() if field in noted - set(work.titles)}}
