"""Pictures in the folder a camera or phone saves into that the ledger does not hold yet."""

from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from qcledger.bench.filing import belongs
from qcledger.bench.newest import PictureFile, pictures
from qcledger.errors import BadInput
from qcledger.files import digest_of
from qcledger.records import Photo

if TYPE_CHECKING:
    from qcledger.ledger import Ledger


@dataclass(frozen=True, slots=True)
class Filed:
    """What is filed: the hashes of the pictures, and the sizes of their files in bytes."""

    hashes: frozenset[str]
    sizes: frozenset[int]


def filed(ledger: "Ledger") -> Filed:
    """Return what a ledger holds."""
    photos = [photo for photo in ledger.rows(Photo) if belongs(photo)]
    return Filed(frozenset(photo.sha256 for photo in photos), ledger.photo_sizes(photos))


@dataclass(slots=True)
class Folder:
    """The photo folder; hashes once computed are kept for as long as a file stays as it is."""

    path: Path
    _hashes: dict[PictureFile, str] = field(default_factory=dict)

    def unfiled(self, known: Filed) -> list[PictureFile]:
        """Return the pictures that are not filed, the oldest first.

        Only files that are as large as a filed one need to be read whole; all others cannot be the same picture.

        Raises
        ------
        BadInput
            When the folder cannot be read.
        """
        return [picture for picture in pictures(self.path) if not self._is_in(picture, known)]

    def _is_in(self, picture: PictureFile, known: Filed) -> bool:
        return picture.size in known.sizes and self._hash(picture) in known.hashes

    def _hash(self, picture: PictureFile) -> str:
        if picture not in self._hashes:
            try:
                self._hashes[picture] = digest_of(picture.path, "a picture", most=picture.size)
            except BadInput:
                return ""
        return self._hashes[picture]
