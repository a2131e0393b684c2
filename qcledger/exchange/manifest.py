"""The manifest of an exchange folder: what each file holds and its SHA-256, and how far each daybook reaches."""

import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from qcledger import __version__
from qcledger.errors import BadInput, Problem, bad
from qcledger.exchange import readme
from qcledger.exchange.csvfile import MAX_TABLE, read_bytes
from qcledger.files import digest_of, in_words
from qcledger.ledger.photos import MOST_BYTES
from qcledger.ledger.progress import Progress, untold
from qcledger.records import TABLES, is_digest

NAME = "manifest.json"
FORMAT = "qcledger exchange folder"
VERSION = 2
"""What is written; 2: entries name what they replace, and there are more tables."""
READABLE = (1, VERSION)
ENTRIES = "entries.csv"
PHOTOS = "photos"

_PHOTO = re.compile(rf"{PHOTOS}/[0-9a-f]{{64}}\.[a-z0-9]{{3,4}}")
_MOST_ROWS = 10**9
_AS_WRITTEN = "the files the folder was written with"


@dataclass(frozen=True, slots=True)
class ManifestFile:
    """One file of the folder: the SHA-256 of its bytes and, for a CSV, its rows without the header."""

    sha256: str
    rows: int | None = None


@dataclass(frozen=True, slots=True)
class Manifest:
    """What stands in ``manifest.json``.

    Parameters
    ----------
    files
        Each file by its path inside the folder.
    closing
        Each daybook's last entry: its number and its hash.
    program
        The version of the program that wrote the folder.
    """

    files: Mapping[str, ManifestFile]
    closing: Mapping[str, tuple[int, str]]
    program: str = __version__

    def text(self) -> str:
        """Return the manifest as JSON with its keys in order, so that equal folders have equal manifests."""
        files = {name: {k: v for k, v in _pairs(kept) if v is not None} for name, kept in self.files.items()}
        closing = {book: {"seq": seq, "hash": last} for book, (seq, last) in self.closing.items()}
        content = {"format": FORMAT, "version": VERSION, "program": self.program, "files": files, "closing": closing}
        return json.dumps(content, indent=2, sort_keys=True, ensure_ascii=False) + "\n"


def _pairs(kept: ManifestFile) -> tuple[tuple[str, Any], ...]:
    return (("sha256", kept.sha256), ("rows", kept.rows))


def read(folder: Path) -> Manifest:
    """Return the manifest of an exchange folder.

    Raises
    ------
    BadInput
        When there is none, or it is not one of ours, or a newer one.
    """
    path = folder / NAME
    if not path.is_file():
        raise bad(str(folder), f"no {NAME}", "a folder written by `qcledger export`")
    try:
        content = json.loads(read_bytes(path))
        if content["format"] != FORMAT:
            raise bad(NAME, str(content["format"]), FORMAT)
        if content["version"] not in READABLE:
            raise bad(NAME, f"version {content['version']}", f"version {VERSION}; a newer qcledger may read it")
        return _checked(content)
    except (ValueError, KeyError, TypeError, AttributeError, ArithmeticError, RecursionError) as error:
        raise bad(NAME, _wrong_with(error), f"the manifest of a {FORMAT}") from error


def _wrong_with(error: Exception) -> str:
    """Say in plain words why a manifest could not be read."""
    if isinstance(error, KeyError):
        return f"nothing named {error.args[0]}"
    if isinstance(error, ValueError) and not isinstance(error, json.JSONDecodeError | UnicodeDecodeError):
        return str(error)
    return "a text that this program did not write"


def _checked(content: Mapping[str, Any]) -> Manifest:
    """Return the manifest in parsed JSON; a file name that leads elsewhere or a hash that is none is a ValueError."""
    files = {name: ManifestFile(str(kept["sha256"]), kept.get("rows")) for name, kept in content["files"].items()}
    closing = {book: (int(last["seq"]), str(last["hash"])) for book, last in content["closing"].items()}
    for name, kept in files.items():
        if not (is_table(name) or name in (ENTRIES, readme.NAME) or _PHOTO.fullmatch(name)):
            raise ValueError(f"a file named {name}")
        if not (kept.rows is None or (isinstance(kept.rows, int) and 0 <= kept.rows <= _MOST_ROWS)):
            raise ValueError(f"{kept.rows} rows of {name}")
        if not is_digest(kept.sha256):
            raise ValueError(f"hash {kept.sha256} of {name}")
    return Manifest(files, closing, str(content["program"]))


def is_table(name: str) -> bool:
    """Say whether `name` is that of a table's CSV."""
    return name.endswith(".csv") and name.removesuffix(".csv") in TABLES


def present(folder: Path) -> set[str]:
    """Return the paths inside `folder` of everything in it, its manifest left out; hidden files do not count."""
    files = (path for path in folder.rglob("*") if not path.is_dir() or path.is_symlink())
    shown = {path.relative_to(folder).as_posix() for path in files if not path.name.startswith(".")}
    return shown - {NAME}


def changed(folder: Path, manifest: Manifest, progress: Progress = untold) -> Iterator[Problem]:
    """Yield one problem for each file that is missing, not in the manifest, or not as it was written."""
    there = present(folder)
    for name in sorted(there - set(manifest.files)):
        yield Problem(name, "a file that is not in the manifest", _AS_WRITTEN)
    for name, kept in progress("Checking files", list(manifest.files.items())):
        if name not in there:
            yield Problem(name, "no file", _AS_WRITTEN)
        else:
            yield from _content(folder / name, name, kept)


def _content(path: Path, name: str, kept: ManifestFile) -> Iterator[Problem]:
    """Yield what is wrong with one file; a larger one than may be is not read."""
    most = MOST_BYTES if name.startswith(f"{PHOTOS}/") else MAX_TABLE
    try:
        found = digest_of(path, f"a file of its own, of at most {in_words(most)}", most=most, follow=False)
    except BadInput as error:
        yield replace(error.problems[0], where=name, found=error.problems[0].found.strip("'"))
        return
    if found != kept.sha256:
        yield Problem(name, "a file changed since it was written", f"the file with SHA-256 {kept.sha256[:12]}...")


def refuse_changed(folder: Path, manifest: Manifest, progress: Progress = untold) -> None:
    """Raise BadInput naming every file that is not as the manifest says."""
    problems = tuple(changed(folder, manifest, progress))
    if problems:
        raise BadInput(problems)
