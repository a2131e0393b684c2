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
OF_WEEKS = "lasting"
"""What poured pans are looked at with after weeks, on a sheet of its own."""

_CAKE = ("cracked", "wrapper_adhesion", "soft_face")
AT_UNPACKING = MappingProxyType(
    {
        TUBE: ("stiff_tube", "parted_binder", "leak"),
        HALF: (*_CAKE, "loose_in_pan"),
        FULL: (*_CAKE, "loose_in_pan"),
        STICK: _CAKE,
    }
)
"""What is graded on each piece when its parcel is opened, by format."""
ON_EVERY_LABEL = ("name_mismatch", "batch_code")
ONCE_A_LABEL = ("pigment_information", "hazard_information")
"""What is read on the first piece of a paint only, because all print the same."""

_DRAWN_AS = MappingProxyType(
    {
        "rewetting_in_fives": "rewetting",
        "laydown_count": "laydown_bubbles",
        "froth_amount": "workup_froth",
        "wash_faintness": "faintness",
        "evenness": "masstone",
        "gradation_steps": "gradation",
        "glazing_pick_up": "glazing",
        "rub_off_weighted": "dry_rub_off",
        "tinting_ratio": "tinting_strength",
        "loose_in_pan": "loose_in_tray",
        "stiff_tube": "dried_tube",
        "parted_binder": "separated_binder",
        "soft_face": "over_soft",
        "leak": "leaking_cap",
        "name_mismatch": "label_mismatch",
    }
)
"""The keys under which chance was drawn when the seed was chosen: another key alone must not make other pieces."""

ON_EVERY_SHEET = ("rewetting_in_fives", "laydown_count", "froth_amount", "wash_faintness", "granulation", "staining")
ON_SOME_SHEETS = MappingProxyType(
    {
        "S01": ("evenness", "gradation_steps"),
        "S02": ("evenness", "opacity", "tinting_ratio", "glazing_pick_up"),
        "S03": ("evenness", "opacity", "tinting_ratio", "rub_off_weighted"),
        "S04": ("tinting_ratio", "drying_shift"),
        "S05": ("evenness", "opacity", "tinting_ratio", "backruns"),
        "S06": ("evenness", "tinting_ratio", "salt"),
        "S07": ("evenness", "separation"),
        "S08": ("opacity", "tinting_ratio", "wet_spread"),
        "S09": ("tinting_ratio", "gradation_steps", "rub_off_weighted"),
    }
)
"""A sheet has room and a day has time for so many tests; these take turns."""


def drawn_as(key: str) -> str:
    """Return the key under which chance is drawn for a criterion."""
    return _DRAWN_AS.get(key, key)


@cache
def rubrics() -> tuple[Rubric, ...]:
    """Return the rubrics the studio works with, as shipped."""
    return tuple(map(_shipped, USED))


@cache
def of_weeks() -> Rubric:
    """Return the rubric for poured pans after weeks and months."""
    return _shipped(OF_WEEKS)


def _shipped(key: str) -> Rubric:
    return rubric.load(shipped("rubrics") / f"{key}.yaml")


@cache
def _where() -> dict[str, Rubric]:
    return {key: one for one in (*rubrics(), of_weeks()) for key in one.criteria}


def criterion(key: str) -> Criterion:
    """Return the criterion with that key."""
    return _where()[key].criteria[key]


def rubric_hash(key: str) -> str:
    """Return the hash of the rubric a criterion stands in."""
    return _where()[key].hash


def kept_texts() -> tuple[RubricText, ...]:
    """Return the rubrics as rows of the ledger."""
    return tuple(RubricText(id=one.hash, key=one.key, text=one.text) for one in (*rubrics(), of_weeks()))


def bench_criteria(session: str, form: Format) -> dict[StageName, tuple[str, ...]]:
    """Return what is graded on a sheet for a format, by stage, in the order of working."""
    keys = [key for key in (*ON_EVERY_SHEET, *ON_SOME_SHEETS[session]) if form in criterion(key).formats]
    return {stage: tuple(key for key in keys if criterion(key).stage is stage) for stage in StageName}
