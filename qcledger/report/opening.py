"""What Findings opens on: what is settled, one line an accusation; then what is common, to confirm, of labels, open.

The page shows these lines, and each can be opened; the cells of every criterion are `board`'s.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final

from qcledger.findings import Finding, Findings
from qcledger.findings.labelfact import LabelFact, LabelKey
from qcledger.findings.scope import allowed, scope_of
from qcledger.findings.together import ToldClaim, as_one, together
from qcledger.findings.wording_of_counts import WIDE, counts_of, fault
from qcledger.findings.wording_of_free import common_at, free_short, group_words
from qcledger.findings.wording_of_labels import label_short
from qcledger.findings.words import listed, lower_first
from qcledger.report.board import extent_words
from qcledger.vocab import MARKS, Extent, Standing

SETTLED: Final = "Settled"
COMMON: Final = "Common to most makers (none is blamed)"
TO_CONFIRM: Final = "To confirm (private)"
CHECKING: Final = "Being checked"
LABELS: Final = "Labels, word for word"
SO_FAR: Final = ", as far as it is worked out: this may change yet"
"""Follows what is settled while answers are missing: a check to come may take it back."""
_OPEN: Final = "Open, nearest to a judgement first"


@dataclass(frozen=True, slots=True)
class OpeningLine:
    """One line: a heading, or something that can be opened.

    Parameters
    ----------
    mark
        Of its standing; blank for a heading and for a label.
    words
        What is said, whole.
    about
        Criterion's key, maker's id and format of the finding it opens; None for a heading and for a label.
    label
        The print it opens, where it is about a label.
    """

    mark: str
    words: str
    about: tuple[str, str, str] | None = None
    label: LabelKey | None = None

    @property
    def is_heading(self) -> bool:
        """Whether nothing is opened by it."""
        return self.about is None and self.label is None

    def has(self, words: Iterable[str]) -> bool:
        """Say whether it has each of these words, letter case aside."""
        told = self.words.casefold()
        return all(word in told for word in words)


def opening_lines(findings: Findings, labels: Sequence[LabelFact] = (), missing: int = 0) -> list[OpeningLine]:
    """Return every line, in order; a section without lines is left out.

    Parameters
    ----------
    findings
        Of one comparison, or of the whole ledger.
    labels
        Facts of labels; those that something is held against are told.
    missing
        How many answers are still worked out: while there are some, nothing is said to be settled for good.
    """
    so_far = SO_FAR if missing else ""
    settled = together(findings.findings, (Standing.SETTLED,))
    firm = [group for group in settled if group[0].claim.extent not in WIDE]
    common = [group for group in settled if group[0].claim.extent in WIDE]
    waiting = (
        (TO_CONFIRM, together(findings.findings, (Standing.TO_CONFIRM,))),
        (CHECKING, together(findings.findings, (Standing.CHECKING,))),
    )
    return [
        *_section(f"{SETTLED}{so_far}", (_claimed(one) for one in sorted(firm, key=_strength, reverse=True))),
        *_section(f"{COMMON}{so_far}", map(_common, common)),
        *(line for head, groups in waiting for line in _section(head, map(_claimed, groups))),
        *_section(LABELS, (_label(fact) for fact in labels if fact.against)),
        *_open(findings.findings),
    ]


def matching(lines: Sequence[OpeningLine], words: Sequence[str]) -> list[OpeningLine]:
    """Return the lines that have each of some words, with the headings above them."""
    if not words:
        return [*lines]
    found: list[OpeningLine] = []
    head: OpeningLine | None = None
    for line in lines:
        if line.is_heading:
            head = line
        elif line.has(words):
            found += [line] if head is None else [head, line]
            head = None
    return found


def _section(head: str, lines: Iterable[OpeningLine]) -> list[OpeningLine]:
    told = [*lines]
    return [OpeningLine("", head), *told] if told else []


def _strength(group: Sequence[ToldClaim]) -> float:
    """Return the least share of faulty ones that the lots of a claim allow: the strongest of what is told as one."""
    return max(allowed(one.claim.lots).interval.low for one in group)


def _claimed(group: Sequence[ToldClaim]) -> OpeningLine:
    """Return one claim, or what is one thing, over all its formats: who, which faults, how many."""
    first = group[0]
    if first.claim.extent in WIDE:
        return _common(group)
    faults = listed([fault(one.finding) for one in group])
    why = f" ({lower_first(as_one(first))})" if len(group) > 1 else ""
    told = f"{_who(first)}: {faults}{why}, {'; '.join(_counted(one, alone=len(group) == 1) for one in group)}"
    return _line(first, f"{told}{_beside(first.finding)}")


def _counted(one: ToldClaim, *, alone: bool) -> str:
    own = replace(one.finding, claim=one.claim)
    counted = counts_of(own, scope_of(own), one.claim)
    return counted if alone else f"{fault(one.finding)} {counted}"


def _who(one: ToldClaim) -> str:
    """Return whom a claim is about, the lot named: ``MAKER Kiln Red, tube, lot Q4471``."""
    claim, finding = one.claim, one.finding
    if claim.extent is Extent.MAKER:
        return finding.maker_name
    if claim.extent is Extent.MAKER_FORMAT or (claim.extent is Extent.PARCEL and claim.lots[0].coded):
        parcel = f", parcel bought on {claim.subject[-1]}" if claim.extent is Extent.PARCEL else ""
        return f"{finding.maker_name}, {finding.format}{parcel}"
    narrow = {Extent.LOT: f", lot {claim.subject[-1]}", Extent.SPECIMEN: f", {claim.subject[-1]}"}
    paint = claim.lots[0].row.paint_name
    return f"{finding.maker_name} {paint}, {finding.format}{narrow.get(claim.extent, '')}"


def _beside(finding: Finding) -> str:
    """Return that it is kept private, or what the maker was asked last and whether it answered."""
    if finding.said.private:
        return "; kept private"
    return f"; {lower_first(finding.said.asked[-1].partition(':')[0].rstrip('.'))}" if finding.said.asked else ""


def _common(group: Sequence[ToldClaim]) -> OpeningLine:
    first = group[0]
    told = f"{group_words(first.claim)}, {listed([fault(one.finding) for one in group])}: {common_at(first.claim)}"
    free = [f"free of it: {free_short(one)}" for one in first.claim.free if one.earned]
    return _line(first, "; ".join((told, *free)))


def _line(one: ToldClaim, words: str) -> OpeningLine:
    finding = one.finding
    return OpeningLine(MARKS[one.claim.standing], words, (finding.criterion.key, finding.maker, str(finding.format)))


def _label(fact: LabelFact) -> OpeningLine:
    graded = next((grade.criterion.key for grade in fact.grades), "")
    return OpeningLine("", label_short(fact), (graded, fact.maker, fact.format), fact.key)


def _open(findings: Sequence[Finding]) -> list[OpeningLine]:
    """Return what is open and shows a fault, what lacks least first; what shows none is counted."""
    every = [one for one in findings if one.standing is Standing.OPEN and one.counts.tested]
    seen = [one for one in every if one.tells_of_a_fault]
    if not every:
        return []
    without = len(every) - len(seen)
    rest = f"; {without} more without a fault, too few to say none found" if without else ""
    head = OpeningLine("", f"{_OPEN}: {len(seen)}{rest}")
    return [head, *map(_open_line, sorted(seen, key=_lacking))]


def _lacking(finding: Finding) -> tuple[int, int]:
    """Return how many checks an open finding fails, and how many specimens, lots or makers these miss."""
    unmet = [check for check in finding.checks if not check.met]
    return len(unmet), sum(check.missing for check in unmet)


def _open_line(finding: Finding) -> OpeningLine:
    counts = finding.counts
    to = extent_words(finding).rstrip("?")
    points = f", points to {to}" if to else ""
    private = "; kept private" if finding.said.private else ""
    told = f"{finding.maker_name}, {finding.format}, {fault(finding)}: {counts.faulty} of {counts.tested}{points}"
    about = (finding.criterion.key, finding.maker, str(finding.format))
    return OpeningLine(MARKS[finding.standing], f"{told}{private}", about)
