"""Where photos were filed before: each move of one, as its entries tell it."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

from sqlalchemy import Connection, func, select

from qcledger.ledger.tables import ENTRY
from qcledger.ledger.versions import Version, versions
from qcledger.records import Photo
from qcledger.vocab import TAKEN_BACK


@dataclass(frozen=True, slots=True)
class Moved:
    """A photo that was filed with something else before.

    Parameters
    ----------
    photo
        As it stands.
    was
        As it was filed.
    at, by, reason
        When it was moved from there, letters and name of who did it, and why.
    """

    photo: Photo
    was: Photo
    at: datetime
    by: str
    reason: str


def moved(connection: Connection) -> list[Moved]:
    """Return each photo once for each place that it was moved from, and that it is not filed with again."""
    several = (
        select(ENTRY.c.subject).where(ENTRY.c.kind == Photo.TABLE).group_by(ENTRY.c.subject).having(func.count() > 1)
    )
    ids = connection.execute(several.order_by(ENTRY.c.subject)).scalars().all()
    return [one for id_ in ids for one in _of_photo(versions(connection, Photo, id_))]


def _of_photo(written: list[Version[Photo]]) -> Iterator[Moved]:
    """Yield the moves of one photo; what only took a move back is none, and neither is belonging to nothing."""
    stands, told = written[-1].record if written else None, set[tuple[str | None, str | None]]()
    if stands is None or _place(stands) == _NOWHERE:
        return
    for before, after in pairwise(written):
        here = _place(before.record)
        if here not in (_NOWHERE, _place(after.record), _place(stands), *told) and after.reason != TAKEN_BACK:
            told.add(here)
            yield Moved(stands, before.record, after.at, after.by, after.reason)


_NOWHERE = (None, None)


def _place(photo: Photo) -> tuple[str | None, str | None]:
    return photo.specimen, photo.observation
