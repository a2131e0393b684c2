"""Tubes poured into pans: when they were, and whether they have dried long enough to be compared with pans."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING

from qcledger.errors import BadInput, Problem, bad
from qcledger.records import Preparation, Specimen
from qcledger.text import one_line
from qcledger.vocab import NOT_DRIED, USUALLY_BOUGHT, BoughtAs, PreparationKind

if TYPE_CHECKING:
    from qcledger.ledger import Ledger


How = Mapping[str, BoughtAs]
"""How each format is bought, as `ledger.words.bought` tells."""


def pour(
    specimens: Sequence[Specimen], on: date, *, today: date, new_id: Callable[[], str], how: How = USUALLY_BOUGHT
) -> list[Preparation]:
    """Return the preparations of specimens that were poured into pans on a day; `how` each format is bought.

    Raises
    ------
    BadInput
        For a day to come, or a specimen that is bought dry.
    """
    if on > today:
        raise bad("poured on", str(on), f"today, {today}, or an earlier day")
    for one in specimens:
        if how.get(one.format) is not BoughtAs.MOIST:
            moist = [f"{name}s" for name, one_how in how.items() if one_how is BoughtAs.MOIST]
            raise bad("poured", f"{one.sticker}, a {one.format}", " and ".join(moist))
    return [Preparation(id=new_id(), specimen=one.id, kind=PreparationKind.POURED, on=on) for one in specimens]


def latest(ledger: "Ledger", specimens: Iterable[Specimen]) -> dict[str, Preparation]:
    """Return each specimen's latest preparation, by the specimen's id."""
    found: dict[str, Preparation] = {}
    for one in specimens:
        rows = ledger.rows(Preparation, specimen=one.id)
        if rows:
            found[one.id] = max(rows, key=lambda row: (row.on, row.id))
    return found


def not_dried(
    specimens: Sequence[Specimen],
    prepared: Mapping[str, Preparation],
    on: date,
    days: int,
    how: How = USUALLY_BOUGHT,
) -> Iterator[str]:
    """Yield in words which tubes would meet pans before they have dried `days` days on the day `on`."""
    if not any(how.get(one.format) is BoughtAs.DRY for one in specimens):
        return
    found: dict[str, list[str]] = {}
    for one in (one for one in specimens if how.get(one.format) is BoughtAs.MOIST):
        row = prepared.get(one.id)
        if row is None or row.kind is not PreparationKind.POURED:
            found.setdefault("not poured", []).append(one.sticker)
        elif (on - row.on).days < days:
            found.setdefault(f"dried {max((on - row.on).days, 0)} of {days} days", []).append(one.sticker)
    yield from (f"{', '.join(stickers)} {why}" for why, stickers in found.items())


def why_not_dried(
    specimens: Sequence[Specimen],
    prepared: Mapping[str, Preparation],
    on: date,
    days: int,
    although: str,
    how: How = USUALLY_BOUGHT,
) -> str:
    """Return what a sheet records of tubes that meet pans before they have dried; empty where there are none.

    Parameters
    ----------
    specimens, prepared
        What is on the sheet, and the latest preparation of each by its id.
    on, days
        The day on which the sheet begins, and how many days a poured tube must have dried by then.
    although
        Why such tubes are tested all the same.
    how
        How each format is bought.

    Raises
    ------
    BadInput
        Where there are such tubes and no reason is given.
    """
    wet = list(not_dried(specimens, prepared, on, days, how))
    if not wet:
        return ""
    if not one_line(although):
        allowed = f"tubes poured and dried {days} days before they meet pans, or a reason to test them"
        raise BadInput([Problem("although", told, allowed) for told in wet])
    return f"{NOT_DRIED} {days} days ({'; '.join(wet)}): {one_line(although)}"
