"""Facts of labels as lines for a terminal: those that something is held against in full, the others counted."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from qcledger.findings.labelfact import LabelFact, LabelKey, tallies
from qcledger.findings.wording_of_labels import (
    HEAD,
    NO_SAMPLE,
    label_lines,
    label_seen,
    label_sentence,
    label_short,
    label_title,
    tally_words,
)
from qcledger.findings.words import listed, out_of
from qcledger.report.board import BoardLine
from qcledger.report.layout import paragraph
from qcledger.report.parts import Part
from qcledger.rubric.ladder import WIDTH


def label_section(facts: Sequence[LabelFact], *, full: bool = False) -> list[str]:
    """Return the section about labels; nothing without labels.

    Parameters
    ----------
    facts
        What the labels say.
    full
        Whether each label is told in full, or only those that something is held against.
    """
    if not facts:
        return []
    told = [fact for fact in facts if full or fact.against]
    lines = [HEAD, *paragraph(NO_SAMPLE), *(line for fact in told for line in _told(fact))]
    counted = [tally_words(one) for one in tallies(facts) if one.against]
    held = f"Held against: {listed(counted)}" if counted else f"Nothing is held against any of {len(facts)} labels"
    return [*lines, *paragraph(f"{held}.")]


@dataclass(frozen=True, slots=True)
class LabelLine:
    """A line of a board about one print; the heading of these lines is about none.

    `graded` is the key of a criterion that it was graded on, empty where there is none.
    """

    line: BoardLine
    label: LabelKey | None = None
    graded: str = ""


def lines_on_board(facts: Sequence[LabelFact], *, full: bool) -> list[LabelLine]:
    """Return the heading and a line for each label, or for those that something is held against; nothing without."""
    if not facts:
        return []
    told = [fact for fact in facts if full or fact.against]
    held = sum(fact.against for fact in facts)
    head = f"{HEAD}: something is held against {out_of(held, len(facts))} labels"
    lines = [LabelLine(BoardLine("", None, head, ()))]
    for fact in told:
        graded = next((grade.criterion.key for grade in fact.grades), "")
        own = " ".join(("label", *filter(None, fact.key)))  # no criterion's key has a blank
        lines.append(LabelLine(BoardLine(own, fact.maker, label_short(fact), ()), fact.key, graded))
    return lines


def label_parts(fact: LabelFact, width: int) -> list[Part]:
    """Return everything about one print, what may be said in public first."""
    said = label_sentence(fact)
    lines = [line for word, words in label_lines(fact) for line in _line(word, words, "", width)]
    stickers = f"{label_seen(fact)}: {', '.join(fact.stickers)}."
    parts = (
        ("May be published once its maker was asked", paragraph(said, width=width) if said else []),
        (
            "Asked, told and decided",
            [line for one in fact.said.lines for line in paragraph(one, rest="  ", width=width)],
        ),
        (HEAD, [*paragraph(f"{label_title(fact)}, {stickers}", width=width), *lines]),
        ("What this is", paragraph(NO_SAMPLE, width=width)),
    )
    return [Part(title, tuple(told), plain=True) for title, told in parts if told]


def _told(fact: LabelFact) -> Iterator[str]:
    yield from paragraph(f"{label_title(fact)}, {label_seen(fact)}", "  ", rest="    ")
    for word, words in label_lines(fact):
        yield from _line(word, words, "    ")
    for line in fact.said.lines:
        yield from paragraph(line, "    ", rest="      ")


def _line(word: str, words: str, indent: str, width: int = WIDTH) -> list[str]:
    return paragraph(f"{word}: {words}", indent, rest=f"{indent}  ", width=width)
