"""What ``qcledger amend`` does with a picture: files it with a result or a piece, or moves it there."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from qcledger.cli.options import open_ledger
from qcledger.cli.said import say, tried
from qcledger.errors import bad

if TYPE_CHECKING:
    from qcledger.ledger import Ledger


@dataclass(frozen=True, slots=True)
class AmendedPhoto:
    """A picture that is to be filed, or moved, and why.

    Parameters
    ----------
    path
        Its file.
    moves
        Whether it is filed with something else, and is to be moved.
    reason
        Why it is moved.
    is_tried
        Whether it is only tried, so that the reason may come later.
    """

    path: Path
    moves: bool
    reason: str
    is_tried: bool

    @classmethod
    def of(cls, given: Mapping[str, Any]) -> "AmendedPhoto | None":
        """Return the picture that options name; None for none."""
        if given["photo"] is None:
            return None
        return cls(given["photo"], given["move"], given["reason"], given["dry_run"])

    def weigh(self, ledger: "Ledger", specimen: str, observation: str | None) -> str:
        """Return what will be done with it; raises BadInput for whatever `keep` would refuse."""
        from qcledger.bench import filing
        from qcledger.bench.newest import PictureFile

        picture = PictureFile(0, 0, self.path)
        if self.moves:
            moved = filing.weigh_move(ledger, filing.photo_of(ledger, picture), specimen, observation)
            if not self.is_tried and not self.reason.strip():
                raise bad("--reason", "", "why it is moved")
            return f"moves: {moved.words}"
        filing.check(ledger, picture, specimen, observation)
        return f"files: {self.path.name}"

    def keep(self, ledger: "Ledger", specimen: str, observation: str | None, caption: str) -> str:
        """File or move it, and return that it was."""
        from qcledger.bench import filing
        from qcledger.bench.newest import PictureFile

        picture = PictureFile(0, 0, self.path)
        if self.moves:
            moved = filing.weigh_move(ledger, filing.photo_of(ledger, picture), specimen, observation)
            filing.move(ledger, moved, self.reason)
            return f"{self.path.name} moved here, because: {self.reason}"
        filing.file_picture(ledger, picture, specimen=specimen, observation=observation, caption=caption)
        return f"{self.path.name} filed with it"


def of_piece(sticker: str, where: str | None, given: Mapping[str, Any]) -> None:
    """File a picture with a piece itself, or move it there."""
    from qcledger.bench.unpacking import find_sticker

    shot = AmendedPhoto.of(given)
    assert shot is not None
    with open_ledger(where, write=not given["dry_run"]) as ledger:
        specimen = find_sticker(ledger, sticker)
        say(shot.weigh(ledger, specimen, None))
        if given["dry_run"]:
            say(tried(given["reason"]) if shot.moves else "dry run, nothing kept")
        else:
            say(shot.keep(ledger, specimen, None, ""))
