"""What findings are made from."""

from dataclasses import dataclass
from datetime import date, datetime

from qcledger.vocab import Blinding, Censored, Doubt, Occasion, Role, Source, Why


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One specimen as it was bought, whether or not anything of it was looked at.

    `to_hand` says that it can be looked at now: it is no sealed reserve, not used up and on no sheet that is blind.
    """

    specimen: str
    sticker: str
    maker: str
    format: str
    parcel: str
    lot: str | None
    to_hand: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class TestedRow:
    """One current observation with everything a finding needs to know about it.

    An observation is current when no other supersedes it. `void` says that the last decision about its session
    voided it; `on_reference` that its sheet's paper is the comparison's reference paper, or that none is set;
    `pigments` are Colour Index names in normal form, whatever blanks the label prints;
    `undried` says that its tube met pans on the sheet before it had dried;
    `own_trial` that the tester who made the trial also made the observation;
    `why_not` why it could not be tested; `doubt` why it cannot have been so, and does not count;
    `day` the day of its trial where the tester was; `sitting` its session or, at unpacking, a run of work without a
    pause of six hours, by an id.
    """

    __test__ = False

    observation: str
    trial: str
    criterion: str
    rubric: str
    grade: float | None
    choice: str | None
    reading: float | None
    censored: Censored
    not_testable: bool
    at: datetime
    trial_at: datetime
    day: date
    sitting: str
    tester: str
    occasion: Occasion
    role: Role
    mixed: bool
    session: str | None
    session_code: str | None
    blinding: Blinding | None
    void: bool
    on_reference: bool
    comparison: str | None
    specimen: str
    sticker: str
    format: str
    source: Source
    why: Why
    paint: str
    paint_name: str
    maker: str
    maker_name: str
    pigments: tuple[str, ...]
    lot: str | None
    lot_code: str | None
    parcel: str
    bought_on: date
    seller: str
    why_not: str | None = None
    doubt: Doubt | None = None
    undried: bool = False
    own_trial: bool = True
