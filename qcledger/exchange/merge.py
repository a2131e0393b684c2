"""Takes the daybooks of an exchange folder into a ledger, entry by entry as they were written."""

from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from qcledger.errors import BadInput, at, bad
from qcledger.exchange import codec, csvfile, manifest
from qcledger.ledger import Ledger
from qcledger.ledger.progress import Progress, untold
from qcledger.records import Entry, columns


def merge_folder(ledger: Ledger, folder: Path, *, progress: Progress = untold) -> int:
    """Take in the entries and photos of an exchange folder that `ledger` does not have yet, all or nothing.

    The tables beside ``entries.csv`` are for people and spreadsheets; a ledger builds its own from the entries.

    Parameters
    ----------
    ledger
        The ledger to add to, open for writing.
    folder
        A folder that `export` wrote.
    progress
        Told which part is at work.

    Returns
    -------
    int
        How many entries were new.

    Raises
    ------
    BadInput
        When a file is missing, foreign or not as the manifest says; each one is named.
    ChainBroken
        When a chain does not verify, or tells another story than the one in the ledger.
    """
    kept = manifest.read(folder)
    manifest.refuse_changed(folder, kept, progress)
    if manifest.ENTRIES not in kept.files:
        raise bad(manifest.NAME, f"no {manifest.ENTRIES}", "a folder written by `qcledger export`")
    entries = list(_entries(folder, kept.files[manifest.ENTRIES].rows or 0, progress))
    _refuse_cut(entries, kept.closing)
    return ledger.adopt(entries, _photos(folder, kept.files))


def _refuse_cut(entries: Sequence[Entry], closing: Mapping[str, tuple[int, str]]) -> None:
    """Refuse daybooks that do not end where the manifest says: one that lost its last entries still verifies."""
    ends = {entry.daybook: (entry.seq, entry.hash) for entry in sorted(entries, key=lambda one: one.seq)}
    for daybook in sorted({*ends, *closing}):
        if ends.get(daybook) != closing.get(daybook):
            found = f"daybook {daybook} with {ends.get(daybook, (0, ''))[0]} entries"
            told = f"the {closing.get(daybook, (0, ''))[0]} of {manifest.NAME}, up to its closing hash"
            raise bad(manifest.ENTRIES, found, told)


def _entries(folder: Path, told: int, progress: Progress) -> Iterator[Entry]:
    """Yield the folder's entries; `told` is how many its manifest tells of, for the progress alone."""
    name = manifest.ENTRIES
    text = csvfile.read_lines(folder / name, csvfile.MAX_TABLE)
    ticks = iter(progress("Reading entries", range(told)))
    for number, cells in csvfile.named_rows(text, name, [column.name for column in columns(Entry)]):
        next(ticks, None)
        try:
            yield Entry(**codec.values(Entry, cells, at(name, number)))
        except BadInput as error:
            raise BadInput(error.problems[0]) from None
    deque(ticks, maxlen=0)


def _photos(folder: Path, files: Mapping[str, manifest.ManifestFile]) -> dict[str, Path]:
    return {kept.sha256: folder / name for name, kept in files.items() if name.startswith(f"{manifest.PHOTOS}/")}
