"""What is said about a field of a label: words, how far they go, and what of our reference they rest on."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from qcledger.rubric.model import is_published
from qcledger.rubric.pigments import Pigment
from qcledger.vocab import SaidLevel

Trust = Callable[[str], bool]
"""Says of a source tag whether what it founds may carry more than a remark."""
HELD_BACK: Final = "a remark only, for our reference has this from no published source"


@dataclass(frozen=True, slots=True)
class Ours:
    """One fact of our reference: of which pigment or name, which field, its value, and where that is from."""

    of: str
    field: str
    value: str
    source: str

    def __str__(self) -> str:
        return f"{self.of}, {self.field}: {self.value} [{self.source}]"


@dataclass(frozen=True, slots=True)
class LabelRemark:
    """Words about one field of a label.

    Parameters
    ----------
    field
        Field of the label.
    level
        How far they go.
    statement
        What is said.
    ours
        What of our reference it rests on; empty where the label's own text tells.
    held_back
        Whether it would go further, were our reference founded better.
    """

    field: str
    level: SaidLevel
    statement: str
    ours: tuple[Ours, ...] = ()
    held_back: bool = False

    @property
    def words(self) -> str:
        """Return the statement, and what it rests on."""
        rests = "; ".join(map(str, self.ours))
        parts = (self.statement, f"our reference: {rests}" if rests else "", HELD_BACK if self.held_back else "")
        return "; ".join(part for part in parts if part)


def remark(field: str, statement: str, *ours: Ours) -> LabelRemark:
    """Return words that hold nothing against the label."""
    return LabelRemark(field, SaidLevel.REMARK, statement, ours)


def founded(
    field: str, level: SaidLevel, statement: str, ours: tuple[Ours, ...], trust: Trust = is_published
) -> LabelRemark:
    """Return words at `level` if all they rest on may be trusted, at a remark otherwise."""
    if all(trust(one.source) for one in ours):
        return LabelRemark(field, level, statement, ours)
    return LabelRemark(field, SaidLevel.REMARK, statement, ours, held_back=level > SaidLevel.REMARK)


def fact(pigment: Pigment, field: str) -> Ours:
    """Return a fact of a pigment of the reference: its ``chemistry``, ``numbers`` or ``cas``."""
    value = pigment.cas_numbers if field == "cas" else getattr(pigment, field)
    shown = value if isinstance(value, str) else ", ".join(value or ())
    return Ours(pigment.name, field, shown or "none", pigment.sources[field])
