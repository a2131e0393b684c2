"""What an import would add, and adding it: all of it or nothing."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from qcledger.errors import NotConfirmed, bad
from qcledger.ledger import Ledger, photos
from qcledger.ledger.progress import Progress, untold
from qcledger.ledger.told import told
from qcledger.records import Import, Record


@dataclass(frozen=True, slots=True)
class ImportPlan:
    """What an import would add; nothing of it stands in the ledger yet.

    Parameters
    ----------
    records
        The new rows, each after those it refers to.
    photos
        The pictures to file, by their SHA-256.
    new_rows, rows_here
        How many rows of the source bring something new, and how many stand in the ledger already.
    guesses
        What was taken for granted on the way, a line each.
    source
        What is brought in, as an entry of its own before the rows.
    numbered
        Ids of the new specimens whose stickers the program chose.
    planned_after
        Ids of the tester's imports that the rows were compared with.
    sheets
        Of several sheets, for each that brings something its import and its rows; empty where there is one.
    """

    records: tuple[Record, ...]
    photos: Mapping[str, Path]
    new_rows: int
    rows_here: int
    guesses: tuple[str, ...]
    source: Import
    numbered: frozenset[str] = frozenset()
    planned_after: frozenset[str] = frozenset()
    sheets: tuple[tuple[Import, Sequence[Record]], ...] = ()

    @property
    def imports(self) -> tuple[Import, ...]:
        """What is brought in: each sheet of a file by itself."""
        return tuple(one for one, _ in self.sheets) or (self.source,)

    @property
    def written(self) -> Sequence[Record]:
        """The imports, of several sheets each before its own rows; the rows of one sheet follow as `fit`."""
        return [record for one, rows in self.sheets for record in (one, *rows)] or [self.source]

    @property
    def fit(self) -> Sequence[Record]:
        """The rows that follow, as the ledger found them fit."""
        return () if self.sheets else self.records

    def counts(self) -> dict[str, int]:
        """Return how many rows each table would get, in the order of the tables."""
        return dict(Counter(record.TABLE for record in self.records))


def carry_out(ledger: Ledger, plan: ImportPlan, *, progress: Progress = untold) -> int:
    """Write what was planned to this machine's daybook, and return how many entries that made.

    The first of them is the import itself; a plan without new rows makes none. Should anything go wrong on the way,
    or the tester stop it, nothing is stored.

    Raises
    ------
    BadInput
        When the ledger or a photo has changed since the plan was made, so that it no longer fits.
    NotConfirmed
        When the disk reported an error; the same import may be run again.
    """
    if not plan.records:
        return 0
    with _filed(ledger, plan, progress):
        after, rows = plan.planned_after, plan.fit
        how: dict[str, Any] = {"fit": rows, "numbered": plan.numbered, "planned_after": after, "progress": progress}
        return len(ledger.append(plan.written, **how))


def try_out(ledger: Ledger, plan: ImportPlan) -> None:
    """Refuse what `carry_out` would refuse of a plan, as the ledger stands now; nothing is written.

    Raises
    ------
    BadInput
        When a row does not fit the ledger.
    """
    if plan.records:
        ledger.check(plan.written, fit=plan.fit, numbered=plan.numbered)


@contextmanager
def _filed(ledger: Ledger, plan: ImportPlan, progress: Progress) -> Iterator[None]:
    """File pictures that are not there yet; should the work inside fail, take them out again."""
    filed: list[Path] = []
    try:
        for digest, source in progress("Filing photos", list(plan.photos.items())):
            picture = _same_picture(source, digest)
            path = ledger.photos / photos.photo_name(digest, picture.kind)
            if not path.exists():
                filed.append(path)
            with told(path.name):
                photos.file_picture(picture, ledger.photos)
        yield
    except NotConfirmed:  # the rows may be on the disk, and then they need their photos
        raise
    except BaseException as error:
        if isinstance(error, KeyboardInterrupt) and _stands(ledger, plan):  # the key came after the last step
            raise NotConfirmed("Stopped when all was stored; the same import again says so.") from error
        for path in filed:
            path.unlink(missing_ok=True)
        raise


def _stands(ledger: Ledger, plan: ImportPlan) -> bool:
    """Say whether the rows of a plan, which come in all or not at all, have come in."""
    return ledger.get(Import, plan.source.id) is not None


def _same_picture(source: Path, digest: str) -> photos.Picture:
    picture = photos.read_picture(source)
    if picture.sha256 != digest:
        raise bad(source.name, "another picture than a moment ago", "files that do not change meanwhile")
    return picture
