"""Label facts: what a label says, word for word, beside our reference; no sample, and no rate."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from typing import Final

from qcledger.findings import Findings
from qcledger.findings.labelfact import LabelFact, LabelStatement
from qcledger.public import from_findings as told
from qcledger.public.anchors import anchors, slug
from qcledger.public.view import PublicAsking, PublicLabel, PublicPhoto
from qcledger.records.finding_key import FindingKey
from qcledger.text import same_name
from qcledger.vocab import LabelFactKind, SaidLevel

_QUOTED: Final = ("index_names", "constitution_numbers", "chemical_names", "cas_numbers", "claims", "printed")
"""Fields whose words are quoted; what a label warns of is not: nobody was asked about health."""


def public_labels(
    found: Findings, rules: told.PublicRules, photos: Callable[[Iterable[str]], tuple[PublicPhoto, ...]]
) -> list[PublicLabel]:
    """Return the labels that were graded a fault and that our reference speaks of, A to Z.

    A paint that is kept private keeps its specimens off the page, and not what its label says.

    Parameters
    ----------
    found, rules
        What was seen and decided.
    photos
        Returns copies of the photos of some observations or labels.
    """
    facts = (_label(one, rules, photos) for one in found.label_facts)
    shown = sorted((one for one in facts if one is not None), key=_in_order)
    ids = anchors(f"label-{slug(one.maker, one.paint, one.format)}" for one in shown)
    return [replace(one, id=id_) for one, id_ in zip(shown, ids, strict=True)]


def _in_order(one: PublicLabel) -> tuple[object, ...]:
    return (same_name(one.maker), same_name(one.paint), one.format, one.seen_on)


def _label(
    fact: LabelFact, rules: told.PublicRules, photos: Callable[[Iterable[str]], tuple[PublicPhoto, ...]]
) -> PublicLabel | None:
    keys = {
        FindingKey(one.criterion.key, fact.maker, fact.format): one
        for one in fact.grades
        if one.against and one.criterion.label_fact is not LabelFactKind.SAFETY
    }
    graded = {key: one for key, one in keys.items() if key not in rules.kept}
    said = tuple(_against(fact.statements))
    if fact.since is None or fact.label is None or not graded or not said:
        return None
    asked: dict[PublicAsking, None] = {}
    for key in graded:
        asked |= dict.fromkeys(rules.asked(key, ()))
    words = [fact.paint_name, *(one.printed for one in fact.quotes if one.field in _QUOTED)]
    return PublicLabel(
        id="",
        maker=fact.maker_name,
        paint=fact.paint_name,
        format=fact.format,
        seen_on=fact.since,
        printed=tuple(dict.fromkeys(words)),
        reference=said,
        asked=tuple(asked),
        photos=photos([fact.label, *(unit.row.observation for one in graded.values() for unit in one.units)]),
    )


def _against(statements: Iterable[LabelStatement]) -> Iterator[str]:
    """Yield what speaks against a label, or would if our reference were founded better, with its source."""
    for one in statements:
        if one.kind is LabelFactKind.WORDS and (one.level > SaidLevel.REMARK or one.held_back):
            rests = "; ".join(f"{ours.fact} [{ours.source}]" for ours in one.references)
            yield f"{one.words}; our reference: {rests}" if rests else one.words
