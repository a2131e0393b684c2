"""The photos that a finding rests on."""

from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult

from qcledger.records import Photo
from qcledger.screens.album import Album
from qcledger.screens.desk import Desk
from qcledger.screens.findings.asking import Place, finding_at
from qcledger.screens.widgets.photo import PhotoView

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.report.kept import Kept


class Photos(Album):
    """Photos of the specimens and observations of one cell, those of faulty specimens first.

    Parameters
    ----------
    desk, kept, comparison
        Where to ask, and in which comparison.
    place
        The cell.
    """

    TITLE = "Findings"
    ABOUT: ClassVar[str] = "photos"

    def __init__(self, desk: Desk, kept: "Kept | None", comparison: str | None, place: Place) -> None:
        super().__init__(desk)
        self._kept, self._comparison, self._place = kept, comparison, place

    def body(self) -> ComposeResult:
        """Lay out the photo."""
        yield PhotoView()

    async def fill(self) -> None:
        """Ask for the photos and show the first."""

        def ask(ledger: "Ledger") -> list[tuple[Photo, Path]]:
            from qcledger.report.kept import photos_of

            finding = finding_at(self._kept, self._comparison, self._place, ledger)
            return [(photo, ledger.photo_path(photo)) for photo in photos_of(ledger, finding)] if finding else []

        self.photos = await self.desk.read(ask)
        self.show_photo()
