"""Label facts: what a label says, word for word, beside our reference; no sample, and no rate."""

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, Final

from qcledger.findings import Findings
from qcledger.labels.checks import about
from qcledger.labels.said import LabelRemark
from qcledger.public import from_findings as told
from qcledger.public.anchors import anchors, slug
from qcledger.public.view import PublicAsking, PublicLabel, PublicPhoto
from qcledger.records import LabelVersion, Specimen
from qcledger.settings import reference_files
from qcledger.vocab import SaidLevel

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

_QUOTED: Final = ("index_names", "constitution_numbers", "chemical_names", "cas_numbers", "claims")
"""Fields whose words are quoted; what a label warns of is not: nobody was asked about health."""


def public_labels(
    ledger: "Ledger",
    found: Findings,
    rules: told.PublicRules,
    photos: Callable[[Iterable[str]], tuple[PublicPhoto, ...]],
) -> list[PublicLabel]:
    """Return the labels that were graded a fault and that our reference speaks of, A to Z.

    Parameters
    ----------
    ledger, found, rules
        What was seen and decided.
    photos
        Returns copies of the photos of some observations or labels.
    """
    from qcledger.rubric.reference import load

    units = told.units_of_labels(found, rules)
    if not units:
        return []
    reference = load(reference_files())
    specimens = ledger.by_id(Specimen, {unit.row.specimen for _, unit in units})
    versions = ledger.by_id(LabelVersion, {one.label_version for one in specimens.values() if one.label_version})
    facts: dict[tuple[str, str], PublicLabel] = {}
    rows: dict[tuple[str, str], list[str]] = {}
    asked: dict[tuple[str, str], dict[PublicAsking, None]] = {}
    for finding, unit in units:
        label = versions.get(specimens[unit.row.specimen].label_version or "")
        if label is None or not (said := _against(about(label, unit.row.paint_name, reference))):
            continue
        key = (label.id, str(unit.row.format))
        rows.setdefault(key, [label.id]).append(unit.row.observation)
        asked.setdefault(key, {}).update(dict.fromkeys(rules.asked(told.key_of(finding))))
        facts[key] = PublicLabel(
            id="",
            maker=finding.maker_name,
            paint=unit.row.paint_name,
            format=str(unit.row.format),
            seen_on=label.seen_on,
            printed=_printed(label, unit.row.paint_name),
            reference=said,
            asked=tuple(asked[key]),
            photos=photos(rows[key]),
        )
    return _named(facts.values())


def _against(remarks: Iterable[LabelRemark]) -> tuple[str, ...]:
    """Return what speaks against a label, or would if our reference were founded better, with its source."""
    return tuple(one.words for one in remarks if one.level > SaidLevel.REMARK or one.held_back)


def _printed(label: LabelVersion, paint_name: str) -> tuple[str, ...]:
    words = [paint_name, *(text for name in _QUOTED for text in getattr(label, name)), label.printed]
    return tuple(dict.fromkeys(one for one in words if one))


def _named(facts: Iterable[PublicLabel]) -> list[PublicLabel]:
    from dataclasses import replace

    ordered = sorted(facts, key=lambda one: (one.maker.casefold(), one.paint.casefold(), one.format, one.seen_on))
    ids = anchors(f"label-{slug(one.maker, one.paint, one.format)}" for one in ordered)
    return [replace(one, id=id_) for one, id_ in zip(ordered, ids, strict=True)]
