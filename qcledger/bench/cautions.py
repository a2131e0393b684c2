"""What a whole sheet calls for, said once: the union over every paint on it, so that no caution gives one away."""

from collections.abc import Iterable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from qcledger.rubric import Criterion, Remark, Rubric
    from qcledger.rubric.pigments import Pigment, Pigments


def of_sheet(
    pigments: "Iterable[Pigment]", criteria: "Iterable[Criterion]", rubrics: "Iterable[Rubric]", reference: "Pigments"
) -> tuple[str, ...]:
    """Return each caution once: reminders of the sheet's pigments first, then of its tests, then of its rubrics.

    The reminders come in the order of the reference, not of the run sheet; otherwise the first one would tell which
    paint lies first.
    """
    on_sheet = {pigment.name for pigment in pigments}
    reminders = [one for name, pigment in reference.items() if name in on_sheet for one in pigment.bench_reminder]
    remarks: list[Remark] = [*reminders, *(caution for criterion in criteria for caution in criterion.cautions)]
    remarks += [caution for rubric in rubrics for caution in rubric.cautions]
    remarks += reference.cautions if reminders else ()
    return tuple(dict.fromkeys(remark.text for remark in remarks))
