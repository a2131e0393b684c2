"""What to mind at a sheet: the rules once, and one line for the criterion at work and everything on the sheet."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from qcledger.rubric import Criterion, Remark, Rubric
    from qcledger.rubric.pigments import Pigment, Pigments

_HOLDS: Final = re.compile(r"Holds ([^,.;]+)")
"""How a reminder names what a family of pigments holds."""
FAMILIES: Final = "this sheet holds {} colours: no dust, nothing to the lips, gloves"
"""Said of all families at once; each of their reminders asks for one of these, and none for more than all."""


@dataclass(frozen=True, slots=True)
class SheetCautions:
    """What a whole sheet calls for, whatever the stage and in an order that tells nothing about the sheet.

    Parameters
    ----------
    rules
        What holds for every sheet of its rubrics.
    pigments
        The reminders of all pigments on it.
    tests
        The cautions of all its criteria.
    """

    rules: tuple[str, ...] = ()
    pigments: tuple[str, ...] = ()
    tests: tuple[str, ...] = ()

    @property
    def every(self) -> tuple[str, ...]:
        """Each caution once: of pigments, then tests, then rules."""
        return tuple(dict.fromkeys((*self.pigments, *self.tests, *self.rules)))

    def line(self, criterion: "Criterion") -> str:
        """Return what one criterion asks for, and the families on the sheet; empty where neither asks for any."""
        named = [family_of(text) for text in self.pigments if _HOLDS.match(text)]
        others = [family_of(text) for text in self.pigments if not _HOLDS.match(text)]
        families = [FAMILIES.format(_listed(named))] if named else []
        own = [remark.text.rstrip(".") for remark in criterion.cautions]
        return "; ".join(dict.fromkeys((*own, *families, *others)))


def family_of(text: str) -> str:
    """Return what a reminder is about in a word or two: what its pigments hold, else its first sentence."""
    held = _HOLDS.match(text)
    return held[1] if held else text.partition(".")[0]


def _listed(words: Sequence[str]) -> str:
    return " and ".join(filter(None, (", ".join(words[:-1]), words[-1])))


def of_sheet(
    pigments: "Iterable[Pigment]", criteria: "Iterable[Criterion]", rubrics: "Iterable[Rubric]", reference: "Pigments"
) -> SheetCautions:
    """Return what a sheet calls for, so that none of it gives a paint away.

    The reminders come in the order of the reference, not of the run sheet; otherwise the first one would tell which
    paint lies first. A rule of the reference that begins as one of a rubric is that one in other words.
    """
    on_sheet = {pigment.name for pigment in pigments}
    reminders = [one for name, pigment in reference.items() if name in on_sheet for one in pigment.bench_reminder]
    rules = _texts(caution for rubric in rubrics for caution in rubric.cautions)
    begun = {text.partition(".")[0] for text in rules}
    ours = _texts(reference.cautions) if reminders else ()
    return SheetCautions(
        rules=tuple(dict.fromkeys((*rules, *(text for text in ours if text.partition(".")[0] not in begun)))),
        pigments=_texts(reminders),
        tests=_texts(caution for criterion in criteria for caution in criterion.cautions),
    )


def _texts(remarks: "Iterable[Remark]") -> tuple[str, ...]:
    return tuple(dict.fromkeys(remark.text for remark in remarks))
