"""Sentences about facts of labels: the words as printed in quotation marks, our reference with its source, no rate.

Part of the wording.
"""

from collections.abc import Iterable, Iterator

from qcledger.findings.labelfact import ClaimBeside, LabelFact, LabelGrade, LabelStatement, LabelTally
from qcledger.findings.words import between, day, how_many, listed, lower_first, out_of, plural
from qcledger.vocab import LabelFactKind, SaidLevel

HEAD = "Labels, word for word"
NO_SAMPLE = (
    "What a label says is a fact of that print and format. It is quoted beside our reference, and it has no rate: "
    "another maker's labels change nothing of it."
)
NOT_ANALYSED = "What is in it we did not have analysed."
SAFETY = "For you only: maker, seller and authority are asked before anybody else hears of it."


def label_title(fact: LabelFact) -> str:
    """Return whose label it is, and on what: ``MAKER Viridian, tube``."""
    return f"{fact.maker_name} {fact.paint_name}, {fact.format}"


def label_seen(fact: LabelFact) -> str:
    """Return since when, where and on how many specimens a print was seen."""
    count = how_many(len(fact.stickers), "specimen")
    if fact.since is None:
        return f"not transcribed, on {count}"
    where = f", read on {fact.read_on}" if fact.read_on else ""
    return f"label seen since {day(fact.since)}{where}, on {count}"


def quoted(fact: LabelFact, fields: Iterable[str] = ()) -> str:
    """Return what is printed, each field by its name; only some fields where these are given."""
    wanted = set(fields)
    told = [f'{one.title} "{one.printed}"' for one in fact.quotes if not wanted or one.field in wanted]
    return "; ".join(told)


def statement_words(one: LabelStatement) -> str:
    """Return what is said of a label, with what of our reference it rests on and where that was read."""
    rests = "; ".join(f"{reference.fact} [{reference.source}]" for reference in one.references)
    back = "a remark only, for our reference has this from no published source" if one.held_back else ""
    parts = (one.words, f"our reference: {rests}" if rests else "", back)
    asked = f" {SAFETY}" if one.kind is LabelFactKind.SAFETY else ""
    return f"{'; '.join(part for part in parts if part)}.{asked}"


def grade_words(one: LabelGrade) -> str:
    """Return a grade of ours: criterion, what the scale says of it, on how many specimens and when it was read."""
    anchor = lower_first(one.criterion.anchors.get(one.grade, "")).rstrip(".")
    count, days = len(one.units), between(*one.days)
    words = f"{lower_first(one.criterion.title)} {one.grade:g}{f' ({anchor})' if anchor else ''}"
    asked = f" {SAFETY}" if one.against and one.criterion.label_fact is LabelFactKind.SAFETY else ""
    return f"{words}, read on {how_many(count, 'specimen')} {days}.{asked}"


def claim_words(one: ClaimBeside) -> str:
    """Return a claim beside what was seen: neither proves the other wrong."""
    low, high = one.grades
    seen = f"grade {low:g}" if low == high else f"grades {low:g} to {high:g}"
    anchor = lower_first(one.criterion.anchors.get(high if one.unlike else low, "")).rstrip(".")
    beside = (
        f"unlike that in {out_of(one.unlike, one.graded)}"
        if one.unlike
        else f"as it says in {one.graded} of {one.graded}"
    )
    told = f'label says "{one.claim}"; {lower_first(one.criterion.title)} {beside}, {seen}'
    return f"{told}{f' ({anchor})' if anchor else ''}."


def label_sentence(fact: LabelFact) -> str:
    """Return what may be said of a print in public once its maker was asked: quoted, with nothing about safety.

    Empty where nothing is held against it.
    """
    if not fact.against:
        return ""
    said = [one for one in fact.statements if one.kind is LabelFactKind.WORDS and one.references]
    graded = [one for one in fact.grades if one.against and one.criterion.label_fact is not LabelFactKind.SAFETY]
    if not (graded or any(one.level > SaidLevel.REMARK for one in said)):
        return ""
    names = [f'"{one.printed}"' for one in fact.quotes if one.field in _OF_PIGMENTS]
    printed = f"prints {listed(names)}" if names else "names no pigment that we could read"
    seen = f" (seen since {day(fact.since)})" if fact.since else ""
    rests = dict.fromkeys(f"{one.fact} [{one.source}]" for statement in said for one in statement.references)
    anchors = [lower_first(one.criterion.anchors.get(one.grade, "")).rstrip(".") for one in graded]
    ours = f"Our reference: {'; '.join(rests)}." if rests else f"As we read it: {'; '.join(anchors)}."
    return f"{label_title(fact)}: the label {printed}{seen}. {ours} {NOT_ANALYSED}"


_OF_PIGMENTS = ("index_names", "constitution_numbers", "chemical_names", "cas_numbers", "claims")
"""Fields of a label that a public sentence quotes."""


def tally_words(one: LabelTally) -> str:
    """Return a count of labels: ``2 of 7 labels of MAKER``."""
    return f"{out_of(one.against, one.labels)} {plural(one.labels, 'label')} of {one.maker_name}"


def label_short(fact: LabelFact) -> str:
    """Return a print in one line: whose, how far what is said goes, and on how many specimens."""
    level = str(fact.level) if fact.level else "nothing said"
    graded = ", ".join(f"graded {one.grade:g}" for one in fact.grades if one.against)
    told = ", ".join(part for part in (level, graded) if part)
    return f"{label_title(fact)}: {told}; on {how_many(len(fact.stickers), 'specimen')}"


def label_lines(fact: LabelFact) -> Iterator[tuple[str, str]]:
    """Yield what there is to say of a print, each with the word it is led by."""
    yield "printed", f"{quoted(fact)}." if fact.quotes else "not transcribed."
    for one in fact.statements:
        yield str(one.level), statement_words(one)
    for grade in fact.grades:
        yield "graded", grade_words(grade)
    for claim in fact.claims:
        yield "claim", claim_words(claim)
    if fact.photos:
        yield "photos", f"{how_many(len(fact.photos), 'photo')} on file."
