"""What labels are held against: the reference of pigments and that of names, side by side."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from qcledger.rubric import names, pigments
from qcledger.rubric.colour_index import base_name
from qcledger.rubric.names import Names
from qcledger.rubric.pigments import Pigments


@dataclass(frozen=True, slots=True)
class Reference:
    """The two references of one installation."""

    pigments: Pigments
    names: Names

    def families_of(self, index_name: str) -> frozenset[str]:
        """Return the families of chemistry a pigment belongs to; none for one that neither reference knows."""
        pigment = self.pigments.find(index_name)
        return self.names.families_of(base_name(index_name), pigment.chemistry if pigment else "")


def load(files: Mapping[str, Path]) -> Reference:
    """Return the references in the files ``pigments`` and ``names``."""
    return Reference(pigments.load(files["pigments"]), names.load(files["names"]))
