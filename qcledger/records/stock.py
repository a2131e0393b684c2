"""What is bought and taken stock of: daybooks, makers, paints, labels, lots, parcels and specimens."""

from dataclasses import dataclass
from datetime import date
from typing import Annotated, ClassVar

from annotated_types import Interval, Len

from qcledger.records.fields import (
    Amount,
    Country,
    Currency,
    Digest,
    FormatName,
    Id,
    Money,
    Name,
    Note,
    Record,
    Ref,
    Texts,
)
from qcledger.vocab import PreparationKind, Sameness, Source, SpecimenState, WhyBought


@dataclass(frozen=True, slots=True, kw_only=True)
class Daybook(Record):
    """One tester's own chain of entries on one machine."""

    TABLE: ClassVar[str] = "daybook"
    id: Id
    letters: Annotated[str, Len(1, 4)]
    tester: Name

    @property
    def signed(self) -> str:
        """Letters and name as they are told to a reader; a name that begins with the letters tells both."""
        letters, rest = self.letters.casefold(), self.tester.casefold()
        begins = rest.startswith(letters) and not rest.removeprefix(letters)[:1].isalnum()
        return self.tester if begins else f"{self.letters}, {self.tester}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Zone(Record):
    """The time zone a tester lives in, by its IANA name; it holds for what the same daybook writes from here on.

    What a daybook wrote before its first zone is read in that zone, too.
    """

    TABLE: ClassVar[str] = "zone"
    id: Id
    name: Name


@dataclass(frozen=True, slots=True, kw_only=True)
class Import(Record):
    """One bringing in of a sheet or folder: what it was called, the SHA-256 of its bytes, how many rows it had.

    Ids of what it brought in that is a daybook's own are made from its id, so that two sheets numbered from 1 never
    meet.
    """

    TABLE: ClassVar[str] = "import"
    id: Id
    name: Name
    sha256: Digest | None = None
    rows: Annotated[int, Interval(ge=0, le=10**9)] | None = None
    note: Note = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Maker(Record):
    """The name on the label."""

    TABLE: ClassVar[str] = "maker"
    id: Id
    name: Name
    note: Note = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Range(Record):
    """A maker's line, as its students' or its artists'; paints of two ranges are never one."""

    TABLE: ClassVar[str] = "range"
    id: Id
    maker: Annotated[Id, Ref("maker")]
    name: Name
    note: Note = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Paint(Record):
    """One named colour of a maker; `price_group` is what the trade calls its series."""

    TABLE: ClassVar[str] = "paint"
    id: Id
    maker: Annotated[Id, Ref("maker")]
    name: Name
    number: Name | None = None
    note: Note = ""
    range: Annotated[Id, Ref("range")] | None = None
    price_group: Name | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Seller(Record):
    """What is known of a seller, by the name that parcels give; `country` is its ISO 3166-1 code."""

    TABLE: ClassVar[str] = "seller"
    id: Id
    name: Name
    country: Country | None = None
    note: Note = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SameAs(Record):
    """A decision about who two makers, ranges, paints or sellers are, or what one is called now.

    With `Sameness.SAME` and `Sameness.DIFFERENT` it is about `subject` and `other`; with `Sameness.CALLED` about
    `subject` and its `name`. One that was `undone` decides nothing any more.
    """

    TABLE: ClassVar[str] = "same_as"
    id: Id
    kind: Sameness
    subject_table: Name
    subject: Id
    other: Id | None = None
    name: Name | None = None
    by: Name
    on: date
    reason: Annotated[str, Len(1, 20_000)]
    undone: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelVersion(Record):
    """What a paint's label declares, as printed, seen from a date.

    `format` is the one it was printed on, None where it holds for each; `source` says where it was read, as on the
    tube, its wrapper or a chart; `facts` are what else a rubric asks a label for, each as ``what: as printed``.
    """

    TABLE: ClassVar[str] = "label_version"
    id: Id
    paint: Annotated[Id, Ref("paint")]
    seen_on: date
    index_names: Texts = ()
    constitution_numbers: Texts = ()
    chemical_names: Texts = ()
    cas_numbers: Texts = ()
    claims: Texts = ()
    warnings: Note = ""
    printed: Note = ""
    format: FormatName | None = None
    source: Name | None = None
    facts: Texts = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Lot(Record):
    """A maker's batch code within one paint and format."""

    TABLE: ClassVar[str] = "lot"
    id: Id
    paint: Annotated[Id, Ref("paint")]
    format: FormatName
    code: Name
    note: Note = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Parcel(Record):
    """One purchase from one seller on one day."""

    TABLE: ClassVar[str] = "parcel"
    id: Id
    bought_on: date
    seller: Name
    currency: Currency
    received_on: date | None = None
    shipping_minor: Money | None = None
    tax_included: bool | None = None
    note: Note = ""
    discount_minor: Money | None = None
    tax_pct: Annotated[float, Interval(ge=0, le=100)] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Specimen(Record):
    """One physical pan, tube or stick; `sticker` is the tester's letters and a count, as in ``OV 0147``.

    `pack` names the set it was sold in, whose price was one; `filled` is the date of filling as printed; `advised`
    says that it was bought because this program advised it.
    """

    TABLE: ClassVar[str] = "specimen"
    id: Id
    sticker: Name
    paint: Annotated[Id, Ref("paint")]
    format: FormatName
    parcel: Annotated[Id, Ref("parcel")]
    lot: Annotated[Id, Ref("lot")] | None = None
    label_version: Annotated[Id, Ref("label_version")] | None = None
    source: Source = Source.RETAIL
    why: WhyBought = WhyBought.PLANNED
    state: SpecimenState = SpecimenState.UNOPENED
    opened_on: date | None = None
    nominal_ml: Amount | None = None
    weight_g: Amount | None = None
    price_minor: Money | None = None
    note: Note = ""
    pack: Name | None = None
    filled: Name | None = None
    advised: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Preparation(Record):
    """How a specimen came to the test: fresh, or poured into a pan on a date and dried."""

    TABLE: ClassVar[str] = "preparation"
    id: Id
    specimen: Annotated[Id, Ref("specimen")]
    kind: PreparationKind
    on: date
    note: Note = ""
