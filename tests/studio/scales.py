"""The criteria of the shipped rubrics, and which of them are graded where."""

from functools import cache
from types import MappingProxyType

from qcledger import rubric
from qcledger.records import RubricText
from qcledger.rubric import Criterion, Rubric
from qcledger.settings import shipped
from qcledger.vocab import Format, StageName
from tests.studio.makers import FULL, HALF, STICK, TUBE

USED = ("watercolour", "packaging", "label")

_CAKE = ("cracked", "wrapper_adhesion", "over_soft")
AT_UNPACKING = MappingProxyType(
    {
        TUBE: ("dried_tube", "separated_binder", "leaking_cap"),
        HALF: (*_CAKE, "loose_in_tray"),
        FULL: (*_CAKE, "loose_in_tray"),
        STICK: _CAKE,
    }
)
"""What is graded on each piece when its parcel is opened, by format."""
ON_EVERY_LABEL = ("label_mismatch", "batch_code")
ONCE_A_LABEL = ("pigment_information", "hazard_information")
"""What is read on the first piece of a paint only, because all print the same."""

ON_EVERY_SHEET = ("rewetting", "laydown_bubbles", "workup_froth", "faintness", "granulation", "staining")
ON_SOME_SHEETS = MappingProxyType(
    {
        "S01": ("masstone", "gradation"),
        "S02": ("masstone", "opacity", "tinting_strength", "glazing"),
        "S03": ("masstone", "opacity", "tinting_strength", "dry_rub_off"),
        "S04": ("tinting_strength", "drying_shift"),
        "S05": ("masstone", "opacity", "tinting_strength", "backruns"),
        "S06": ("masstone", "tinting_strength", "salt"),
        "S07": ("masstone", "separation"),
        "S08": ("opacity", "tinting_strength", "wet_spread"),
        "S09": ("tinting_strength", "gradation", "dry_rub_off"),
    }
)
"""A sheet has room and a day has time for so many tests; these take turns."""


@cache
def rubrics() -> tuple[Rubric, ...]:
    """Return the rubrics the studio works with, as shipped."""
    return tuple(rubric.load(shipped("rubrics") / f"{key}.yaml") for key in USED)


@cache
def _where() -> dict[str, Rubric]:
    return {key: one for one in rubrics() for key in one.criteria}


def criterion(key: str) -> Criterion:
    """Return the criterion with that key."""
    return _where()[key].criteria[key]


def rubric_hash(key: str) -> str:
    """Return the hash of the rubric a criterion stands in."""
    return _where()[key].hash


def kept_texts() -> tuple[RubricText, ...]:
    """Return the rubrics as rows of the ledger."""
    return tuple(RubricText(id=one.hash, key=one.key, text=one.text) for one in rubrics())


def bench_criteria(session: str, form: Format) -> dict[StageName, tuple[str, ...]]:
    """Return what is graded on a sheet for a format, by stage, in the order of working."""
    keys = [key for key in (*ON_EVERY_SHEET, *ON_SOME_SHEETS[session]) if form in criterion(key).formats]
    return {stage: tuple(key for key in keys if criterion(key).stage is stage) for stage in StageName}
