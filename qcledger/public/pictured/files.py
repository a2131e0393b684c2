"""Pictures as files: each of one thing in one shape, beside the words that tell it to those who do not see it."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from qcledger.errors import bad
from qcledger.public.pictured.layout import drawing
from qcledger.public.pictured.marks import DARK, LIGHT, Shape, Tints
from qcledger.public.pictured.subjects import Pictured
from qcledger.public.pictured.to_png import lacking, picture_png
from qcledger.public.pictured.to_svg import picture_svg

TINTS: Final[Mapping[str, Tints]] = {"light": LIGHT, "dark": DARK}
KINDS: Final = ("svg", "png")


@dataclass(frozen=True, slots=True)
class DrawnFile:
    """A file before it is written; with characters that no font here has (`lacking`) it has no content."""

    name: str
    content: bytes
    lacking: str = ""


def files_of(
    one: Pictured, shapes: Iterable[Shape], tints: Iterable[str], kinds: Iterable[str]
) -> Iterator[DrawnFile]:
    """Yield the files of one picture, named by what it is about, and last its words.

    Parameters
    ----------
    one
        What it is about.
    shapes, tints, kinds
        Of `Shape`, of `TINTS` and of `KINDS`.

    Raises
    ------
    BadInput
        When its specimens are too many to be drawn.
    """
    kinds, tints = tuple(kinds), tuple(tints)
    for shape in shapes:
        picture = drawing(one, shape)
        missing = lacking(picture) if "png" in kinds else ""
        for tint in tints:
            stem = f"{one.id}-{shape}-{tint}"
            if "svg" in kinds:
                yield DrawnFile(f"{stem}.svg", picture_svg(picture, TINTS[tint]).encode())
            if "png" in kinds:
                content = b"" if missing else picture_png(picture, TINTS[tint])
                yield DrawnFile(f"{stem}.png", content, missing)
    yield DrawnFile(f"{one.id}.txt", f"{one.told}\n".encode())


def refuse_taken_files(folder: Path, names: Iterable[str], *, force: bool) -> None:
    """Refuse a folder that cannot be one, or in which a name is taken.

    Raises
    ------
    BadInput
        With what stands there, and what may.
    """
    if folder.exists() and not folder.is_dir():
        raise bad(str(folder), "a file", "a folder, or a new name")
    taken = [name for name in names if (folder / name).exists()]
    if taken and not force:
        raise bad(str(folder / taken[0]), "a file there already", "another folder; --force replaces it")


def write_files(folder: Path, files: Iterable[DrawnFile], *, force: bool = False) -> list[Path]:
    """Write files into a folder, which is made, each whole or not at all; return those that were written.

    Raises
    ------
    BadInput
        When a name is taken, or the folder cannot be written to.
    """
    drawn = [one for one in files if one.content]
    refuse_taken_files(folder, (one.name for one in drawn), force=force)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for one in drawn:
            part = folder / f"{one.name}.part"
            part.write_bytes(one.content)
            part.replace(folder / one.name)
    except OSError as error:
        raise bad(str(folder), error.strerror or "nothing", "a folder that can be written") from error
    return [folder / one.name for one in drawn]
