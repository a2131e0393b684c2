"""One observation in full, with its photos."""

from functools import partial
from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult

from qcledger.bench import imported
from qcledger.bench.filing import where_seen_from
from qcledger.bench.scales import scales
from qcledger.errors import bad
from qcledger.records import Photo
from qcledger.screens.album import Album
from qcledger.screens.desk import Desk
from qcledger.screens.record import taking_out, words
from qcledger.screens.record.amend import Amend
from qcledger.screens.record.moving import move_photo
from qcledger.screens.record.oneimport import OneImport
from qcledger.screens.widgets.photo import PhotoView
from qcledger.screens.widgets.wrapped import Wrapped

if TYPE_CHECKING:
    from qcledger.ledger import Ledger


class Look(Album):
    """An observation: everything it says, then its photos one at a time, closer with +.

    Parameters
    ----------
    desk
        Where to ask.
    observation
        The observation's id.
    """

    TITLE = "Record"
    CSS_PATH = "record.tcss"
    ABOUT: ClassVar[str] = "one observation"

    def __init__(self, desk: Desk, observation: str) -> None:
        super().__init__(desk)
        self._observation = observation

    def works(self, verb: str) -> bool:
        """Every key has something to do here."""
        return True

    def on_mount(self) -> None:
        """Name the keys that amend, that open its import, and that move a photo, too."""
        self.foot([], "leave", "amend", "import", "move", "closer", "farther", "next")

    def action_amend(self) -> None:
        """Amend this observation."""
        self.app.push_screen(Amend(self.desk, self._observation))

    def action_take_out(self) -> None:
        """Take the notes and reasons of this observation out for good."""
        self.work(partial(taking_out.ask, self, taking_out.words_of(self._observation)))

    def action_import(self) -> None:
        """Open the import that this observation came with."""
        self.work(self._open_import)

    async def _open_import(self) -> None:
        wanted = self._observation
        found = await self.desk.read(lambda ledger: imported.brought_with(ledger, wanted), after_saves=True)
        if found is None:
            self.say("it came in with no import: it was recorded here", problem=True)
        else:
            self.app.push_screen(OneImport(self.desk, found))

    def action_no_photo(self) -> None:
        """Take the photo in front out for good."""
        if self.photos:
            self.work(partial(taking_out.ask, self, taking_out.photo_of(self.photos[self._shown].sha256)))
        else:
            self.say("no photo to take out", problem=True)

    def action_move(self) -> None:
        """Move the photo in front to where it belongs."""
        self.work(partial(move_photo, self, self.photos, self._shown))

    def body(self) -> ComposeResult:
        """Lay out words above, photo below."""
        yield Wrapped(2, id="made_on")
        yield Wrapped(4, id="result")
        yield Wrapped(4, id="history")
        yield PhotoView()

    async def fill(self) -> None:
        """Show the observation."""
        wanted, settings = self._observation, self.desk.settings

        def ask(ledger: "Ledger") -> tuple[str, str, str, list[Photo]]:
            from qcledger.ledger import queries_record as record
            from qcledger.ledger.filed import moved

            with ledger.reading() as connection:
                lines = record.lines(connection, [wanted])
                chain, photos = record.chain(connection, wanted), record.photos_of(connection, wanted)
                gone = moved(connection)
            if not lines:
                raise bad("observation", wanted, "the id of an observation in this ledger")
            seen = lines[0].observation
            result = words.said(seen, scales(ledger).get((seen.rubric, seen.criterion)), settings)
            note = f" Note: {seen.note}" if seen.note else ""
            here = {one.id for one in chain}
            left = [
                words.moved_words(one, where_seen_from(ledger, one.photo, seen), settings, lines[0].zone)
                for one in gone
                if one.was.observation in here and one.photo.observation not in here
            ]
            amended = words.history(chain, settings, lines[0].zone)
            return words.made_on(lines[0], settings), result + note, ". ".join(filter(None, (amended, *left))), photos

        made_on, result, history, self.photos = await self.desk.read(ask)
        for name, text in (("#made_on", made_on), ("#result", result), ("#history", history)):
            self.query_one(name, Wrapped).show(text)
        self.show_photo()
