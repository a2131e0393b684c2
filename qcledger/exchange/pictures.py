"""The pictures of an exchange folder: found by name, checked, and described for their rows."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from qcledger.errors import BadInput, bad
from qcledger.exchange import codec, manifest
from qcledger.ledger import photos


class Pictures:
    """Looks into the ``photos`` folder of a folder being imported.

    Parameters
    ----------
    folder
        The folder that holds ``photos``.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder / manifest.PHOTOS
        self.found: dict[str, Path] = {}

    def described(self, cells: Mapping[str, str], where: str) -> dict[str, str]:
        """Return a photo's cells with those filled in that its picture tells.

        Raises
        ------
        BadInput
            When there is no such file, it is no picture that may be filed, or not the one the row means.
        """
        path = self._path(cells, where)
        try:
            picture = photos.read_picture(path)
        except BadInput as error:
            raise BadInput(replace(problem, where=f"{where}, {path.name}") for problem in error.problems) from None
        said = {
            "sha256": picture.sha256,
            "kind": picture.kind,
            "width": str(picture.width),
            "height": str(picture.height),
        }
        for name, content in said.items():
            if cells.get(name, content) not in ("", content):
                raise bad(f"{where}, {name}", cells[name], f"{content}, as the picture {path.name} has")
        self.found[picture.sha256] = path
        taken = codec.form(datetime).write(picture.taken_at) if picture.taken_at else ""
        filled = {name: content for name, content in cells.items() if content}
        return {"taken_at": taken, "file_name": codec.guard(path.name)} | said | filled

    def _path(self, cells: Mapping[str, str], where: str) -> Path:
        """Return the file of a row: under its hash, as an export names it, or under `file_name`."""
        digest, kind = cells.get("sha256", ""), cells.get("kind", "")
        name = codec.own_text(cells.get("file_name", ""))
        for candidate in (photos.photo_name(digest, kind) if photos.is_name(digest, kind) else "", name):
            path = self._folder / candidate
            if candidate and Path(candidate).name == candidate and path.is_file() and not path.is_symlink():
                return path
        raise bad(f"{where}, file_name", name, f"the name of a file in {manifest.PHOTOS}/")
