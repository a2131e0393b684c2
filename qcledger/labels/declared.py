"""What a label declares, read from all its fields: index names, constitution numbers, chemical names."""

from collections.abc import Mapping
from dataclasses import dataclass

from qcledger.labels.said import Ours, fact
from qcledger.records import LabelVersion
from qcledger.rubric.colour_index import base_name, printed
from qcledger.rubric.pigments import Pigment
from qcledger.rubric.reference import Reference


@dataclass(frozen=True, slots=True, kw_only=True)
class DeclaredPigments:
    """What a label declares.

    Parameters
    ----------
    names
        Index names in normal form, each once, in the order printed.
    unread
        Entries among them that hold something else.
    pigments
        The pigments of the reference they stand for, by name without suffix.
    unknown
        Names without suffix that the reference does not hold.
    families
        Families of chemistry by name without suffix; empty where none is known.
    listed
        The same as facts of the reference of names, for what that of pigments does not hold.
    numbers, words
        Constitution numbers and chemical words that stand among the index names.
    """

    names: tuple[str, ...]
    unread: tuple[str, ...]
    pigments: Mapping[str, Pigment]
    unknown: tuple[str, ...]
    families: Mapping[str, frozenset[str]]
    listed: Mapping[str, Ours]
    numbers: tuple[str, ...]
    words: tuple[str, ...]

    @property
    def bases(self) -> tuple[str, ...]:
        """Return the names without suffix, each once: PB15 and PB15:3 are one family."""
        return tuple(self.families)

    @property
    def is_known(self) -> bool:
        """Say whether everything declared is in the reference: only then is a number held against it."""
        return bool(self.names) and not self.unread and not self.unknown

    @property
    def strangers(self) -> tuple[str, ...]:
        """Return the names without suffix whose chemistry neither reference tells."""
        return tuple(base for base in self.bases if base not in self.pigments and not self.families[base])

    @property
    def shown(self) -> str:
        """Return what is declared, for messages."""
        return ", ".join((*self.names, *self.unread))

    def chemistry(self, base: str) -> Ours:
        """Return what our references say of the chemistry of a pigment that one of them holds."""
        return fact(self.pigments[base], "chemistry") if base in self.pigments else self.listed[base]

    @property
    def all_families(self) -> frozenset[str]:
        """Return the families of everything declared."""
        return frozenset().union(*self.families.values())


def declared(label: LabelVersion, reference: Reference) -> DeclaredPigments:
    """Return what a label declares."""
    read = {entry: printed(entry) for entry in label.index_names}
    rows = [row for row in read.values() if row is not None]
    names = tuple(dict.fromkeys(name for row in rows for name in row.names))
    bases = tuple(dict.fromkeys(map(base_name, names)))
    found = {base: one for base in bases if (one := reference.pigments.find(base)) is not None}
    families = {base: reference.families_of(base) for base in bases}
    return DeclaredPigments(
        names=names,
        unread=tuple(entry for entry, row in read.items() if row is None),
        pigments=found,
        unknown=tuple(base for base in bases if base not in found),
        families=families,
        listed={base: _listed(base, found, reference) for base, found in families.items() if found},
        numbers=tuple(number for row in rows for number in row.numbers),
        words=tuple(word for row in rows for word in row.words),
    )


def tells_more(label: LabelVersion) -> bool:
    """Say whether constitution numbers or chemical names are printed, in own fields or among the index names."""
    read = [row for entry in label.index_names if (row := printed(entry)) is not None]
    return bool(label.constitution_numbers or label.chemical_names or any(row.numbers or row.words for row in read))


def _listed(base: str, families: frozenset[str], reference: Reference) -> Ours:
    """Return the families that list a pigment as one fact; the lists are founded as their file is."""
    return Ours(base, "family", " and ".join(sorted(families)).replace("_", " "), reference.names.source)
