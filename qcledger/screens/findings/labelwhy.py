"""One print of a label: its words quoted, what our reference says beside them, and the tester's grades."""

from typing import TYPE_CHECKING

from qcledger.errors import bad
from qcledger.screens.desk import Desk
from qcledger.screens.findings.asking import CellPlace, label_at
from qcledger.screens.findings.photos import NONE, CellPhotos
from qcledger.screens.findings.why import WITHOUT_PHOTOS, Why

if TYPE_CHECKING:
    from qcledger.findings.labelfact import LabelFact, LabelKey
    from qcledger.ledger import Ledger
    from qcledger.records import Photo
    from qcledger.report.kept import KeptFindings
    from qcledger.report.parts import Part


class LabelWhy(Why):
    """Everything about one print of a label.

    Parameters
    ----------
    desk, kept, comparison
        Where to ask, and in which comparison.
    label
        Which print.
    place
        Its maker and format; the criterion is one that it was graded on, empty where it was not.
    """

    TITLE = "Label, word for word"
    IN_TWO = False

    def __init__(
        self, desk: Desk, kept: "KeptFindings | None", comparison: str | None, label: "LabelKey", place: CellPlace
    ) -> None:
        super().__init__(desk, kept, comparison, place)
        self._label = label

    def _fact(self, ledger: "Ledger") -> "LabelFact":
        fact = label_at(self._kept, self._comparison, self._label, ledger)
        if fact is None:
            raise bad("label", "one that stood here", "a label that the ledger still holds")
        return fact

    async def fill(self) -> None:
        """Ask for every part and show them one below the other."""
        width = self._room()

        def ask(ledger: "Ledger") -> "tuple[str, int, list[Part]]":
            from qcledger.findings.wording_of_labels import label_title
            from qcledger.report.labels_text import label_parts

            fact = self._fact(ledger)
            return label_title(fact), len(fact.photos), label_parts(fact, width)

        about, photos, parts = await self.desk.read(ask)
        self._width, self._about, self._photos = width, about, photos
        self.head(about)
        self.foot(None if photos else [], *([] if photos else WITHOUT_PHOTOS))
        self._say_photos({0: "no photos", 1: "1 photo, p shows it"}.get(photos, f"{photos} photos, p shows them"))
        self.show_parts(parts)

    def _behind(self, ledger: "Ledger") -> list[str]:
        """Return the ids of the grades that this print was given."""
        return [unit.row.observation for grade in self._fact(ledger).grades for unit in grade.units]

    async def _put_right(self) -> None:
        if self._label.label is None:
            self.say("this label is not transcribed yet; l on a specimen's page does that", problem=True)
            return
        from qcledger.bench.correcting import standing
        from qcledger.screens.forms.labels import put_right

        label = self._label.label
        await put_right(self, lambda ledger: standing(ledger, label))

    async def _open_photos(self) -> None:
        def ask(ledger: "Ledger") -> "list[Photo]":
            from qcledger.records import Photo

            return list(ledger.by_id(Photo, self._fact(ledger).photos).values())

        photos = await self.desk.read(ask)
        if self.app.screen is self and photos:
            self.app.push_screen(CellPhotos(self.desk, photos))
        elif self.app.screen is self:
            self.say(NONE, problem=True)
