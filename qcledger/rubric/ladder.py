"""A rubric in words: one criterion at a time as a ladder of anchors, from none to worst."""

import textwrap
from collections.abc import Iterable, Iterator

from qcledger.rubric.model import PIGMENTS, USUAL_LABEL, USUAL_STAGES, Criterion, Remark, Rubric, RubricStage
from qcledger.rubric.names import LabelName
from qcledger.rubric.pigments import TRAITS, Pigment
from qcledger.vocab import GRADE_NOTE, Kind

WIDTH = 80
"""Columns of a plain terminal."""


def wrap(text: str, width: int = WIDTH, first: str = "", rest: str | None = None) -> list[str]:
    """Return `text` in lines of at most `width` columns, the first behind `first`, the others behind `rest`."""
    indent = " " * len(first) if rest is None else rest
    return textwrap.wrap(text, width, initial_indent=first, subsequent_indent=indent)


def _remarks(name: str, remarks: Iterable[Remark], width: int) -> Iterator[str]:
    for remark in remarks:
        yield from wrap(f"{name}: {remark}", width, rest="  ")


def _limit(criterion: Criterion, place: int) -> str:
    """Return which readings earn the anchor at `place`, in words."""
    reading = criterion.reading
    if reading is None or not reading.limits:
        return ""
    last = place == len(reading.limits)
    bound = reading.limits[place - last]
    words = {(True, False): "up to", (True, True): "over", (False, False): "at least", (False, True): "under"}
    return f" ({words[reading.rising, last]} {bound:g})"


def _fault_mark(criterion: Criterion, width: int) -> list[str]:
    """Return the rung that parts what is still no fault from what is one."""
    return wrap(f"a fault from here on, {criterion.severity} [{criterion.fault_source}]", width, first="  -- ")


def _rungs(criterion: Criterion, width: int) -> Iterator[str]:
    """Give each anchor with its grade, the fault line between them, and each choice."""
    marked = criterion.fault_line is None
    for place, (grade, sentence) in enumerate(criterion.anchors.items()):
        if not marked and criterion.is_fault(grade):
            yield from _fault_mark(criterion, width)
            marked = True
        yield from wrap(f"{sentence}{_limit(criterion, place)}", width, first=f"  {grade:g}  ")
    longest = max(map(len, criterion.choices), default=0)
    for choice, sentence in criterion.choices.items():
        yield from wrap(sentence, width, first=f"  {choice:<{longest}}  ")


def _recorded(criterion: Criterion) -> str:
    """Return in words what is written down."""
    parts = [f"a {criterion.kind}"]
    if criterion.reading:
        optional = " if taken" if criterion.kind is Kind.GRADE else ""
        parts.append(f"{criterion.reading.unit}{optional}")
    if criterion.reading and criterion.reading.stop_at is not None:
        parts.append(f"stop at {criterion.reading.stop_at:g}")
    if criterion.anchors:
        parts.append("half steps allowed" if criterion.half_steps else "whole grades only")
    return ", ".join(parts)


def _method(criterion: Criterion, width: int) -> Iterator[str]:
    """Give how it is tested: what is put down, step by step, then what is looked at, and what that takes."""
    if not criterion.look:
        yield from wrap(f"How: {criterion.how}", width)
    for number, step in enumerate(criterion.put_down, 1):
        yield from wrap(step, width, first="Put down: " if number == 1 else " " * 10)
    if criterion.look:
        yield from wrap(criterion.look, width, first="Look: ")
    for word, means in criterion.terms.items():
        yield from wrap(f"{word[:1].upper()}{word[1:]}: {means}", width, rest="  ")
    needs = [", ".join(criterion.tools)] if criterion.tools else []
    needs += [f"{minutes_words(criterion.minutes)} a specimen"] if criterion.minutes else []
    if needs:
        yield from wrap(f"Takes: {'; '.join(needs)}.", width, rest="  ")
    if criterion.excuses:
        yield from wrap(f"No result where: {', '.join(criterion.excuses)}.", width, rest="  ")
    if criterion.letter:
        yield from wrap(f"Letter at unpacking: {criterion.letter}.", width)
    if criterion.names_in_view:
        yield from wrap("Never on a coded sheet: it needs the names.", width)


def minutes_words(minutes: float) -> str:
    """Return minutes in words: ``1 minute``, ``2.5 minutes``."""
    return f"{minutes:g} minute{'' if minutes == 1 else 's'}"


def ladder(criterion: Criterion, width: int = WIDTH) -> list[str]:
    """Return one criterion as lines of at most `width` columns."""
    seen = f"{criterion.seen_at}, {criterion.stage}" if criterion.stage else str(criterion.seen_at)
    note = f" Fault grades: {GRADE_NOTE}." if criterion.fault_line is not None else ""
    lines = [
        *wrap(f"{criterion.title} ({criterion.key})", width),
        *wrap(f"A {criterion.nature}, seen at: {seen}. Recorded: {_recorded(criterion)}.{note}", width),
        *wrap(f"On: {', '.join(criterion.formats)}.", width),
        *_method(criterion, width),
        *_rungs(criterion, width),
        *wrap(f"Scale: [{criterion.source}]", width),
    ]
    if criterion.continues:
        lines += wrap(f"Counted together with {criterion.continues}, as it was called before.", width, rest="  ")
    if criterion.shares_cause:
        lines += wrap(f"Shares its cause with others of this file: {criterion.shares_cause}.", width, rest="  ")
    if criterion.conditions:
        lines += wrap(f"Depends on: {'; '.join(criterion.conditions)}.", width, rest="  ")
    return [*lines, *_remarks("Hint", criterion.hints, width), *_remarks("Caution", criterion.cautions, width)]


