"""The photos that a finding rests on."""

from typing import TYPE_CHECKING, ClassVar, Final

from textual.app import ComposeResult

from qcledger.records import Photo
from qcledger.screens.album import Album
from qcledger.screens.desk import Desk
from qcledger.screens.findings.asking import CellPlace, finding_at
from qcledger.screens.page import Page
from qcledger.screens.widgets.photo import PhotoView

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.report.kept import KeptFindings

NONE: Final = "no photos behind this cell; f at Bench and at Unpacking files them"


class CellPhotos(Album):
    """Photos of the specimens and observations of one cell with their files, those of faulty specimens first."""

    TITLE = "Findings"
    ABOUT: ClassVar[str] = "photos"

    def __init__(self, desk: Desk, photos: list[Photo]) -> None:
        super().__init__(desk)
        self.photos = photos

    def body(self) -> ComposeResult:
        """Lay out the photo."""
        yield PhotoView()

    async def fill(self) -> None:
        """Show the first, or the one that was shown."""
        self.show_photo()


async def open_photos(page: Page, kept: "KeptFindings | None", comparison: str | None, place: CellPlace) -> None:
    """Open the photos of a cell on top of `page`; where there are none, `page` says so."""

    def ask(ledger: "Ledger") -> list[Photo]:
        from qcledger.report.kept import photos_of

        finding = finding_at(kept, comparison, place, ledger)
        return photos_of(ledger, finding) if finding else []

    photos = await page.desk.read(ask)
    if page.app.screen is not page:  # another page was opened meanwhile
        return
    if photos:
        page.app.push_screen(CellPhotos(page.desk, photos))
    else:
        page.say(NONE, problem=True)
