"""Filing the newest picture beside what was just judged."""

import hashlib
from typing import TYPE_CHECKING

from qcledger.bench.newest import Picture
from qcledger.errors import bad
from qcledger.records import Photo

if TYPE_CHECKING:
    from qcledger.ledger import Ledger


def file_picture(
    ledger: "Ledger", picture: Picture, *, specimen: str, observation: str | None, caption: str = ""
) -> Photo:
    """File a picture with a specimen and, if there is one, an observation.

    Raises
    ------
    BadInput
        When the same picture was filed before, or is none that may be filed.
    """
    sha256 = hashlib.sha256(picture.path.read_bytes()).hexdigest()
    if ledger.rows(Photo, sha256=sha256):
        raise bad("newest picture", f"{picture.path.name}, filed already", "a new one in the photo folder")
    return ledger.add_photo(picture.path, specimen=specimen, observation=observation, caption=caption)