def heading(rubric: Rubric, width: int = WIDTH) -> list[str]:
    """Return what a rubric says about itself as lines of at most `width` columns."""
    lines = [
        *wrap(rubric.title, width),
        *wrap(rubric.about, width),
        *wrap(f"For: {', '.join(rubric.formats)}.", width),
    ]
    if rubric.stages != USUAL_STAGES:
        lines += wrap(f"Stages: {', '.join(map(_due, rubric.stages))}.", width)
    if rubric.label != USUAL_LABEL:
        lines += wrap(f"A label says: {', '.join(part.title for part in rubric.label)}.", width)
    lines += [line for said in _working(rubric) for line in wrap(said, width)]
    if rubric.peers != PIGMENTS:
        lines += wrap(f"Compared with other makers' of the same {rubric.peers.same}.", width)
    for word, means in rubric.terms.items():
        lines += wrap(f"{word[:1].upper()}{word[1:]}: {means}", width, rest="  ")
    return [*lines, *_remarks("Caution", rubric.cautions, width)]


def _working(rubric: Rubric) -> Iterator[str]:
    """Yield what a file says of its things, of the conditions asked, and of how things are made ready."""
    if rubric.tested is not None:
        yield f"Tested: {rubric.tested.many}."
    if rubric.conditions is not None:
        yield f"Asked at each stage: {', '.join(one.title for one in rubric.conditions)}."
    if (way := rubric.preparation) is not None:
        yield f"Made ready: {way.moist} are {way.done} and dried before they meet {way.dry}."


def index(rubric: Rubric, width: int = WIDTH) -> list[str]:
    """Return a line for each criterion: its title, its key and, at unpacking, its letter."""
    told = (
        f"{one.title} ({one.key}){f', letter {one.letter}' if one.letter else ''}" for one in rubric.criteria.values()
    )
    return [line for words in told for line in wrap(words, width, rest="  ")]


def _due(stage: RubricStage) -> str:
    """Return a stage with the time after which it is due, in the largest unit that needs no fraction."""
    if not stage.hours:
        return stage.name
    minutes = round(stage.hours * 60)
    size, unit = next(pair for pair in ((24 * 60, "d"), (60, "h"), (1, "min")) if minutes % pair[0] == 0)
    return f"{stage.name} (due after {minutes // size} {unit})"


def name_lines(name: LabelName, width: int = WIDTH) -> list[str]:
    """Return one name, and what it promises, as lines of at most `width` columns."""
    said = {
        "pigment": ", ".join(sorted(name.pigments)) or "any pigment of its family",
        "earth": "an earth or iron oxide; never more than a remark",
        "mixture": f"no pigment{': ' * bool(name.pigments)}{', '.join(sorted(name.pigments))}"
        f"{' where it says genuine' * bool(name.pigments)}",
    }[name.kind]
    families = f"; family {', '.join(sorted(name.families))}" if name.families else ""
    lines = wrap(f"{name.title}: {said}{families} [{name.source}]", width, rest="    ")
    return (
        [*lines, *wrap(f"  Also: {', '.join(name.printed[1:])}", width, rest="    ")] if name.printed[1:] else lines
    )


def pigment_lines(pigment: Pigment, width: int = WIDTH) -> list[str]:
    """Return one pigment as lines of at most `width` columns."""
    tags = pigment.sources
    traits = [f"{trait} {' or '.join(words)}" for trait in TRAITS if (words := getattr(pigment, trait))]
    known = {
        "Chemistry": (pigment.chemistry, "chemistry"),
        "Number": (", ".join((*pigment.numbers, *pigment.families)), "numbers"),
        "CAS": (", ".join(pigment.cas_numbers), "cas"),
        "Usually": (", ".join(traits), "traits"),
    }
    facts = [
        f"{word}: {said} [{tags[fact]}]" if said else f"{word}: not sure" for word, (said, fact) in known.items()
    ]
    names = f": {', '.join(pigment.names)} [{tags['names']}]" if pigment.names else ""
    pairs = [Remark(pair.text, pair.source) for pair in pigment.pairs]
    lines = [*wrap(f"{pigment.name}{names}", width)]
    lines += [line for fact in facts for line in wrap(fact, width, first="  ", rest="    ")]
    remarks = (
        ("Mind", pigment.bench_reminder),
        ("Label expected", pigment.label_expected),
        ("Hint", pigment.hints),
        ("Tell apart", pairs),
    )
    for word, said in remarks:
        lines += [line for one in said for line in wrap(f"  {word}: {one}", width, rest="    ")]
    return lines
