"""Filing the newest picture beside what was just judged, and taking that back."""

from dataclasses import replace
from typing import TYPE_CHECKING, Final

from qcledger.bench.newest import Picture
from qcledger.errors import bad
from qcledger.files import digest_of
from qcledger.records import Photo
from qcledger.vocab import TAKEN_BACK

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

AGAIN: Final = "filed again"
"""The reason of a photo's entry when its filing was taken back before."""


def belongs(photo: Photo) -> bool:
    """Say whether a photo is filed with anything; one whose filing was taken back is not."""
    return photo.specimen is not None or photo.observation is not None


def take_back(ledger: "Ledger", photo: Photo) -> bool:
    """Let a photo belong to nothing any more, if it still is as it was filed; its picture is kept."""
    stands = ledger.get(Photo, photo.id) == photo
    if stands:
        ledger.append([replace(photo, specimen=None, observation=None)], reason=TAKEN_BACK)
    return stands


def file_picture(
    ledger: "Ledger", picture: Picture, *, specimen: str, observation: str | None, caption: str = ""
) -> Photo:
    """File a picture with a specimen and, if there is one, an observation; one that belongs to nothing may be filed.

    Raises
    ------
    BadInput
        When the same picture was filed before, or is none that may be filed.
    """
    from qcledger.ledger.photos import ALLOWED, MOST_BYTES

    sha256 = digest_of(picture.path, ALLOWED, most=MOST_BYTES)
    known = ledger.rows(Photo, sha256=sha256)
    if any(belongs(photo) for photo in known):
        raise bad("newest picture", f"{picture.path.name}, filed already", "a new one in the photo folder")
    for photo in known:
        placed = replace(photo, specimen=specimen, observation=observation, caption=caption)
        ledger.append([placed], reason=AGAIN)
        return placed
    return ledger.add_photo(picture.path, specimen=specimen, observation=observation, caption=caption)
