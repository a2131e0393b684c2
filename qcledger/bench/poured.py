"""What is bought moist and poured to dry: when it was, and whether it has dried long enough to meet what is not.

Which rubrics ask for that, and what they call it, their `preparation` says: watercolour has tubes poured into pans.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING

from qcledger.errors import BadInput, Problem, bad
from qcledger.records import Preparation, Specimen
from qcledger.text import one_line
from qcledger.vocab import NOT_DRIED, USUALLY_BOUGHT, BoughtAs, PreparationKind

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.rubric.working import Pouring


How = Mapping[str, BoughtAs]
"""How each format is bought, as `ledger.words.bought` tells."""


def pour(
    specimens: Sequence[Specimen],
    on: date,
    way: "Pouring | None",
    *,
    today: date,
    new_id: Callable[[], str],
    how: How = USUALLY_BOUGHT,
) -> list[Preparation]:
    """Return the preparations of specimens that were poured on a day to dry; `how` each format is bought.

    Raises
    ------
    BadInput
        For a day to come, a specimen that is bought dry, or where the rubrics have no such `way`.
    """
    if way is None:
        raise bad("poured", specimens[0].sticker, "nothing: no rubric of this ledger has things made ready so")
    if on > today:
        raise bad("poured on", str(on), f"today, {today}, or an earlier day")
    for one in specimens:
        if how.get(one.format) is not BoughtAs.MOIST:
            raise bad("poured", f"{one.sticker}, a {one.format}", f"{way.moist} and the like, which are bought moist")
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
    """Yield in words which specimens would meet dry ones before they have dried `days` days on the day `on`."""
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
    way: "Pouring | None",
    although: str,
    how: How = USUALLY_BOUGHT,
) -> str:
    """Return what a sheet records of what meets dry ones before it has dried; empty where nothing does.

    Parameters
    ----------
    specimens, prepared
        What is on the sheet, and the latest preparation of each by its id.
    on, days
        The day on which the sheet begins, and how many days what was poured must have dried by then.
    way
        How the rubrics have things made ready; None where they ask for nothing.
    although
        Why such specimens are tested all the same.
    how
        How each format is bought.

    Raises
    ------
    BadInput
        Where there are such specimens and no reason is given.
    """
    wet = list(not_dried(specimens, prepared, on, days, how)) if way else []
    if way is None or not wet:
        return ""
    if not one_line(although):
        allowed = f"{way.moist} {way.done} and dried {days} days before they meet {way.dry}, or a reason to test them"
        raise BadInput([Problem("although", told, allowed) for told in wet])
    return f"{NOT_DRIED} {days} days ({'; '.join(wet)}): {one_line(although)}"
