"""Checks of a label that need no statistics: forms of index names, names against numbers, missing information.

Each check returns words to stand beside a field, with how far they go and what of our reference they rest on.
References disagree, so a number that is not ours "differs from our reference", with the tag of its source.
"""

from collections.abc import Iterable, Iterator
from typing import Final

from qcledger.labels.claims import of_claims
from qcledger.labels.declared import DeclaredPigments, declared, tells_more
from qcledger.labels.naming import Named, named
from qcledger.labels.numbers import of_cas, of_chemistry, of_numbers
from qcledger.labels.promises import read_name
from qcledger.labels.said import LabelRemark, Trust, remark
from qcledger.records import LabelVersion
from qcledger.rubric.colour_index import printed
from qcledger.rubric.model import is_published
from qcledger.rubric.reference import Reference

NO_HAZARD: Final = "hazard words: none found on this label; safety data sheet asked for"
"""Said where a published reason lets such words be expected; it grades nothing."""
NO_FORM: Final = "no form of a Colour Index name"
"""Said of a printed name that is neither use, hue and number nor a spelling of them."""


def about(
    label: LabelVersion, paint_name: str, reference: Reference, trust: Trust = is_published
) -> tuple[LabelRemark, ...]:
    """Return everything there is to say about a label, field by field.

    Parameters
    ----------
    label
        What the label declares, as printed.
    paint_name
        The paint's name on it.
    reference
        The references of pigments and names.
    trust
        Says of a source tag whether what it founds may carry more than a remark; what does not is said as a remark.
    """
    found = declared(label, reference)
    name = read_name(paint_name, (*label.claims, *found.words), reference.names)
    return (
        *named(name, found, trust).said,
        *_index_names(label.index_names, found),
        *of_numbers(label.constitution_numbers, found, reference, trust),
        *of_chemistry(label.chemical_names, found, reference, trust),
        *of_cas(label.cas_numbers, found, reference, trust),
        *of_claims(label, name, found, reference, trust),
    )


def name_of(label: LabelVersion, paint_name: str, reference: Reference, trust: Trust = is_published) -> Named:
    """Return how a paint's name fits the pigments its label declares; parameters as in `about`."""
    found = declared(label, reference)
    return named(read_name(paint_name, (*label.claims, *found.words), reference.names), found, trust)


def missing(label: LabelVersion, reference: Reference) -> tuple[str, ...]:
    """Return what was not found on the label, each in a few words; hazard words only where one is expected."""
    return (*not_named(label), *no_hazard(label, reference))


def not_named(label: LabelVersion) -> tuple[str, ...]:
    """Return what of the pigments was not found on the label, each in a few words."""
    wanted = {
        "Colour Index names": bool(label.index_names),
        "constitution numbers or chemical names": tells_more(label),
    }
    return tuple(what for what, found in wanted.items() if not found)


def no_hazard(label: LabelVersion, reference: Reference) -> tuple[str, ...]:
    """Return for each expected hazard text that none was found, with the published reason to expect one."""
    if label.warnings:
        return ()
    pigments = declared(label, reference).pigments.values()
    return tuple(f"{NO_HAZARD} ({pigment.name}, {one})" for pigment in pigments for one in pigment.label_expected)


def _index_names(entries: Iterable[str], found: DeclaredPigments) -> Iterator[LabelRemark]:
    for entry in entries:
        read = printed(entry)
        if read is None:
            yield remark("index_names", f"{entry}: {NO_FORM}")
            continue
        shown = ", ".join((*read.names, *read.numbers))
        said = "" if shown == entry.strip() else f"{entry} read as {shown}"
        unknown = [name for name in read.names if name.partition(":")[0] in found.unknown]
        parts = [said, f"{', '.join(unknown)} is not in our reference" if unknown else ""]
        if any(parts):
            yield remark("index_names", ", ".join(part for part in parts if part))
